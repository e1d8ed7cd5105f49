"""Missing facts: ranking and undecided against brute force written independently here."""

import itertools
import math
from dataclasses import replace
from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bolewalk.impact.assess import assess_all
from bolewalk.impact.fact import Fact, FactValue
from bolewalk.impact.facts import open_facts
from bolewalk.impact.grouping import grouped
from bolewalk.impact.near import near_works
from bolewalk.impact.questions import study
from bolewalk.impact.results import RootZone
from bolewalk.impact.roots import root_losses
from bolewalk.impact.suppose import Suppositions
from bolewalk.impact.thresholds import thresholds
from bolewalk.impact.verdicts import judge_roots
from bolewalk.model.figures import Figure
from bolewalk.model.statements import say
from bolewalk.model.survey import Method, Survey
from bolewalk.model.trees import Species
from bolewalk.model.works import Work

from .hands import box, crown, line, pile, tree, zone

T = thresholds()


def made_up(name: str, values: int = 2, *, later: bool = False, touches=("roots",)) -> Fact:
    told = say(f"question.{name}")
    answers = tuple(FactValue(say("answer", value=k)) for k in range(values))
    return Fact(
        name, "made", told, told, told, "designer", answers, frozenset(touches), later=later
    )


LEVELS = ("keep", "keep_if", "redesign")


@settings(max_examples=60, deadline=None)
@given(data=st.data())
def test_flips_are_those_of_brute_force(data) -> None:
    sizes = data.draw(st.lists(st.integers(2, 3), min_size=1, max_size=4))
    later = data.draw(st.lists(st.booleans(), min_size=len(sizes), max_size=len(sizes)))
    sizes = [2 if is_later else n for n, is_later in zip(sizes, later, strict=True)]
    all_of = list(itertools.product(*(range(n) for n in sizes)))
    table = dict(
        zip(
            all_of,
            data.draw(
                st.lists(st.sampled_from(LEVELS), min_size=len(all_of), max_size=len(all_of))
            ),
            strict=True,
        )
    )
    facts = [
        made_up(f"f{i}", n, later=is_later)
        for i, (n, is_later) in enumerate(zip(sizes, later, strict=True))
    ]
    found = study(facts, lambda at: table[at])
    # Independent: group the table by what the other facts are.
    expected = {}
    for i in range(len(sizes)):
        others: dict[tuple[int, ...], set[str]] = {}
        for at, level in table.items():
            others.setdefault((*at[:i], *at[i + 1 :]), set()).add(level)
        expected[f"f{i}"] = sum(len(s) > 1 for s in others.values()) / len(others)
    got = {q.fact: q.flips for q in found.open_facts.questions}
    assert got == pytest.approx({k: v for k, v in expected.items() if v > 0})
    ranked = [q.flips for q in found.open_facts.questions]
    assert ranked == sorted(ranked, reverse=True)
    now = {v for at, v in table.items() if not any(a and f for a, f in zip(at, later, strict=True))}
    assert found.open_facts.now == now
    with_later = {
        v for at, v in table.items() if all(a == 1 for a, f in zip(at, later, strict=True) if f)
    }
    assert found.open_facts.with_later == with_later
    assert len(found.not_needed) == sum(v == 0 for v in expected.values())


def test_draws_come_near_the_share_they_state() -> None:
    # Twelve facts of two values: redesign when six or more are 1. A fact turns the verdict when
    # exactly five of the other eleven are 1: C(11,5) / 2^11 = 462 / 2048 = 22.6 %.
    facts = [made_up(f"f{i:02}") for i in range(12)]
    found = study(facts, lambda at: "redesign" if sum(at) > 5 else "keep", all_up_to=1000)
    assert found.drawn
    assert found.combinations == 4096
    assert len(found.open_facts.questions) == 12
    for q in found.open_facts.questions:
        # 1.96 sqrt(0.226 x 0.774 / 64) = 0.102.
        assert 0 < q.flips_error < 0.13
        assert abs(q.flips - 462 / 2048) < 2 * q.flips_error
    again = study(facts, lambda at: "redesign" if sum(at) > 5 else "keep", all_up_to=1000)
    assert again == found


def test_drawn_or_not_the_ends_decide_undecided() -> None:
    # Only the very harshest of 2^14 combinations is a redesign: draws alone would miss it.
    facts = [made_up(f"f{i:02}") for i in range(14)]
    found = study(
        facts,
        lambda at: "redesign" if sum(at) == 14 else "keep",
        severity_at=lambda at: float(sum(at)),
    )
    assert found.drawn
    assert found.open_facts.now == {"keep", "redesign"}
    assert len(found.open_facts.questions) == 14


