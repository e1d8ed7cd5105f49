"""Verdicts on both sides of every limit; limits from the root page's default reading."""

import math

import pytest

from bolewalk.impact.near import NearWork
from bolewalk.impact.results import CrownClash
from bolewalk.impact.standing import OpenFacts
from bolewalk.impact.thresholds import thresholds
from bolewalk.impact.verdicts import judge_roots, settled, verdict
from bolewalk.model.statements import Statement

from .hands import FT, line, loss, pile, segment_pct, standing, zone

T = thresholds()


def judged(level=None, removed=None, **kw):
    crown = None if removed is None else CrownClash(100.0, removed, None, None)
    return judge_roots(loss(**kw), zone(), level, crown, T)


def codes(statements: tuple[Statement, ...]) -> list[str]:
    return [s.code.split(".", 1)[1] for s in statements]


@pytest.mark.parametrize(
    ("figures", "expected"),
    [
        ({"severed_pct": 0.0}, "keep"),
        ({"severed_pct": 10.0}, "keep"),
        ({"severed_pct": 10.001}, "keep_if"),
        ({"severed_pct": 25.0}, "keep_if"),
        ({"severed_pct": 25.001}, "redesign"),
        ({"severed_pct": 15.0, "best_half_severed_pct": 10.0}, "keep_if"),
        ({"severed_pct": 15.0, "best_half_severed_pct": 10.001}, "redesign"),
        ({"covered_pct": 20.0}, "keep"),
        ({"covered_pct": 20.001}, "keep_if"),
        ({"removed": 25.0}, "keep"),
        ({"removed": 25.001}, "keep_if"),
        ({"removed": 100.0, "covered_pct": 100.0}, "keep_if"),
        ({"nearest_cut_m": 2.0, "severed_pct": 5.0}, "keep"),
        ({"nearest_cut_m": 1.999, "severed_pct": 5.0}, "redesign"),
    ],
)
def test_both_sides_of_each_limit(figures, expected) -> None:
    assert judged(**figures) == expected


@pytest.mark.parametrize(
    ("level", "limit"), [("poor", 20.0), ("moderate", 25.0), (None, 25.0), ("good", 30.0)]
)
def test_the_limit_by_tolerance(level, limit) -> None:
    assert judged(level, severed_pct=limit) == "keep_if"
    assert judged(level, severed_pct=limit + 0.001) == "redesign"


def test_figures_at_a_limit_to_the_last_bit_are_within_it() -> None:
    assert judged(severed_pct=math.nextafter(10.0, 11)) == "keep"
    assert judged(nearest_cut_m=math.nextafter(2.0, 0), severed_pct=1.0) == "keep"


def test_piles_one_trench_two_trenches_read_as_three_verdicts() -> None:
    # Faces at half the radius: 19.55 % on one side, twice that on two (closed form). Piles on
    # one side sever 3.26 % (published check case of 720,000 rays).
    one = segment_pct(0.5)
    assert one == pytest.approx(19.55, abs=0.005)
    piles = loss(severed_pct=3.26, nearest_cut_m=3.4)
    side = loss(severed_pct=one, nearest_cut_m=3.0, best_half_bearing=270.0)
    both = loss(severed_pct=2 * one, nearest_cut_m=3.0, best_half_severed_pct=2 * one)
    assert [verdict(standing(r), T).now for r in (piles, side, both)] == [
        "keep",
        "keep_if",
        "redesign",
    ]


def test_the_whole_side_is_protected_in_the_conditions() -> None:
    v = verdict(standing(loss(severed_pct=19.55, nearest_cut_m=3.0, best_half_bearing=270.0)), T)
    protect = [c for c in v.conditions if c.code == "condition.protect_best_half"]
    assert protect[0].values == (("side_deg", 270.0),)
    assert "best_half_untouched" in codes(v.because)
    # Within the first limit no side carries the tree alone.
    v = verdict(standing(loss(severed_pct=10.0, nearest_cut_m=4.0, best_half_bearing=270.0)), T)
    assert "protect_best_half" not in codes(v.conditions)
    # All halves alike: nowhere is left to spare.
    even = loss(severed_pct=10.001, nearest_cut_m=4.0, best_half_severed_pct=10.0)
    v = verdict(standing(even), T)
    assert "no_more_cuts" in codes(v.conditions)


