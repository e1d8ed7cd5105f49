"""The same sending twice: one change, and the first answer again."""

import threading
from datetime import date

import pytest

from bolewalk.store.checking import verify
from bolewalk.store.edits import new_tree, remove, set_cells
from bolewalk.store.items import Applied, Conflict
from bolewalk.store.privacy import forget
from bolewalk.store.store import Store
from bolewalk.store.variants import copy_works

SEND = "8d1f-first"


def begin(store, clock, *, who="Ada", send=""):
    return store.create_survey(
        "Orrel house", visited=date(2026, 5, 12), units="metric", who=who, when=clock(), send=send
    )


@pytest.fixture
def survey(store, clock):
    number = begin(store, clock)
    store.change(number, [new_tree({"tree": "T1", "height": "5"})], who="Ada", when=clock())
    return number


def trees(store, survey):
    return [i.body["cells"]["tree"] for i in store.load(survey).of("tree")]


def steps(store, survey):
    return sorted({c.revision for c in store.history(survey)})


def test_a_new_thing_sent_twice_is_there_once(store, survey, clock):
    edits = [new_tree({"tree": "T2"}), new_tree({"tree": "T3"})]
    first = store.change(survey, edits, who="Ada", when=clock(), send=SEND)
    before = steps(store, survey)
    again = store.change(survey, edits, who="Ada", when=clock(), send=SEND)
    assert isinstance(first, Applied)
    assert again == first
    assert store.sent(survey, who="Ada", send=SEND) == first
    assert trees(store, survey) == ["T1", "T2", "T3"]
    assert steps(store, survey) == before
    # Without an id, or under another, the same is something new.
    for send in ("", "8d1f-second"):
        store.change(survey, [new_tree({"tree": "T4"})], who="Ada", when=clock(), send=send)
    assert trees(store, survey) == ["T1", "T2", "T3", "T4", "T4"]
    assert verify(store) == ()


def test_the_first_answer_is_given_whatever_came_since(store, survey, clock):
    seen = store.load(survey).tree("T1")
    edits = [set_cells(seen, {"height": "6"})]
    first = store.change(survey, edits, who="Ada", when=clock(), send=SEND)
    now = store.load(survey).tree("T1")
    store.change(survey, [remove(now)], who="Ben", when=clock())
    assert store.change(survey, edits, who="Ada", when=clock(), send=SEND) == first
    assert trees(store, survey) == []
    # What made nothing was no change: it meets what stands now.
    late = store.change(survey, edits, who="Ada", when=clock(), send="8d1f-late")
    assert isinstance(late, Conflict)
    assert store.sent(survey, who="Ada", send="8d1f-late") is None


def test_an_id_is_one_persons_for_one_survey(store, survey, clock):
    other = begin(store, clock)
    for number, who in ((survey, "Ada"), (survey, "Ben"), (other, "Ada"), (other, "Ben")):
        assert store.sent(number, who=who, send=SEND) is None
        done = store.change(
            number, [new_tree({"tree": who})], who=who, when=clock(), send=SEND
        )  # fmt: skip
        assert store.sent(number, who=who, send=SEND) == done
    assert trees(store, survey) == ["T1", "Ada", "Ben"]
    assert trees(store, other) == ["Ada", "Ben"]


def test_undo_and_redo_sent_twice_go_one_step(store, survey, clock):
    for height in ("6", "7"):
        tree = store.load(survey).tree("T1")
        store.change(survey, [set_cells(tree, {"height": height})], who="Ada", when=clock())

    def height():
        return store.load(survey).tree("T1").body["cells"]["height"]

    for _ in range(2):
        store.undo(survey, who="Ada", when=clock(), send="u1")
        assert height() == "6"
    store.undo(survey, who="Ada", when=clock(), send="u2")
    assert height() == "5"
    for _ in range(2):
        store.redo(survey, who="Ada", when=clock(), send="r1")
        assert height() == "6"


def test_a_survey_begun_or_brought_in_twice_is_there_once(store, clock, demo):
    first = begin(store, clock, send=SEND)
    assert begin(store, clock, send=SEND) == first
    assert begin(store, clock, who="Ben", send=SEND) != first
    assert begin(store, clock) != first
    taken = store.import_folder(demo, who="Ada", when=clock(), send="8d1f-folder")
    again = store.import_folder(demo, who="Ada", when=clock(), send="8d1f-folder")
    assert again.survey_id == taken.survey_id
    assert len(store.surveys()) == 4
    assert verify(store) == ()


@pytest.mark.parametrize("who", ["nul \x00 here", "half \ud83c pair"])
def test_whatever_the_name_a_survey_is_begun_once(store, clock, demo, who):
    first = begin(store, clock, who=who, send=SEND)
    assert begin(store, clock, who=who, send=SEND) == first
    taken = [store.import_folder(demo, who=who, when=clock(), send="8d1f-folder") for _ in "12"]
    assert taken[0] == taken[1]
    assert len(store.surveys()) == 2


def test_a_copy_of_the_works_is_made_once_with_all_its_edits(store, survey, clock):
    def more(key):
        feature = {"type": "Feature", "properties": {"kind": "pile"}, "geometry": None}
        return [new_tree({"tree": key, "notes": str(feature)})]

    told = {"who": "Ada", "more": more, "send": SEND}
    key = copy_works(store, survey, "south", when=clock(), **told)
    before = steps(store, survey)
    assert copy_works(store, survey, "south", when=clock(), **told) == key
    assert steps(store, survey) == before
    assert trees(store, survey) == ["T1", key]
    store.undo(survey, who="Ada", when=clock())
    assert trees(store, survey) == ["T1"]
    assert store.load(survey).of("variant") == ()


def test_sent_at_once_from_several_places_it_is_done_once(place, clock):
    with Store.open(**place) as store:
        survey = begin(store, clock)
        together = threading.Barrier(4)
        answers = []

        def send(opened):
            together.wait(30)
            edits = [new_tree({"tree": "T1"})]
            answers.append(opened.change(survey, edits, who="Ada", when=clock(), send=SEND))

        others = [Store.open(**place) for _ in range(4)]
        threads = [threading.Thread(target=send, args=(o,)) for o in others]
        for t in threads:
            t.start()
        for t in threads:
            t.join(60)
        for o in others:
            o.close()
        assert len(answers) == 4
        assert all(a == answers[0] for a in answers)
        assert trees(store, survey) == ["T1"]


def test_what_is_forgotten_takes_its_ids_along(store, survey, clock):
    store.change(survey, [new_tree({"tree": "T2"})], who="Ada", when=clock(), send=SEND)
    forget(store, [survey], when=clock())
    assert store.sent(survey, who="Ada", send=SEND) is None