def test_without_facts_the_recorded_level_stands() -> None:
    found = study([], lambda _: "keep_if")
    assert found.open_facts.now == found.open_facts.with_later == {"keep_if"}
    assert found.open_facts.questions == ()


# --- with real root losses --------------------------------------------------------------------


def supposed(one, works, method="as4970-2009", a_zone=None):
    a_zone = a_zone or zone(10.0, 2.5, 80.0)
    near = near_works((0.0, 0.0), 10.0, works)
    facts = open_facts(one, near, works, method, root_reach_m=10.0)
    return facts, Suppositions(one, [n.work for n in near], facts, lambda _: a_zone, T)


def asked(one, works, **kw):
    facts, s = supposed(one, works, **kw)
    return study(facts, s.level_at, severity_at=s.severity_at)


def test_a_pile_row_whose_making_decides_is_asked_once() -> None:
    # A fence of piles 3.2 m off: bored they shade the zone behind, dug by hand they do not.
    piles = [pile(f"P{i}", (3.2, -6.0 + 0.8 * i), diameter=0.6) for i in range(16)]
    found = asked(tree(), piles)
    (q,) = found.open_facts.questions
    assert q.ask.code == "question.made"
    assert q.of == "designer"
    assert q.flips == 1.0
    assert [a.answer.code for a in q.answers] == ["answer.made_bored", "answer.made_hand"]
    assert [a.verdict for a in q.answers] == ["redesign", "keep"]
    assert found.open_facts.now == {"keep", "redesign"}


def test_a_row_is_one_question_wherever_its_piles_stand() -> None:
    row = [pile(f"P{i}", (3.2, -6.0 + 0.8 * i), diameter=0.6, layer="S-PILE") for i in range(16)]
    far = [pile("P90", (80.0, 0.0), layer="S-PILE"), pile("Q1", (81.0, 0.0))]
    facts = open_facts(
        tree(), near_works((0, 0), 10.0, row), [*row, *far], "as4970-2009", root_reach_m=10.0
    )
    assert [f.id.count("+") for f in facts] == [16]
    # Two layers, or two labels, are two questions.
    other = [replace(p, layer="X", id=f"X{i}") for i, p in enumerate(row)]
    both = [*row, *other]
    facts = open_facts(
        tree(), near_works((0, 0), 10.0, both), both, "as4970-2009", root_reach_m=10.0
    )
    assert len(facts) == 2


def test_two_piles_whose_making_changes_nothing_are_not_asked() -> None:
    found = asked(tree(), [pile("P1", (6.0, 0.0))])
    assert found.open_facts.questions == ()
    assert [s.code for s in found.not_needed] == ["not_needed.made"]


def test_planted_irrelevant_fact_is_not_asked() -> None:
    # The trench decides; whether the far drain (it grazes the zone) is there does not.
    works = [
        line("W1", "trench", (3.5, -40), (3.5, 40), present="unknown", depth_m=Figure(1, "drawn")),
        line("W2", "drain", (-9.99, -9), (-9.99, 9), present="unknown", depth_m=Figure(1, "drawn")),
    ]
    found = asked(tree(), works)
    assert [q.fact for q in found.open_facts.questions] == ["W1.present"]
    assert [dict(s.values)["works"] for s in found.not_needed] == ["W2"]


def test_depth_of_an_open_trench_changes_nothing_a_verdict_reads() -> None:
    works = [line("W1", "trench", (5.0, -40), (5.0, 40))]
    facts, s = supposed(tree(), works)
    (fact,) = facts
    assert fact.id == "W1.depth"
    assert fact.touches == frozenset()
    # Brute force: whatever the depth, the figures a verdict reads are the same.
    losses = [
        root_losses((0, 0), zone(10.0, 2.5, 80.0), [replace(works[0], depth_m=Figure(d, "drawn"))])
        for d in (0.1, 0.45, 1.0, 5.0)
    ]
    assert len({x.proposed.severed_pct for x in losses}) == 1
    assert len({x.proposed.best_half_severed_pct for x in losses}) == 1
    assert study(facts, s.level_at).not_needed == (fact.not_needed,)


def test_depth_of_a_bore_decides() -> None:
    works = [line("W1", "drain", (3.5, -40), (3.5, 40), made="trenchless")]
    found = asked(tree(), works)
    (q,) = found.open_facts.questions
    assert q.ask.code == "question.depth"
    assert {a.verdict for a in q.answers} == {"keep", "redesign"}


