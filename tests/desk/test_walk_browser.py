"""The walk and the files of a survey in a real browser: by keyboard, with real recordings."""

import io
import shutil
import wave
from datetime import date
from pathlib import Path

from PIL import Image
from playwright.sync_api import Page, expect

from bolewalk.store.edits import set_head
from bolewalk.store.items import Edit
from bolewalk.store.store import Store

from .browser import serving, shot
from .conftest import WHEN

FIRST = """WEBVTT

00:00:01.000 --> 00:00:02.500
<v Ann>First a northern red oak, twenty inches, forty feet tall. It stays.

00:00:02.500 --> 00:00:04.000
<v Ann>Next a dead white ash, remove it.
"""
SECOND = """WEBVTT

00:00:01.000 --> 00:00:02.000
<v Ann>A row of three crab apples along the drive, prune those.

00:00:02.000 --> 00:00:03.000
<v Ann>Then a Douglas fir by the gate, sixty feet tall.

00:00:03.000 --> 00:00:04.000
<v Ann>And a bigleaf maple, monitor it.
"""


def sound(seconds: int) -> bytes:
    out = io.BytesIO()
    with wave.open(out, "wb") as w:
        w.setnchannels(1)
        w.setsampwidth(2)
        w.setframerate(8000)
        w.writeframes(bytes(16000 * seconds))
    return out.getvalue()


def walked(data: Path) -> int:
    """Make a survey with two recordings and their transcripts; give its number."""
    with Store.open(data) as store:
        number = store.create_survey(
            "Sedge Lane", visited=date(2026, 5, 1), units="imperial", who="Tobin", when=WHEN
        )
        edits = []
        for name, raw in (
            ("one.vtt", FIRST.encode()), ("one.wav", sound(4)),
            ("two.vtt", SECOND.encode()), ("two.wav", sound(5)),
        ):  # fmt: skip
            medium = store.put_media(io.BytesIO(raw), when=WHEN)
            edits.append(Edit("file", name, {"sha256": medium.sha256, "size": medium.size}))
        head = set_head(store.load(number), (("files", "walk"), ["one.vtt", "two.wav"]))
        store.change(number, [*edits, head], who="Tobin", when=WHEN)
    return number


def playing(page: Page) -> list[tuple[bool, float]]:
    """Whether each player plays, and where it is."""
    found = page.evaluate(
        "[...document.querySelectorAll('.player')].map((p) => [!p.paused, p.currentTime])"
    )
    return [(bool(on), float(at)) for on, at in found]


def focus_on(page: Page, name: str) -> None:
    """Step by the keyboard to a found tree."""
    for key in ("", "k", "k", "k", "k", "k", "j", "j", "j", "j", "j"):
        if key:
            page.keyboard.press(key)
        if name in page.evaluate("document.activeElement.innerText.split('\\n')[0]"):
            return
    raise AssertionError(f"the keyboard does not reach {name}")


def test_every_correction_by_keyboard_keeps_what_was_heard(page: Page, tmp_path: Path) -> None:
    data = tmp_path / "data"
    number = walked(data)
    with serving(data) as address:
        page.goto(f"{address}/surveys/{number}/walk")
        expect(page.locator(".player")).to_have_count(2)
        shot(page, "walk-recordings", whole=True)

        # Taken in as found.
        focus_on(page, "northern red oak")
        page.keyboard.press("a")
        expect(page.get_by_text("Taken into the table")).to_have_count(1)
        # Corrected: the species typed anew, Enter takes it in.
        focus_on(page, "white ash")
        page.keyboard.press("e")
        page.keyboard.press("ControlOrMeta+a")
        page.keyboard.type("Fraxinus latifolia")
        page.keyboard.press("Enter")
        expect(page.get_by_text("Corrected and taken into the table")).to_have_count(1)
        # Split in four, the number typed, Enter splits.
        focus_on(page, "apple")
        page.keyboard.press("s")
        page.keyboard.press("ControlOrMeta+a")
        page.keyboard.type("4")
        page.keyboard.press("Enter")
        expect(page.locator(".decided b").get_by_text("Split", exact=True)).to_have_count(1)
        # Merged with the second row: the list opens on M, T2 is typed, Enter merges.
        focus_on(page, "Douglas")
        page.keyboard.press("m")
        page.keyboard.type("T2")
        page.keyboard.press("Enter")
        expect(page.get_by_text("Merged with T2")).to_have_count(1)
        focus_on(page, "maple")
        page.keyboard.press("d")
        expect(page.get_by_text("No tree of this survey")).to_have_count(1)
        expect(page.get_by_text("still to be decided, 0 of 5")).to_be_visible()
        shot(page, "walk-decided", whole=True)
        # What was heard is on the page beside each decision, as it was said.
        for heard in (
            "northern red oak",
            "white ash",
            "crab apple",
            "Douglas fir",
            "bigleaf maple",
        ):
            expect(page.get_by_text(f"heard as “{heard}")).not_to_have_count(0)
    with Store.open(data) as store:
        stored = store.load(number)
        made = {c.body["heard"]["species"]: c.body for c in stored.of("correction") if c.body}
        assert [b["do"] for b in made.values()] == [
            "accept",
            "correct",
            "split",
            "merge",
            "discard",
        ]
        assert all(b["heard"]["moments"][0]["said"] for b in made.values())
        rows = {i.body["cells"]["tree"]: i.body["cells"] for i in stored.of("tree") if i.body}
        assert list(rows) == ["T1", "T2", "T3", "T4", "T5", "T6"]
        assert rows["T2"]["species"] == "Fraxinus latifolia"
        # Merging fills the empty cell, and says nothing over what stood there.
        assert rows["T2"]["height"] == "60"


