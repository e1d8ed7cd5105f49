"""Outlines of trees and works on the survey's grid [m, east before north].

The plan, the GIS layers and the CAD layers all draw these, so that they cannot differ.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import shapely
from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from bolewalk.impact.results import COMPASS, NearestCut, RootZone
from bolewalk.model.trees import Tree
from bolewalk.model.works import Part, Work
from bolewalk.papers.amounts import COMPASS_16

__all__ = [
    "CutLine", "CutSide", "Outline", "crown_outline", "crown_ring", "cut_lines", "cut_sides",
    "disc", "drawn_bounds", "part_centre", "part_geometry", "work_geometry", "zone_outline",
]  # fmt: skip

Outline = tuple[tuple[float, float], ...]

_MITRE_LIMIT = 5.0
"""Of the half width, then bevelled: as the root figures take it."""


@dataclass(frozen=True, slots=True)
class CutSide:
    """One side of the nearest allowed cut: the near face of a trench square to `bearing_deg`.

    `start` and `end` lie on the edges of the side's share of the compass; the line stands
    `distance_m` from the trunk centre.
    """

    bearing: str
    bearing_deg: float
    level: str
    distance_m: float
    limit: str
    start: tuple[float, float]
    end: tuple[float, float]


@lru_cache(maxsize=8)
def _turns(n: int) -> tuple[tuple[float, float], ...]:
    """Give sine and cosine of `n` bearings, clockwise from north."""
    return tuple((math.sin(2 * math.pi * i / n), math.cos(2 * math.pi * i / n)) for i in range(n))


@dataclass(frozen=True, slots=True)
class CutLine:
    """The nearest allowed cut about one tree at one level as one closed line.

    `ring` joins the near faces of all bearings, each over its share of the compass, by steps
    along the bearings between them; it does not repeat its first point. `inner` and `outer` are
    the same at best and at worst, with all errors; None where the level may be lost.
    """

    level: str
    ring: Outline
    inner: Outline | None
    outer: Outline | None
    least_m: float
    most_m: float


def disc(x: float, y: float, radius_m: float, *, n: int = 180) -> Outline:
    """Give a circle as `n` chords, clockwise from north."""
    return tuple((x + radius_m * s, y + radius_m * c) for s, c in _turns(n))


def crown_outline(tree: Tree) -> Outline | None:
    """Give the crown as four quarter-ellipses through its north, east, south and west radii.

    Returns
    -------
    tuple of (east, north) or None
        120 points clockwise from north; None without position or crown.
    """
    if tree.crown is None or tree.x_m is None or tree.y_m is None:
        return None
    return crown_ring(tree.x_m, tree.y_m, tree.crown.radii_m)


def crown_ring(x: float, y: float, radii_m: tuple[float, float, float, float]) -> Outline:
    """Give four quarter-ellipses through north, east, south and west radii as 120 points
    clockwise from north; empty where no radius is over 0."""
    north, east, south, west = radii_m
    if not any(r > 0 for r in radii_m):
        return ()
    return tuple(
        (x + s * (east if s >= 0 else west), y + c * (north if c >= 0 else south))
        for s, c in _turns(120)
    )


def zone_outline(tree: Tree, zone: RootZone | None) -> Outline | None:
    """Give the root zone's edge: the method's own outline, else the disc of its radius."""
    if zone is None or tree.x_m is None or tree.y_m is None:
        return None
    if zone.outline_m is None:
        return disc(tree.x_m, tree.y_m, zone.radius_m)
    return tuple(
        (tree.x_m + r * math.sin(math.radians(b)), tree.y_m + r * math.cos(math.radians(b)))
        for b, r in enumerate(zone.outline_m)
    )


def drawn_bounds(tree: Tree, zone: RootZone | None) -> tuple[float, float, float, float] | None:
    """Give the bounds [m] of a tree's crown and of its root zone, where told: west, south, east,
    north; its place alone where neither is, None without a place."""
    if tree.x_m is None or tree.y_m is None:
        return None
    x, y = tree.x_m, tree.y_m
    # Both outlines pass through their four cardinal points.
    north, east, south, west = tree.crown.radii_m if tree.crown is not None else (0.0,) * 4
    boxes = [(x - west, y - south, x + east, y + north)]
    if zone is not None and zone.outline_m is None:
        r = zone.radius_m
        boxes.append((x - r, y - r, x + r, y + r))
    elif outline := zone_outline(tree, zone):
        xs, ys = zip(*outline, strict=True)
        boxes.append((min(xs), min(ys), max(xs), max(ys)))
    return (
        min(b[0] for b in boxes), min(b[1] for b in boxes),
        max(b[2] for b in boxes), max(b[3] for b in boxes),
    )  # fmt: skip


def cut_sides(tree: Tree, cut: NearestCut | None) -> tuple[CutSide, ...]:
    """Give the sides of both nearest-cut lines, keep first, clockwise from north.

    A side spans its own share of the compass (45 degrees of eight bearings). Directions whose
    level is lost already have no side.
    """
    if cut is None or tree.x_m is None or tree.y_m is None:
        return ()
    sides = []
    for level, distances, limits in (
        ("keep", cut.keep, cut.limit_keep),
        ("keep_if", cut.keep_if, cut.limit_keep_if),
    ):
        names = [n for n in _bearings(len(distances)) if n in distances]
        half = math.pi / max(len(names), 1)
        for i, name in enumerate(names):
            d = distances[name]
            if d is None:
                continue
            b = 2 * math.pi * i / len(names)
            reach = d * math.tan(half)
            mid = tree.x_m + d * math.sin(b), tree.y_m + d * math.cos(b)
            along = math.cos(b), -math.sin(b)
            start = mid[0] - along[0] * reach, mid[1] - along[1] * reach
            end = mid[0] + along[0] * reach, mid[1] + along[1] * reach
            sides.append(CutSide(name, math.degrees(b), level, d, limits[name], start, end))
    return tuple(sides)


def cut_lines(tree: Tree, cut: NearestCut | None) -> tuple[CutLine, ...]:
    """Give the closed line of each level that is not lost, keep first."""
    if cut is None or tree.x_m is None or tree.y_m is None:
        return ()
    at = (tree.x_m, tree.y_m)
    lines = []
    for level, distances, spans in (
        ("keep", cut.keep, cut.keep_span),
        ("keep_if", cut.keep_if, cut.keep_if_span),
    ):
        names = [n for n in _bearings(len(distances)) if n in distances]
        ring = _stepped(at, [distances[n] for n in names])
        known = [d for d in distances.values() if d is not None]
        if ring is None:
            continue
        inner = _stepped(at, [spans[n][0] for n in names]) if spans else None
        outer = _stepped(at, [spans[n][1] for n in names]) if spans else None
        lines.append(CutLine(level, ring, inner, outer, min(known), max(known)))
    return tuple(lines)


def _stepped(at: tuple[float, float], distances: Sequence[float | None]) -> Outline | None:
    """Give the corners of the near faces, clockwise from the first bearing's left end."""
    half = math.pi / max(len(distances), 1)
    corners = []
    for i, d in enumerate(distances):
        if d is None:
            return None
        for side in (-1, 1):
            b = 2 * half * i + side * half
            reach = d / math.cos(half)
            corners.append((at[0] + reach * math.sin(b), at[1] + reach * math.cos(b)))
    return tuple(corners) or None


