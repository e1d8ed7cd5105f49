"""Bands and notes of projections, worked out again from the printed coefficients.

Coast live oak in the Inland Empire, U.S. urban tree growth equations (table TS6): trunk of age
3.18134 + 1.27341 x - 0.00314 x^2, height of trunk 2.92172 + 0.22352 d - 0.00096 d^2; the printed
mean squared errors and weights are read from the table, the arithmetic is done here again.
"""

import math

import numpy as np
import pytest

from bolewalk.trees.equations import curves
from bolewalk.trees.growth import crown_growth_m, grow_many, growth_error, project
from bolewalk.trees.standins import find_growth

CURVES = curves()
E = CURVES.equations
DEVIATIONS, LEAST, END_SHARE = 1.2816, 0.10, 0.2  # growth_settings.csv, ours


def trunk_at(x):
    return 3.18134 + 1.27341 * x - 0.00314 * x * x


def height_at(d):
    return 2.92172 + 0.22352 * d - 0.00096 * d * d


def oak(**kw):
    return project("Quercus agrifolia", "Inland Empire", **kw)


def rows():
    return find_growth("Quercus agrifolia", "Inland Empire").growth.rows


def printed_error(row, x, value):
    return math.sqrt(E.mse[row] * x ** E.weight_power[row]) / value


def error_by_hand(name):
    """One deviation half way through the published ages; the trunk's is carried on."""
    r = rows()
    ages = r["age_of_trunk"]
    middle = (E.low[ages] + E.high[ages]) / 2
    d = trunk_at(middle)
    of_trunk = printed_error(r["trunk_of_age"], middle, d)
    if name == "trunk_of_age":
        return max(LEAST, of_trunk)
    return max(LEAST, math.hypot(of_trunk, printed_error(r["height"], d, height_at(d))))


@pytest.mark.parametrize("name", ["trunk_of_age", "height"])
def test_the_error_is_the_published_one_half_way(name):
    found = find_growth("Quercus agrifolia", "Inland Empire")
    assert growth_error(found, name) == pytest.approx(error_by_hand(name), rel=1e-6)
    assert growth_error(found, name) > LEAST


def test_the_band_is_on_the_growth_alone():
    p = oak(years=10, trunk_cm=30, height_m=9, crown_radius_m=4)
    half = DEVIATIONS * error_by_hand("trunk_of_age")
    grown = trunk_at(22.285096 + 10) - 30
    assert p.trunk_low_cm[10] == pytest.approx(30 + grown * (1 - half), abs=1e-3)
    assert p.trunk_high_cm[10] == pytest.approx(30 + grown * (1 + half), abs=1e-3)
    half = DEVIATIONS * error_by_hand("height")
    grown = 9 * height_at(trunk_at(32.285096)) / height_at(30) - 9
    assert p.height_low_m[10] == pytest.approx(9 + grown * (1 - half), abs=1e-3)
    assert p.height_high_m[10] == pytest.approx(9 + grown * (1 + half), abs=1e-3)
    found = find_growth("Quercus agrifolia", "Inland Empire")
    half = DEVIATIONS * growth_error(found, "crown_diameter")
    grown = p.crown_radius_m[10] - 4
    assert p.crown_radius_high_m[10] == pytest.approx(4 + grown * (1 + half))
    assert p.crown_radius_low_m[10] == pytest.approx(4 + grown * max(0.0, 1 - half))


def test_another_region_s_figures_make_the_band_wider():
    here, there = (
        project("Quercus agrifolia", region, years=10, trunk_cm=30)
        for region in ("Inland Empire", "Santa Monica")
    )
    spread = [p.trunk_high_cm[10] - p.trunk_cm[10] for p in (here, there)]
    assert there.trunk_cm[10] == here.trunk_cm[10]
    assert spread[1] == pytest.approx(1.5 * spread[0])  # widen_region


def test_past_the_published_ages_only_the_upper_line_goes_on():
    r = rows()
    last = E.high[r["age_of_trunk"]]
    first = E.low[r["age_of_trunk"]]
    p = oak(years=200, trunk_cm=30)
    span = END_SHARE * (last - first)
    top = min(trunk_at(last), E.high[r["trunk_of_age"]])
    rate = (top - trunk_at(last - span)) / span
    past = 22.285096 + 200 - last
    half = DEVIATIONS * error_by_hand("trunk_of_age")
    assert p.trunk_cm[-1] == pytest.approx(top, abs=1e-3)
    assert p.trunk_high_cm[-1] == pytest.approx(
        30 + (top - 30) * (1 + half) + past * rate, abs=0.01
    )
    assert p.trunk_low_cm[-1] == pytest.approx(30 + (top - 30) * (1 - half), abs=1e-3)
    assert "past_published_age" in p.notes


