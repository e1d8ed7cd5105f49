"""record.json: the history goes with the folder, and comes back with it."""

import json
import shutil

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from bolewalk.intake.folder import read_folder
from bolewalk.store.checking import verify
from bolewalk.store.edits import new_tree, remove, set_cells, set_feature
from bolewalk.store.errors import StoreError
from bolewalk.store.items import Applied, Conflict, Edit
from bolewalk.store.record import read_record
from bolewalk.store.store import Store
from bolewalk.store.variants import copy_works
from tests.intake.surveys import TREES, write_survey


@pytest.fixture
def survey(store, tmp_path, clock):
    """A survey with everything tables cannot hold."""
    folder = write_survey(tmp_path / "in")
    number = store.import_folder(folder, who="Ada", when=clock()).survey_id
    seen = store.load(number)
    heard = {"found": "w1", "do": "correct", "heard": {"species": "read oak"}, "becomes": ["T9"]}
    for edits in (
        [new_tree({"tree": "T9", "species": "red oak"}), Edit("correction", "w1", heard)],
        [
            Edit(
                "answer", "", {"tree": "T1", "ask": "How deep?", "answer": "2 ft", "of": "designer"}
            )
        ],
        [Edit("consent", "", {"who": "Toller", "about": "T3", "given": False})],
        [set_cells(seen.tree("T1"), {"diameter": "25"})],
        [remove(seen.tree("T2"))],
    ):
        assert isinstance(store.change(number, edits, who="Ben", when=clock()), Applied)
    store.undo(number, who="Ben", when=clock())
    store.undo(number, who="Ben", when=clock())
    store.redo(number, who="Ben", when=clock())
    copy_works(store, number, "deeper", who="Ada", when=clock())
    work = store.load(number).works("variant-1")[0]
    deeper = {**work.body["feature"]}
    deeper["properties"] = {**deeper["properties"], "depth": 9}
    store.change(number, [set_feature(work, deeper)], who="Ada", when=clock())
    return number


def told(store, number):
    """The history without the numbers of one database."""
    changes = store.history(number)
    order = {r: n for n, r in enumerate(sorted({c.revision for c in changes}))}
    return [
        (order[c.revision], c.at, c.who, c.action, order.get(c.of_revision), c.note, c.kind, c.key,
         c.version, c.before, c.after)
        for c in changes
    ]  # fmt: skip


def plain(stored):
    """The items, but for the files: tables that were written anew have other bytes."""
    return [i for i in stored.items if i.kind != "file"]


def test_a_survey_moves_to_another_store_with_its_history(store, survey, tmp_path, clock):
    store.export_folder(survey, tmp_path / "out")
    with Store.open(tmp_path / "elsewhere") as other:
        took = other.import_folder(tmp_path / "out", who="Cleo", when=clock())
        number = took.survey_id
        assert took.problems == read_folder(tmp_path / "out").problems
        assert plain(other.load(number)) == plain(store.load(survey))
        ours, theirs = told(store, survey), told(other, number)
        assert theirs[: len(ours)] == ours
        # What is more tells of the files that were written anew, and of nothing else.
        assert {(e[2], e[6], e[7]) for e in theirs[len(ours) :]} == {("Cleo", "file", "trees.csv")}
        assert other.job(number) == store.job(survey)
        assert other.job(number, variant="variant-1") == store.job(survey, variant="variant-1")
        assert verify(other) == ()
        # Undo works on: the last of Ben's changes that stands is the diameter.
        assert other.load(number).tree("T1").body["cells"]["diameter"] == "25"
        assert isinstance(other.undo(number, who="Ben", when=clock()), Applied)
        assert other.load(number).tree("T1").body["cells"]["diameter"] == "24"
        assert other.surveys()[0].name == "Thistle Yard"


def test_what_was_edited_in_the_folder_is_one_more_step(store, survey, tmp_path, clock):
    store.export_folder(survey, tmp_path / "out")
    table = (tmp_path / "out" / "trees.csv").read_text()
    (tmp_path / "out" / "trees.csv").write_text(table.replace("by the gate", "by the new gate"))
    (tmp_path / "out" / "works.geojson").unlink()
    with Store.open(tmp_path / "elsewhere") as other:
        number = other.import_folder(tmp_path / "out", who="Cleo", when=clock()).survey_id
        now = other.load(number)
        assert now.tree("T1").body["cells"]["notes"] == "by the new gate"
        assert now.works() == ()
        assert len(now.works("variant-1")) == 2
        last = other.history(number, "tree", now.tree("T1").key)[-1]
        assert (last.who, last.action, last.before["cells"]["notes"]) == (
            "Cleo", "import", "by the gate",
        )  # fmt: skip
        assert other.job(number) == read_folder(tmp_path / "out")


