"""Signed in, in a real browser: every page under its policy, forms and scripts with their token."""

import re
import shutil
import wave
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from bolewalk.demo import survey_folder
from bolewalk.intake.folder import read_folder
from bolewalk.papers.client_page import Played, client_page
from bolewalk.papers.write import reading_of
from bolewalk.store.accounts import add_account
from bolewalk.store.issues import seal
from bolewalk.store.links import list_openings, make_link
from bolewalk.store.store import Store
from bolewalk.survey import assess

from ..browser import faultless_page, running, shot
from .conftest import WORDS

PAGES = (
    "/", "/account", "/accounts", "/surveys/1/walk", "/surveys/1/site", "/surveys/1/trees",
    "/surveys/1/trees/T2", "/surveys/1/planting", "/surveys/1/price", "/surveys/1/papers",
    "/surveys/1/links", "/surveys/1/files", "/surveys/1/copies", "/nowhere",
)  # fmt: skip


@pytest.fixture(scope="module")
def office(demo_data: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[str, Path]]:
    """A desk that asks for a sign-in, with an issue whose page plays a recording."""
    folder = tmp_path_factory.mktemp("browser")
    data = folder / "data"
    shutil.copytree(demo_data, data)
    papers = folder / "papers"
    (papers / "client").mkdir(parents=True)
    with wave.open(str(papers / "client" / "walk.wav"), "wb") as sound:
        sound.setnchannels(1)
        sound.setsampwidth(2)
        sound.setframerate(8000)
        sound.writeframes(bytes(16000 * 700))
    reading = reading_of(assess(read_folder(survey_folder())))
    page = client_page(reading, recordings=[Played("walk.wav", 0.0, 700.0)])
    (papers / "client" / "index.html").write_bytes(page)
    when = datetime.now(UTC)
    with Store.open(data) as store:
        add_account(store, "Mirela", password=WORDS, role="owner", who="desk", when=when)
        issue = seal(
            store, 1, papers, revision=1, title="For the permit", who="Mirela", when=when
        )  # fmt: skip
        names = ["client/index.html", "client/walk.wav"]
        _, token = make_link(
            store, issue, names, who="Mirela", when=when, expires=when + timedelta(1)
        )
    (folder / "token").write_text(token)
    with running("desk", "--data", str(data), "--port", "0", "--accounts") as address:
        yield address, folder


@pytest.fixture
def page(chrome: Browser) -> Iterator[Page]:
    """A page that fails the test on any error of a script or of the content policy."""
    # Two are asked for: a page that is not there, and a client's page that reaches for the desk.
    asked = r"404 \(Not Found\)|127\.0\.0\.1:\d+/api/surveys\b"
    with faultless_page(chrome, width=1280, but=asked) as opened:
        yield opened


def test_every_page_signed_in_and_out(office: tuple[str, Path], page: Page) -> None:
    address, _ = office
    page.goto(f"{address}/surveys/1/trees")
    shot(page, "sign-in")
    page.fill("[name=name]", "Mirela")
    page.fill("[name=password]", WORDS)
    page.get_by_role("button", name="Sign in").click()
    page.wait_for_url(f"{address}/surveys/1/trees")
    for place in PAGES:
        page.goto(f"{address}{place}")
        expect(page.locator("h1")).to_be_visible()
        if place in ("/account", "/accounts", "/surveys/1/links"):
            shot(page, place.rsplit("/", 1)[1], whole=True)

    # By htmx: a row of the table, opened and kept.
    page.goto(f"{address}/surveys/1/trees")
    page.get_by_role("link", name="Change T2", exact=True).click()
    page.fill("[name='cell.notes'] >> nth=0", "seen signed in")
    page.get_by_role("button", name="Keep").first.click()
    expect(page.get_by_text("Kept.")).to_be_visible()
    # By a module: the plan sends its token as a header.
    page.goto(f"{address}/surveys/1/site")
    page.wait_for_selector("#plan[data-ready]")
    page.fill("#copy [name=name]", "Further south")
    page.get_by_role("button", name="Copy").click()
    page.wait_for_url(f"{address}/surveys/1/site?plan=variant-1")
    # By a form of the browser's own: larger type, and a link for the client.
    page.get_by_role("button", name="Larger type").click()
    expect(page.get_by_role("button", name="Usual type")).to_be_visible()
    page.goto(f"{address}/surveys/1/links")
    page.get_by_role("button", name="Make a link").click()
    made = page.get_by_label("Address of the new link")
    assert re.fullmatch(rf"{address}/client/\d+\.\S+\.\S+", made.input_value())
    shot(page, "link-made", whole=True)

    page.goto(f"{address}/account")
    page.get_by_role("button", name="Sign out everywhere").click()
    page.wait_for_url(f"{address}/sign-in")
    page.goto(f"{address}/surveys/1/site")
    assert "/sign-in?back=" in page.url


def test_a_client_reads_and_plays(office: tuple[str, Path], page: Page) -> None:
    address, folder = office
    token = (folder / "token").read_text()
    page.goto(f"{address}/client/{token}")
    shot(page, "client-link")
    assert page.get_by_role("navigation").count() == 0
    page.get_by_role("link", name="Page for the client").click()
    player = page.locator("#walk, audio, video").first
    expect(player).to_be_visible()
    # The page's own script jumps to where a tree was spoken of, in the clip sealed beside it.
    page.locator("button[data-at]").first.click()
    page.wait_for_function("document.querySelector('audio, video').currentTime > 0")
    # It is no part of the desk: it has no cookie of it and reads nothing of it.
    assert page.evaluate("window.origin") == "null"
    refused = page.evaluate("fetch('/api/surveys').then(() => 'read', () => 'refused')")
    assert refused == "refused"
    with Store.open(folder / "data") as store:
        assert [o.paper for o in list_openings(store, 1)] == ["", "client/index.html"]
