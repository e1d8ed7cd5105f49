"""Heights and crowns against printed examples and hand calculations."""

import math

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from bolewalk.trees.height import (
    crown_area_m2,
    crown_mean_width_m,
    height_percent,
    height_sine,
    height_tangent,
    live_crown_ratio_pct,
    plan_distance_m,
    plan_distance_on_slope_m,
    slenderness,
)

FT = 0.3048


def test_school_example():
    # Printed: 50 ft away, 17 degrees, eye at 5.5 ft: 15.3 + 5.5 = 20.8 ft.
    base = -math.degrees(math.atan(5.5 / 50))
    h = height_tangent(50 * FT, 17, base)
    assert h.height_m / FT == pytest.approx(20.8, abs=0.05)


def test_tangent_by_hand():
    # 66 ft, +40 and -5 degrees: 61.15 ft. 20 m, +35 and -5: 15.75 m; base 5 above: 12.25 m.
    assert height_tangent(66 * FT, 40, -5).height_m / FT == pytest.approx(61.15, abs=0.005)
    assert height_tangent(20, 35, -5).height_m == pytest.approx(15.75, abs=0.005)
    assert height_tangent(20, 35, 5).height_m == pytest.approx(12.25, abs=0.005)


def test_error_of_the_top_angle():
    # By hand, D sec^2(a) da: half a degree at 40 degrees and 66 ft 0.98 ft, at 70 degrees 4.92 ft;
    # one degree at 35 degrees and 20 m 0.52 m. The base adds D sec^2(b) da.
    def top_only(d, top, base, error):
        h = height_tangent(d, top, base, angle_error_deg=error)
        base_part = d / math.cos(math.radians(base)) ** 2 * math.radians(error)
        assert h.largest_error == "top angle"
        return math.sqrt(h.error_m**2 - base_part**2)

    assert top_only(66 * FT, 40, -5, 0.5) / FT == pytest.approx(0.98, abs=0.005)
    assert top_only(66 * FT, 70, -5, 0.5) / FT == pytest.approx(4.92, abs=0.005)
    assert top_only(20, 35, -5, 1) == pytest.approx(0.52, abs=0.005)


def test_error_of_the_distance():
    # By hand: dH = (tan 40 + tan 5) dD = 0.9266 for 1.
    h = height_tangent(20, 40, -5, distance_error_m=1)
    assert h.error_m == pytest.approx(0.9266, abs=5e-4)
    assert h.largest_error == "distance"
    assert h.high_m - h.low_m == pytest.approx(2 * h.error_m)


def test_error_formula_against_finite_differences():
    d, top, base, e = 25.0, 38.0, -4.0, 1e-4
    h0 = height_tangent(d, top, base).height_m
    parts = (
        height_tangent(d + e, top, base).height_m - h0,
        height_tangent(d, top + e, base).height_m - h0,
        height_tangent(d, top, base + e).height_m - h0,
    )
    h = height_tangent(d, top, base, distance_error_m=e, angle_error_deg=e)
    assert h.error_m == pytest.approx(math.hypot(*parts), rel=1e-4)


def test_percent_scale():
    # By hand: 100 ft, +68 and -7 %: 75 ft.
    assert height_percent(100 * FT, 68, -7).height_m / FT == pytest.approx(75)


def test_slope_distance():
    # By hand: 70 ft of tape on 35 %: 66.07 ft in plan.
    assert plan_distance_on_slope_m(70 * FT, 35) / FT == pytest.approx(66.07, abs=0.005)
    assert plan_distance_m(70, math.degrees(math.atan(0.35))) == pytest.approx(66.07, abs=0.005)


def test_leaning_top_fools_the_tangent_but_not_the_sine():
    # By hand: a 20 m top 3 m nearer, seen from where it stands at 45 degrees (eye at ground
    # level, 23 m from the trunk): tangent reads 3.0 m too tall.
    trunk, top_away = 23.0, 20.0
    tangent = height_tangent(trunk, 45, -0.0001)
    sine = height_sine(math.hypot(top_away, 20), 45, trunk, -0.0001)
    assert tangent.height_m - 20 == pytest.approx(3.0, abs=1e-3)
    assert sine.height_m == pytest.approx(20, abs=1e-3)
    assert "top_may_lean" in tangent.notes
    assert "top_may_lean" not in sine.notes


def test_standing_too_near_is_said():
    assert "stand_farther_back" in height_tangent(10, 60, -8).notes
    assert "stand_farther_back" not in height_tangent(25, 30, -4).notes


@given(st.floats(5, 80), st.floats(-20, 70), st.floats(-40, 40))
def test_sine_and_tangent_agree_on_an_upright_tree(d, top, base):
    assume(base < top - 1)
    tangent = height_tangent(d, top, base).height_m
    sine = height_sine(d / math.cos(math.radians(top)), top, d / math.cos(math.radians(base)), base)
    assert sine.height_m == pytest.approx(tangent, rel=1e-9)


def test_crown():
    # By hand: 30 x 40 ft: mean 35 ft, 962 ft2.
    assert crown_mean_width_m((30 * FT, 40 * FT)) / FT == pytest.approx(35)
    assert crown_area_m2((30 * FT, 40 * FT)) / FT**2 == pytest.approx(962, abs=0.2)
    assert live_crown_ratio_pct(20, 5) == 75
    assert slenderness(20, 40) == pytest.approx(50)


@pytest.mark.parametrize(
    ("call", "hint"),
    [
        (lambda: height_tangent(0, 40, -5), "finite and > 0"),
        (lambda: height_tangent(20, -5, 40), "base below the top"),
        (lambda: height_tangent(20, 90, 0), "between -90 and 90"),
        (lambda: height_tangent(20, 40, 0, angle_error_deg=-1), "errors"),
        (lambda: height_percent(20, 5, 10), "below top"),
        (lambda: height_sine(5, 10, 50, 9), "check the distances"),
        (lambda: crown_area_m2(()), "crown widths"),
        (lambda: live_crown_ratio_pct(10, 12), "between 0 and the height"),
        (lambda: slenderness(0, 1), "> 0"),
    ],
)
def test_errors_say_what_to_do(call, hint):
    with pytest.raises(ValueError, match=hint):
        call()
