"""Every page of the router, filled and empty, held to the rules of accessibility.

The list of pages is held against the router: a route that answers with a page and has no visit
here fails. Each page is looked at wide and narrow, in the usual and in larger type, with all that
is folded away opened.
"""

import json
import shutil
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, expect

from bolewalk.demo import survey_folder
from bolewalk.desk.app import ROUTES
from bolewalk.intake.folder import read_folder
from bolewalk.papers.client_page import Played, client_page
from bolewalk.papers.write import reading_of
from bolewalk.store.accounts import add_account
from bolewalk.store.edits import new_tree, set_cells
from bolewalk.store.issues import seal
from bolewalk.store.links import make_link, withdraw_link
from bolewalk.store.store import Store
from bolewalk.store.variants import copy_works
from bolewalk.survey import assess

from ..browser import SLOW_MS, running, settled, shot
from ..test_browser import AXE, faults
from .conftest import WORDS

WIDTHS = (1280, 360)
FILLED, EMPTY, BARE = 1, 2, 3
"""Surveys: the demonstration, one with nothing in it, one with a tree nothing is told of."""
OWNER, OTHER, READER = "Mirela", "Odile", "Rook"
"""Who looks: an owner, the owner of a firm without any survey, an account that only reads."""

Act = Callable[[Page], None]


def nothing_more(page: Page) -> None:
    del page


@dataclass(frozen=True)
class Visit:
    """One state of a page: who looks at it where, and what is done there before."""

    state: str
    address: str
    who: str = OWNER
    act: Act = nothing_more


def wrong_password(page: Page) -> None:
    page.fill("[name=name]", OWNER)
    page.fill("[name=password]", "not the one")
    page.get_by_role("button", name="Sign in").click()
    expect(page.get_by_text("Name or password is not right.")).to_be_visible()


def make_a_link(page: Page) -> None:
    page.get_by_role("button", name="Make a link").click()
    expect(page.get_by_label("Address of the new link")).to_be_visible()


def take_a_name_twice(page: Page) -> None:
    page.fill("form[data-keep=copy] [name=name]", "Nearer the road")
    page.locator("form[data-keep=copy] button").click()
    expect(page.get_by_text("a name no other copy has")).to_be_visible()


def meet_another_change(page: Page) -> None:
    page.evaluate("document.querySelector('[name=version]').value = '1'")
    page.fill("[name='cell.height']", "41")
    page.get_by_role("button", name="Keep").click()
    expect(page.locator("#clash")).to_be_visible()


def edit_in_the_table(page: Page) -> None:
    page.get_by_role("link", name="Change T2", exact=True).click()
    page.wait_for_selector("tbody.editing")


def choose_a_tree(page: Page) -> None:
    page.locator("#verdicts .pick").first.click()
    expect(page.locator("#selected-body")).to_contain_text("T1")


def choose_a_work(page: Page) -> None:
    page.locator("#works .pick").first.click()
    expect(page.locator("#selected.some")).to_be_visible()


def sheets(name: str, *more: Visit, empty: int = EMPTY) -> tuple[Visit, ...]:
    """A sheet of the filled survey and of one without anything."""
    return (
        Visit("filled", f"/surveys/{FILLED}/{name}"), Visit("empty", f"/surveys/{empty}/{name}"),
        *more,
    )  # fmt: skip


