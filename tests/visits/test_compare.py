"""Then and now. Expected values by hand from the invented records, unless a source is named."""

from dataclasses import replace
from datetime import date

import pytest

from bolewalk.model.survey import Drawing
from bolewalk.model.trees import Species
from bolewalk.visits.assumptions import assumptions_now, months_later
from bolewalk.visits.compare import compare_visits
from bolewalk.visits.record import Assumption, Choice, Choices, Done, TreeThen
from tests.visits.then import THEN, TODAY, survey, tree, visit, work, work_then


def codes(statements):
    return [s.code.removeprefix("visit.") for s in statements]


def one(then: TreeThen, *now, choices: Choices | None = None):
    back = compare_visits([visit(then)], survey(*now), choices)
    assert back is not None
    (found,) = back.trees
    return found


def test_no_visit_before_today_gives_nothing():
    assert compare_visits([], survey()) is None
    assert compare_visits([visit(day=TODAY)], survey()) is None


def test_readings_of_every_visit_stand_in_order_of_time():
    old = visit(TreeThen(tree("T1", 0, 20)), day=date(2019, 5, 1))
    then = visit(TreeThen(tree("T1", 0, 24), verdict="keep"))
    back = compare_visits([then, old], survey(tree("T1", 0.1, 27, health="fair")))
    assert back is not None
    (t,) = back.trees
    assert [(r.date.year, r.trunk_cm, r.health) for r in t.readings] == [
        (2019, 20, "good"), (2023, 24, "good"), (2026, 27, "fair"),
    ]  # fmt: skip
    assert dict(t.changes[0].values) == {"was_cm": 24.0, "now_cm": 27.0, "years_count": 3.0}
    assert codes(t.changes) == ["trunk", "health_worse"]


def test_owner_decision_and_species_that_are_others_now_are_told():
    coast = Species("Quercus agrifolia", "coast live oak", "coast live oak")
    then = TreeThen(tree("T1", 0, 24, owner="client", decision="retain"))
    found = one(then, tree("T1", 0, 24.5, owner="shared", decision="remove", species=coast))
    told = {s.code.removeprefix("visit."): dict(s.values) for s in found.changes}
    assert told["owner_changed"] == {"owner_was": "client", "owner_now": "shared"}
    assert told["decision_changed"] == {"decision_was": "retain", "decision_now": "remove"}
    assert told["species_changed"] == {"was": "valley oak", "now": "coast live oak"}
    same = one(then, tree("T1", 0, 24.5, owner="client", decision="retain"))
    assert codes(same.changes) == ["trunk"]


def test_an_earlier_id_given_anew_to_another_species_is_no_reading_of_this_tree():
    ash = Species("Fraxinus latifolia", "Oregon ash", "ash")
    old = visit(TreeThen(tree("T1", 0, 60, species=ash)), day=date(2019, 5, 1))
    back = compare_visits([old, visit(TreeThen(tree("T1", 0, 24)))], survey(tree("T1", 0, 26)))
    assert back is not None
    assert [r.trunk_cm for r in back.trees[0].readings] == [24, 26]


def test_a_tree_is_known_again_under_another_number():
    then = visit(*(TreeThen(tree(f"T{i}", 10 * i, 30 + 5 * i)) for i in range(4)))
    now = survey(*(tree(f"N{i}", 10 * i + 0.2, 31 + 5 * i) for i in range(4)))
    back = compare_visits([then], now)
    assert back is not None
    assert [(t.tree, t.was) for t in back.trees] == [(f"N{i}", f"T{i}") for i in range(4)]
    assert "matched" in codes(back.trees[0].match)
    assert "for_near" in codes(back.trees[0].match)


def test_a_number_given_to_another_tree_is_told():
    ash = Species("Fraxinus latifolia", "Oregon ash", "ash")
    back = compare_visits(
        [visit(TreeThen(tree("T1", 0, 80)))], survey(tree("T1", 400, 9, species=ash))
    )
    assert back is not None
    new, lost = back.trees
    assert (new.tree, new.was, new.state) == ("T1", "", "new")
    assert codes(new.match) == ["same_id_not_same"]
    assert (lost.tree, lost.was, lost.state) == ("", "T1", "not_found")


# --- what became of the advice -------------------------------------------------------------


def chose(word, day=date(2023, 6, 1), **more):
    return Choices(choices=(Choice("T1", word, "R. Toll", day, **more),))


