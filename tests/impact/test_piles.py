"""Pile shifts by hand, and fed back as moved piles."""

import math

import pytest

from bolewalk.impact.piles import pile_shifts
from bolewalk.impact.thresholds import thresholds
from bolewalk.model.works import Part, Work

from .hands import pile, zone

T = thresholds()


def shifts(*works: Work):
    return pile_shifts("T1", (10.0, 20.0), zone(6.0, 2.0), works, T)


def test_shift_by_hand() -> None:
    # Pile of 0.4 m, 1.5 m east: face at 1.3 m; structural radius 2 m and margin 0.3 m: 1.0 m east.
    (s,) = shifts(pile("P1", (11.5, 20.0)))
    assert s.distance_m == pytest.approx(1.3)
    assert s.shift_m == pytest.approx(1.0)
    assert s.move_deg == pytest.approx(90.0)
    assert s.at == pytest.approx((12.5, 20.0))
    assert s.say.code == "pile.shift"


def test_moved_pile_clears_by_the_margin_whatever_the_side() -> None:
    for bearing in range(0, 360, 35):
        b = math.radians(bearing)
        (s,) = shifts(pile("P", (10 + math.sin(b), 20 + math.cos(b))))
        assert math.dist(s.at, (10, 20)) - 0.2 == pytest.approx(2.3)
        (again,) = shifts(pile("P", s.at))
        assert again.shift_m == pytest.approx(0.0, abs=1e-12)


def test_pile_between_radius_and_margin_still_moves() -> None:
    (s,) = shifts(pile("P", (10.0, 20.0 + 2.3)))  # face at 2.1 m
    assert s.shift_m == pytest.approx(0.2)
    (s,) = shifts(pile("P", (10.0, 20.0 + 2.6)))  # face at 2.4 m
    assert s.shift_m == 0.0
    assert dict(s.say.values)["room_m"] == pytest.approx(0.4)


def test_each_point_of_a_row_is_listed_and_far_or_existing_ones_are_not() -> None:
    parts = (Part("point", ((11.0, 20.0),)), Part("point", ((9.0, 20.0),)))
    row = Work("R", "pile", parts, diameter_m=0.4)
    found = shifts(row, pile("P8", (30.0, 20.0)), pile("P9", (11.0, 20.0), phase="existing"))
    assert [(s.work, s.point) for s in found] == [("R", 1), ("R", 2)]
    assert [s.move_deg for s in found] == pytest.approx([90.0, 270.0])


def test_pile_on_the_trunk_has_somewhere_to_go() -> None:
    (s,) = shifts(pile("P", (10.0, 20.0)))
    assert s.shift_m == pytest.approx(2.5)
    assert s.move_deg == 0.0
