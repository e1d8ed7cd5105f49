"""Changes, conflicts, undo and history, checked against what a person would expect by hand."""

import threading
from datetime import date, datetime

import pytest

from bolewalk.store.checking import verify
from bolewalk.store.edits import new_tree, remove, set_cells, set_head
from bolewalk.store.errors import StoreError
from bolewalk.store.issues import list_issues, seal, withdraw
from bolewalk.store.items import Applied, Conflict, Edit
from bolewalk.store.store import Store


@pytest.fixture
def survey(store, clock):
    """An empty survey with one tree."""
    number = store.create_survey(
        "Orrel house", visited=date(2026, 5, 12), units="imperial", who="Ada", when=clock()
    )
    done = store.change(
        number, [new_tree({"tree": "T1", "diameter": "14"})], who="Ada", when=clock()
    )
    assert isinstance(done, Applied)
    return number


def cells(store, survey):
    return store.load(survey).tree("T1").body["cells"]


def test_a_new_survey_reads_without_faults(store, clock):
    number = store.create_survey(
        "Orrel house", visited=date(2026, 5, 12), units="metric", who="Ada", when=clock()
    )
    job = store.job(number)
    assert (job.survey.name, job.survey.date, job.survey.units) == (
        "Orrel house", date(2026, 5, 12), "metric",
    )  # fmt: skip
    assert [p for p in job.problems if p.level == "fault"] == []
    (entry,) = store.surveys()
    assert (entry.name, entry.visited, entry.created_by) == ("Orrel house", "2026-05-12", "Ada")


def test_a_change_is_kept_and_read_by_the_same_checks(store, survey, clock):
    tree = store.load(survey).tree("T1")
    store.change(
        survey, [set_cells(tree, {"height": "tall", "age": "old"})], who="Ada", when=clock()
    )
    job = store.job(survey)
    assert job.survey.trees[0].stems_cm[0].value == pytest.approx(14 * 2.54)
    assert {(p.file, p.row, p.field, p.value) for p in job.problems if p.level == "fault"} == {
        ("trees.csv", 2, "height", "tall"), ("trees.csv", 2, "age", "old"),
    }  # fmt: skip


def test_two_editors_of_one_tree_conflict_and_nothing_is_lost(store, survey, clock):
    seen = store.load(survey).tree("T1")
    first = store.change(survey, [set_cells(seen, {"diameter": "15"})], who="Ada", when=clock())
    late = [set_cells(seen, {"diameter": "16"}), new_tree({"tree": "T2"})]
    second = store.change(survey, late, who="Ben", when=clock())
    assert isinstance(first, Applied)
    assert isinstance(second, Conflict)
    (clash,) = second.clashes
    assert clash.base["cells"]["diameter"] == "14"
    assert clash.now.body["cells"]["diameter"] == "15"
    assert clash.edit.body["cells"]["diameter"] == "16"
    assert (clash.who, clash.now.version) == ("Ada", 2)
    # All or nothing: the second tree of the refused change is not there either.
    assert [i.body["cells"]["tree"] for i in store.load(survey).of("tree")] == ["T1"]
    # Resolved on the newer version, it is taken.
    again = store.change(
        survey, [set_cells(clash.now, {"diameter": "16"})], who="Ben", when=clock()
    )
    assert isinstance(again, Applied)
    assert cells(store, survey)["diameter"] == "16"


def test_two_editors_of_two_trees_do_not_conflict(store, survey, clock):
    store.change(survey, [new_tree({"tree": "T2"})], who="Ada", when=clock())
    seen = store.load(survey)
    for who, name in (("Ada", "T1"), ("Ben", "T2")):
        edit = set_cells(seen.tree(name), {"notes": who})
        assert isinstance(store.change(survey, [edit], who=who, when=clock()), Applied)


def test_an_edit_of_a_removed_tree_conflicts(store, survey, clock):
    seen = store.load(survey).tree("T1")
    store.change(survey, [remove(seen)], who="Ada", when=clock())
    late = store.change(survey, [set_cells(seen, {"notes": "x"})], who="Ben", when=clock())
    assert isinstance(late, Conflict)
    assert late.clashes[0].now.body is None
    assert store.load(survey).tree("T1") is None


def test_an_edit_that_changes_nothing_leaves_no_trace(store, survey, clock):
    before = store.history(survey)
    tree = store.load(survey).tree("T1")
    done = store.change(survey, [set_cells(tree, {})], who="Ada", when=clock())
    assert (done.items, done.revision) == ((), store.load(survey).revision)
    assert store.history(survey) == before