@pytest.mark.parametrize(
    ("advice", "record", "standing", "code"),
    [
        ("retain", None, "none", "none"),
        ("prune", None, "open", "open"),
        ("prune", chose("yes"), "open", "agreed_not_done"),
        ("prune", chose("no"), "refused", "refused"),
        ("prune", chose("later"), "postponed", "postponed"),
        ("prune", chose("later", until=TODAY), "postponed", "postponed_until"),
        ("prune", chose("later", until=date(2026, 4, 30)), "overdue", "overdue"),
        ("prune", Choices(done=(Done("T1", "prune", date(2024, 1, 1)),)), "followed", "followed"),
        # Done before the advice was given, or after today: neither follows it.
        ("prune", Choices(done=(Done("T1", "prune", date(2022, 1, 1)),)), "open", "open"),
        ("prune", Choices(done=(Done("T1", "prune", date(2027, 1, 1)),)), "open", "open"),
        ("prune", chose("no", day=date(2022, 1, 1)), "open", "open"),
        ("monitor", None, "followed", "looked_again"),
        ("remove", Choices(done=(Done("T1", "remove", date(2024, 1, 1)),)), "open",
         "removed_still_there"),
    ],
)  # fmt: skip
def test_what_became_of_the_advice(advice, record, standing, code):
    t = one(TreeThen(tree("T1", 0, 30, decision=advice)), tree("T1", 0, 31), choices=record)
    assert t.standing == standing
    assert t.advice.code == f"visit.{code}"


@pytest.mark.parametrize(
    ("advice", "done", "standing", "code"),
    [
        ("remove", (), "followed", "gone_as_advised"),
        ("remove", (Done("T1", "remove", date(2024, 1, 1)),), "followed", "followed"),
        ("retain", (), "none", "gone_unasked"),
        ("retain", (Done("T1", "remove", date(2024, 1, 1)),), "none", "gone_recorded"),
    ],
)
def test_a_tree_that_is_gone(advice, done, standing, code):
    t = one(TreeThen(tree("T1", 0, 30, decision=advice)), choices=Choices(done=done))
    assert (t.state, t.standing, t.advice.code) == ("not_found", standing, f"visit.{code}")


def test_the_last_choice_counts_and_the_choice_is_kept():
    first = Choice("T1", "later", "R. Toll", date(2023, 6, 1), reason="money")
    last = Choice("T1", "no", "R. Toll", date(2024, 6, 1), reason="shade")
    then = TreeThen(tree("T1", 0, 30, decision="prune"))
    t = one(then, tree("T1", 0, 31), choices=Choices(choices=(last, first)))
    assert (t.standing, t.choice) == ("refused", last)


def test_verdict_then_and_now_and_a_decline_is_said():
    then = visit(TreeThen(tree("T1", 0, 30), verdict="keep_if"))
    now = survey(tree("T1", 0, 31, health="poor"))
    back = compare_visits([then], now, verdicts={"T1": ("redesign", "redesign")})
    assert back is not None
    assert codes(back.trees[0].verdict) == ["verdict_changed", "kept_declined"]
    back = compare_visits([then], survey(tree("T1", 0, 31)), verdicts={"T1": ("keep_if", "keep")})
    assert back is not None
    assert codes(back.trees[0].verdict) == ["verdict_same"]


def test_growth_is_held_against_what_was_foreseen():
    then = visit(TreeThen(tree("T1", 0, 30)))
    now = survey(tree("T1", 0, 45), region="Sacramento Valley")
    back = compare_visits([then], now)
    assert back is not None
    grown = next(s for s in back.trees[0].changes if s.code.startswith("visit.growth_"))
    # 15 cm in 1,096 days: 15 / (1096 / 365.25) = 4.999 cm a year, far above any oak.
    assert grown.code == "visit.growth_above"
    assert dict(grown.values)["measured_cm"] == pytest.approx(4.999, abs=0.001)


# --- assumptions ----------------------------------------------------------------------------


def held(then, now=None, noted=(), **more):
    now = survey() if now is None else now
    found = assumptions_now(then, now, noted, defaults=more.pop("defaults", ()), asked=(), **more)
    return [(a.state, a.says.code.removeprefix("visit.")) for a in found]


@pytest.mark.parametrize(
    ("day", "months", "expected"),
    [
        (date(2026, 1, 31), 1, date(2026, 2, 28)),
        (date(2024, 2, 29), 12, date(2025, 2, 28)),
        (date(2026, 11, 11), 12, date(2027, 11, 11)),
        (date(2026, 12, 1), 1, date(2027, 1, 1)),
        (date(9999, 6, 1), 12, date(9999, 12, 31)),
    ],
)
def test_months_on(day, months, expected):
    assert months_later(day, months) == expected