def test_position_error_across_the_structural_radius_is_asked() -> None:
    # Trench face at 2.7 m, structural radius 2.5 m, error 0.5 m. A short trench severs little.
    works = [
        line("W1", "trench", (2.7, -0.3), (2.7, 0.3), offset_m=0.5, depth_m=Figure(1, "drawn"))
    ]
    found = asked(tree(), works)
    (q,) = found.open_facts.questions
    assert q.fact == "W1.offset"
    assert [a.verdict for a in q.answers] == ["keep", "redesign", "keep"]


def test_later_works_are_asked_for_but_leave_now_alone() -> None:
    works = [box("B2", "building", (3.0, -9.0), (20.0, 9.0), phase="possible later")]
    found = asked(tree(), [replace(works[0], depth_m=Figure(1, "drawn"))])
    later = [q for q in found.open_facts.questions if q.fact == "B2.later"]
    assert [a.verdict for a in later[0].answers] == ["keep", "redesign"]
    assert found.open_facts.now == {"keep"}
    assert found.open_facts.with_later == {"redesign"}
    assert found.open_facts.settle == ()


def test_roof_height_moves_keep_to_keep_if_only() -> None:
    one = tree(
        height_m=Figure(10.0, "measured"), crown_base_m=Figure(2.0, "measured"), crown=crown(5.0)
    )
    works = [box("R1", "roof", (1.0, -9.0), (20.0, 9.0))]
    found = asked(one, works)
    roof = [q for q in found.open_facts.questions if q.fact == "R1.roof_low"]
    # Cover alone: 18 % of the zone and more lies under the roof, so keep needs both.
    assert {a.verdict for q in roof for a in q.answers} <= {"keep", "keep_if"}
    assert "redesign" not in found.open_facts.now


def test_species_in_doubt_asks_when_tolerance_decides() -> None:
    # 22 % severed: poor (white oak, limit 20) and good (bur oak, limit 30) part ways.
    doubt = Species("Quercus alba", "white oak", "oak", 0.4, ("Quercus macrocarpa",))
    works = [line("W1", "trench", (4.6, -40), (4.6, 40), depth_m=Figure(1, "drawn"))]
    found = asked(tree(species=doubt), works)
    (q,) = found.open_facts.questions
    assert q.ask.code == "question.species"
    assert [a.verdict for a in q.answers] == ["redesign", "keep_if"]
    sure = replace(doubt, confidence=0.95)
    assert asked(tree(species=sure), works).open_facts.questions == ()
    assert asked(tree(species=doubt, tolerance="good"), works).open_facts.questions == ()


@pytest.mark.parametrize(("cut_ft", "expected"), [(5.0, {"keep_if", "redesign"}), (12.0, {"keep"})])
def test_which_stems_count_decides_near_the_cut(cut_ft, expected) -> None:
    # Stems 5.5, 4.5, 4 in; sum 14, largest plus half 9.75, equal area 8.2 in: zones of as many
    # feet. A straight cut at 5 ft takes 28, 19 and 14 %: only the sum passes the 25 %.
    ft = 0.3048
    stems = tuple(v * 2.54 for v in (5.5, 4.5, 4.0))

    def zone_of(t):
        inch = t.stems_cm[0].value / 2.54 if len(t.stems_cm) == 1 else 8.155
        return replace(zone(inch * ft, 1.0, inch * 2.54), method="inch-foot")

    one = tree(cm=stems)
    works = [
        line("W1", "trench", (cut_ft * ft, -40), (cut_ft * ft, 40), depth_m=Figure(1, "drawn"))
    ]
    near = near_works((0, 0), 14 * ft, works)
    facts = open_facts(one, near, works, "inch-foot", root_reach_m=14 * ft)
    s = Suppositions(one, works, facts, zone_of, T)
    found = study(facts, s.level_at)
    assert found.open_facts.now == expected
    severed = [s.loss_at((k,)).severed_pct for k in range(3)]
    if cut_ft == 5.0:
        assert severed == pytest.approx([14, 19, 28], abs=0.5)
        readings = [dict(v.answer.values)["trunk_cm"] / 2.54 for v in facts[0].values]
        assert readings == pytest.approx([8.155, 9.75, 14.0], abs=0.01)
    # A method with a rule of its own leaves nothing open.
    assert open_facts(one, near, works, "as4970-2009", root_reach_m=14 * ft) == ()