def test_without_a_trunk_the_height_tells_it():
    p = oak(years=10, height_m=height_at(30))
    whole = oak(years=10, trunk_cm=30, height_m=height_at(30))
    assert p.start_age_years == pytest.approx(22.285, abs=1e-3)
    assert p.height_m == pytest.approx(whole.height_m, rel=1e-6)
    assert len(p.trunk_cm) == 11
    assert p.trunk_cm == pytest.approx(whole.trunk_cm, rel=1e-6)
    assert p.notes == ("trunk_from_height", "crown_from_equation")


@pytest.mark.parametrize(
    ("kw", "notes"),
    [
        ({"trunk_cm": 30, "height_m": 9, "crown_radius_m": 4}, ()),
        ({"trunk_cm": 30, "crown_radius_m": 4}, ("height_from_equation",)),
        ({"trunk_cm": 30, "height_m": 9}, ("crown_from_equation",)),
        ({"trunk_cm": 30}, ("height_from_equation", "crown_from_equation")),
    ],
)
def test_what_was_not_measured_is_named(kw, notes):
    p = oak(years=5, **kw)
    assert p.notes == notes
    assert p.source == find_growth("Quercus agrifolia", "Inland Empire").source
    assert p.source


def test_a_crown_of_the_published_largest_size_is_held_there():
    r = rows()
    largest = E.high[r["crown_diameter"]] / 2
    p = oak(years=5, trunk_cm=30, height_m=9, crown_radius_m=largest + 1)
    assert np.all(p.crown_radius_m == largest + 1)
    assert "held_at_published_size" in p.notes
    today = oak(years=0, trunk_cm=30, height_m=9, crown_radius_m=largest + 1)
    assert "held_at_published_size" not in today.notes  # nothing is held on the day itself


def test_the_bounds_of_years_belong_to_them():
    assert len(oak(years=0, trunk_cm=30).trunk_cm) == 1
    assert len(oak(years=200, trunk_cm=30).trunk_cm) == 201
    with pytest.raises(ValueError, match="between 0 and 200"):
        oak(years=201, trunk_cm=30)


def test_a_tree_of_the_published_largest_size_is_not_over_it():
    top = float(E.high[rows()["trunk_of_age"]])
    assert "over_published_size" not in oak(years=1, trunk_cm=top).notes
    assert "over_published_size" in oak(years=1, trunk_cm=top + 0.1).notes


def test_a_kind_told_stands_in_for_an_unknown_plant():
    kind = find_growth("Ginkgoites huttonii", "Inland Empire", tree_type="BDM")
    p = project("Ginkgoites huttonii", "Inland Empire", years=5, trunk_cm=20, tree_type="BDM")
    assert p.stand_in == kind.stand_in
    g = crown_growth_m("Ginkgoites huttonii", "Inland Empire", 20, None, 5, tree_type="BDM")
    assert g.growth_m[-1] > 0
    assert (g.source, g.stand_in) == (p.source, p.stand_in)
    assert crown_growth_m("Ginkgoites huttonii", "Inland Empire", 20, None, 5) is None


def test_crown_growth_carries_the_band():
    g = crown_growth_m("Quercus agrifolia", "Inland Empire", 30, 4, 10)
    p = oak(years=10, trunk_cm=30, crown_radius_m=4)
    assert g.low_m == pytest.approx(p.crown_radius_low_m - 4)
    assert g.high_m == pytest.approx(p.crown_radius_high_m - 4)
    assert g.low_m[10] < g.growth_m[10] < g.high_m[10]


def test_a_palm_keeps_its_trunk_and_grows_by_the_printed_height():
    # Santa Monica fan palm: height of age as in test_growth; crown of height times what was
    # measured over what the print gives.
    def h(a):
        return -0.163 + 0.783 * a + 0.00079 * a**2 - 0.00015 * a**3 + 9.06e-7 * a**4

    def crown(v):
        return 0.09678 + 0.411 * v - 0.00834 * v**2

    small = 0.9 * crown(h(8)) / 2
    p = project(
        "Washingtonia robusta", "Santa Monica", years=10, height_m=h(8), crown_radius_m=small
    )
    assert p.crown_radius_m[10] == pytest.approx(0.9 * crown(h(18)) / 2, rel=1e-6)
    assert np.all(np.isnan(p.trunk_cm))
    assert p.notes[0] == "palm_trunk_constant"
    # A palm twice as tall as the curve at its age is none: the curve is entered by its height.
    grown = grow_many(
        [find_growth("Washingtonia robusta", "Santa Monica")], 0, years=[0, 10], trunk_cm=35,
        height_m=[h(8), h(8)],
    )  # fmt: skip
    assert grown.start_age_years == pytest.approx([8, 8], abs=1e-6)
    lost = grow_many(
        [find_growth("Washingtonia robusta", "Santa Monica")], 0, years=10, trunk_cm=35
    )
    assert np.isnan([lost.height_m, lost.crown_radius_m, lost.start_age_years]).all()
    assert lost.trunk_cm == 35