def test_reasons_stand_by_weight() -> None:
    v = verdict(
        standing(
            loss(severed_pct=40.0, nearest_cut_m=1.0, best_half_severed_pct=30.0, covered_pct=30.0),
            crown=CrownClash(10.0, 40.0, None, None),
        ),
        T,
    )
    assert codes(v.because) == [
        "cut_inside_structural",
        "severed_over_keep_if",
        "best_half_hurt",
        "covered_over_keep",
        "crown_over_keep",
        "inside_stability_floor",
    ]
    assert codes(v.flips_if) == [
        "move_off_structural",
        "less_severed_to_keep_if",
        "less_on_best_half",
    ]
    assert v.conditions == ()


def test_distance_to_each_limit_by_hand() -> None:
    v = verdict(standing(loss(severed_pct=18.0, nearest_cut_m=2.5, best_half_severed_pct=4.0)), T)
    told = {s.code: dict(s.values) for s in v.flips_if}
    assert told["flip.less_severed_to_keep"]["over_pct"] == pytest.approx(8.0)
    assert told["flip.room_to_redesign"]["room_pct"] == pytest.approx(7.0)
    assert told["flip.best_half_room"]["room_pct"] == pytest.approx(6.0)
    assert told["flip.structural_room"]["room_m"] == pytest.approx(0.5)


def test_five_feet_are_2_3_trunks() -> None:
    # Trunk 26 in, cut at 5 ft: 60 / 26 = 2.3 trunk diameters, inside the 3 of the pull tests.
    s = standing(loss(severed_pct=30.0, nearest_cut_m=5 * FT), zone=zone(26 * FT, 2.9, 26 * 2.54))
    told = {b.code: dict(b.values) for b in verdict(s, T).because}
    assert told["verdict.inside_stability_floor"]["times"] == "2.3"
    assert told["verdict.inside_stability_floor"]["least"] == "3"


@pytest.mark.parametrize(
    ("times", "code"),
    [
        (2.99, "inside_stability_floor"),
        (3.0, "inside_health_moderate"),
        (5.0, "inside_health_least"),
        (6.0, None),
    ],
)
def test_trunk_figures_on_both_sides(times, code) -> None:
    s = standing(loss(severed_pct=5.0, nearest_cut_m=times * 0.5), zone=zone(6.0, 1.0, 50.0))
    said = [c for c in codes(verdict(s, T).because) if c.startswith("inside_")]
    assert said == ([code] if code else [])


def test_cover_over_a_third_is_kept_on_conditions() -> None:
    # 34 in at one foot an inch: 34 ft, 3,632 sq ft; 35 % covered by fill, nothing cut.
    assert math.pi * 34**2 == pytest.approx(3632, abs=0.5)
    v = verdict(standing(loss(covered_pct=35.0), zone=zone(34 * FT, 3.0, 34 * 2.54)), T)
    assert v.now == "keep_if"
    assert codes(v.because) == ["covered_over_keep"]
    v20 = verdict(standing(loss(covered_pct=20.0)), T)
    assert (v20.now, codes(v20.because)) == ("keep", ["covered_only"])
    assert "covered_over" in codes(v.conditions)


@pytest.mark.parametrize(
    ("levels", "expected"),
    [
        ({"keep"}, "keep"),
        ({"keep_if"}, "keep_if"),
        ({"redesign"}, "redesign"),
        ({"keep", "keep_if"}, "keep_if"),
        ({"keep", "redesign"}, "undecided"),
        ({"keep_if", "redesign"}, "undecided"),
        ({"keep", "keep_if", "redesign"}, "undecided"),
    ],
)
def test_undecided_only_across_the_line_to_redesign(levels, expected) -> None:
    assert settled(levels) == expected


