"""Fire spacing: published figures and the worked slope of the trade's own example."""

import math

import pytest

from bolewalk.model.units import M_PER_FT as FT
from bolewalk.planting.fire import (
    bare_zone_m,
    casual_grid_count,
    fire_spacing,
    first_count,
    ground_length_m,
    least_branch_m,
    plan_area_m2,
    shrub_gap_m,
    slope_band,
    tree_gap_m,
)

BANK_M2 = 2400 * FT**2


def bank(slope_pct, **kw):
    return fire_spacing(BANK_M2, height_m=3 * FT, width_m=5 * FT, slope_pct=slope_pct, **kw)


def rows(found, basis):
    return [r for r in found.rows if r.basis == basis]


def test_lowest_branch_over_a_shrub():
    # Paso Robles: 15 ft clear above a 5 ft shrub, so the lowest branch stands at 20 ft.
    assert least_branch_m(5 * FT) / FT == pytest.approx(20)


@pytest.mark.parametrize(
    ("size_ft", "slope_pct", "basis", "gap_ft"),
    [
        (4, 10, "shrub_height", 8),  # Napa: 4 ft brush on 10 %
        (3, 45, "shrub_height", 18),  # by hand: six times above 40 %
        (10, 15, "shrub_diameter", 30),  # Monrovia: 10 ft sumac
        (10, 60, "shrub_diameter", 30),  # and on any slope
        (3, 20, "shrub_height", 12),  # the bands overlap at 20 %: the wider gap
        (3, 40, "shrub_height", 18),  # and at 40 %
    ],
)
def test_shrub_gaps(size_ft, slope_pct, basis, gap_ft):
    gap = shrub_gap_m(size_ft * FT, slope_pct=slope_pct, basis=basis)
    assert gap / FT == pytest.approx(gap_ft)


@pytest.mark.parametrize(
    ("slope_pct", "gap_ft"),
    # UC Marin: 10, 20, 30 ft; Napa: 20 ft on 30 %; the bounds take the wider gap.
    [(0, 10), (19.99, 10), (20, 20), (30, 20), (39.99, 20), (40, 30), (75, 30)],
)
def test_tree_gaps(slope_pct, gap_ft):
    assert tree_gap_m(slope_pct) / FT == pytest.approx(gap_ft)


def test_the_worked_bank():
    # The trade's worked example: 9 shrubs by height, 4 by width, 5 by height above 40 %,
    # 20 ft in plan is 21.4 ft on the tape, 2,400 sq ft on the ground 2,243 in plan.
    found = bank(38, read_by="phone")
    here, steeper = rows(found, "shrub_height")
    assert here.centres_m / FT == pytest.approx(17)
    assert here.plants_count == 9
    assert steeper.centres_m / FT == pytest.approx(23)
    assert steeper.plants_count == 5
    assert rows(found, "shrub_width")[0].plants_count == 4
    assert rows(found, "shrub_width")[0].centres_m / FT == pytest.approx(25)
    assert found.tree_gap_across_m / FT == pytest.approx(30)
    assert found.flips
    assert round(found.plan_m2 / FT**2) == 2243
    assert round(ground_length_m(20, slope_pct=38), 1) == 21.4
    assert casual_grid_count(BANK_M2) == (67, 77)
    assert bare_zone_m() / FT == pytest.approx(5)
    assert any(s.code == "planting.slope_flips" for s in found.statements)


@pytest.mark.parametrize(
    ("slope_pct", "error_pct", "flips"),
    [
        (30, 3, False),  # far from both bounds
        (37, 3, True),  # 40 lies just within the reading's error
        (36.9, 3, False),
        (40, 3, False),  # exactly on it the wider gap already counts
        (41, 3, True),  # below it the narrower gap would do
        (38, 0, False),  # a surveyed slope
    ],
)
def test_only_a_reading_near_a_bound_is_flagged(slope_pct, error_pct, flips):
    assert bank(slope_pct, error_pct=error_pct).flips is flips


def test_counts_do_not_trip_over_feet_in_metres():
    assert first_count(289 * FT**2, 17 * FT) == 1
    assert first_count(290 * FT**2, 17 * FT) == 2
    assert first_count(0, 17 * FT) == 0


def test_bad_slopes_are_refused():
    with pytest.raises(ValueError, match=r"slope_pct is -1"):
        slope_band(-1)
    with pytest.raises(ValueError, match="nan"):
        plan_area_m2(1, slope_pct=math.nan)
