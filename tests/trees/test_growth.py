"""Projections: published sizes, limits, and what must hold for any tree."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bolewalk.reference.growth import growth_table
from bolewalk.reference.regions import find_region, region_names
from bolewalk.reference.settings import setting
from bolewalk.trees.equations import curves, evaluate, invert, printed_value
from bolewalk.trees.growth import crown_growth_m, grow_many, project
from bolewalk.trees.standins import find_growth

TABLE = growth_table()
CURVES = curves()
SETS = [s for s in TABLE.sets if not s.is_palm]
PALMS = [s for s in TABLE.sets if s.is_palm and CURVES.equations.x_kind[s.rows["height"]] == 0]


@pytest.mark.parametrize(
    ("region", "code", "trunk_cm", "height_m", "crown_m"),
    [
        # Published form and coefficients at 15 years, computed independently of this code.
        ("InlEmp", "QUAG", 21.6, 7.3, 6.3),
        ("NoCalC", "QUAG", 23.9, 8.1, 6.4),
        ("SacVal", "QUAG", 25.7, 7.9, 7.5),
        ("SacVal", "QULO", 25.0, 11.0, 8.0),
        ("InlEmp", "PLRA", 30.2, 13.7, 12.4),
        ("InlEmp", "JAMI", 28.3, 10.3, 8.8),
        ("SoCalC", "JAMI", 14.4, 5.1, 4.9),
        ("SacVal", "SESE", 39.3, 14.5, 5.8),
    ],
)
def test_size_at_fifteen_years(region, code, trunk_cm, height_m, crown_m):
    rows = TABLE.find(region, code).rows
    trunk = evaluate(CURVES, rows["trunk_of_age"], 15)
    assert float(trunk) == pytest.approx(trunk_cm, abs=0.06)
    assert float(evaluate(CURVES, rows["height"], trunk)) == pytest.approx(height_m, abs=0.06)
    crown = evaluate(CURVES, rows["crown_diameter"], trunk)
    assert float(crown) == pytest.approx(crown_m, abs=0.06)


def test_curves_are_the_running_maximum_of_the_print():
    # Independent: cumulative maximum of 1,001 points of each printed curve.
    row = np.flatnonzero(np.isfinite(CURVES.x_high))
    assert len(row) >= 2399
    x = np.linspace(CURVES.x_low[row], CURVES.x_high[row], 1001, axis=1)
    raw = printed_value(CURVES.equations, row[:, None], x)
    low, high = CURVES.equations.low[row, None], CURVES.equations.high[row, None]
    expected = np.clip(np.maximum.accumulate(raw, axis=1), low, high)
    got = evaluate(CURVES, row[:, None], x)
    assert np.all(np.diff(got, axis=1) >= 0)
    assert np.all(np.abs(got - expected) <= 2e-3 * np.maximum(1.0, expected[:, -1:]))
    assert np.sum(np.any(np.diff(raw, axis=1) < -1e-9, axis=1)) > 30


def test_input_is_clamped_to_its_published_limits():
    rows = TABLE.find("InlEmp", "QUAG").rows
    at = rows["trunk_of_age"]
    last = CURVES.x_high[at]
    assert evaluate(CURVES, at, last + 500) == evaluate(CURVES, at, last)
    assert evaluate(CURVES, at, 0.0) == evaluate(CURVES, at, CURVES.x_low[at])


def test_age_solved_from_a_trunk():
    # By hand: 3.18134 + 1.27341 x - 0.00314 x^2 = 30 at x = 22.285.
    at = TABLE.find("InlEmp", "QUAG").rows["trunk_of_age"]
    assert float(invert(CURVES, at, 30.0)) == pytest.approx(22.285, abs=0.001)


@pytest.mark.parametrize("share", [0.0, 0.1, 0.35, 0.7, 0.999])
def test_inverse_is_the_first_input_that_reaches_the_value(share):
    # Independent: no input a little smaller reaches it, the input itself does.
    row = np.flatnonzero(np.isfinite(CURVES.x_high) & np.isfinite(CURVES.equations.high))
    start = evaluate(CURVES, row, CURVES.x_low[row])
    top = evaluate(CURVES, row, CURVES.x_high[row])
    y = start + share * (top - start)
    x = invert(CURVES, row, y)
    assert evaluate(CURVES, row, x) == pytest.approx(y, rel=1e-6, abs=1e-6)
    step = 1e-6 * (CURVES.x_high[row] - CURVES.x_low[row])
    inside = x - step > CURVES.x_low[row]
    assert np.all(evaluate(CURVES, row[inside], (x - step)[inside]) < y[inside])


@settings(max_examples=150, deadline=None)
@given(
    index=st.integers(0, len(SETS) - 1), share=st.floats(0.01, 1.3), tall=st.floats(0.3, 2.0),
    wide=st.floats(0.3, 2.0), years=st.integers(0, 60),
)  # fmt: skip
def test_any_projection_is_monotone_bounded_and_passes_through_the_measurement(
    index, share, tall, wide, years
):
    s = SETS[index]
    e = CURVES.equations
    trunk = share * e.high[s.rows["trunk_of_age"]]
    d0 = evaluate(CURVES, s.rows["trunk_of_age"], invert(CURVES, s.rows["trunk_of_age"], trunk))
    height = tall * max(0.2, float(evaluate(CURVES, s.rows["height"], d0)))
    radius = wide * max(0.1, float(evaluate(CURVES, s.rows["crown_diameter"], d0)) / 2)
    source = find_growth(s.botanical, _region_name(s))
    if source.growth is not s:  # a cultivar beside its species
        return
    p = project(
        s.botanical, _region_name(s), years=years, trunk_cm=trunk, height_m=height,
        crown_radius_m=radius,
    )  # fmt: skip
    for value, low, high, start, limit in (
        (p.trunk_cm, p.trunk_low_cm, p.trunk_high_cm, trunk, e.high[s.rows["trunk_of_age"]]),
        (p.height_m, p.height_low_m, p.height_high_m, height, e.high[s.rows["height"]]),
        (p.crown_radius_m, p.crown_radius_low_m, p.crown_radius_high_m, radius,
         e.high[s.rows["crown_diameter"]] / 2),
    ):  # fmt: skip
        assert len(value) == years + 1
        assert value[0] == start == low[0] == high[0]
        assert np.all(np.diff(value) >= 0)
        assert np.all(np.diff(low) >= -1e-12)
        assert np.all(np.diff(high) >= -1e-12)
        assert np.all((low <= value + 1e-9) & (value <= high + 1e-9))
        assert value[-1] <= max(start, limit)
        if high[-1] > max(start, limit):
            assert "upper_line_past_published_size" in p.notes


def _region_name(s):
    from bolewalk.reference.regions import region_by_code

    return region_by_code(s.region).name


def test_year_five_does_not_depend_on_the_horizon():
    kw = {"trunk_cm": 30, "height_m": 9, "crown_radius_m": 4}
    short = project("Quercus agrifolia", "Inland Empire", years=5, **kw)
    long = project("Quercus agrifolia", "Inland Empire", years=40, **kw)
    for name in ("trunk_cm", "height_high_m", "crown_radius_low_m"):
        assert getattr(short, name)[5] == getattr(long, name)[5]


def test_scaling_keeps_the_trees_own_proportion():
    # By hand: 30 cm oak of 22.285 years; ten years on the curve 41.116 / 30; height 9 m scaled by
    # (2.92172 + .22352 d - .00096 d^2) at 41.021 over the same at 30.
    p = project(
        "Quercus agrifolia", "Inland Empire", years=10, trunk_cm=30, height_m=9, crown_radius_m=4
    )
    x = 22.285096 + 10
    d = 3.18134 + 1.27341 * x - 0.00314 * x * x

    def h(v):
        return 2.92172 + 0.22352 * v - 0.00096 * v * v

    assert p.trunk_cm[10] == pytest.approx(d, abs=1e-4)
    assert p.height_m[10] == pytest.approx(9 * h(d) / h(30), abs=1e-4)


def test_a_sapling_keeps_its_own_proportion_too():
    # By hand: a crown radius of 0.42 m by the curve; one 1.3 times as wide stays 1.3 times it.
    rows = TABLE.find("InlEmp", "GIBI").rows
    trunk = evaluate(CURVES, rows["trunk_of_age"], np.arange(1.0, 7.0))
    crown = evaluate(CURVES, rows["crown_diameter"], trunk) / 2
    assert crown[0] == pytest.approx(0.42, abs=0.005)
    p = project(
        "Ginkgo biloba", "Inland Empire", years=5, trunk_cm=float(trunk[0]),
        crown_radius_m=1.3 * float(crown[0]),
    )  # fmt: skip
    assert p.start_age_years == pytest.approx(1.0)  # first of the published ages
    assert p.crown_radius_m == pytest.approx(1.3 * crown, rel=1e-9)
    assert p.trunk_cm == pytest.approx(trunk, rel=1e-9)


def test_today_is_what_was_measured_to_the_last_bit():
    oak = find_growth("Quercus agrifolia", "Inland Empire")
    rng = np.random.default_rng(4)
    trunk, height, crown = rng.uniform((5, 3, 1), (70, 15, 7), (500, 3)).T
    today = grow_many([oak], 0, years=0, trunk_cm=trunk, height_m=height, crown_radius_m=crown)
    assert (today.trunk_cm == trunk).all()
    assert (today.height_m == height).all()
    assert (today.crown_radius_m == crown).all()


def test_a_palm_told_by_height_alone_has_a_line_for_every_year():
    p = project("Washingtonia robusta", "Santa Monica", years=7, height_m=6)
    for line in (p.trunk_cm, p.trunk_low_cm, p.trunk_high_cm):
        assert len(line) == 8
        assert np.isnan(line).all()
    assert len(p.height_m) == len(p.crown_radius_m) == 8
    assert p.height_m[0] == 6


@pytest.mark.parametrize(("years", "held"), [(1, False), (2, True), (3, True)])
def test_a_height_held_at_the_published_size_is_said_from_that_year_on(years, held):
    # By hand: scaled along the curve, a height just past top * h(0) / h(2) meets the top in year 2.
    rows = TABLE.find("InlEmp", "QUAG").rows
    trunk = project("Quercus agrifolia", "Inland Empire", years=2, trunk_cm=30).trunk_cm
    h = evaluate(CURVES, rows["height"], trunk)
    top = CURVES.equations.high[rows["height"]]
    p = project("Quercus agrifolia", "Inland Empire", years=years, trunk_cm=30,
                height_m=1.0001 * top * h[0] / h[2], crown_radius_m=2)  # fmt: skip
    assert (p.height_m[-1] == top) == held
    assert ("held_at_published_size" in p.notes) == held


def test_notes_of_one_year_and_of_today():
    # By hand: a height just past top * h(0) / h(1) meets the top in the first year.
    rows = TABLE.find("InlEmp", "QUAG").rows
    trunk = project("Quercus agrifolia", "Inland Empire", years=1, trunk_cm=30).trunk_cm
    h = evaluate(CURVES, rows["height"], trunk)
    top = CURVES.equations.high[rows["height"]]
    tall = {"trunk_cm": 30, "height_m": 1.0001 * top * h[0] / h[1], "crown_radius_m": 2}
    p = project("Quercus agrifolia", "Inland Empire", years=1, **tall)
    assert "held_at_published_size" in p.notes
    old = project("Quercus agrifolia", "Inland Empire", years=0, trunk_cm=200, height_m=40,
                  crown_radius_m=20)  # fmt: skip
    assert old.notes == ("over_published_size",)


@pytest.mark.parametrize(("off", "past"), [(-0.25, False), (0.25, True)])
def test_years_past_the_published_ages_are_said(off, past):
    # By hand: ten years ahead end a quarter of a year before or after the last published age.
    rows = TABLE.find("InlEmp", "QUAG").rows
    age = CURVES.x_high[rows["trunk_of_age"]] - 10 + off
    trunk = float(evaluate(CURVES, rows["trunk_of_age"], age))
    p = project("Quercus agrifolia", "Inland Empire", years=10, trunk_cm=trunk)
    assert p.start_age_years == pytest.approx(age, abs=1e-6)
    assert ("past_published_age" in p.notes) == past


def test_a_tree_past_the_published_ages_may_still_grow_from_the_first_year():
    # The curve has ended, its last rate has not: the upper line rises by as much every year, the
    # first year by what lies beyond the age at which the curve meets its top.
    p = project("Quercus agrifolia", "Inland Empire", years=4, trunk_cm=200)
    assert (p.trunk_cm == 200).all()
    rise = np.diff(p.trunk_high_cm)
    rows = TABLE.find("InlEmp", "QUAG").rows
    first = p.start_age_years + 1 - CURVES.x_high[rows["trunk_of_age"]]
    assert 0.9 < first < 1
    assert rise == pytest.approx(rise[-1] * np.array([first, 1, 1, 1]))
    assert rise[-1] > 0


def test_each_size_past_the_published_ages_rises_at_its_own_last_rate():
    # By hand: the mean yearly growth of the curves over the last fifth of the published ages.
    rows = TABLE.find("InlEmp", "GIBI").rows
    last, first = (float(x[rows["trunk_of_age"]]) for x in (CURVES.x_high, CURVES.x_low))
    span = setting("growth_settings.csv", "end_share") * (last - first)
    trunk = evaluate(CURVES, rows["trunk_of_age"], np.array([last - span, last]))
    height = evaluate(CURVES, rows["height"], trunk)
    radius = evaluate(CURVES, rows["crown_diameter"], trunk) / 2
    p = project("Ginkgo biloba", "Inland Empire", years=6, trunk_cm=200, height_m=40,
                crown_radius_m=20)  # fmt: skip
    for high, ends in ((p.trunk_high_cm, trunk), (p.height_high_m, height),
                       (p.crown_radius_high_m, radius)):  # fmt: skip
        assert ends[1] > ends[0]
        assert np.diff(high)[2:] == pytest.approx((ends[1] - ends[0]) / span)


def test_a_palms_band_is_of_its_height_not_of_its_trunk():
    # Palms do not thicken: 35 cm stays 35 cm in every year, past the published ages too.
    p = project("Washingtonia robusta", "Santa Monica", years=120, height_m=6, trunk_cm=35)
    assert "past_published_age" in p.notes
    assert (p.trunk_low_cm == 35).all()
    assert (p.trunk_high_cm == 35).all()
    assert (p.height_low_m[1:40] < p.height_m[1:40]).all()
    assert (p.height_high_m[1:] > p.height_m[1:]).all()
    assert p.crown_radius_high_m[20] > p.crown_radius_m[20] > p.crown_radius_low_m[20]


def test_of_a_tree_measured_in_full_and_today_there_is_nothing_to_note():
    p = project("Quercus agrifolia", "Inland Empire", years=0, trunk_cm=30, height_m=9,
                crown_radius_m=4)  # fmt: skip
    assert p.notes == ()


def test_oversize_tree_stays_and_says_so():
    p = project("Quercus agrifolia", "Inland Empire", years=20, trunk_cm=150)
    assert np.all(p.trunk_cm == 150)
    assert "over_published_size" in p.notes
    assert "past_published_age" in p.notes
    assert p.trunk_high_cm[-1] > 150


def test_palms_grow_by_height():
    # By hand: Santa Monica fan palm -0.163 + 0.783 a + 0.00079 a^2 - 0.00015 a^3 + 9.06e-7 a^4
    # gives 12.69 m at 18 years; crown diameter 0.09678 + 0.411 h - 0.00834 h^2.
    def h(a):
        return -0.163 + 0.783 * a + 0.00079 * a**2 - 0.00015 * a**3 + 9.06e-7 * a**4

    p = project("Washingtonia robusta", "Santa Monica", years=10, height_m=h(8), trunk_cm=35)
    assert p.start_age_years == pytest.approx(8, abs=1e-6)
    assert p.height_m[10] == pytest.approx(h(18), abs=1e-6)
    crown = 0.09678 + 0.411 * h(18) - 0.00834 * h(18) ** 2
    assert p.crown_radius_m[10] == pytest.approx(crown / 2, abs=1e-6)
    assert np.all(p.trunk_cm == 35)
    assert "palm_trunk_constant" in p.notes
    assert project("Washingtonia robusta", "Santa Monica", years=10, trunk_cm=35) is None


@pytest.mark.parametrize("s", PALMS, ids=lambda s: f"{s.region}-{s.code}")
def test_every_palm_reaches_its_published_height_and_no_more(s):
    row = s.rows["height"]
    high = CURVES.equations.high[row]
    reached = float(evaluate(CURVES, row, 500.0))
    assert reached <= high
    assert reached > 0.85 * high
    assert 5 < CURVES.x_high[row] <= 150


@pytest.mark.parametrize(
    ("species", "region", "how", "words"),
    [
        ("Quercus agrifolia", "Inland Empire", "species", ""),
        ("Quercus agrifolia", "Santa Monica", "region", "Inland Empire"),
        ("Quercus alba", "Sacramento Valley", "genus", "stands in"),
        ("Platanus × acerifolia 'Bloodgood'", "Berkeley", "species", ""),
        ("Ficus microcarpa", "Southern California Coast", "species", ""),
        ("Platanus racemosa", "Sacramento Valley", "region", "Claremont"),
    ],
)
def test_stand_ins_are_named(species, region, how, words):
    found = find_growth(species, region)
    assert found.how == how
    assert words in found.stand_in
    assert bool(found.stand_in) == (how != "species")
    assert found.widen > 1 or how == "species"


def test_nothing_speaks_for_an_unknown_plant_unless_its_kind_is_told():
    assert find_growth("Ginkgoites huttonii", "Inland Empire") is None
    assert project("Ginkgoites huttonii", "Inland Empire", years=5, trunk_cm=20) is None
    assert find_growth("Ginkgoites huttonii", "Inland Empire", tree_type="BDM").how == "kind"


def test_crown_growth_is_the_projection_less_today():
    g = crown_growth_m("Quercus agrifolia", "Santa Monica", 60, 6, 15)
    p = project("Quercus agrifolia", "Santa Monica", years=15, trunk_cm=60, crown_radius_m=6)
    assert g.growth_m == pytest.approx(p.crown_radius_m - 6)
    assert g.growth_m[0] == 0
    assert "Inland Empire" in g.stand_in


def test_many_trees_give_the_same_as_one():
    sources = [
        find_growth("Quercus agrifolia", "Inland Empire"),
        find_growth("Washingtonia robusta", "Santa Monica"),
        find_growth("Cedrus deodara", "Sacramento Valley"),
    ]
    grown = grow_many(
        sources, [0, 1, 2, 0], years=12, trunk_cm=[30, 35, 40, 60],
        height_m=[9, 6, np.nan, np.nan], crown_radius_m=[4, np.nan, 5, np.nan],
    )  # fmt: skip
    one = project("Cedrus deodara", "Sacramento Valley", years=12, trunk_cm=40, crown_radius_m=5)
    assert grown.trunk_cm[2] == one.trunk_cm[12]
    assert grown.height_m[2] == one.height_m[12]
    assert grown.crown_radius_m[2] == one.crown_radius_m[12]
    assert grown.trunk_cm[1] == 35
    palm = project("Washingtonia robusta", "Santa Monica", years=12, trunk_cm=35, height_m=6)
    assert grown.height_m[1] == palm.height_m[12]


def test_regions_by_name_and_city():
    assert len(region_names()) == 17
    assert find_region("Coastal Plain").city == "Charleston"
    assert find_region(" claremont, california ").name == "Inland Empire"
    assert find_region("InlEmp") is None
    with pytest.raises(ValueError, match="Inland Empire"):
        find_growth("Quercus agrifolia", "Atlantis")


@pytest.mark.parametrize(
    ("kw", "hint"),
    [
        ({"years": -1, "trunk_cm": 10}, "between 0 and 200"),
        ({"years": 5}, "trunk or the height"),
        ({"years": 5, "trunk_cm": 0}, "trunk_cm must be"),
        ({"years": 5, "trunk_cm": 10, "height_m": float("inf")}, "height_m must be"),
        ({"years": 5, "trunk_cm": 10, "crown_radius_m": -1.0}, "^crown_radius_m must be"),
    ],
)
def test_errors_say_what_to_do(kw, hint):
    with pytest.raises(ValueError, match=hint):
        project("Quercus agrifolia", "Inland Empire", **kw)


def test_many_trees_refuse_years_gone_by():
    oak = find_growth("Quercus agrifolia", "Inland Empire")
    with pytest.raises(ValueError, match=r"^years must be >= 0"):
        grow_many([oak], 0, years=[5, -1], trunk_cm=10)