def test_a_survey_just_taken_in_has_no_record(store, tmp_path, clock):
    number = store.import_folder(write_survey(tmp_path / "in"), who="A", when=clock()).survey_id
    store.export_folder(number, tmp_path / "out")
    assert not (tmp_path / "out" / "record.json").exists()


SPOILED = {
    "another format": lambda r: r.update(format="other"),
    "no groups": lambda r: r.update(groups=[]),
    "a group that is none": lambda r: r["groups"].append(3),
    "no name": lambda r: r["groups"][0].update(who=None),
    "no time": lambda r: r["groups"][0].update(at="yesterday"),
    "a time without zone": lambda r: r["groups"][0].update(at="2026-05-12T09:00:00"),
    "an action of its own": lambda r: r["groups"][1].update(action="forge"),
    "an undo of another's change": lambda r: r["groups"].append(
        {**r["groups"][1], "action": "undo", "of": 1, "who": "Eve"}
    ),
    "an undo of nothing": lambda r: r["groups"].append(
        {**r["groups"][1], "action": "undo", "of": 99}
    ),
    "a kind of its own": lambda r: r["groups"][0]["steps"][0].update(kind="leaf"),
    "a body of another kind": lambda r: r["groups"][0]["steps"][0].update(body={"x": 1}),
    "a place that is none": lambda r: r["groups"][0]["steps"][0].update(place="first"),
    "an item twice": lambda r: r["groups"][0]["steps"].append(r["groups"][0]["steps"][0]),
}


@pytest.mark.parametrize("spoil", SPOILED.values(), ids=SPOILED)
def test_a_spoiled_record_is_told_and_the_survey_taken_in(store, survey, tmp_path, clock, spoil):
    store.export_folder(survey, tmp_path / "out")
    path = tmp_path / "out" / "record.json"
    record = json.loads(path.read_text())
    spoil(record)
    path.write_text(json.dumps(record))
    took = store.import_folder(tmp_path / "out", who="Cleo", when=clock())
    (fault,) = (p for p in took.problems if p.file == "record.json")
    assert "not kept" in fault.expected
    assert store.job(took.survey_id) == store.job(survey)
    assert {c.who for c in store.history(took.survey_id)} == {"Cleo"}
    assert verify(store) == ()


JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=4),
    lambda inner: st.lists(inner, max_size=3)
    | st.dictionaries(
        st.sampled_from(["format", "groups", "steps", "who", "at", "of", "action", "body", "kind"]),
        inner, max_size=4,
    ),
    max_leaves=12,
)  # fmt: skip


@settings(max_examples=50, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(JSON)
def test_any_json_is_a_record_or_told(tmp_path, value):
    path = tmp_path / "record.json"
    body = {"format": "bolewalk record 1", "groups": value}
    path.write_text(json.dumps(body))
    with pytest.raises(StoreError):
        read_record(path)


def test_an_undo_that_meets_anothers_change_still_conflicts_elsewhere(store, tmp_path, clock):
    number = store.import_folder(write_survey(tmp_path / "in"), who="A", when=clock()).survey_id
    for who, value in (("Ada", "25"), ("Ben", "26")):
        tree = store.load(number).tree("T1")
        store.change(number, [set_cells(tree, {"diameter": value})], who=who, when=clock())
    store.export_folder(number, tmp_path / "out")
    again = store.import_folder(tmp_path / "out", who="Cleo", when=clock()).survey_id
    assert isinstance(store.undo(again, who="Ada", when=clock()), Conflict)
    shutil.rmtree(tmp_path / "out")
    store.undo(again, who="Ben", when=clock())
    store.undo(again, who="Ada", when=clock())
    store.export_folder(again, tmp_path / "out", record=False)
    assert (tmp_path / "out" / "trees.csv").read_text() == TREES
