"""The whole job in a real browser, by mouse and by keyboard; what it shows is kept in out/desk."""

import hashlib
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from bolewalk.store.issues import list_issues
from bolewalk.store.store import Store

from .browser import (
    SLOW_MS,
    at,
    open_plan,
    running,
    serving,
    settled,
    shot,
    tab_to,
    verdict,
)

AXE = Path(__file__).parent / "vendor" / "axe.min.js"
SHEETS = (
    "walk", "site", "trees", "trees/T2", "trees/T23", "planting", "price", "papers", "files",
    "copies",
)  # fmt: skip


@pytest.fixture(scope="module")
def site(demo_data: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """A desk for tests that change nothing."""
    data = tmp_path_factory.mktemp("reading") / "data"
    shutil.copytree(demo_data, data)
    with serving(data) as address:
        yield address


def test_whole_job_by_mouse(page: Page, tmp_path: Path) -> None:
    out = tmp_path / "demo"
    with running("demo", "--out", str(out), "--port", "0") as address:
        open_plan(page, address)
        assert address.endswith("/surveys/1/site")
        assert verdict(page, "T11") == "keep"
        shot(page, "site")

        # A drawn pile is dragged: verdicts follow while it moves, the drawing stays as it is.
        page.mouse.move(*at(page, 106, 113))
        page.mouse.down()
        page.mouse.move(*at(page, 116, 138), steps=12)
        expect(page.locator("#verdicts tr.judged")).not_to_have_count(0)
        shot(page, "site-dragging")
        page.mouse.up()
        expect(page.get_by_text("Tried elsewhere; the drawing is as it was.")).to_be_visible()
        page.get_by_role("button", name="Put back").click()

        # A trench is drawn through the buckeye's roots.
        page.fill("#draw [name=width]", "2")
        page.fill("#draw [name=depth]", "3")
        page.fill("#draw [name=label]", "Gas main")
        page.get_by_role("button", name="Draw on the plan").click()
        for point in ((96, 44), (106, 44)):
            page.mouse.click(*at(page, *point))
            page.wait_for_timeout(400)
        page.mouse.dblclick(*at(page, 125, 44))
        expect(page.locator("#draw-say")).to_have_text("Gas main is on the plan.")
        settled(page)
        expect(page.locator('#verdicts tr[data-tree="T11"] .word')).to_have_text("redesign")
        shot(page, "site-trench")

        page.get_by_role("link", name="Price").click()
        expect(page.get_by_text("What moves this price most")).to_be_visible()
        shot(page, "price", whole=True)

        page.get_by_role("link", name="Papers").click()
        page.fill("[name=title]", "For the permit")
        page.get_by_role("button", name="Issue").click()
        expect(page.get_by_role("heading", name="Issue 1: For the permit")).to_be_visible()
        with page.expect_download() as waiting:
            page.get_by_role("link", name="Download the report of issue 1").click()
        report = Path(waiting.value.path()).read_bytes()
        shot(page, "papers")
    assert report.startswith(b"%PDF-")
    with Store.open(out / "desk") as store:
        issue = list_issues(store, 1)[0]
    assert hashlib.sha256(report).hexdigest() == issue.papers["report.pdf"].sha256


def test_whole_job_by_keyboard(page: Page, demo_data: Path, tmp_path: Path) -> None:
    data = Path(shutil.copytree(demo_data, tmp_path / "data"))
    with serving(data) as address:
        page.goto(address)
        tab_to(page, '.list a[href$="/site"]')
        page.keyboard.press("Enter")
        page.wait_for_selector("#plan[data-ready]")
        settled(page)

        # On the plan: to the works, the power trench moved ten feet away and kept.
        tab_to(page, "#plan")
        page.keyboard.press("w")
        expect(page.locator("#selected-body")).to_contain_text("Power to the bicycle shelter")
        assert verdict(page, "T1") == "undecided"
        page.keyboard.press("Shift+ArrowLeft")
        expect(page.get_by_text("Moved, not kept yet.")).to_be_visible()
        page.keyboard.press("Escape")
        expect(page.get_by_text("Moved, not kept yet.")).to_be_hidden()
        for _ in range(5):
            page.keyboard.press("Shift+ArrowLeft")
        page.keyboard.press("Enter")
        expect(page.get_by_text("Moved, not kept yet.")).to_be_hidden()
        page.keyboard.press("n")
        expect(page.locator("#selected-body")).to_contain_text("T1")
        settled(page)
        expect(page.locator('#verdicts tr[data-tree="T1"] .word')).not_to_have_text("undecided")
        page.keyboard.press("Control+z")
        expect(page.locator('#verdicts tr[data-tree="T1"] .word')).to_have_text("undecided")

        # A trench typed corner by corner.
        tab_to(page, "#draw [name=width]")
        page.keyboard.type("2")
        tab_to(page, "#draw textarea")
        page.keyboard.type("96, 44\n125, 44")
        tab_to(page, "#draw button[type=submit]")
        page.keyboard.press("Enter")
        expect(page.locator("#draw-say")).to_contain_text("is on the plan")
        settled(page)
        expect(page.locator('#verdicts tr[data-tree="T11"] .word')).to_have_text("redesign")
        shot(page, "site-keyboard")

        # A row of the table changed in place.
        page.goto(f"{address}/surveys/1/trees")
        tab_to(page, '.change[aria-label="Change T4"]')
        page.keyboard.press("Enter")
        expect(page.locator("tbody.editing")).to_have_count(1)
        page.wait_for_function("document.activeElement?.name === 'cell.species'")
        tab_to(page, "[name='cell.diameter']")
        page.keyboard.press("Control+a")
        page.keyboard.type("24")
        shot(page, "trees-editing")
        page.keyboard.press("Enter")
        expect(page.get_by_text("Kept.")).to_be_visible()

        # Papers made and the report downloaded.
        page.goto(f"{address}/surveys/1/papers")
        tab_to(page, 'form[action$="/papers/make"] button')
        page.keyboard.press("Enter")
        expect(page.get_by_text("the newest.")).to_be_visible()
        tab_to(page, '[aria-label="Download Arborist report"]')
        with page.expect_download() as waiting:
            page.keyboard.press("Enter")
        assert Path(waiting.value.path()).read_bytes().startswith(b"%PDF-")


def test_walk_is_decided_by_keyboard(page: Page, demo_data: Path, tmp_path: Path) -> None:
    data = Path(shutil.copytree(demo_data, tmp_path / "data"))
    with serving(data) as address:
        page.goto(f"{address}/surveys/1/walk")
        found = page.locator(".found")
        open_ones = page.locator(".found:not(.decided)")
        before = open_ones.count()
        assert before > 0
        page.keyboard.press("j")
        assert page.evaluate("document.activeElement.classList.contains('found')")
        shot(page, "walk")
        page.keyboard.press("a")
        page.wait_for_load_state()
        expect(open_ones).to_have_count(before - 1)
        expect(page.get_by_text("Taken into the table")).to_be_visible()
        # The words stand before the scripts that hear the keys have run.
        page.wait_for_load_state("load")
        assert before > 1
        for key in "j" * found.count() + "k" * found.count():
            page.keyboard.press(key)
            if not page.evaluate("document.activeElement.classList.contains('decided')"):
                break
        page.keyboard.press("d")
        expect(page.get_by_text("No tree of this survey")).to_be_visible()
        expect(open_ones).to_have_count(before - 2)


def test_two_browsers_change_one_tree(chrome: Browser, demo_data: Path, tmp_path: Path) -> None:
    data = Path(shutil.copytree(demo_data, tmp_path / "data"))
    with serving(data) as address:
        pages = [chrome.new_context().new_page() for _ in range(2)]
        for page in pages:
            page.set_default_timeout(SLOW_MS)
            page.goto(f"{address}/surveys/1/trees")
            page.get_by_role("link", name="Change T6", exact=True).click()
            page.wait_for_selector("tbody.editing")
        pages[0].fill("[name='cell.height']", "39")
        pages[0].get_by_role("button", name="Keep").click()
        expect(pages[0].get_by_text("Kept.")).to_be_visible()
        pages[1].fill("[name='cell.height']", "41")
        pages[1].get_by_role("button", name="Keep").click()
        expect(pages[1].locator("#clash")).to_be_visible()
        expect(pages[1].locator("#clash")).to_contain_text("39")
        expect(pages[1].locator("#clash")).to_contain_text("41")
        shot(pages[1], "conflict")
        pages[1].get_by_role("button", name="Keep these").click()
        expect(pages[1].locator("table.trees")).to_be_visible()
        pages[0].reload()
        expect(pages[0].locator("tbody", has_text="Pistacia chinensis").first).to_contain_text("41")


def test_desk_gone_is_told_and_nothing_typed_is_lost(
    chrome: Browser, demo_data: Path, tmp_path: Path
) -> None:
    data = Path(shutil.copytree(demo_data, tmp_path / "data"))
    page = chrome.new_context().new_page()
    with serving(data) as address:
        open_plan(page, f"{address}/surveys/1/site")
    page.fill("#draw textarea", "96, 44\n125, 44")
    page.get_by_role("button", name="Add from corners").click()
    expect(page.locator("#lost")).to_contain_text("The desk does not answer.")
    assert page.input_value("#draw textarea") == "96, 44\n125, 44"


def faults(page: Page) -> list[str]:
    """Rules of WCAG 2.0 to 2.2 at levels A and AA that a page breaks, by axe-core."""
    return list(
        page.evaluate(
            """async () => (await axe.run({runOnly: {type: "tag", values:
              ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]}})).violations
              .map(v => v.id + ": " + v.nodes.slice(0, 3).map(n => n.html).join(" | "))"""
        )
    )


@pytest.mark.parametrize("width", [1440, 360])
@pytest.mark.parametrize("sheet", ["", *SHEETS])
def test_no_page_breaks_accessibility_rules(page: Page, site: str, sheet: str, width: int) -> None:
    page.set_viewport_size({"width": width, "height": 800})
    page.goto(f"{site}/surveys/1/{sheet}" if sheet else site)
    page.evaluate(AXE.read_text(encoding="utf-8"))
    if sheet in ("planting", "price", "copies"):
        assert faults(page) == []
        expect(page.get_by_text("is being worked out")).to_have_count(0)
    if sheet == "site":
        page.wait_for_selector("#plan[data-ready]")
        settled(page)
        page.locator("#verdicts .pick").first.click()
        expect(page.get_by_text("Callowmere Town Code (invented), read")).to_be_visible()
    # What is folded away is held to the rules too.
    page.evaluate("document.querySelectorAll('details').forEach(d => { d.open = true; })")
    assert faults(page) == []
    # Nothing is cut off at the side: only tables in their own frames may scroll.
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    shot(page, f"{(sheet or 'surveys').replace('/', '-')}-{width}", whole=True)


@pytest.mark.parametrize("sheet", SHEETS)
def test_pages_hold_at_twice_the_size(page: Page, site: str, sheet: str) -> None:
    # 200 % zoom of a 1280 px window is a window of 640 px (WCAG 2.2, 1.4.4 and 1.4.10).
    page.set_viewport_size({"width": 640, "height": 400})
    page.goto(f"{site}/surveys/1/{sheet}")
    assert page.evaluate("document.documentElement.scrollWidth") <= 640


def test_large_type_is_larger(page: Page, site: str) -> None:
    page.goto(f"{site}/surveys/1/trees")
    size = "parseFloat(getComputedStyle(document.body).fontSize)"
    usual = page.evaluate(size)
    page.get_by_role("button", name="Larger type").click()
    page.wait_for_selector("html.large")
    assert page.evaluate(size) >= 1.25 * usual
    assert page.url.endswith("/surveys/1/trees")


def test_nothing_is_asked_of_another_host(page: Page, site: str) -> None:
    asked: list[str] = []
    page.on("request", lambda r: asked.append(r.url))
    for sheet in SHEETS:
        page.goto(f"{site}/surveys/1/{sheet}")
        page.wait_for_load_state("networkidle")
    elsewhere = [u for u in asked if not u.startswith((site, "data:", "blob:"))]
    assert [u for u in elsewhere if not u.startswith("chrome-extension:")] == []


def test_page_prints_in_grey_without_its_tools(page: Page, site: str) -> None:
    open_plan(page, f"{site}/surveys/1/site")
    page.evaluate("window.dispatchEvent(new Event('beforeprint'))")
    page.emulate_media(media="print")
    assert not page.is_visible(".tools")
    assert not page.is_visible("#draw")
    assert page.is_visible(".titleblock")
    # The whole plan is on the paper: the canvas is as wide and high as its place.
    sizes = page.evaluate(
        """() => ["#plan", "#plan canvas"].map(s => document.querySelector(s))
          .map(e => [e.clientWidth, e.clientHeight])"""
    )
    assert sizes[0] == pytest.approx(sizes[1], abs=2)
    shot(page, "site-print", whole=True)


def test_fonts_and_scripts_come_with_the_desk(page: Page, site: str) -> None:
    open_plan(page, f"{site}/surveys/1/site")
    page.evaluate("document.fonts.ready")
    assert page.evaluate("document.fonts.check('16px \"Source Sans 3\"')")
    assert page.evaluate("typeof ol.Map") == "function"
