"""A picture laid under the survey by two points. Expected places are worked out by hand."""

import pytest

from bolewalk.drawing.placement import PlacementError
from bolewalk.drawing.underlay import placed_underlay
from bolewalk.model.survey import Drawing

PICTURE = Drawing("scan.png")


def test_ten_pixels_a_metre_upright():
    # Bottom left pixel (0, 400) is the survey's origin, (1000, 400) is 100 m east of it: 10 pixels
    # a metre, so the top edge lies 40 m north.
    at = (((0.0, 400.0), (0.0, 0.0)), ((1000.0, 400.0), (100.0, 0.0)))
    laid = placed_underlay(PICTURE, width_px=1000, height_px=400, at=at, m_per_grid_unit=1.0)
    expected = [(0, 40), (100, 40), (100, 0), (0, 0)]
    for found, right in zip(laid.corners_m, expected, strict=True):
        assert found == pytest.approx(right, abs=1e-9)
    assert laid.placement is not None
    assert laid.placement.m_per_unit == pytest.approx(0.1)


def test_turned_a_quarter_and_in_feet():
    # The picture's right points north: pixel (0, 0) at the origin, (100, 0) 50 ft north of it.
    at = (((0.0, 0.0), (0.0, 0.0)), ((100.0, 0.0), (0.0, 50.0)))
    laid = placed_underlay(PICTURE, width_px=100, height_px=20, at=at, m_per_grid_unit=0.3048)
    # Down in the picture is then east: 20 pixels are 10 ft.
    assert laid.move(0.0, 20.0) == pytest.approx((10 * 0.3048, 0.0), abs=1e-9)
    assert laid.placement is not None
    assert laid.placement.turned_deg == pytest.approx(90.0)


def test_without_points_it_lies_nowhere():
    laid = placed_underlay(PICTURE, width_px=10, height_px=10, at=None, m_per_grid_unit=1.0)
    assert laid.corners_m == ()
    assert laid.move(1.0, 1.0) is None


@pytest.mark.parametrize(
    "at",
    [
        (((5.0, 5.0), (0.0, 0.0)), ((5.0, 5.0), (9.0, 0.0))),
        (((0.0, 0.0), (0.0, 0.0)), ((50.0, 0.0), (0.5, 0.0))),
    ],
)
def test_points_that_place_nothing(at):  # type: ignore[no-untyped-def]
    with pytest.raises(PlacementError, match="two points apart"):
        placed_underlay(PICTURE, width_px=10, height_px=10, at=at, m_per_grid_unit=1.0)
