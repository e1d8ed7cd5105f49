"""New plantings: published survival, hand-computed sizes, what must hold."""

import numpy as np
import pytest

from bolewalk.trees.establishment import (
    project_planting,
    ready_years,
    stock_sizes,
    survival_share,
)


def test_survival():
    # Sacramento study of trees given to householders: 71 % of planted alive after five years.
    assert survival_share(5.0) == pytest.approx(0.71)
    assert survival_share(0.0) == 1
    assert survival_share(15.0) == pytest.approx(0.71)  # no further loss counted
    # By hand: 90 % in five years is 0.9^(1/5) = 0.9791 a year.
    assert survival_share(1.0, five_year_share=0.9) == pytest.approx(0.9791, abs=5e-5)


def test_gap_fill_example():
    # Three trees, mature crown 25 ft, 71 % survival, k = 0.10 a year: 160, 420, 630 ft2.
    t = np.array([5.0, 10.0, 15.0])
    crown = np.pi / 4 * (25 * (1 - np.exp(-0.1 * t))) ** 2
    assert 3 * crown * survival_share(t) == pytest.approx([160, 420, 630], abs=4)


def test_stock_of_the_street_tree_list():
    # San Bernardino street tree list: 15 gal 0.75 in, 24-in box 1.5 in, 36-in box 2.5 in.
    calipers = {name: s.caliper_cm / 2.54 for name, s in stock_sizes().items()}
    assert calipers["15 gal"] == pytest.approx(0.75)
    assert calipers["24-in box"] == pytest.approx(1.5)
    assert calipers["36-in box"] == pytest.approx(2.5)


def test_size_follows_the_equation_after_establishment():
    # Stock larger than the equation's smallest tree (4.45 cm).
    # By hand: 6.35 cm solves 3.18134 + 1.27341 x - 0.00314 x^2 at x = 2.5050; established
    # after 2.5 years, so at year 10 its age on the curve is 10.0050: 15.608 cm.
    p = project_planting("Quercus agrifolia", "Inland Empire", years=10, stock="36-in box")
    assert p.lag_years == pytest.approx(2.5)
    assert p.trunk_cm[0] == p.trunk_cm[2] == pytest.approx(6.35)
    assert p.trunk_cm[10] == pytest.approx(15.608, abs=0.002)
    assert p.alive_share[5] == pytest.approx(0.71)


def test_large_stock_loses_its_lead():
    # Small stock commonly catches up within a few years: the gap narrows.
    small = project_planting("Quercus agrifolia", "Inland Empire", years=12, stock="15 gal")
    large = project_planting("Quercus agrifolia", "Inland Empire", years=12, stock="36-in box")
    gap = large.trunk_cm - small.trunk_cm
    assert gap[0] > 4
    assert gap[12] < gap[0] / 2


def test_year_a_successor_is_ready():
    p = project_planting("Platanus racemosa", "Claremont", years=30)
    fast, likely, slow = ready_years(p, height_m=9)
    assert fast < likely < slow
    assert p.height_m[likely] >= 9 > p.height_m[likely - 1]
    both = ready_years(p, height_m=9, crown_radius_m=5)[1]
    assert both == max(likely, ready_years(p, crown_radius_m=5)[1])
    assert ready_years(p, height_m=99) == (None, None, None)
    with pytest.raises(ValueError, match="height or a crown radius"):
        ready_years(p)


@pytest.mark.parametrize("stock", sorted(stock_sizes()))
@pytest.mark.parametrize(
    ("species", "region"),
    [("Quercus agrifolia", "Claremont"), ("Washingtonia robusta", "Claremont"),
     ("Platanus racemosa", "Berkeley"), ("Acer rubrum", "Charlotte")],
)  # fmt: skip
def test_what_must_hold(species, region, stock):
    p = project_planting(species, region, years=30, stock=stock)
    for mid, low, high in (
        (p.trunk_cm, p.trunk_low_cm, p.trunk_high_cm),
        (p.height_m, p.height_low_m, p.height_high_m),
        (p.crown_radius_m, p.crown_radius_low_m, p.crown_radius_high_m),
    ):
        assert len(mid) == 31
        for y in (mid, low, high):
            assert np.all(np.diff(y) >= -1e-12)
        assert np.all((low <= mid + 1e-9) & (mid <= high + 1e-9))
    plant = stock_sizes()[stock]
    assert p.trunk_cm[0] == pytest.approx(plant.caliper_cm)
    assert p.height_m[0] == pytest.approx(plant.height_m)
    assert p.crown_radius_m[0] == pytest.approx(plant.spread_m / 2)
    assert np.all(np.diff(p.alive_share) <= 0)


@pytest.mark.parametrize(
    ("kw", "hint"),
    [
        ({"stock": "barge"}, "15 gal"),
        ({"years": 300}, "between 0 and 200"),
        ({"lag_years": -1.0}, "lag_years"),
        ({"five_year_share": 1.2}, "between 0 and 1"),
    ],
)
def test_errors_say_what_to_do(kw, hint):
    with pytest.raises(ValueError, match=hint):
        project_planting("Quercus agrifolia", "Inland Empire", **{"years": 5, **kw})
    with pytest.raises(ValueError, match="years"):
        survival_share(-1.0)