def test_undo_and_redo_step_by_step(store, survey, clock):
    for value in ("15", "16", "17"):
        tree = store.load(survey).tree("T1")
        store.change(survey, [set_cells(tree, {"diameter": value})], who="Ada", when=clock())
    seen = []
    for step in (store.undo, store.undo, store.redo, store.undo, store.undo):
        step(survey, who="Ada", when=clock())
        seen.append(cells(store, survey)["diameter"])
    assert seen == ["16", "15", "16", "15", "14"]
    store.undo(survey, who="Ada", when=clock())
    assert store.load(survey).tree("T1") is None
    # The survey itself is not undone, and nothing is left to undo.
    assert store.undo(survey, who="Ada", when=clock()) is None
    for _ in range(4):
        store.redo(survey, who="Ada", when=clock())
    assert cells(store, survey)["diameter"] == "17"
    assert store.redo(survey, who="Ada", when=clock()) is None


def test_a_new_change_ends_what_could_be_redone(store, survey, clock):
    tree = store.load(survey).tree("T1")
    store.change(survey, [set_cells(tree, {"diameter": "15"})], who="Ada", when=clock())
    store.undo(survey, who="Ada", when=clock())
    tree = store.load(survey).tree("T1")
    store.change(survey, [set_cells(tree, {"height": "30"})], who="Ada", when=clock())
    assert store.redo(survey, who="Ada", when=clock()) is None


def test_undo_takes_back_ones_own_and_never_what_another_did_since(store, survey, clock):
    tree = store.load(survey).tree("T1")
    store.change(survey, [set_cells(tree, {"diameter": "15"})], who="Ada", when=clock())
    tree = store.load(survey).tree("T1")
    store.change(survey, [set_cells(tree, {"diameter": "20"})], who="Ben", when=clock())
    refused = store.undo(survey, who="Ada", when=clock())
    assert isinstance(refused, Conflict)
    assert (refused.clashes[0].who, refused.clashes[0].now.body["cells"]["diameter"]) == (
        "Ben",
        "20",
    )
    assert refused.clashes[0].base["cells"]["diameter"] == "15"
    store.undo(survey, who="Ben", when=clock())
    assert isinstance(store.undo(survey, who="Ada", when=clock()), Applied)
    assert cells(store, survey)["diameter"] == "14"


def test_history_names_who_when_before_after(store, survey, clock):
    tree = store.load(survey).tree("T1")
    store.change(
        survey, [set_cells(tree, {"diameter": "15"})], who="Ben", when=clock(), note="taped again"
    )
    first, second = store.history(survey, "tree", tree.key)
    assert (first.who, first.before, first.version) == ("Ada", None, 1)
    assert (second.who, second.note, second.version) == ("Ben", "taped again", 2)
    assert second.at == "2026-05-12T09:03:00.000000+00:00"
    assert second.before["cells"]["diameter"] == "14"
    assert second.after["cells"]["diameter"] == "15"


def test_a_survey_as_it_was(store, survey, clock):
    then = store.load(survey)
    store.change(survey, [set_cells(then.tree("T1"), {"diameter": "15"})], who="Ada", when=clock())
    store.change(survey, [new_tree({"tree": "T2"})], who="Ada", when=clock())
    assert store.load(survey, revision=then.revision) == then
    assert len(store.job(survey, revision=then.revision).survey.trees) == 1


def test_the_list_of_surveys_follows_the_head_and_its_undo(store, survey, clock):
    head = set_head(store.load(survey), (("survey", "name"), "Quillan Terrace"))
    store.change(survey, [head], who="Ada", when=clock())
    assert store.surveys()[0].name == "Quillan Terrace"
    store.undo(survey, who="Ada", when=clock())
    assert store.surveys()[0].name == "Orrel house"


@pytest.mark.parametrize(
    "text", ["nul \x00 here", "half \ud83c pair", "木 🌳 ñ", "'; DROP TABLE items; --"]
)
def test_any_text_comes_back_as_it_was(store, survey, clock, text):
    tree = store.load(survey).tree("T1")
    store.change(survey, [set_cells(tree, {"notes": text})], who="Ada", when=clock())
    assert cells(store, survey)["notes"] == text


@pytest.mark.parametrize("text", ["nul \x00 here", "half \ud83c pair", "木 \u202e🌳"])
def test_any_text_may_be_a_name_a_note_or_a_title(store, survey, clock, text, tmp_path):
    tree = store.load(survey).tree("T1")
    edit = set_cells(tree, {"notes": text})
    store.change(survey, [edit], who=text, when=clock(), note=text)
    assert isinstance(store.undo(survey, who=text, when=clock()), Applied)
    (tmp_path / "papers").mkdir()
    (tmp_path / "papers" / "a.txt").write_text("a")
    issue = seal(
        store, survey, tmp_path / "papers", revision=store.load(survey).revision, title=text,
        who=text, when=clock(),
    )  # fmt: skip
    withdraw(store, issue.id, who=text, when=clock(), reason=text)
    assert verify(store) == ()
    # And it can be carried out and taken in again.
    store.export_folder(survey, tmp_path / "out")
    again = store.import_folder(tmp_path / "out", who="Ada", when=clock()).survey_id
    notes = [g.note for g in store.history(survey)]
    assert [g.note for g in store.history(again)][: len(notes)] == notes
    assert [i.title for i in list_issues(store, again)] == [issue.title]


