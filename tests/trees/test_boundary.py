"""A trunk at a line, by hand."""

import numpy as np
import pytest

from bolewalk.trees.boundary import trunk_share_beyond_pct, years_until_line

IN = 0.0254


def test_boundary_tree():
    # By hand: 26 in at the ground, its middle nine inches from the fence: 9.8 % beyond.
    assert trunk_share_beyond_pct(26 * 2.54, 9 * IN) == pytest.approx(9.8, abs=0.05)


@pytest.mark.parametrize(("k", "share"), [(0, 50), (0.25, 34.25), (0.5, 19.55), (0.9, 1.87)])
def test_circle_segment(k, share):
    # Circle segments by hand.
    assert trunk_share_beyond_pct(100, k * 0.5) == pytest.approx(share, abs=0.005)
    assert trunk_share_beyond_pct(100, -k * 0.5) == pytest.approx(100 - share, abs=0.005)


def test_share_against_counting():
    # Independent: a grid of points in the section.
    v = np.linspace(-1, 1, 2001)
    x, y = np.meshgrid(v, v)
    inside = x**2 + y**2 <= 1
    counted = (inside & (x > 0.37)).sum() / inside.sum() * 100
    assert trunk_share_beyond_pct(80, 0.37 * 0.4) == pytest.approx(counted, abs=0.1)


def test_years_until_the_line():
    # By hand: 4 in gap, 0.4 in a year on the diameter: 0.2 in a side: 20 years.
    assert years_until_line(4 * IN, 0.4 * 2.54) == pytest.approx(20)
    assert years_until_line(0, 1) == 0
    assert years_until_line(1, 0) is None


def test_clear_of_the_line():
    assert trunk_share_beyond_pct(50, 0.3) == 0
    assert trunk_share_beyond_pct(50, -0.3) == 100


def test_errors_say_what_to_do():
    with pytest.raises(ValueError, match="trunk_cm"):
        trunk_share_beyond_pct(0, 1)
    with pytest.raises(ValueError, match=">= 0"):
        years_until_line(1, -1)