def _bearings(n: int) -> tuple[str, ...]:
    return COMPASS if n <= len(COMPASS) else COMPASS_16


def part_geometry(part: Part) -> BaseGeometry:
    """Give one part as it was drawn: a point, a line or an area."""
    if part.shape == "point":
        return shapely.Point(part.ring[0])
    if part.shape == "line":
        return LineString(part.ring)
    return Polygon(part.ring, part.holes)


def work_geometry(work: Work) -> BaseGeometry:
    """Give the footprint of a work: points with their diameter, lines with their width.

    Lines have flat ends and mitred corners. What has no width stays a point or a line.
    """
    shapes = []
    for part in work.parts:
        shape = part_geometry(part)
        if part.shape == "point" and work.diameter_m:
            shape = Polygon(disc(*part.ring[0], work.diameter_m / 2, n=48))
        elif part.shape == "line" and work.width_m > 0:
            shape = shape.buffer(
                work.width_m / 2, cap_style="flat", join_style="mitre", mitre_limit=_MITRE_LIMIT
            )
        elif part.shape == "polygon" and not shape.is_valid:
            shape = shapely.make_valid(shape)
        shapes.append(shape)
    return shapes[0] if len(shapes) == 1 else shapely.union_all(shapes)


def part_centre(geometry: BaseGeometry) -> tuple[float, float]:
    """Give a point that lies on the geometry, for its label."""
    if geometry.geom_type in ("LineString", "MultiLineString"):
        longest = max(shapely.get_parts(geometry), key=lambda g: g.length)
        p = longest.interpolate(0.5, normalized=True)
    else:
        p = geometry.representative_point()
    return float(p.x), float(p.y)
