"""Open questions answered at the desk: what an answer changes, and that verdicts are those it said.

Expected verdicts are the demonstration's own promises: each question's table says what each answer
would mean, worked out before anything was answered; and the survey folder read again with the
answer written into its files by hand.
"""

import re
import shutil
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

from bolewalk.demo import survey_folder
from bolewalk.intake.folder import read_folder
from bolewalk.store.edits import set_cells
from bolewalk.store.store import Store
from bolewalk.survey import assess

from .conftest import WHEN
from .test_plan import API, settled

PILES = "+".join(f"P-PILE-{n}" for n in range(1, 7))


def give(desk: TestClient, fact: str, answer: str, query: str = "", **more: str) -> dict[str, Any]:
    done = desk.post(f"{API}/questions{query}", json={"fact": fact, "answer": answer, **more})
    assert done.status_code == 200, done.text
    return settled(desk, query)


def test_page_offers_each_answer_with_its_verdicts(reading_desk: TestClient) -> None:
    settled(reading_desk)
    text = reading_desk.get("/surveys/1/site").text
    form = text[text.index('value="W1.present"') :]
    form = form[: form.index("</form>")]
    plain = re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", form))
    assert "If it is there redesign If it is not there keep" in plain


@pytest.mark.parametrize(
    ("fact", "answer", "tree", "mark"),
    [
        # The verdict each answer's row named before.
        ("W1.present", "present_no", "T1", "keep"),
        ("W1.present", "present_yes", "T1", "redesign"),
        (f"{PILES}.made", "made_hand", "T2", "keep_if"),
        (f"{PILES}.made", "made_bored", "T2", "redesign"),
        ("L-STUDIO-1.later", "later_built", "T5", "redesign"),
        ("L-STUDIO-1.later", "later_not_built", "T5", "keep"),
    ],
)
def test_verdict_is_the_one_the_answer_named(
    desk: TestClient, fact: str, answer: str, tree: str, mark: str
) -> None:
    settled(desk)
    trees = give(desk, fact, answer, by="Jun Fennick, by phone")
    assert trees[tree]["mark"] == mark
    text = desk.get("/surveys/1/site").text
    assert f'value="{fact}"' not in text
    assert "told by Jun Fennick, by phone" in text
    assert desk.post(f"{API}/undo", json={}).json()["done"] is True
    assert f'value="{fact}"' in (settled(desk) and desk.get("/surveys/1/site").text)


def test_answer_about_a_drawing_stands_in_survey_toml(
    desk: TestClient, store: Store, tmp_path: Path
) -> None:
    settled(desk)
    trees = give(desk, f"{PILES}.made", "told", value="air")
    folder = tmp_path / "out"
    store.export_folder(1, folder)
    head = (folder / "survey.toml").read_text(encoding="utf-8")
    assert '"P-PILE" = {kind = "pile", depth = 6, label = "Shelter pile, south row"' in head
    assert 'made = "air"' in head
    # Written by hand into a copy of the folder, the answer gives the same verdicts.
    by_hand = Path(shutil.copytree(survey_folder(), tmp_path / "survey"))
    toml = (by_hand / "survey.toml").read_text(encoding="utf-8")
    told = toml.replace('"P-PILE" = {kind = "pile",', '"P-PILE" = {kind = "pile", made = "air",')
    assert told != toml
    (by_hand / "survey.toml").write_text(told, encoding="utf-8")
    for t in assess(read_folder(by_hand)).trees:
        mark = "none" if t.impact.verdict is None else t.impact.verdict.now
        assert trees[t.tree.id]["mark"] == mark, t.tree.id


def test_on_a_what_if_copy_the_drawing_stays_as_it_is(desk: TestClient, store: Store) -> None:
    copy = desk.post(f"{API}/copies", json={"name": "By hand", "moved": {}}).json()["plan"]
    settled(desk, f"?plan={copy}")
    trees = give(desk, f"{PILES}.made", "made_hand", f"?plan={copy}")
    assert trees["T2"]["mark"] == "keep_if"
    assert settled(desk)["T2"]["mark"] == "undecided"
    head = store.load(1).get("head", "survey.toml")
    assert head is not None
    assert head.version == 1


