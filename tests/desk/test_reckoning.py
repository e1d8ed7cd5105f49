"""What one state of a survey takes over from the state before is what it would find anew."""

import threading
from collections.abc import Callable, Iterator
from dataclasses import replace

import pytest

from bolewalk.demo import survey_folder
from bolewalk.desk import reckoning as module
from bolewalk.desk.drawer import Drawer
from bolewalk.desk.reckoning import Reckoning
from bolewalk.desk.spare_time import SPARE
from bolewalk.impact.near import moved
from bolewalk.intake.folder import read_folder
from bolewalk.intake.job import Job
from bolewalk.model.survey import Survey
from bolewalk.model.works import LeftOut, Work
from bolewalk.store.edits import set_cells
from bolewalk.store.store import Store
from bolewalk.walk.draft import draft

_TREES = ("T2", "T7", "T17")
"""A pile row, a row of an offset and a question of presence, and a tree far from both."""
_FAR_M = 400.0


@pytest.fixture(scope="module")
def job() -> Job:
    whole = read_folder(survey_folder())
    trees = tuple(t for t in whole.survey.trees if t.id in _TREES)
    return replace(whole, survey=replace(whole.survey, trees=trees))


@pytest.fixture(scope="module")
def settled(job: Job) -> Reckoning:
    before = Reckoning(job)
    before.settle()
    return before


def steeper(survey: Survey) -> Survey:
    return replace(survey, site=replace(survey.site, slope_pct=33.0))


def one_unread(survey: Survey) -> Survey:
    """A work nobody can place: no tree can be kept as drawn without it."""
    return replace(survey, left_out=(LeftOut("W99", "works.geojson"),))


def _work(survey: Survey, name: str) -> Work:
    return next(w for w in survey.works if w.id == name)


def a_far_pile_of_the_row(survey: Survey) -> Survey:
    far = replace(moved(_work(survey, "P-PILE-1"), _FAR_M, 0.0), id="P-PILE-FAR")
    return replace(survey, works=(*survey.works, far))


def a_far_drain_of_the_row(survey: Survey) -> Survey:
    far = replace(moved(_work(survey, "W3"), _FAR_M, 0.0), id="W3b")
    return replace(survey, works=(*survey.works, far))


def one_pile_told(survey: Survey) -> Survey:
    works = (replace(w, made="bored") if w.id == "P-PILE-6" else w for w in survey.works)
    return replace(survey, works=tuple(works))


@pytest.mark.parametrize(
    "change",
    [steeper, one_unread, a_far_pile_of_the_row, a_far_drain_of_the_row, one_pile_told],
)
def test_what_is_taken_over_is_what_would_be_found(
    job: Job, settled: Reckoning, change: Callable[[Survey], Survey]
) -> None:
    changed = replace(job, survey=change(job.survey))
    after, anew = Reckoning(changed, before=settled), Reckoning(changed)
    assert [q and q[1] for q in after.quick] == [q and q[1] for q in anew.quick]
    after.settle()
    anew.settle()
    for mine, theirs in zip(after.known_impacts(), anew.known_impacts(), strict=True):
        assert mine.verdict == theirs.verdict
        assert mine.questions == theirs.questions
        assert repr(mine.zone) == repr(theirs.zone)
    # The change is one that shows: taking everything over would not do.
    assert repr(settled.known_impacts()) != repr(anew.known_impacts())


def test_a_far_row_of_its_own_leaves_what_is_known(job: Job, settled: Reckoning) -> None:
    """The other way: not every change makes every tree be tried again."""
    survey = job.survey
    far = replace(moved(_work(survey, "P-PILE-1"), _FAR_M, 0.0), id="X1", label="Other", layer="")
    changed = replace(job, survey=replace(survey, works=(*survey.works, far)))
    assert Reckoning(changed, before=settled).pending == ()


def test_nobody_waits_for_the_walk_to_be_read(
    settled: Reckoning, monkeypatch: pytest.MonkeyPatch
) -> None:
    reading, go_on = threading.Event(), threading.Event()

    def slowly(*told: object) -> object:
        reading.set()
        assert go_on.wait(60)
        return draft(*told)  # type: ignore[arg-type]

    monkeypatch.setattr(module, "draft", slowly)
    listening = threading.Thread(target=settled.heard)
    listening.start()
    asked = threading.Thread(target=settled.glimpse)
    try:
        assert reading.wait(60)
        asked.start()
        asked.join(10)
        assert not asked.is_alive()
    finally:
        go_on.set()
        listening.join()


def test_a_state_that_was_left_is_not_worked_out_while_somebody_waits(job: Job) -> None:
    left = Reckoning(job)
    left.stop()
    assert not left.begin(patience_s=0.0)
    assert left.pending


def test_what_was_there_before_it_was_left_still_is(job: Job) -> None:
    left = Reckoning(job)
    left.settle()
    left.stop()
    assert left.begin(price=False)


def test_a_survey_without_trees_waits_for_no_other(job: Job) -> None:
    held = threading.Event()

    def long_piece() -> Iterator[None]:
        held.wait(60)
        yield

    other = SPARE.ask(long_piece())
    empty = Reckoning(replace(job, survey=replace(job.survey, trees=())))
    done: list[bool] = []
    asked = threading.Thread(target=lambda: done.append(empty.begin()))
    asked.start()
    try:
        asked.join(20)
        assert done == [False]
    finally:
        held.set()
        asked.join()
        other.wait(60)
    assert empty.begin(patience_s=60)


def test_copies_of_an_earlier_state_are_left_too(store: Store) -> None:
    drawer = Drawer(store, who="Tobin")
    copy = drawer.copy_works(1, "Without power")
    earlier = drawer.sheet(1, copy).reckoning
    item = drawer.sheet(1).tree_item("T1")
    assert item is not None
    drawer.change(1, (set_cells(item, {"notes": "seen again"}),))
    drawer.sheet(1)
    assert not earlier.begin(patience_s=60, price=False)
    assert drawer.sheet(1, copy).reckoning is not earlier
