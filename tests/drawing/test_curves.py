"""Curves as chords: none farther from its curve than the sagitta, ends kept, areas right."""

import itertools
import math

import ezdxf
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from bolewalk.drawing.dxf_shapes import arc_points, bulge_points, shapes_of
from bolewalk.drawing.joining import rings_of
from bolewalk.drawing.placement import by_points
from bolewalk.drawing.shapes import ShapeError
from tests.drawing.plans import on

size = st.floats(0.01, 500)
bulge = st.floats(-5, 5).filter(lambda b: abs(b) > 1e-3)


@given(size, bulge, st.floats(1e-4, 0.05))
def test_bulge_stays_within_the_sagitta(chord, b, sagitta):
    points = bulge_points((0.0, 0.0), (chord, 0.0), b, sagitta)
    assert points[0] == (0, 0)
    assert points[-1] == (chord, 0)
    # The definition: the bulge is the arc's height over half the chord; positive lies to the
    # right of the chord. From height and chord follows the circle.
    height = b * chord / 2
    radius = abs((chord / 2) ** 2 + height**2) / (2 * abs(height))
    centre = (chord / 2, -height + math.copysign(radius, b))
    for x, y in points:
        assert math.dist((x, y), centre) == pytest.approx(radius, rel=1e-6)
    for (x1, y1), (x2, y2) in itertools.pairwise(points):
        middle = ((x1 + x2) / 2, (y1 + y2) / 2)
        assert radius - math.dist(middle, centre) <= sagitta * (1 + 1e-6) + radius * 1e-9


def test_half_circle_by_hand():
    # Bulge 1 is a half circle: its lowest point lies half a chord to the right.
    points = bulge_points((0, 0), (2, 0), 1.0, 1e-4)
    assert min(y for _, y in points) == pytest.approx(-1, abs=1e-4)
    assert max(y for _, y in points) == 0


@given(st.floats(0.1, 100), st.floats(0, 360), st.floats(1, 359))
def test_sector_area(radius, start, turn):
    # Published: the segment between arc and chord has r^2 (w - sin w) / 2.
    w = math.radians(turn)
    a = math.radians(start)
    first = (radius * math.cos(a), radius * math.sin(a))
    points = arc_points((0, 0), first, w, radius / 1e5)
    area = shapely.Polygon(points).area if len(points) > 2 else 0.0
    assert area == pytest.approx(radius**2 * (w - math.sin(w)) / 2, abs=radius**2 * 1e-4)


def test_curves_of_the_drawing_library():
    msp = ezdxf.new().modelspace()
    spline = msp.add_spline([(0, 0), (3, 2), (6, 0)], **on("0"))
    (drawn,) = shapes_of(spline, 0.001)
    assert drawn.points[0] == pytest.approx((0, 0))
    assert drawn.points[-1] == pytest.approx((6, 0))
    ellipse = msp.add_ellipse((0, 0), (4, 0), 0.5)
    (drawn,) = shapes_of(ellipse, 0.001)
    assert drawn.closed
    assert shapely.Polygon(drawn.points).area == pytest.approx(math.pi * 4 * 2, rel=1e-3)


def test_seen_from_below_a_circle_is_mirrored():
    # Extrusion (0, 0, -1) turns x round: published in the DXF reference as the arbitrary axis.
    msp = ezdxf.new().modelspace()
    circle = msp.add_circle((5, 3), 1, dxfattribs={"extrusion": (0, 0, -1)})
    (drawn,) = shapes_of(circle, 0.01)
    assert drawn.centre == pytest.approx((-5, 3))


@pytest.mark.parametrize("make", [
    lambda m: m.add_circle((0, 0), 0),
    lambda m: m.add_circle((0, 0), 1e15),
    lambda m: m.add_ellipse((0, 0), (1e15, 0), 0.5),
    lambda m: m.add_spline([(0, 0), (1e15, 2), (6, 0)]),
    lambda m: m.add_lwpolyline([(0, 0)]),
])  # fmt: skip
def test_curves_that_are_none(make):
    with pytest.raises(ShapeError):
        shapes_of(make(ezdxf.new().modelspace()), 0.001)


@given(st.permutations(range(5)), st.lists(st.booleans(), min_size=5, max_size=5))
def test_any_order_and_direction_joins(order, turned):
    corners = [(0, 0), (6, 0), (8, 4), (3, 7), (-1, 4)]
    lines = [[corners[i], corners[(i + 1) % 5]] for i in order]
    lines = [line[::-1] if t else line for line, t in zip(lines, turned, strict=True)]
    rings, loose = rings_of(lines, tolerance=0.001)
    assert loose == []
    assert len(rings) == 1
    assert rings[0].lines == (0, 1, 2, 3, 4)
    assert shapely.Polygon(rings[0].points).equals(shapely.Polygon(corners))


def test_gaps_wider_than_the_tolerance_do_not_join():
    lines = [[(0, 0), (4, 0)], [(4, 0), (4, 4)], [(4, 4), (0, 0.02)]]
    assert rings_of(lines, tolerance=0.01) == ([], [0, 1, 2])
    assert len(rings_of(lines, tolerance=0.03)[0]) == 1


@given(
    st.floats(-1e4, 1e4), st.floats(-1e4, 1e4), st.floats(-180, 180), st.floats(0.001, 10),
    st.floats(-500, 500), st.floats(-500, 500),
)  # fmt: skip
def test_placement_finds_the_motion_again(dx, dy, turn, scale, x, y):
    # Independent: rotate by cosine and sine, then scale and shift.
    c, s = math.cos(math.radians(turn)), math.sin(math.radians(turn))

    def moved(px, py):
        return scale * (c * px - s * py) + dx, scale * (s * px + c * py) + dy

    p = by_points(
        ((0, 0), moved(0, 0)), ((2000, 0), moved(2000, 0)), m_per_grid_unit=1, least_apart_m=1
    )
    assert p.move(x, y) == pytest.approx(moved(x, y), abs=1e-6)
    assert p.m_per_unit == pytest.approx(scale, rel=1e-6)
