"""record.json: the history goes with the folder, and comes back with it."""

import io
import json
import shutil

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from bolewalk.intake.folder import read_folder
from bolewalk.store.checking import verify
from bolewalk.store.edits import new_tree, remove, set_cells, set_feature
from bolewalk.store.errors import StoreError
from bolewalk.store.issues import list_issues, open_paper, seal, supersede
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


@pytest.fixture
def issued(store, survey, tmp_path, clock):
    """The same with a file replaced and two issues, the first superseded by the second."""
    number = survey
    for raw in (b"older photograph", b"newer photograph"):
        medium = store.put_media(io.BytesIO(raw), when=clock())
        was = store.load(number).get("file", "photo.jpg")
        body = {"sha256": medium.sha256, "size": medium.size}
        edit = Edit("file", "photo.jpg", body, 0 if was is None else was.version)
        store.change(number, [edit], who="Ada", when=clock())
    papers = tmp_path / "papers"
    papers.mkdir()
    for title in ("For the permit", "After the answer"):
        (papers / "report.pdf").write_bytes(b"%PDF " + title.encode())
        revision = store.load(number).revision
        seal(store, number, papers, revision=revision, title=title, who="Ada", when=clock())
        tree = store.load(number).tree("T1")
        store.change(number, [set_cells(tree, {"notes": title})], who="Ada", when=clock())
    first, second = list_issues(store, number)
    supersede(store, first.id, second.id, who="Ben", when=clock(), reason="answered")
    return number


def everything(folder):
    return {
        p.relative_to(folder).as_posix(): p.read_bytes() for p in folder.rglob("*") if p.is_file()
    }


def test_issues_and_older_files_move_too(store, issued, tmp_path, clock):
    store.export_folder(issued, tmp_path / "out")
    with Store.open(tmp_path / "elsewhere") as other:
        # A survey of its own first, so that numbers differ.
        other.create_survey("X", visited=clock().date(), units="metric", who="C", when=clock())
        took = other.import_folder(tmp_path / "out", who="Cleo", when=clock())
        number = took.survey_id
        assert not [p for p in took.problems if p.file.startswith("record")]
        assert verify(other) == ()
        ours, theirs = list_issues(store, issued), list_issues(other, number)
        assert [(i.number, i.title, i.at, i.who, i.sha256, i.inputs, i.papers) for i in theirs] == [
            (i.number, i.title, i.at, i.who, i.sha256, i.inputs, i.papers) for i in ours
        ]
        assert [(i.state, i.marks[-1].reason if i.marks else "") for i in theirs] == [
            ("superseded", "answered"), ("issued", ""),
        ]  # fmt: skip
        assert theirs[0].marks[0].by_issue == theirs[1].id
        for a, b in zip(ours, theirs, strict=True):
            with open_paper(store, a, "report.pdf") as x, open_paper(other, b, "report.pdf") as y:
                assert x.read() == y.read()
            then, now = (
                store.load(issued, revision=a.revision),
                other.load(number, revision=b.revision),
            )
            assert then.items == now.items
        # The older file of that name is still there to go back to.
        older = other.history(number, "file", "photo.jpg")[0].after["sha256"]
        with other.open_media(older) as stream:
            assert stream.read() == b"older photograph"
        other.export_folder(number, tmp_path / "again")
    # What went through two stores is the same folder; only the step of taking it in is more.
    first, second = everything(tmp_path / "out"), everything(tmp_path / "again")
    records = [json.loads(f.pop("record.json")) for f in (first, second)]
    assert {k: v for k, v in second.items() if k in first} == first
    assert records[0]["issues"] == records[1]["issues"]
    assert records[1]["groups"][: len(records[0]["groups"])] == records[0]["groups"]


def test_issues_whose_papers_did_not_come_are_told(store, issued, tmp_path, clock):
    store.export_folder(issued, tmp_path / "out")
    paper = list_issues(store, issued)[0].papers["report.pdf"].sha256
    (tmp_path / "out" / "record" / paper).unlink()
    with Store.open(tmp_path / "elsewhere") as other:
        took = other.import_folder(tmp_path / "out", who="Cleo", when=clock())
        (fault,) = (p for p in took.problems if p.file == "record.json")
        assert fault.row == "issue 1"
        assert paper[:12] in fault.value
        assert list_issues(other, took.survey_id) == ()
        assert verify(other) == ()


def remarked(issue, **told):
    return {**issue, "marks": [{**issue["marks"][0], **told}]}


SPOILED_ISSUES = {
    "no list": lambda _: 3,
    "no sealed text": lambda i: [{**i[0], "sealed": None}],
    "a group that is not there": lambda i: [{**i[0], "of": 999}],
    "no JSON": lambda i: [{**i[0], "sealed": "{"}],
    "no number": lambda i: [{**i[0], "sealed": i[0]["sealed"].replace('"number":"1"', '"n":1')}],
    "a number twice": lambda i: [i[0], i[0]],
    "superseded by an earlier one": lambda i: [i[1], remarked(i[0], by=0)],
    "superseded by nothing": lambda i: [remarked(i[0], by=None), i[1]],
    "two marks": lambda i: [{**i[0], "marks": i[0]["marks"] * 2}, i[1]],
}  # fmt: skip


@pytest.mark.parametrize("spoil", SPOILED_ISSUES.values(), ids=SPOILED_ISSUES)
def test_spoiled_issues_are_told(store, issued, tmp_path, clock, spoil):
    store.export_folder(issued, tmp_path / "out")
    path = tmp_path / "out" / "record.json"
    record = json.loads(path.read_text())
    path.write_text(json.dumps({**record, "issues": spoil(record["issues"])}))
    took = store.import_folder(tmp_path / "out", who="Cleo", when=clock())
    (fault,) = (p for p in took.problems if p.file == "record.json")
    assert "not kept" in fault.expected
    assert list_issues(store, took.survey_id) == ()
    assert verify(store) == ()


def test_a_record_of_the_former_form_is_read(store, survey, tmp_path, clock):
    store.export_folder(survey, tmp_path / "out")
    path = tmp_path / "out" / "record.json"
    record = json.loads(path.read_text())
    del record["issues"]
    path.write_text(json.dumps({**record, "format": "bolewalk record 1"}))
    took = store.import_folder(tmp_path / "out", who="Cleo", when=clock())
    assert not [p for p in took.problems if p.file == "record.json"]
    assert told(store, took.survey_id)[: len(told(store, survey))] == told(store, survey)


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
