"""Holding a size: hand calculations on the published curves, and what must be said."""

import pytest

from bolewalk.trees.growth import project
from bolewalk.trees.holding import hold_at

OAK = {"trunk_cm": 30, "height_m": 9, "crown_radius_m": 4}


def hold(**kw):
    return hold_at(
        "Quercus agrifolia", "Inland Empire",
        **{"what": "crown radius", "limit_m": 4.5, **OAK} | kw,
    )  # fmt: skip


def test_a_quarter_of_the_foliage_lets_the_size_back_by_nine_percent():
    # By hand: 0.75^(1/3) = 0.9086.
    h = hold()
    assert h.cut_back_to_m == pytest.approx(4.5 * 0.9086, abs=1e-3)
    assert h.foliage_pct == 25
    assert h.holdable


def test_interval_is_the_forecasts_own_time_between_the_two_sizes():
    h = hold()
    p = project("Quercus agrifolia", "Inland Empire", years=20, **OAK)

    # By hand on the forecast: years where it passes 4.5 m and 4.0887 m.
    def year(size):
        i = next(i for i, v in enumerate(p.crown_radius_m) if v >= size)
        before, after = p.crown_radius_m[i - 1], p.crown_radius_m[i]
        return i - 1 + (size - before) / (after - before)

    assert h.years_until_limit == pytest.approx(year(4.5))
    assert h.interval_years == pytest.approx(year(4.5) - year(h.cut_back_to_m))
    assert h.interval_low_years < h.interval_years < h.interval_high_years


def test_larger_dose_means_longer_interval():
    assert hold(dose_pct=10).interval_years < hold().interval_years


def test_over_the_limit_already():
    h = hold(limit_m=3.8)
    assert h.years_until_limit == 0
    assert h.holdable  # 4 m drawn in to 3.63 m
    far = hold(limit_m=2.0)
    assert not far.holdable
    assert far.interval_years is None
    assert any("in stages" in c.text for c in far.cautions)


def test_never_reached():
    h = hold(limit_m=30)
    assert h.years_until_limit is None
    assert h.interval_years is None


def test_height_is_drawn_in_above_the_crown_base():
    # By hand: base 2 m, limit 10 m: 2 + 8 * 0.9086 = 9.268 m.
    h = hold(what="height", limit_m=10, crown_base_m=2)
    assert h.cut_back_to_m == pytest.approx(9.268, abs=1e-3)
    assert any("topping" in c.text for c in h.cautions)


def test_what_is_not_good_practice_is_said():
    palm = hold_at(
        "Washingtonia robusta", "Santa Monica", what="height", limit_m=12, trunk_cm=35,
        height_m=8, crown_radius_m=1.3,
    )  # fmt: skip
    assert any("cannot be held" in c.text for c in palm.cautions)
    pine = hold_at(
        "Pinus radiata", "Berkeley", what="crown radius", limit_m=5, trunk_cm=40, height_m=14,
        crown_radius_m=4.5,
    )  # fmt: skip
    assert any("bare wood" in c.text for c in pine.cautions)
    redwood = hold_at(
        "Sequoia sempervirens", "Berkeley", what="crown radius", limit_m=5, trunk_cm=40,
        height_m=14, crown_radius_m=4.5,
    )  # fmt: skip
    assert not any("bare wood" in c.text for c in redwood.cautions)
    assert hold(mature=False, limit_m=4.9).cautions == ()


def test_nothing_is_told_of_unknown_plants():
    assert hold_at("Ginkgoites huttonii", "Berkeley", what="height", limit_m=9, **OAK) is None


@pytest.mark.parametrize(
    ("kw", "hint"),
    [
        ({"what": "leaves"}, "crown radius"),
        ({"limit_m": 0}, "limit_m"),
        ({"dose_pct": 100}, "dose_pct"),
        ({"crown_base_m": 9}, "below the top"),
    ],
)
def test_errors_say_what_to_do(kw, hint):
    with pytest.raises(ValueError, match=hint):
        hold(**kw)
