"""What-if copies side by side; pages whose figures are still being worked out; local rules."""

import re
import threading
from datetime import date
from typing import Any

import pytest
from starlette.testclient import TestClient

from bolewalk.demo import survey_folder
from bolewalk.desk.drawer import _KEPT
from bolewalk.desk.reckoning import Reckoning
from bolewalk.intake.folder import read_folder
from bolewalk.papers.write import reading_of
from bolewalk.store.edits import set_cells
from bolewalk.store.store import Store
from bolewalk.survey import assess

from .conftest import WHEN
from .test_plan import API, settled
from .waiting import filled


def plain(html: str) -> str:
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", html))


def test_copies_stand_side_by_side(desk: TestClient) -> None:
    assert "There is no what-if copy yet" in filled(desk, "/surveys/1/copies")
    for name in ("Without power", "As it was"):
        made = desk.post("/surveys/1/copies", data={"do": "make", "name": name})
        assert made.status_code == 303
    plan = desk.get(f"{API}/plan?plan=variant-1").json()
    work = next(w for w in plan["works"] if w["id"] == "W1")
    body = {"version": work["version"], "properties": {**work["properties"], "present": "no"}}
    desk.put(f"{API}/works/{work['key']}?plan=variant-1", json=body)
    text = filled(desk, "/surveys/1/copies")
    assert text.count('<svg xmlns="http://www.w3.org/2000/svg"') >= 3
    told = plain(text)
    assert "Power to the bicycle shelter: present unknown → no" in told
    # The tutorial: without the power trench T1 can be kept as drawn; as drawn it is undecided.
    row = plain(text[text.index('/trees/T1">') : text.index('/trees/T2">')])
    assert re.search(r"undecided 25\.5 % keep [\d.]+ % differs undecided 25\.5 %", row)
    assert "1 better, 0 worse" in told
    assert told.count("no verdict differs") == 1


def test_copy_is_named_taken_over_and_dropped_without_scripts(desk: TestClient) -> None:
    def post(**form: str) -> Any:
        return desk.post("/surveys/1/copies", data=form)

    post(do="make", name="First")
    post(do="make", name="Second", of="variant-1")
    assert post(do="make", name="First").status_code == 422
    assert post(do="rename", copy="variant-2", name="First").status_code == 422
    assert post(do="rename", copy="variant-2", name="Nearer the road").status_code == 303
    assert "Nearer the road" in desk.get("/surveys/1/site?plan=variant-2").text
    assert post(do="adopt", copy="variant-2").status_code == 303
    assert post(do="drop", copy="variant-2").status_code == 303
    assert post(do="drop", copy="variant-2").status_code == 422
    assert post(do="burn", copy="variant-1").status_code == 400
    assert desk.post(f"{API}/undo", json={}).json()["done"] is True
    assert desk.get("/surveys/1/site?plan=variant-2").status_code == 200


@pytest.mark.parametrize(("sheet", "shown"), [
    ("price", "What moves this price most"), ("planting", "Plants that fit"),
])  # fmt: skip
def test_page_comes_at_once_and_fills_itself_in(
    desk: TestClient, monkeypatch: pytest.MonkeyPatch, sheet: str, shown: str
) -> None:
    held = threading.Event()
    whole = Reckoning.findings
    monkeypatch.setattr(Reckoning, "findings", lambda self: held.wait(60) and whole(self))
    text = desk.get(f"/surveys/1/{sheet}").text
    assert "is being worked out" in text
    assert 'class="titleblock"' in text
    assert f'hx-get="/surveys/1/{sheet}"' in text
    # Meanwhile another change is taken: nothing waits for the price.
    plan = desk.get(f"{API}/plan").json()
    version = next(t["version"] for t in plan["trees"] if t["id"] == "T11")
    put = desk.put(f"{API}/trees/T11/place", json={"version": version, "at": [108, 46]})
    assert put.status_code == 200
    held.set()
    assert shown in filled(desk, f"/surveys/1/{sheet}")


def test_failure_in_the_background_is_told_where_it_is_asked_for(
    desk: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fails(_: Reckoning) -> None:
        raise ArithmeticError("no such price")

    monkeypatch.setattr(Reckoning, "findings", fails)
    with pytest.raises(ArithmeticError, match="no such price"):
        filled(desk, "/surveys/1/price")


def test_rules_stand_on_the_tree_s_page_and_on_the_site_s(reading_desk: TestClient) -> None:
    # What the command line writes of the same survey.
    findings = assess(read_folder(survey_folder()))
    reading = reading_of(findings)
    assert findings.rules is not None
    for name in ("T1", "T13", "T22", "T23"):
        found = findings.rules.of(name)
        assert found is not None
        page = reading_desk.get(f"/surveys/1/trees/{name}").text
        assert all(d.earliest is None or d.earliest.isoformat() in page for d in found.dates)
        for says in (*found.protection.says, *found.cautions):
            assert reading.speaker.text(says).replace("'", "&#39;") in page
    assert "Alder Dacey (the neighbour) must sign" in page
    part = plain(reading_desk.get("/surveys/1/site/questions").text)
    assert "Callowmere Town Code (invented), read 2026-10-30" in part
    assert "No day yet for cutting roots, digging" in part


def test_owner_the_rules_ask_for_is_told(desk: TestClient, store: Store) -> None:
    item = store.load(1).tree("T16")
    assert item is not None
    store.change(1, [set_cells(item, {"owner": ""})], who="Tobin", when=WHEN)
    assert 'value="T16.owner"' in desk.get("/surveys/1/trees/T16").text
    form = {"fact": "T16.owner", "answer": "told", "value": "client", "back": "/"}
    assert desk.post("/surveys/1/questions", data={**form, "value": "unknown"}).status_code == 422
    assert desk.post("/surveys/1/questions", data=form).status_code == 303
    now = store.load(1).tree("T16")
    assert now is not None
    assert now.body is not None
    assert now.body["cells"]["owner"] == "client"


def test_survey_without_rules_says_so(store: Store, desk: TestClient) -> None:
    number = store.create_survey(
        "Sedge Lane", visited=date(2026, 5, 1), units="metric", who="Tobin", when=WHEN
    )
    part = desk.get(f"/surveys/{number}/site/questions").text
    assert "names no table of local rules" in part


def test_more_copies_than_surveys_are_kept_stand_side_by_side(desk: TestClient) -> None:
    settled(desk)
    for n in range(_KEPT + 1):
        desk.post("/surveys/1/copies", data={"do": "make", "name": f"Copy {n}"})
    text = filled(desk, "/surveys/1/copies")
    # Each was worked out to the end before any was shown: T1's open fact was tried in all of them.
    row = plain(text[text.index('/trees/T1">') : text.index('/trees/T2">')])
    assert row.count("undecided") == _KEPT + 2