S = "/surveys/{survey:int}"
VISITS: dict[str, tuple[Visit, ...]] = {
    "/": (
        Visit("filled", "/"), Visit("empty", "/", OTHER), Visit("reading only", "/", READER),
    ),
    "/sign-in": (
        Visit("asked", "/sign-in", ""), Visit("refused", "/sign-in", "", wrong_password),
    ),
    "/account": (Visit("owner", "/account"), Visit("reading only", "/account", READER)),
    "/accounts": (
        Visit("several", "/accounts"), Visit("one", "/accounts", OTHER),
        Visit("not allowed", "/accounts", READER),
    ),
    "/client/{token}": (
        Visit("open", "/client/OPEN", ""), Visit("ended", "/client/WITHDRAWN", ""),
        Visit("unknown", "/client/1.x.y", ""),
    ),
    "/client/{token}/{name:path}": (Visit("page", "/client/OPEN/client/index.html", ""),),
    f"{S}/links": sheets("links", Visit("made", f"/surveys/{FILLED}/links", OWNER, make_a_link)),
    f"{S}/trees": sheets(
        "trees", Visit("bare", f"/surveys/{BARE}/trees"),
        Visit("editing", f"/surveys/{FILLED}/trees", OWNER, edit_in_the_table),
    ),
    f"{S}/trees/rows/{{key}}": (
        Visit("read", f"/surveys/{FILLED}/trees/rows/ROW"),
        Visit("edited", f"/surveys/{FILLED}/trees/rows/ROW?edit=1"),
        Visit("conflict", f"/surveys/{FILLED}/trees/rows/ROW?edit=1", OWNER, meet_another_change),
    ),
    f"{S}/trees/{{tree}}": (
        Visit("filled", f"/surveys/{FILLED}/trees/T2"),
        Visit("many stems", f"/surveys/{FILLED}/trees/T13"),
        Visit("bare", f"/surveys/{BARE}/trees/T1"),
        Visit("unknown", f"/surveys/{FILLED}/trees/T999"),
    ),
    f"{S}/walk": sheets("walk"),
    f"{S}/files": sheets("files"),
    f"{S}/names": sheets("names"),
    f"{S}/price": sheets("price", Visit("bare", f"/surveys/{BARE}/price")),
    f"{S}/planting": sheets("planting", Visit("bare", f"/surveys/{BARE}/planting")),
    f"{S}/papers": sheets("papers", Visit("reading only", f"/surveys/{FILLED}/papers", READER)),
    f"{S}/issues/{{issue:int}}/compare": (
        Visit("filled", f"/surveys/{FILLED}/issues/1/compare"),
        Visit("unknown", f"/surveys/{FILLED}/issues/99/compare"),
    ),
    f"{S}/site": sheets(
        "site", Visit("bare", f"/surveys/{BARE}/site"),
        Visit("tree", f"/surveys/{FILLED}/site", OWNER, choose_a_tree),
        Visit("work", f"/surveys/{FILLED}/site", OWNER, choose_a_work),
        Visit("copy", f"/surveys/{FILLED}/site?plan=variant-1"),
        Visit("gone", "/surveys/99/site"),
    ),
    f"{S}/copies": sheets(
        "copies", Visit("refused", f"/surveys/{FILLED}/copies", OWNER, take_a_name_twice)
    ),
}  # fmt: skip
"""Path of a route that answers with a page -> the states it is looked at in."""

NO_PAGE = {
    "data": ("/openapi.json",),
    "a file": (
        "/static/{edition}/{name:path}", f"{S}/files/{{name:path}}", f"{S}/stills/{{name}}",
        f"{S}/papers/{{made}}/{{revision:int}}/{{name:path}}", f"{S}/issues/{{issue:int}}.zip",
        f"{S}/issues/{{issue:int}}/{{name:path}}",
    ),
    "leads on to another page": (S, f"{S}/walk/recording"),
    "a part of a page, looked at in it": (f"{S}/site/questions", f"{S}/tasks/{{task}}"),
}  # fmt: skip
"""What else a route answers with -> the paths."""


def test_every_route_with_a_page_is_visited() -> None:
    routed = {r.path for r in ROUTES if "GET" in (r.methods or ()) and "/api/" not in r.path}
    others = [path for paths in NO_PAGE.values() for path in paths]
    assert len(others) == len(set(others))
    assert set(VISITS) | set(others) == routed
    assert not set(VISITS) & set(others)