@pytest.mark.parametrize(
    ("noted", "state", "code"),
    [
        (Assumption("no trench"), "holds", "assumption_undated"),
        (Assumption("no trench", until=TODAY), "holds", "assumption_holds"),
        (Assumption("no trench", until=date(2026, 4, 30)), "expired", "assumption_expired"),
        (Assumption("no trench", ended=TODAY), "ended", "assumption_ended"),
        (Assumption("no trench", ended=date(2026, 5, 2)), "holds", "assumption_undated"),
        (Assumption("no trench", until=date(2030, 1, 1), ended=date(2024, 1, 1)), "ended",
         "assumption_ended"),
    ],
)  # fmt: skip
def test_assumptions_with_their_days(noted, state, code):
    then = visit(day=date(2026, 4, 1))
    assert (state, code) in held(then, noted=[noted])


def test_the_papers_own_terms_run_out_on_their_day():
    then = visit(day=date(2025, 5, 1), price_until=TODAY, credential_until=date(2026, 4, 30))
    found = held(then)
    # Twelve months after 2025-05-01 is today: the last day on which it holds.
    assert ("holds", "report_holds") in found
    assert ("holds", "price_holds") in found
    assert ("expired", "credential_expired") in found
    assert ("expired", "report_expired") in held(visit(day=date(2025, 4, 30)))


@pytest.mark.parametrize(
    ("now", "code"),
    [
        ((), "drawing_not_read"),
        ((Drawing("p.dxf", "Plan", "C", date(2026, 1, 1)),), "drawing_changed"),
        ((Drawing("p.dxf", "Plan", "B", date(2026, 1, 1)),), "drawing_changed"),
        ((Drawing("p.dxf", "Plan", "B", date(2023, 1, 1)),), "drawing_same"),
    ],
)
def test_a_drawing_of_then(now, code):
    then = visit(drawings=(Drawing("p.dxf", "Plan", "B", date(2023, 1, 1)),))
    assert code in [c for _, c in held(then, survey(drawings=now))]


def test_works_that_came_went_or_were_settled():
    then = visit(works=(
        work_then("A"), work_then("B"), work_then("C", present="no"), work_then("D"),
        work_then("E", present="unknown"), work_then("F"),
        work_then("G", phase="possible later"),
    ))  # fmt: skip
    now = survey(works=(
        work("A"), work("B", phase="existing"), work("C"), work("E", present="no"),
        work("F", present="unknown"), work("G"), work("H"), work("I", present="no"),
    ))  # fmt: skip
    found = [(a.says.code, dict(a.says.values)["works"])
             for a in assumptions_now(then, now, (), defaults=(), asked=())
             if a.says.code.startswith("visit.work_")]  # fmt: skip
    assert found == [
        ("visit.work_built", "B"), ("visit.work_there", "C"), ("visit.work_not_there", "E"),
        ("visit.work_in_doubt", "F"), ("visit.work_phase", "G"), ("visit.work_new_proposed", "H"),
        ("visit.work_gone", "D"),
    ]  # fmt: skip


def test_values_nobody_gave_and_questions():
    asked = TreeThen(tree("T1", 0, 30), asked=(("P.made", "How?"), ("P.depth", "How deep?")))
    then = visit(asked, defaults={"k1": "Counted as deep.", "k2": "Counted as mature."})
    found = assumptions_now(then, survey(), (), defaults=["k2"], asked=["P.depth"])
    assert [(a.state, a.says.code) for a in found if "default" in a.says.code] == [
        ("ended", "visit.default_gone"), ("holds", "visit.default_stays"),
    ]  # fmt: skip
    questions = {a.says.code: a.trees for a in found if "question" in a.says.code}
    assert questions == {"visit.question_closed": ("T1",), "visit.question_open": ("T1",)}


def test_what_ended_comes_first():
    then = visit(day=THEN, works=(work_then("A"),), defaults={"k": "x"})
    states = [s for s, _ in held(then, noted=[Assumption("a")], defaults=["k"])]
    assert states == sorted(states, key=["ended", "expired", "holds"].index)
    assert states[0] == "ended"
    assert states[-1] == "holds"


def test_without_the_matching_library_numbers_pair_the_trees(monkeypatch):
    from bolewalk.model.extras import MissingExtraError
    from bolewalk.visits import compare

    def missing(*_, **__):
        raise MissingExtraError("planning", what="Matching the trees of two surveys")

    monkeypatch.setattr(compare, "rematch", missing)
    then = visit(TreeThen(tree("T1", 0, 30)), TreeThen(tree("T2", 9, 30)))
    back = compare_visits([then], survey(tree("T1", 0, 31), tree("T9", 20, 12)))
    assert back is not None
    assert [(t.tree, t.was, t.state) for t in back.trees] == [
        ("T1", "T1", "same"), ("T9", "", "new"), ("", "T2", "not_found"),
    ]  # fmt: skip
    assert codes(back.notes) == ["matched_by_id"]
    assert replace(back, notes=()).notes == ()