def test_a_taped_distance_puts_the_work_where_it_was_measured(desk: TestClient) -> None:
    settled(desk)
    give(desk, "W3.present", "present_yes")
    give(desk, "W3.offset", "told", value="21.5", tree="T7")
    plan = desk.get(f"{API}/plan").json()
    work = next(w for w in plan["works"] if w["id"] == "W3")
    assert "offset" not in work["properties"]
    # Elementary geometry: from the trunk to the nearer of its two sides, less half its width.
    tree = next(t for t in plan["trees"] if t["id"] == "T7")
    (x0, y0), (x1, y1) = work["geometry"]["coordinates"][1:]
    px, py = tree["at"]
    away = (
        abs((x1 - x0) * (y0 - py) - (x0 - px) * (y1 - y0))
        / ((x1 - x0) ** 2 + (y1 - y0) ** 2) ** 0.5
    )
    width = float(work["properties"]["width"])
    assert away - width / 2 == pytest.approx(21.5, abs=0.01)


def test_species_and_trunk_of_a_tree_are_told(desk: TestClient, store: Store) -> None:
    item = store.load(1).tree("T11")
    assert item is not None
    store.change(1, [set_cells(item, {"diameter": "10+8"})], who="Tobin", when=WHEN)
    plan = {t["id"]: t for t in desk.get(f"{API}/plan").json()["trees"]}
    at = plan["T11"]["at"]
    ditch = {
        "type": "LineString",
        "coordinates": [[at[0] + 12, at[1] - 40], [at[0] + 12, at[1] + 40]],
    }
    told = {"kind": "trench", "width": "1", "depth": "3"}
    desk.post(f"{API}/works", json={"properties": told, "geometry": ditch})
    settled(desk)
    give(desk, "T11.diameter", "told", value="13")
    row = store.load(1).tree("T11")
    assert row is not None
    assert row.body is not None
    assert row.body["cells"]["diameter"] == "13"
    # The stems as they were measured are not lost.
    assert "10+8" in row.body["cells"]["notes"]


@pytest.mark.parametrize(
    ("body", "status", "says"),
    [
        ({"fact": "W1.present", "answer": "told", "value": "perhaps"}, 422, "it is there or"),
        ({"fact": "W1.present", "answer": "present_maybe"}, 422, "choose one of the answers"),
        ({"fact": "W99.present", "answer": "present_no"}, 422, "not open any more"),
        ({"fact": "W3.offset", "answer": "told", "value": "a bit"}, 422, "a length"),
        ({"fact": "W3.offset", "answer": "told", "value": "5", "tree": "T24"}, 422, "measure from"),
        ({"fact": f"{PILES}.made", "answer": "told", "value": "magic"}, 422, "made: one of"),
        ({"fact": 3, "answer": ""}, 400, "fact: a text"),
    ],
)
def test_what_is_no_answer_is_told(
    reading_desk: TestClient,
    body: dict[str, Any],
    status: int,
    says: str,
) -> None:
    settled(reading_desk)
    before = reading_desk.get(f"{API}/plan").json()["revision"]
    done = reading_desk.post(f"{API}/questions", json=body)
    assert done.status_code == status
    assert says in done.json()["say"]
    assert reading_desk.get(f"{API}/plan").json()["revision"] == before


def test_second_of_two_answers_is_refused_with_nothing_lost(desk: TestClient) -> None:
    settled(desk)
    give(desk, "W1.present", "present_no", by="Jun")
    late = desk.post(f"{API}/questions", json={"fact": "W1.present", "answer": "present_yes"})
    assert late.status_code == 422
    assert "somebody has answered it" in late.json()["say"]
    form = {"fact": "W1.present", "answer": "present_yes", "back": "/surveys/1/trees/T1"}
    assert desk.post("/surveys/1/questions", data=form).status_code == 422
    assert settled(desk)["T1"]["mark"] == "keep"


def test_form_without_scripts_goes_back_to_where_it_was(desk: TestClient) -> None:
    page = desk.get("/surveys/1/trees/T1").text
    assert 'value="W1.present"' in page
    form = {"fact": "W1.present", "answer": "present_no", "back": "/surveys/1/trees/T1"}
    done = desk.post("/surveys/1/questions", data=form)
    assert (done.status_code, done.headers["location"]) == (303, "/surveys/1/trees/T1")
    assert "it is not there" in desk.get("/surveys/1/trees/T1").text
    away = desk.post("/surveys/1/undo", data={"back": "https://elsewhere.example/"})
    assert away.headers["location"] == "/surveys/1/trees"


def test_an_answer_is_taken_before_the_facts_were_tried_anew(desk: TestClient) -> None:
    # As after a restart of the desk under an open page: nothing is worked out yet.
    body = {"fact": "W1.present", "answer": "present_no"}
    assert desk.post(f"{API}/questions", json=body).status_code == 200