@pytest.fixture(scope="module")
def office(demo_data: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[dict[str, str]]:
    """A desk that asks for a sign-in; its address under "", and what stands for its own names."""
    folder = tmp_path_factory.mktemp("pages")
    data, papers = folder / "data", folder / "papers"
    shutil.copytree(demo_data, data)
    reading = reading_of(assess(read_folder(survey_folder())))
    (papers / "client").mkdir(parents=True)
    (papers / "client" / "walk.wav").write_bytes(b"RIFF0000WAVE" + bytes(400))
    (papers / "client" / "index.html").write_bytes(
        client_page(reading, recordings=[Played("walk.wav", 0.0, 700.0)])
    )
    (papers / "findings.json").write_text("{}")
    (papers / "report.pdf").write_bytes(b"%PDF-1.7 report")
    when = datetime.now(UTC)
    told = {"who": OWNER, "when": when}
    with Store.open(data) as store:
        for name, role, firm in (
            (OWNER, "owner", ""), (READER, "read-only", ""), (OTHER, "owner", "Elsewhere"),
        ):  # fmt: skip
            add_account(store, name, password=WORDS, role=role, firm=firm, who="desk", when=when)  # type: ignore[arg-type]
        for number, place in ((EMPTY, "Nye Lane"), (BARE, "Sedge Lane")):
            made = store.create_survey(place, visited=date(2026, 5, 1), units="metric", **told)
            assert made == number
        store.change(BARE, [new_tree({"tree": "T1"})], **told)
        row = store.load(FILLED).tree("T4")
        assert row is not None
        store.change(FILLED, [set_cells(row, {"height": "39"})], **told)
        copy_works(store, FILLED, "Nearer the road", **told)
        issue = seal(store, FILLED, papers, revision=1, title="For the permit", **told)
        links = [
            make_link(store, issue, ["client/index.html", "client/walk.wav", "report.pdf"],
                      expires=when + timedelta(1), **told)
            for _ in range(2)
        ]  # fmt: skip
        withdraw_link(store, FILLED, links[1][0].id, **told)
    write_tasks(data, FILLED)
    with running("desk", "--data", str(data), "--port", "0", "--accounts") as address:
        yield {"": address, "OPEN": links[0][1], "WITHDRAWN": links[1][1], "ROW": row.key}


def write_tasks(data: Path, survey: int) -> None:
    """Papers that could not be made and a file that could not be read, as a desk has left them."""
    folder = data / "desk" / "tasks"
    folder.mkdir(parents=True, exist_ok=True)
    for n, (kind, state) in enumerate(
        (("papers", "failed"), ("issue", "cancelled"), ("file", "failed"))
    ):
        task = {
            "id": f"task{n}", "kind": kind, "survey": survey, "plan": "", "revision": 1,
            "who": OWNER, "asked_at": f"2026-05-01T09:0{n}:00.000000+00:00", "state": state,
            "says": "the disk is full", "title": "old plan.dxf",
        }  # fmt: skip
        (folder / f"task{n}.json").write_text(json.dumps(task))


@pytest.fixture(scope="module")
def people(chrome: Browser, office: dict[str, str]) -> dict[str, BrowserContext]:
    """A browser for each who looks, signed in; under "" nobody is."""
    found = {who: chrome.new_context() for who in ("", OWNER, OTHER, READER)}
    for who, context in found.items():
        if not who:
            continue
        page = context.new_page()
        page.goto(f"{office['']}/sign-in")
        page.fill("[name=name]", who)
        page.fill("[name=password]", WORDS)
        page.get_by_role("button", name="Sign in").click()
        page.wait_for_url(f"{office['']}/")
        page.close()
    return found


def cut_off(page: Page) -> list[str]:
    """What makes a page scroll sideways; what stands in a frame of its own may."""
    return list(
        page.evaluate(
            """() => {
              const root = document.documentElement;
              if (root.scrollWidth <= root.clientWidth) return [];
              const wide = e => e.getBoundingClientRect().right > root.clientWidth + 0.5;
              const found = [...document.querySelectorAll("body *")].filter(
                e => wide(e) && !e.closest(".scroll") && ![...e.children].some(wide));
              const parts = found.slice(0, 4).map(e => e.outerHTML.slice(0, 90));
              return [`${root.scrollWidth} px`, ...parts];
            }"""
        )
    )


@pytest.mark.parametrize(
    "visit",
    [
        pytest.param(visit, id=f"{path} {visit.state}")
        for path, visits in VISITS.items()
        for visit in visits
    ],
)
def test_no_page_breaks_a_rule(
    people: dict[str, BrowserContext], office: dict[str, str], visit: Visit
) -> None:
    address = visit.address
    for name in ("OPEN", "WITHDRAWN", "ROW"):
        address = address.replace(name, office[name])
    page = people[visit.who].new_page()
    page.set_default_timeout(SLOW_MS)
    try:
        page.set_viewport_size({"width": WIDTHS[0], "height": 900})
        answer = page.goto(f"{office['']}{address}")
        assert answer is not None
        assert answer.status < 500
        expect(page.get_by_text("is being worked out")).to_have_count(0)
        if page.locator("#plan").count():
            page.wait_for_selector("#plan[data-ready]")
            settled(page)
        visit.act(page)
        page.wait_for_load_state("networkidle")
        page.evaluate(AXE.read_text(encoding="utf-8"))
        page.evaluate("document.querySelectorAll('details').forEach(d => { d.open = true; })")
        wrong = []
        for large in (False, True):
            page.evaluate("on => document.documentElement.classList.toggle('large', on)", large)
            for width in WIDTHS:
                page.set_viewport_size({"width": width, "height": 900})
                page.wait_for_timeout(100)
                state = f"{width} px, {'larger' if large else 'usual'} type"
                wrong += [f"{state}: {fault}" for fault in faults(page)]
                wrong += [f"{state}: cut off at the side: {part}" for part in cut_off(page)]
        kept = f"page-{visit.address}-{visit.state}".strip("/").replace("/", "-")
        shot(page, kept.partition("?")[0] + (visit.state if "?" in kept else ""), whole=True)
        assert wrong == []
    finally:
        page.close()
