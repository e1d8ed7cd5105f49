"""Stake-out: points found by hand, tapes that lead back to the point."""

import math

import pytest

from bolewalk.impact.slope import Slope
from bolewalk.impact.stake_out import stake_out
from bolewalk.impact.thresholds import thresholds
from bolewalk.papers.amounts import Amounts
from bolewalk.papers.language import Speaker, load_catalogue

from .hands import box, line, pile, tree

T = thresholds()
TREES = (tree("T1"), tree("T2", x_m=10.0, y_m=0.0), tree("T3", x_m=None, y_m=None))
REACH = {"T1": 6.0, "T2": 6.0}


def points(*works):
    return stake_out(works, TREES, REACH, T)


def test_pile_trench_ends_and_corners_are_listed_in_order() -> None:
    found = points(
        pile("P1", (3.0, 4.0)),
        line("W1", "trench", (-4.0, 3.0), (0.0, 3.0), (3.5, 4.5)),
        box("B1", "building", (2.0, -5.0), (30.0, -2.0)),
    )
    assert [p.what.code for p in found] == [
        "stake.pile", "stake.end", "stake.bend", "stake.end", "stake.corner", "stake.corner",
        "stake.nearest",
    ]  # fmt: skip
    assert [p.work for p in found] == ["P1", "W1", "W1", "W1", "B1", "B1", "B1"]
    # Both corners lie out of reach of T2; the side between them passes it at (10, -2).
    assert found[-1].at == pytest.approx((10.0, -2.0))


def test_tapes_cross_in_the_point() -> None:
    (p,) = points(pile("P1", (3.0, 4.0)))
    assert {s.say.code for s in p.tapes} == {"stake.from_tree"}
    assert sorted(s.distance_m for s in p.tapes) == pytest.approx([5.0, math.hypot(7.0, 4.0)])
    for tape in p.tapes:
        assert math.dist(tape.at, p.at) == pytest.approx(tape.distance_m)


def test_square_crossing_beats_a_flat_one() -> None:
    # From (5, 0.5) the two trees lie almost opposite: the surveyed corner crosses squarely.
    post = pile("C1", (5.0, 6.0), basis="surveyed", phase="existing")
    (p,) = stake_out((pile("P1", (5.0, 0.5)), post), TREES, REACH, T)
    assert "stake.from_work" in {s.say.code for s in p.tapes}


def test_photo_has_flag_and_tree_in_one_line() -> None:
    (p,) = points(pile("P1", (0.0, 4.0)))
    assert p.stand == pytest.approx((0.0, 4.0 + T.value("stake.photo_distance")))
    told = dict(p.photo.values)
    assert told["face_deg"] == pytest.approx(180.0)
    assert told["tree"] == "T1"


def test_side_passing_with_both_ends_out_of_reach_is_flagged_where_nearest() -> None:
    found = points(line("W1", "trench", (-50.0, 3.0), (50.0, 3.0)))
    assert [(p.what.code, p.at) for p in found] == [
        ("stake.nearest", pytest.approx((0.0, 3.0))),
        ("stake.nearest", pytest.approx((10.0, 3.0))),
    ]


def test_curve_is_not_flagged_at_every_chord() -> None:
    ring = [
        (3 * math.sin(math.radians(a)), 3 + 2 * math.cos(math.radians(a))) for a in range(0, 360, 5)
    ]
    found = points(line("W1", "trench", *ring, ring[0]))
    assert [p.what.code for p in found] == ["stake.end", "stake.end"]


def test_staked_existing_and_far_works_are_not_flagged() -> None:
    assert points(pile("P1", (3.0, 4.0), basis="staked")) == ()
    assert points(pile("P1", (3.0, 4.0), phase="existing")) == ()
    assert points(pile("P1", (300.0, 4.0))) == ()


def test_alone_on_the_site_the_list_says_so() -> None:
    (p,) = stake_out((pile("P1", (0.0, 4.0)),), TREES[:1], {"T1": 6.0}, T)
    assert len(p.tapes) == 1
    assert p.notes[0].code == "stake.one_tape_only"


def test_on_a_slope_tapes_are_given_in_plan_and_on_the_ground() -> None:
    # By hand: 20 ft in plan on 38 % = 21.4 ft on the tape, straight up or down the slope.
    foot = 0.3048
    at = (0.0, 20 * foot)
    slope = Slope(38.0, 180.0)
    (p,) = stake_out((pile("P1", at),), TREES[:1], {"T1": 50.0}, T, slope=slope)
    (tape,) = p.tapes
    assert tape.distance_m == pytest.approx(20 * foot)
    assert tape.tape_m == pytest.approx(21.4 * foot, abs=0.05 * foot)
    text = Speaker(load_catalogue(), Amounts("imperial")).text(tape.say)
    assert "20.0 ft in plan, 21.4 ft along a tape" in text
    (p,) = stake_out((pile("P1", at),), TREES[:1], {"T1": 50.0}, T, slope=Slope(38.0))
    assert p.tapes[0].say.code == "stake.from_tree_up_to"
    (p,) = stake_out((pile("P1", at),), TREES[:1], {"T1": 50.0}, T)
    assert p.tapes[0].tape_m == p.tapes[0].distance_m
    assert p.tapes[0].say.code == "stake.from_tree"
