"""The client's page as a client opens it: from disk, in a browser, with two recordings beside it.

The recordings are tones made here; the browser's own clock says whether one was jumped into.
"""

import math
import shutil
import struct
import wave
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import sync_playwright

from bolewalk.demo.make_skeleton import new_folder
from bolewalk.intake.folder import read_folder
from bolewalk.papers.write import files_in, write_papers
from bolewalk.survey import assess

SECONDS, RATE = 30, 8000


def tone(path: Path, hertz: float) -> None:
    with wave.open(str(path), "wb") as out:
        out.setnchannels(1)
        out.setsampwidth(2)
        out.setframerate(RATE)
        wave_ = (
            round(9000 * math.sin(2 * math.pi * hertz * i / RATE)) for i in range(SECONDS * RATE)
        )
        out.writeframes(b"".join(struct.pack("<h", x) for x in wave_))


@pytest.fixture(scope="module")
def page_path(tmp_path_factory: pytest.TempPathFactory) -> Path:
    root = tmp_path_factory.mktemp("walked") / "survey"
    new_folder(root)
    head = (root / "survey.toml").read_text("utf-8")
    head = head.replace("[files]", '[files]\nwalk = ["front.vtt", "back.vtt"]')
    (root / "survey.toml").write_text(head, "utf-8")
    (root / "trees.csv").write_text(
        "tree,species,x,y,diameter,height,owner,decision,notes\n"
        "T1,coast live oak,20,35,14,28,client,prune,Low over the drive\n"
        "T2,Monterey pine,60,35,22,60,client,remove,Dead top\n",
        "utf-8",
    )
    (root / "front.vtt").write_text(
        "WEBVTT\n\n00:04.000 --> 00:09.000\nNumber one, the coast live oak, prune it.\n",
        "utf-8",
    )
    (root / "back.vtt").write_text(
        "WEBVTT\n\n00:12.000 --> 00:17.000\nNumber two, the Monterey pine, remove it.\n", "utf-8"
    )
    tone(root / "front.wav", 440)
    tone(root / "back.wav", 660)
    out = root.parent / "papers"
    write_papers(assess(read_folder(root)), out, files=files_in(root))
    return out / "client" / "index.html"


@pytest.fixture(scope="module")
def opened(page_path: Path) -> Iterator[Any]:
    found = shutil.which("chromium")
    assert found, "install Debian's chromium, or run ./scripts/test, which does"
    with sync_playwright() as playwright:
        flags = ["--no-sandbox", "--autoplay-policy=no-user-gesture-required", "--mute-audio"]
        browser = playwright.chromium.launch(executable_path=found, args=flags)
        page = browser.new_page(viewport={"width": 1000, "height": 900})
        asked: list[str] = []
        faults: list[str] = []
        page.on("request", lambda r: asked.append(r.url))
        page.on("console", lambda m: faults.append(m.text) if m.type == "error" else None)
        page.goto(page_path.as_uri())
        page.asked, page.faults = asked, faults  # type: ignore[attr-defined]
        yield page
        browser.close()


def test_it_opens_from_disk_and_asks_for_nothing_else(opened: Any) -> None:
    assert opened.faults == []
    assert opened.asked
    assert all(u.startswith("file://") for u in opened.asked)
    heads = [h.inner_text() for h in opened.query_selector_all("h2")]
    for wanted in ("In short", "Where the trees stand", "What was said on the walk", "Tree by tree",
                   "Three ways to go", "What we did not look at, and how long this holds",
                   "Your reply"):  # fmt: skip
        assert wanted in heads
    assert opened.query_selector("figure.plan svg") is not None
    text = opened.inner_text("main")
    for line in ("Prune it.", "Take it down.", "draft, not issued", "All of it", "Second owner"):
        assert line in text


@pytest.mark.parametrize(
    ("tree", "player", "second", "other"),
    [("T1", "walk1", 4.0, "walk2"), ("T2", "walk2", 12.0, "walk1")],
)
def test_a_button_jumps_into_its_own_recording(
    opened: Any, tree: str, player: str, second: float, other: str
) -> None:
    row = opened.locator("tr", has=opened.locator("td", has_text=tree)).first
    row.locator("button").first.click()
    # The page's own policy forbids what a waiting script would need: it is asked again and again.
    for _ in range(100):
        if opened.evaluate(f"document.getElementById('{player}').currentTime") > second + 0.2:
            break
        opened.wait_for_timeout(100)
    assert not opened.evaluate(f"document.getElementById('{player}').paused")
    at = opened.evaluate(f"document.getElementById('{player}').currentTime")
    assert second < at < second + 12
    assert opened.evaluate(f"document.getElementById('{other}').paused")
    assert opened.locator(f"#{player}").is_visible()
    assert not opened.locator(f"#{other}").is_visible()