def test_each_mention_plays_in_its_own_recording(page: Page, tmp_path: Path) -> None:
    data = tmp_path / "data"
    number = walked(data)
    with serving(data) as address:
        page.goto(f"{address}/surveys/{number}/walk")
        page.wait_for_function(
            "[...document.querySelectorAll('.player')].every((p) => p.readyState > 0)"
        )
        # The fir is spoken of at 2 s of the second recording, which begins at 4 s of the walk;
        # the player starts a second before.
        line = page.locator(".transcript li", has_text="Douglas fir")
        expect(line.locator("a.clock")).to_have_attribute("data-start", "6.0")
        line.locator("a.clock").click()
        page.wait_for_function("!document.querySelectorAll('.player')[1].paused")
        first, second = playing(page)
        assert not first[0]
        assert 1.0 <= second[1] < 4.0
        focus_on(page, "white ash")
        page.keyboard.press("p")
        page.wait_for_function("!document.querySelectorAll('.player')[0].paused")
        first, second = playing(page)
        assert not second[0]
        assert 1.5 <= first[1] < 4.0
        page.keyboard.press(" ")
        page.wait_for_function("[...document.querySelectorAll('.player')].every((p) => p.paused)")
        # The address of a moment opens the page there.
        page.goto(f"{address}/surveys/{number}/walk?at=7.0")
        page.wait_for_function("document.querySelectorAll('.player')[1].currentTime >= 2")


def test_files_are_dropped_gone_on_with_and_stopped(
    page: Page, demo_data: Path, tmp_path: Path
) -> None:
    data = Path(shutil.copytree(demo_data, tmp_path / "data"))
    out = io.BytesIO()
    Image.new("RGB", (400, 300), "white").save(out, "PNG")
    with serving(data) as address:
        page.goto(f"{address}/surveys/1/files")
        # Dropped anywhere on the sheet.
        page.evaluate(
            """(bytes) => {
              const data = new DataTransfer();
              data.items.add(new File([new Uint8Array(bytes)], "scan of the plan.png"));
              const told = {dataTransfer: data, bubbles: true, cancelable: true};
              document.body.dispatchEvent(new DragEvent("drop", told));
            }""",
            list(out.getvalue()),
        )  # fmt: skip
        expect(page.locator(".brought")).to_contain_text("Place it on the site plan")
        expect(page.locator("table.list").last).to_contain_text("scan of the plan.png")
        shot(page, "files", whole=True)
        # Nothing that can be taken: said where it was dropped.
        page.set_input_files(
            ".drop input[type=file]",
            {"name": "letter.txt", "mimeType": "text/plain", "buffer": b"Dear all, "},
        )
        page.get_by_role("button", name="Bring in").click()
        expect(page.locator(".bringing")).to_contain_text("transcript with times")
        # Broken off after the first piece by a reload, then dropped again.
        big = tmp_path / "long.wav"
        big.write_bytes(sound(560))
        page.route("**/arrivals/*?at=4000000", lambda _: None)
        page.set_input_files(".drop input[type=file]", str(big))
        page.get_by_role("button", name="Bring in").click()
        expect(page.locator(".bringing")).to_contain_text("44 % is here")
        page.goto("about:blank")
        page.unroute("**/arrivals/*?at=4000000")
        page.goto(f"{address}/surveys/1/files")
        expect(page.get_by_text("4.0 MB of 9.0 MB are here")).to_be_visible()
        sent: list[str] = []
        page.on("request", lambda r: sent.append(r.url) if r.method == "PUT" else None)
        page.set_input_files(".drop input[type=file]", str(big))
        page.get_by_role("button", name="Bring in").click()
        expect(page.locator(".brought")).to_contain_text("long.wav")
        assert [u.rpartition("=")[2] for u in sent] == ["4000000", "8000000"]
        # Given up in the middle.
        big.write_bytes(sound(570))
        page.route("**/arrivals/*?at=4000000", lambda _: None)
        page.set_input_files(".drop input[type=file]", str(big))
        page.get_by_role("button", name="Bring in").click()
        expect(page.locator(".bringing")).to_contain_text("43 % is here")
        page.get_by_role("button", name="Stop long.wav").click()
        expect(page.locator(".bringing")).to_contain_text("stopped")
        page.reload()
        expect(page.get_by_text("are here. Drop the same file")).to_have_count(0)