def test_no_level_is_refused() -> None:
    with pytest.raises(ValueError, match="as recorded"):
        settled([])


def test_later_works_never_make_now_undecided() -> None:
    s = standing(loss(severed_pct=5.0), with_later=loss(severed_pct=60.0, nearest_cut_m=3.0))
    v = verdict(s, T)
    assert (v.now, v.with_later) == ("keep", "redesign")
    assert "later_redesign" in codes(v.flips_if)
    assert "no_later_works" in codes(v.conditions)
    facts = OpenFacts(frozenset({"keep"}), frozenset({"keep_if", "redesign"}))
    v = verdict(s, T, open_facts=facts)
    assert (v.now, v.with_later) == ("keep", "undecided")


def test_conditions_name_the_works_they_bind() -> None:
    near = (
        NearWork(pile("P1", (3, 0), made="hand"), 2.8, 90.0, "pile"),
        NearWork(pile("P2", (4, 0), made="bored"), 3.8, 90.0, "pile"),
        NearWork(line("D1", "drain", (3, -9), (3, 9), made="machine"), 3.0, 90.0, "severs"),
        NearWork(line("D2", "drain", (3, -9), (3, 9), phase="existing"), 3.0, 90.0, "severs"),
        NearWork(pile("P9", (40, 0), made="bored"), 39.8, 90.0, "pile"),
    )
    v = verdict(standing(loss(severed_pct=12.0, nearest_cut_m=2.8), near=near), T)
    told = {c.code: dict(c.values).get("works") for c in v.conditions}
    assert told["condition.piles_shifted"] == "P1"
    assert told["condition.rig_on_mats"] == "P2"
    assert told["condition.dug_from_outside"] == "D1"
    assert told["condition.roots_met"] == "P1, P2, D1"


def test_conditions_of_bores_of_trenches_by_hand_and_of_beams() -> None:
    near = (
        NearWork(line("U1", "utility", (3, -9), (3, 9), made="trenchless"), 3.0, 90.0, "nothing"),
        NearWork(line("U2", "utility", (4, -9), (4, 9), made="air"), 4.0, 90.0, "severs"),
        NearWork(line("B1", "beam", (5, -9), (5, 9)), 5.0, 90.0, "nothing"),
    )
    v = verdict(standing(loss(severed_pct=12.0, nearest_cut_m=4.0), near=near), T)
    told = {c.code: dict(c.values) for c in v.conditions}
    # Parkway boring schedule, from memory: 4.5 ft deep; pits 15 ft from a trunk of 20 in and over.
    assert told["condition.bored_below"] == {"works": "U1", "depth_m": pytest.approx(4.5 * FT)}
    assert told["condition.pits_clear"]["works"] == "U1"
    thick = standing(loss(severed_pct=12.0, nearest_cut_m=4.0), near=near, zone=zone(diameter=51.0))
    clear = {c.code: dict(c.values) for c in verdict(thick, T).conditions}["condition.pits_clear"]
    assert clear["clear_m"] == pytest.approx(15 * FT)
    assert told["condition.dug_by_hand"] == {"works": "U2"}
    assert told["condition.beam_above_grade"] == {"works": "B1"}
    assert told["condition.roots_met"]["works"] == "U2"
    assert "condition.dug_from_outside" not in told


def test_drawings_are_named_once() -> None:
    near = tuple(
        NearWork(pile(n, (3, 0), drawing=d), 2.8, 90.0, "pile")
        for n, d in (("P1", "Site plan, revision B"), ("P2", "Site plan, revision B"), ("P3", ""))
    )
    v = verdict(standing(loss(severed_pct=1.0), near=near), T)
    assert v.drawings == ("Site plan, revision B",)


def test_existing_works_that_passed_the_limit_alone_are_named() -> None:
    gone = loss(severed_pct=50.0, nearest_cut_m=3.0)
    v = verdict(standing(gone, existing=gone), T)
    assert "existing_alone_past" in codes(v.because)