def test_whole_enumeration_against_losses_computed_one_by_one() -> None:
    # Three facts of a real scene, each combination built by hand here and judged afresh.
    a = line("W1", "trench", (4.5, -40), (4.5, 40), offset_m=0.6, depth_m=Figure(1, "drawn"))
    b = line("D1", "drain", (-6.0, -40), (-6.0, 40), present="unknown", depth_m=Figure(1, "drawn"))
    c = box(
        "B2",
        "building",
        (-30, 5),
        (30, 9),
        phase="possible later",
        depth_m=Figure(1, "drawn"),
        high_m=5.0,
    )
    facts, s = supposed(tree(), [a, b, c])
    assert [f.id for f in facts] == ["W1.offset", "D1.present", "B2.later"]
    moved = [
        line("W1", "trench", (x, -40), (x, 40), depth_m=Figure(1, "drawn")) for x in (4.5, 3.9, 5.1)
    ]
    z: RootZone = zone(10.0, 2.5, 80.0)
    for i, j, k in itertools.product(range(3), range(2), range(2)):
        works = [moved[i], *([b] if j == 0 else []), *([replace(c, phase="proposed")] if k else [])]
        expected = judge_roots(root_losses((0, 0), z, works).proposed, z, None, None, T)
        assert s.level_at((i, j, k)) == expected


# --- many facts at one tree -------------------------------------------------------------------


def uncertain_piles(n: int) -> list[Work]:
    return [
        pile(
            f"P{i}", (3.5 * math.cos(i) + i % 4, 4 * math.sin(i) + i % 5 * 0.7),
            label=f"L{i}", present="unknown", offset_m=0.2,
        )
        for i in range(n)
    ]  # fmt: skip


def test_sixty_uncertain_piles_are_asked_together() -> None:
    # 180 open facts: presence, place and making of each; bench/questions.py has the time.
    s = Survey(
        "Thistle yard", date(2026, 5, 12), "metric", "opinion", Method("as4970-2009"),
        trees=(tree(cm=(80.0,)),), works=tuple(uncertain_piles(60)),
    )  # fmt: skip
    (impact,) = assess_all(s)
    assert impact.verdict is not None
    # All bored and there, they ring the trunk; none there, nothing is cut.
    assert impact.verdict.now == "undecided"
    assert impact.questions[0].fact.count("+") == 59
    assert {q.fact.rsplit(".")[-1] for q in impact.questions} <= {"present", "offset", "made"}
    notice = next(n for n in impact.not_needed if n.code == "not_needed.asked_together")
    assert dict(notice.values)["facts_count"] == 180


def test_grouped_facts_change_each_of_their_works_by_its_own_answer() -> None:
    works = uncertain_piles(6)
    near = near_works((0.0, 0.0), 10.0, works)
    facts = open_facts(tree(), near, works, "as4970-2009", root_reach_m=10.0)
    assert len(facts) == 18  # presence, place and making of each pile
    same, notice = grouped(facts, works, most=18)
    assert same == facts
    assert notice == ()
    few, (notice_given,) = grouped(facts, works, most=4)
    assert notice_given.code == "not_needed.asked_together"
    assert [f.kind for f in few] == ["offset", "present", "made"]
    by_kind = {f.kind: f for f in few}
    for w in works:
        assert by_kind["present"].values[1].change(w) is None
        assert by_kind["made"].values[1].change(w) == replace(w, made="hand")
    assert by_kind["made"].values[1].change(line("W", "trench", (0, 0), (1, 1))) is not None


def test_a_fact_that_counts_only_with_another_says_so() -> None:
    # Redesign only where both are 1: neither turns the verdict alone; the third does nothing.
    facts = [made_up("a"), made_up("b"), made_up("c")]
    facts = [replace(f, not_needed=say(f"not_needed.{f.id}")) for f in facts]
    found = study(facts, lambda at: "redesign" if at[0] and at[1] else "keep")
    first, second = found.open_facts.questions
    assert {a.verdict for a in first.answers} == {"keep"}
    assert first.only_with == (say("not_needed.b"),)
    assert second.only_with == (say("not_needed.a"),)
    alone = study(facts, lambda at: "redesign" if at[0] else "keep").open_facts.questions[0]
    assert alone.only_with is None
    # Three at once: no single partner can be named.
    three = study(facts, lambda at: "redesign" if all(at) else "keep").open_facts.questions
    assert [q.only_with for q in three] == [(), (), ()]


def test_drawn_shares_state_their_error() -> None:
    # As above 22.6 % of draws turn the verdict: 1.96 sqrt(0.226 x 0.774 / 64) = 10.2 %.
    facts = [*(made_up(f"f{i:02}") for i in range(12)), made_up("idle", touches=())]
    found = study(facts, lambda at: "redesign" if sum(at) > 5 else "keep", all_up_to=1000)
    (said,) = [n for n in found.not_needed if n.code == "not_needed.by_draws"]
    errors = [q.flips_error for q in found.open_facts.questions]
    assert dict(said.values)["within_pct"] == pytest.approx(100 * max(errors))
    assert 8.0 < 100 * max(errors) < 13.0
