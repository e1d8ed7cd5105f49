"""Edges as pieces about a trunk: what they enclose, by general means."""

import math

import numpy as np
import pytest
import shapely

from bolewalk.impact.pieces import Pieces, arc_pieces, area, segment_pieces

WHOLE = 2 * math.pi
AWAY = 1e3  # a zone so wide that nothing is clipped


def ring_pieces(ring: np.ndarray) -> Pieces:
    n = len(ring)
    edges = np.hstack([ring, np.roll(ring, -1, axis=0)])
    return segment_pieces(edges, np.zeros(n, int), np.full(n, AWAY), np.arange(n))[0]


def circle_pieces(x: float, y: float, r: float, cuts: np.ndarray, cap: float = AWAY) -> Pieces:
    """A circle drawn in one or several arcs."""
    ends = np.append(cuts, cuts[0] + WHOLE)
    n = len(cuts)
    arcs = np.stack([np.full(n, x), np.full(n, y), np.full(n, r), ends[:-1], ends[1:]], axis=1)
    return arc_pieces(arcs, np.zeros(n, int), np.full(n, cap), np.arange(n))


def enclosed(p: Pieces) -> float:
    """What lies within the far edges and not within the near ones [m2]."""
    assert (p.t0 >= 0).all()
    assert (p.t0 < p.t1).all()
    assert (p.t1 <= WHOLE).all()
    assert (p.t1 - p.t0 <= math.pi + 1e-9).all()  # nothing straight or round is seen all about
    return float((p.sign * area(p)).sum())


@pytest.mark.parametrize("seed", range(60))
def test_edges_of_a_polygon_enclose_its_area(seed: int) -> None:
    # Independent: shapely's area; the trunk stands inside or outside as it falls.
    rng = np.random.default_rng(seed)
    n = int(rng.integers(3, 12))
    a, r = np.sort(rng.uniform(0, WHOLE, n)), rng.uniform(0.5, 6, n)
    ring = rng.uniform(-5, 5, 2) + np.stack([r * np.cos(a), r * np.sin(a)], axis=1)
    ccw = shapely.is_ccw(shapely.LinearRing(ring))
    signed = shapely.Polygon(ring).area * (1 if ccw else -1)
    pieces = ring_pieces(ring)
    assert enclosed(pieces) == pytest.approx(signed, abs=1e-9)
    # Neighbours meet at the very same bearing, so that no ray slips between them. (What an edge
    # leaves beyond north ends within rounding of its corner.)
    p = pieces.take(pieces.t0 > 0)
    seen = np.unique(np.concatenate([p.t0, p.t1[p.t1 < WHOLE]]))
    corners = np.unique(np.mod(np.arctan2(ring[:, 1], ring[:, 0]), WHOLE))
    assert np.diff(seen).min() > 1e-12
    assert np.abs(seen[:, None] - corners).min(axis=1).max() < 1e-12


@pytest.mark.parametrize(
    "ring",
    [
        ((1, 0), (2, 0), (2, 1), (1, 1)),  # one edge points at the trunk
        ((1, 0), (1, 1), (0, 1), (-1, 0), (0, -1)),  # the trunk inside, corners on the axes
        ((1, 1e-10), (3, 0), (3, 1)),  # nearly at the trunk, both ways round north
        ((1, -1e-10), (3, 0), (3, 1)),
        ((1, 0), (3, 1e-12), (2, -1)),
        ((-2, -1), (-1, -1e-9), (-3, 1e-9)),
    ],
)
def test_edges_that_point_at_the_trunk(ring: tuple[tuple[float, float], ...]) -> None:
    # Independent: shapely's area.
    corners = np.array(ring, dtype=np.float64)
    signed = shapely.Polygon(corners).area * (1 if shapely.LinearRing(corners).is_ccw else -1)
    assert enclosed(ring_pieces(corners)) == pytest.approx(signed, abs=1e-8)


def test_corners_on_a_whole_grid() -> None:
    # Independent: shapely's area; edges through round numbers, often straight at the trunk.
    rng = np.random.default_rng(3)
    for _ in range(150):
        shape = shapely.convex_hull(shapely.MultiPoint(rng.integers(-3, 4, (7, 2)).astype(float)))
        corners = shapely.get_coordinates(shapely.orient_polygons(shape))[:-1]
        if not shapely.touches(shape, shapely.Point(0, 0)):  # such a trunk is told apart before
            assert enclosed(ring_pieces(corners)) == pytest.approx(shape.area, abs=1e-9)


@pytest.mark.parametrize("arcs", [1, 2, 5])
def test_every_arc_sweeps_its_share_of_the_circle(arcs: int) -> None:
    # By hand, Green's theorem along the arc from a to b about (x, y):
    # (r^2 (b - a) + r x (sin b - sin a) - r y (cos b - cos a)) / 2; all of them make pi r^2.
    rng = np.random.default_rng(arcs)
    for _ in range(200):
        x, y = rng.uniform(-6, 6, 2)
        r = float(rng.uniform(0.1, 6))
        cuts = np.sort(rng.uniform(-math.pi, math.pi, arcs))
        cuts[:-1][:1] = cuts[1:][:1] - 5e-10  # the first of several all but nothing
        p = circle_pieces(x, y, r, cuts)
        a, b = cuts, np.append(cuts[1:], cuts[0] + WHOLE)
        swept = r * r * (b - a) + r * x * (np.sin(b) - np.sin(a)) - r * y * (np.cos(b) - np.cos(a))
        got = np.bincount(p.source, weights=p.sign * area(p), minlength=arcs)
        assert got == pytest.approx(swept / 2, abs=1e-8)
        assert enclosed(p) == pytest.approx(math.pi * r * r, abs=1e-9)


def test_a_circle_about_the_very_trunk() -> None:
    assert enclosed(circle_pieces(0.0, 0.0, 2.0, np.zeros(1))) == pytest.approx(4 * math.pi)


@pytest.mark.parametrize("east", [-1e-17, 0.0, 1e-17])
def test_an_edge_that_begins_due_north(east: float) -> None:
    # By hand: a right-angled triangle of legs 5 m, in one quarter turn.
    p = segment_pieces(np.array([[5.0, east, 0.0, 5.0]]), np.zeros(1, int), np.full(1, AWAY),
                       np.zeros(1, int))[0]  # fmt: skip
    assert enclosed(p) == pytest.approx(12.5)
    assert (p.t1 - p.t0).sum() == pytest.approx(math.pi / 2)
    assert p.t1.max() == pytest.approx(math.pi / 2)
