"""The tree table: edited in place, two people's changes set side by side, undone."""

import re

import pytest
from starlette.testclient import TestClient

from bolewalk.store.edits import set_cells
from bolewalk.store.items import Applied
from bolewalk.store.store import Store

from .conftest import WHEN

HX = {"hx-request": "true"}


def row_of(store: Store, tree: str):  # type: ignore[no-untyped-def]
    item = store.load(1).tree(tree)
    assert item is not None
    return item


def form_of(page: str) -> dict[str, str]:
    """What a browser would send of the row's form, unchanged."""
    fields = dict(re.findall(r'name="(cell\.\w+)"[^>]*? value="([^"]*)"', page))
    for name, options in re.findall(r'<select name="(cell\.\w+)"[^>]*>(.*?)</select>', page, re.S):
        chosen = re.search(r"<option selected>([^<]*)", options)
        fields[name] = chosen[1] if chosen else ""
    notes = re.search(r'<textarea name="cell.notes"[^>]*>([^<]*)', page)
    version = re.search(r'name="version" value="(\d+)"', page)
    assert version is not None
    assert notes is not None
    fields["cell.notes"] = notes[1]
    return {**fields, "version": version[1]}


def test_row_is_changed_in_place(store: Store, desk: TestClient) -> None:
    key = row_of(store, "T4").key
    page = desk.get(f"/surveys/1/trees/rows/{key}?edit=1", headers=HX).text
    form = form_of(page)
    assert form["cell.diameter"] == "22"
    answer = desk.post(
        f"/surveys/1/trees/rows/{key}", data={**form, "cell.diameter": "11"}, headers=HX
    )
    assert answer.status_code == 200
    assert answer.text.lstrip().startswith("<tbody")
    assert "Kept." in answer.text
    assert row_of(store, "T4").body["cells"]["diameter"] == "11"
    # inch-foot: the root zone follows, one foot an inch.
    plan = desk.get("/api/surveys/1/plan").json()
    assert {t["id"]: t for t in plan["trees"]}["T4"]["zone"] == pytest.approx(11, abs=1e-3)
    history = desk.get("/surveys/1/trees/T4").text
    assert "diameter: 22 → 11" in history
    assert "Tobin" in history


def test_row_works_without_scripts(store: Store, desk: TestClient) -> None:
    key = row_of(store, "T4").key
    page = desk.get(f"/surveys/1/trees/rows/{key}?edit=1").text
    assert "<!doctype html>" in page
    answer = desk.post(f"/surveys/1/trees/rows/{key}", data={**form_of(page), "cell.age": "young"})
    assert answer.status_code == 303
    assert answer.headers["location"] == f"/surveys/1/trees#{key}"
    assert row_of(store, "T4").body["cells"]["age"] == "young"


def test_two_changes_of_one_tree_are_both_shown_and_none_is_lost(
    store: Store, desk: TestClient
) -> None:
    item = row_of(store, "T5")
    form = form_of(desk.get(f"/surveys/1/trees/rows/{item.key}?edit=1").text)
    theirs = set_cells(item, {"height": "44", "health": "poor"})
    assert isinstance(store.change(1, [theirs], who="Mirela", when=WHEN), Applied)
    mine = {**form, "cell.height": "41", "cell.notes": "Measured again."}
    page = desk.post(f"/surveys/1/trees/rows/{item.key}", data=mine)
    assert page.status_code == 409
    for words in ("Mirela", "41", "44", "Measured again.", "poor"):
        assert words in page.text, words
    # Nothing of either was touched.
    assert row_of(store, "T5").body["cells"]["height"] == "44"
    assert row_of(store, "T5").body["cells"]["notes"].startswith("Raise to 8 ft")
    # The page offers mine where I had changed an entry, theirs where only they had.
    chosen = dict(re.findall(r'name="(cell\.\w+)" value="([^"]*)" checked', page.text))
    assert chosen == {
        "cell.height": "41", "cell.health": "poor", "cell.notes": "Measured again.",
    }  # fmt: skip
    hidden = dict(re.findall(r'type="hidden" name="([\w.]+)" value="([^"]*)"', page.text))
    answer = desk.post(f"/surveys/1/trees/rows/{item.key}", data={**hidden, **chosen})
    assert answer.status_code == 303
    cells = row_of(store, "T5").body["cells"]
    assert (cells["height"], cells["health"]) == ("41", "poor")
    assert cells["notes"] == "Measured again."
    assert cells["species"] == "Quercus agrifolia"


def test_conflict_takes_the_place_of_the_sheet_for_scripts(store: Store, desk: TestClient) -> None:
    item = row_of(store, "T5")
    store.change(1, [set_cells(item, {"age": "young"})], who="Mirela", when=WHEN)
    data = {"version": str(item.version), "cell.age": "mature", "cell.tag": "55"}
    answer = desk.post(f"/surveys/1/trees/rows/{item.key}", data=data, headers=HX)
    assert answer.status_code == 409
    assert answer.headers["hx-retarget"] == "#content"
    assert answer.headers["hx-reselect"] == "#clash"
    assert 'id="clash"' in answer.text


def test_wrong_cells_are_told_at_their_row(store: Store, desk: TestClient) -> None:
    item = row_of(store, "T5")
    data = {"version": str(item.version), "cell.diameter": "a stout one"}
    answer = desk.post(f"/surveys/1/trees/rows/{item.key}", data=data, headers=HX)
    assert answer.status_code == 200
    assert "Trunk “a stout one”: expected trunk sizes such as 24" in answer.text
    assert "could not be used" in desk.get("/surveys/1/trees").text


def test_rows_are_added_taken_out_and_brought_back(store: Store, desk: TestClient) -> None:
    added = desk.post("/surveys/1/trees/rows", data={"tree": "T30", "species": "red alder"})
    assert added.status_code == 303
    assert "Alnus rubra" in desk.get("/surveys/1/trees").text
    key = row_of(store, "T30").key
    assert desk.post(f"/surveys/1/trees/rows/{key}/remove").status_code == 303
    assert store.load(1).tree("T30") is None
    assert desk.post("/surveys/1/undo").status_code == 303
    assert store.load(1).tree("T30") is not None


def test_unknown_rows_and_versions_are_refused(desk: TestClient) -> None:
    assert desk.get("/surveys/1/trees/rows/nothing").status_code == 404
    assert desk.post("/surveys/1/trees/rows/nothing", data={"version": "1"}).status_code == 404
    assert desk.post("/surveys/1/trees/rows/tree-1", data={"version": "x"}).status_code == 400
    assert desk.post("/surveys/1/trees/rows", data={"tree": " "}).status_code == 422
