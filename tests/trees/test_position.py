"""Positions from two tapes against hand calculation and repeated noisy measuring."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bolewalk.trees.position import best_extra_measurement, locate, refine

CORNER, POST = (0.0, 0.0), (5.0, 0.0)


def test_right_angled_tapes():
    # By hand, 3-4-5 triangle: the tree stands at 1.8 east, 2.4 north; the tapes meet square, so
    # the error is a circle of 0.05 m * sqrt(-2 ln 0.05) = 0.1224 m.
    f = locate(CORNER, POST, 3, 4, error_m=0.05, side="left")
    assert (f.x_m, f.y_m) == pytest.approx((1.8, 2.4))
    assert f.mirror == pytest.approx((1.8, -2.4))
    assert f.ellipse.long_m == pytest.approx(0.1224, abs=5e-5)
    assert f.ellipse.short_m == pytest.approx(0.1224, abs=5e-5)
    assert f.notes == ()
    right = locate(CORNER, POST, 3, 4, side="right")
    assert (right.x_m, right.y_m) == pytest.approx((1.8, -2.4))


def test_side_not_told_is_said():
    f = locate(CORNER, POST, 3, 4)
    assert "side_not_told" in f.notes
    assert f.mirror is not None


def test_ellipse_against_repeated_measuring():
    # Independent: 20,000 noisy pairs of tapes, their spread and how many fall inside.
    rng = np.random.default_rng(7)
    error, tree, b = 0.04, np.array([7.0, 6.0]), np.array([6.0, -1.0])
    da = np.hypot(*tree) + rng.normal(0, error, 20000)
    db = math.dist(tree, b) + rng.normal(0, error, 20000)
    base = np.hypot(*b)
    along = (da**2 - db**2 + base**2) / (2 * base)
    off = np.sqrt(da**2 - along**2)
    u = b / base
    n = np.array([-u[1], u[0]])
    side = math.copysign(1, tree @ n)
    spots = along[:, None] * u + side * off[:, None] * n
    f = locate((0, 0), tuple(b), float(np.hypot(*tree)), math.dist(tree, b), error_m=error,
               side="left" if side > 0 else "right")  # fmt: skip
    assert (f.x_m, f.y_m) == pytest.approx(tuple(tree))
    assert np.cov(spots.T) == pytest.approx(
        np.array([[f.covariance_m2[0], f.covariance_m2[1]],
                  [f.covariance_m2[1], f.covariance_m2[2]]]), rel=0.06, abs=2e-4,
    )  # fmt: skip
    e = f.ellipse
    turn = math.radians(e.bearing_deg)
    d = spots - tree
    long = d[:, 0] * math.sin(turn) + d[:, 1] * math.cos(turn)
    short = d[:, 0] * math.cos(turn) - d[:, 1] * math.sin(turn)
    inside = np.mean((long / e.long_m) ** 2 + (short / e.short_m) ** 2 <= 1)
    assert inside == pytest.approx(0.95, abs=0.01)


def test_tapes_nearly_in_line_make_a_long_ellipse():
    f = locate((0, 0), (1, 0), 20, 19.02, side="left")
    assert "tapes_nearly_in_line" in f.notes
    assert f.ellipse.long_m > 5 * f.ellipse.short_m


@pytest.mark.parametrize(
    ("da", "db", "x"),
    # By hand, points 5 m apart: too short by 1 m, the middle of the gap; one circle inside the
    # other, the middle of the gap behind the nearer point.
    [(1, 3, 1.5), (9, 3, 8.5), (3, 9, -3.5)],
)
def test_tapes_that_do_not_meet(da, db, x):
    f = locate(CORNER, POST, da, db)
    assert "tapes_do_not_meet" in f.notes
    assert (f.x_m, f.y_m) == pytest.approx((x, 0))
    assert f.mirror is None


def test_third_tape_shortens_the_ellipse_and_settles_the_side():
    f = locate(CORNER, POST, 3, 4)
    third = (0.0, -6.0)
    mirrored = refine(f, third, distance_m=math.dist((1.8, -2.4), third), error_m=0.05)
    assert (mirrored.x_m, mirrored.y_m) == pytest.approx((1.8, -2.4))
    assert mirrored.mirror is None
    assert "side_not_told" not in mirrored.notes
    assert mirrored.ellipse.short_m < f.ellipse.short_m
    # Independent: three unit directions, covariance by the normal equations.
    a = np.array([[1.8, -2.4], [1.8 - 5, -2.4], [1.8, 3.6]])
    a /= np.hypot(*a.T)[:, None]
    c = np.linalg.inv(a.T @ a) * 0.05**2
    assert mirrored.covariance_m2 == pytest.approx((c[0, 0], c[0, 1], c[1, 1]))


def test_best_extra_measurement_looks_across_the_long_axis():
    # The ellipse of two tapes from the west is long to the north: a tape from the north, not a
    # third from the west. Side told, so only the ellipse counts.
    f = locate((0, 0), (0, 0.8), 20, math.dist((0, 0.8), (20, 0)), side="right")
    assert f.ellipse.bearing_deg == pytest.approx(0, abs=3) or f.ellipse.bearing_deg > 177
    f = type(f)(f.x_m, f.y_m, f.covariance_m2, None)
    best = best_extra_measurement(f, [("west post", (0, 5)), ("north corner", (20, 25))])
    assert (best.kind, best.point) == ("distance", "north corner")
    assert best.long_m < f.ellipse.long_m / 2


def test_best_extra_measurement_settles_the_side_first():
    f = locate(CORNER, POST, 3, 4)
    best = best_extra_measurement(f, [("on the line", (12, 0)), ("gate", (1.8, -9))])
    assert best.settles_side
    assert best_extra_measurement(f, []) is None
    # A distance from a point on the line through both cannot tell the mirrored spots apart.
    only = best_extra_measurement(f, [("on the line", (12, 0))], bearing_error_deg=80)
    assert not only.settles_side


@given(st.floats(-20, 20), st.floats(0.5, 30), st.floats(2, 15), st.sampled_from(["left", "right"]))
def test_distances_come_back(x, y, base, side):
    tree = (x, y if side == "left" else -y)
    f = locate((0, 0), (base, 0), math.dist((0, 0), tree), math.dist((base, 0), tree), side=side)
    assert math.dist((0, 0), (f.x_m, f.y_m)) == pytest.approx(math.dist((0, 0), tree), abs=1e-6)
    assert f.y_m == pytest.approx(tree[1], abs=1e-3)


@pytest.mark.parametrize(
    ("call", "hint"),
    [
        (lambda: locate(CORNER, CORNER, 3, 4), "same"),
        (lambda: locate(CORNER, POST, 0, 4), "distance_a_m"),
        (lambda: locate(CORNER, POST, 3, 4, side="north"), "left"),
        (lambda: refine(locate(CORNER, POST, 3, 4), POST, distance_m=0, error_m=1), "> 0"),
        (lambda: best_extra_measurement(
            locate(CORNER, POST, 3, 4), [], distance_error_m=0), "> 0"),
    ],
)  # fmt: skip
def test_errors_say_what_to_do(call, hint):
    with pytest.raises(ValueError, match=hint):
        call()
