"""Pages: there, complete, escaped, and helpful where there is nothing yet."""

import io
import re
import zipfile
from datetime import date
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from bolewalk.demo import survey_folder
from bolewalk.demo.make_skeleton import new_folder
from bolewalk.desk.drawer import Drawer
from bolewalk.desk.views.price import price_view
from bolewalk.store.edits import new_tree, set_head
from bolewalk.store.store import Store

from .conftest import WHEN
from .waiting import filled

SHEETS = ("walk", "site", "trees", "planting", "price", "papers", "files")


@pytest.mark.parametrize("sheet", SHEETS)
def test_every_sheet_has_head_and_title_block(reading_desk: TestClient, sheet: str) -> None:
    page = reading_desk.get(f"/surveys/1/{sheet}")
    assert page.status_code == 200
    assert page.headers["content-type"] == "text/html; charset=utf-8"
    block = page.text[page.text.index('class="titleblock"') :]
    # What survey.toml of the demonstration says.
    for words in (
        "Teasel Court, 14 Sedge Lane, Callowmere", "revision B", "2026-10-28", "2026-11-11",
        "Mirela Ostrander", "Tobin Hale",
    ):  # fmt: skip
        assert words in block, words
    assert page.text.count('aria-current="page"') == 1


@pytest.mark.parametrize("sheet", SHEETS)
def test_an_empty_survey_says_what_to_do(store: Store, desk: TestClient, sheet: str) -> None:
    number = store.create_survey(
        "Sedge Lane", visited=date(2026, 5, 1), units="metric", who="Tobin", when=WHEN
    )
    text = filled(desk, f"/surveys/{number}/{sheet}")
    expected = {
        "walk": "Drop its transcript here",
        "site": "No tree yet. Add rows",
        "trees": "Add the first tree below",
        "planting": "Bring in a planting.toml",
        "price": "Bring in a rates.toml",
        "papers": "No papers yet.",
        "files": "None yet. Drop a drawing",
    }
    assert expected[sheet] in text


def test_an_empty_desk_says_what_to_do(tmp_path) -> None:  # type: ignore[no-untyped-def]
    from bolewalk.desk.app import create_app

    with Store.open(tmp_path) as store:
        client = TestClient(create_app(store, tmp_path), base_url="http://localhost")
        assert "No survey on this desk yet. Bring one in" in client.get("/").text


def test_text_from_outside_is_never_markup(store: Store, desk: TestClient) -> None:
    hostile = "<script>alert(1)</script>\"'><img src=x onerror=alert(2)>"
    stored = store.load(1)
    edits = [
        set_head(stored, (("survey", "name"), hostile), (("survey", "place"), hostile)),
        new_tree({"tree": hostile, "species": hostile, "notes": hostile, "x": "10", "y": "10",
                  "diameter": "12"}),
    ]  # fmt: skip
    store.change(1, edits, who="Tobin", when=WHEN)
    for sheet in (*SHEETS, "site/questions"):
        text = desk.get(f"/surveys/1/{sheet}").text
        assert "<script>alert" not in text, sheet
        assert "<img src=x" not in text, sheet
    assert "&lt;script&gt;alert(1)" in desk.get("/").text


def test_new_survey_is_begun_or_its_faults_told(desk: TestClient) -> None:
    told = {"name": " ", "visited": "yesterday", "units": "cubits", "purpose": "opinion"}
    page = desk.post("/surveys", data=told)
    assert page.status_code == 422
    for words in ("Name: give", "&#39;yesterday&#39; is no day", "Units: imperial or metric"):
        assert words in page.text
    told = {"name": "Mill", "visited": "2026-05-12", "units": "metric", "purpose": "estimate"}
    page = desk.post("/surveys", data=told)
    assert page.status_code == 303
    assert "Mill" in desk.get(page.headers["location"]).text


def test_a_folder_is_brought_in_as_files_or_zip(desk: TestClient) -> None:
    files = sorted(p for p in survey_folder().iterdir() if p.is_file())
    sent = [("files", (f"court/{p.name}", p.read_bytes())) for p in files]
    first = desk.post("/surveys/import", files=sent)
    assert first.status_code == 303
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as out:
        for p in files:
            out.writestr(f"court/{p.name}", p.read_bytes())
    second = desk.post("/surveys/import", files={"files": ("court.zip", packed.getvalue())})
    assert second.status_code == 303
    assert first.headers["location"] != second.headers["location"]
    plans = [desk.get(f"/api{r.headers['location'][:-5]}/plan").json() for r in (first, second)]
    assert plans[0]["trees"] == plans[1]["trees"]
    assert len(plans[0]["trees"]) == 24


@pytest.mark.parametrize(
    ("name", "body", "says"),
    [
        ("a.zip", b"PK\x03\x04 cut short", "the zip cannot be read"),
        ("notes.txt", b"nothing", "no survey.toml among the files"),
    ],
)
def test_what_is_no_survey_is_told(desk: TestClient, name: str, body: bytes, says: str) -> None:
    page = desk.post("/surveys/import", files={"files": (name, body)})
    assert page.status_code == 422
    assert says in page.text