@pytest.mark.parametrize(
    ("edits", "says"),
    [
        ([Edit("note", "a\ud800", {})], "half a character"),
        ([Edit("leaf", "", {})], "leaf: one of head"),
        ([Edit("note", "a", {}), Edit("note", "a", {})], "note a is edited twice"),
        ([Edit("note", "", None)], "must name it"),
        ([Edit("note", "", {"at": datetime(2026, 1, 1)})], "plain JSON"),
        ([Edit("file", "a.jpg", {"sha256": "0" * 64, "size": 1})], "no such kept file: 000"),
        ([Edit("file", "a.jpg", {"sha256": "../a", "size": 1})], "sha256 must be a SHA-256"),
        ([Edit("tree", "", {"cells": {"height": 3}})], "cells must be texts by column"),
        ([Edit("work", "", {"feature": {}})], "file must be a text"),
        ([Edit("note", "a\x00", {})], "cannot hold a null"),
    ],
)
def test_what_cannot_be_kept_is_refused_whole(store, survey, clock, edits, says):
    before = store.load(survey)
    with pytest.raises(StoreError, match=says):
        store.change(survey, [new_tree({"tree": "T9"}), *edits], who="Ada", when=clock())
    assert store.load(survey) == before


def test_a_time_without_zone_is_refused(store, survey):
    with pytest.raises(StoreError, match="must say its zone"):
        store.change(survey, [new_tree({"tree": "T9"})], who="Ada", when=datetime(2026, 5, 12))


def test_no_such_survey(store, clock):
    for call in (
        lambda: store.load(77),
        lambda: store.change(77, [], who="Ada", when=clock()),
        lambda: store.undo(77, who="Ada", when=clock()),
    ):
        with pytest.raises(StoreError, match="there is no survey 77"):
            call()


def test_writers_at_once_lose_nothing(store, survey, place, clock):
    """Four threads, two stores, 25 notes each and a fight over one tree: all accounted for."""
    when = clock()
    wins = []

    def work(n, own):
        for k in range(25):
            own.change(survey, [Edit("note", "", {"text": f"{n}.{k}"})], who=f"w{n}", when=when)
            tree = own.load(survey).tree("T1")
            height = str(int(tree.body["cells"].get("height", "0")) + 1)
            done = own.change(survey, [set_cells(tree, {"height": height})], who=f"w{n}", when=when)
            wins.append(isinstance(done, Applied))

    with Store.open(**place) as other:
        threads = [
            threading.Thread(target=work, args=(n, own))
            for n, own in enumerate((store, store, other, other))
        ]
        for t in threads:
            t.start()
        for t in threads:
            t.join()
    now = store.load(survey)
    assert sorted(i.body["text"] for i in now.of("note")) == sorted(
        f"{n}.{k}" for n in range(4) for k in range(25)
    )
    assert len(wins) == 100
    assert now.tree("T1").body["cells"]["height"] == str(sum(wins))


def test_what_was_removed_can_be_made_anew_but_not_edited_late(store, clock):
    number = store.create_survey(
        "Saltgate", visited=clock().date(), units="metric", who="Ada", when=clock()
    )
    new = Edit("note", "n1", {"text": "one"})
    store.change(number, [new], who="Ada", when=clock())
    seen = store.load(number).get("note", "n1")
    store.change(number, [Edit("note", "n1", None, seen.version)], who="Ben", when=clock())
    late = Edit("note", "n1", {"text": "late"}, seen.version)
    assert isinstance(store.change(number, [late], who="Ada", when=clock()), Conflict)
    again = Edit("note", "n1", {"text": "two"})
    assert isinstance(store.change(number, [again], who="Ada", when=clock()), Applied)
    # There now: a second person who makes it anew meets a conflict.
    assert isinstance(store.change(number, [again], who="Ben", when=clock()), Conflict)
    assert store.load(number).get("note", "n1").version == 3
    assert verify(store) == ()


@pytest.mark.parametrize("version", [-1, 99, 2**31, 2**63, 10**40])
def test_an_edit_of_a_version_that_never_was_conflicts(store, survey, clock, version):
    row = store.load(survey).of("tree")[0]
    edit = Edit("tree", row.key, {"cells": {"tree": "T9"}}, version)
    done = store.change(survey, [edit], who="Ada", when=clock())
    assert isinstance(done, Conflict)
    assert done.clashes[0].base is None
    assert done.clashes[0].now == row
