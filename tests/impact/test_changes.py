"""Plan changes, each fed back as a drawn plan and judged by the whole account."""

from dataclasses import replace

import pytest

from bolewalk.impact.changes import plan_changes
from bolewalk.impact.near import moved, near_works
from bolewalk.impact.roots import root_losses
from bolewalk.impact.thresholds import thresholds
from bolewalk.impact.verdicts import judge_roots
from bolewalk.model.figures import Figure

from .hands import box, line, pile, segment_pct, zone

T = thresholds()
ZONE = zone(10.0, 2.5, 80.0)
DEEP = Figure(1.0, "drawn")


def changes(*works):
    return plan_changes((0.0, 0.0), ZONE, near_works((0.0, 0.0), 10.0, works), None, None, T)


def level(*works):
    return judge_roots(root_losses((0.0, 0.0), ZONE, works).proposed, ZONE, None, None, T)


def test_a_trench_is_bored_moved_or_left_out() -> None:
    trench = line("W1", "trench", (3.0, -60), (3.0, 60), depth_m=DEEP)
    assert level(trench) == "redesign"
    found = {c.way: c for c in changes(trench)}
    assert set(found) == {"bored", "moved", "left_out"}
    assert found["bored"].level == found["left_out"].level == "keep"
    # Closed form: 25 % (no tolerance known) is the segment at 0.404 radii; 4.04 - 3 = 1.04 m.
    assert segment_pct(0.4040) == pytest.approx(25.0, abs=0.005)
    shift = found["moved"].shift_m
    assert shift == pytest.approx(1.05)
    assert found["moved"].level == "keep_if"
    assert level(moved(trench, shift, 0.0)) == "keep_if"
    assert level(moved(trench, shift - 0.06, 0.0)) == "redesign"


def test_a_rain_garden_is_not_offered_to_be_bored() -> None:
    for width, offered in ((1.0, True), (1.01, False)):
        wide = line("W1", "trench", (3.0, -60), (3.0, 60), depth_m=DEEP, width_m=width)
        assert ("bored" in {c.way for c in changes(wide)}) == offered
    dug = box("W2", "trench", (3.0, -60), (3.5, 60), depth_m=DEEP)
    assert {c.way for c in changes(dug)} == {"moved", "left_out"}


def test_a_building_on_strips_may_stand_on_piles() -> None:
    house = box("B1", "building", (3.0, -9.0), (20.0, 9.0), depth_m=DEEP)
    found = {c.way: c.level for c in changes(house)}
    assert found["on_piles"] == "keep"
    assert level(replace(house, founded="piles")) == "keep"


def test_a_row_of_piles_changes_together() -> None:
    row = [pile(f"P{i}", (3.2, -6.0 + 0.8 * i), diameter=0.6, made="bored") for i in range(16)]
    found = {c.way: c for c in changes(*row)}
    assert found["by_hand"].works == tuple(f"P{i}" for i in range(16))
    assert found["by_hand"].level == level(*(replace(p, made="hand") for p in row)) == "keep"


def test_two_trenches_need_both_changes() -> None:
    two = [
        line(f"W{i}", "trench", (x, -60), (x, 60), depth_m=DEEP) for i, x in ((1, 3.0), (2, -3.0))
    ]
    (only,) = changes(*two)
    assert only.way == "together"
    assert only.level == "keep"
    assert only.works == ("W1", "W2")


def test_existing_works_are_never_changed() -> None:
    old = line("W0", "trench", (3.0, -60), (3.0, 60), depth_m=DEEP, phase="existing")
    assert changes(old, pile("P1", (-6.0, 0.0), made="bored")) == ()