def test_a_zip_cannot_write_elsewhere(desk: TestClient, tmp_path) -> None:  # type: ignore[no-untyped-def]
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as out:
        out.writestr("survey.toml", "")
        out.writestr("../../escaped.txt", "x")
    page = desk.post("/surveys/import", files={"files": ("a.zip", packed.getvalue())})
    assert page.status_code == 422
    assert "no name of a file in a folder" in page.text
    assert not list(tmp_path.rglob("escaped.txt"))


def test_one_tree_tells_figures_with_their_basis(reading_desk: TestClient) -> None:
    page = reading_desk.get("/surveys/1/trees/T13").text
    # The row of trees.csv: stems 8+6+5 in. By hand: sqrt(64+36+25) = 11.18; sum 19.
    assert re.search(r"Equal cross-section</th><td class=\"num\">11\.2 in", page)
    assert re.search(r"All stems added</th><td class=\"num\">19\.0 in", page)
    assert "measured" in page
    assert "estimated by eye" in reading_desk.get("/surveys/1/trees/T15").text  # height ~55
    assert reading_desk.get("/surveys/1/trees/T77").status_code == 404


def test_a_tree_nothing_touches_loses_none(store: Store, desk: TestClient) -> None:
    far = {"tree": "T99", "species": "Quercus robur", "x": "9000", "y": "9000", "diameter": "30"}
    store.change(1, [new_tree(far)], who="Tobin", when=WHEN)
    text = desk.get("/surveys/1/trees/T99").text
    shares = re.findall(r"<dt>(Severed|By depth|Overlap|Covered)</dt><dd[^>]*>([^<]*)</dd>", text)
    assert shares == [
        ("Severed", "none existing, none with proposed, none with later works"),
        ("By depth", "none"), ("Overlap", "none"), ("Covered", "none"),
    ]  # fmt: skip
    assert "By how piles are made" not in text


def test_the_verdict_of_a_tree_to_be_removed_is_told_as_such(
    store: Store, desk: TestClient
) -> None:
    gone = {"tree": "T98", "species": "Quercus robur", "x": "9000", "y": "9000", "diameter": "30",
            "decision": "remove"}  # fmt: skip
    store.change(1, [new_tree(gone)], who="Tobin", when=WHEN)
    row = desk.get("/surveys/1/site").text.split('<tr data-tree="T98">')[1].split("</tr>")[0]
    text = re.sub(r"<svg.*?</svg>|<[^>]+>", " ", row, flags=re.DOTALL)
    assert "to be removed; if it stayed: keep" in " ".join(text.split())


def test_nearest_cuts_are_told_along_the_tape_too(store: Store, desk: TestClient) -> None:
    slope = set_head(store.load(1), (("site", "slope_pct"), 75), (("site", "slope_bearing"), 180))
    store.change(1, [slope], who="Tobin", when=WHEN)
    page = desk.get("/surveys/1/trees/T11").text
    table = page[page.index('<table class="cuts">') :]
    table = table[: table.index("</table>")]
    rows = [
        re.findall(r">([^<]*)</t[hd]>", row) for row in re.findall(r"<tr>.*?</tr>", table, re.S)
    ]
    head, names = rows[0], [r[0] for r in rows]
    plan = rows[names.index("kept as drawn")]
    # Of the first level: under it stand the outer distance and the tape.
    tape = rows[names.index("along the tape")]
    north, east, south = (head.index(c) for c in ("N", "E", "S"))
    # By hand: on ground that falls 3 in 4 a tape reads 5 for 4 in plan, straight up and down.
    for way, times in ((north, 1.25), (south, 1.25), (east, 1.0)):
        if plan[way] != "–":
            assert float(tape[way]) == pytest.approx(float(plan[way]) * times, abs=0.13)
    assert [plan[w] for w in (north, east, south)] != ["–"] * 3
    assert "The ground slopes" in page


def test_urgent_hazard_heads_the_walk(reading_desk: TestClient) -> None:
    page = reading_desk.get("/surveys/1/walk").text
    # Said on the demonstration walk, off the topic of trees.
    assert page.index("bare wire showing") < page.index("Trees found")
    assert "Call about this today" in page


def test_no_page_promises_what_nobody_can(reading_desk: TestClient) -> None:
    for sheet in (*SHEETS, "trees/T1", "trees/T15"):
        text = re.sub(r"<[^>]+>", " ", reading_desk.get(f"/surveys/1/{sheet}").text).lower()
        for word in ("safe", "guaranteed", "approved"):
            assert not re.search(rf"\b{word}\b", text), (sheet, word)


def test_example_rates_are_told_where_the_price_is(store: Store, tmp_path: Path) -> None:
    new_folder(tmp_path / "new")
    number = store.import_folder(tmp_path / "new", who="Tobin", when=WHEN).survey_id
    drawer = Drawer(store)
    assert "example rates" in price_view(drawer.sheet(number, "")).example
    assert price_view(drawer.sheet(1, "")).example == ""
