"""Lines drawn piece by piece joined into closed outlines."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

__all__ = ["JoinedRing", "rings_of"]

XY = tuple[float, float]


@dataclass(frozen=True, slots=True)
class JoinedRing:
    """A closed outline, first point repeated, and the numbers of the lines it was joined from."""

    points: tuple[XY, ...]
    lines: tuple[int, ...]


def rings_of(
    lines: Sequence[Sequence[XY]], *, tolerance: float
) -> tuple[list[JoinedRing], list[int]]:
    """Join lines end to end into closed outlines.

    Parameters
    ----------
    lines : sequence of lines, each of two points or more
    tolerance : float
        Ends closer than this are one corner; in the unit of the points.

    Returns
    -------
    rings : list of JoinedRing
        The smallest areas the lines enclose (two rooms with a wall between give two), ordered
        by their first line.
    loose : list of int
        Lines that border no area, in order.
    """
    if not lines:
        return [], []
    snapped = _snapped(lines, tolerance)
    strings = [shapely.LineString(s) if len(set(s)) > 1 else shapely.LineString() for s in snapped]
    tree = shapely.STRtree(strings)
    rings = []
    for face in shapely.polygonize(strings).geoms:
        if not isinstance(face, shapely.Polygon):
            continue
        used = sorted(tree.query(face.boundary, predicate="covers").tolist())
        points = tuple((float(x), float(y)) for x, y in face.exterior.coords)
        rings.append(JoinedRing(points, tuple(used)))
    rings.sort(key=lambda r: (r.lines, r.points))
    joined = {i for r in rings for i in r.lines}
    return rings, [i for i in range(len(lines)) if i not in joined]


def _groups(points: NDArray[np.float64], tolerance: float) -> NDArray[np.intp]:
    """Give every point the lowest index it is linked to by steps of at most the tolerance."""
    geometry = [shapely.Point(x, y) for x, y in points.tolist()]
    a, b = shapely.STRtree(geometry).query(geometry, predicate="dwithin", distance=tolerance)
    group = np.arange(len(points))
    while True:
        lowest = group.copy()
        np.minimum.at(lowest, a, group[b])
        lowest = lowest[lowest]
        if (lowest == group).all():
            return group
        group = lowest


def _snapped(lines: Sequence[Sequence[XY]], tolerance: float) -> list[list[XY]]:
    """Give the lines with every group of ends closer than the tolerance on one point."""
    ends = np.array([p for line in lines for p in (line[0], line[-1])])
    group = _groups(ends, tolerance)
    first: dict[int, XY] = {}
    for g, end in zip(group.tolist(), ends.tolist(), strict=True):
        first.setdefault(g, (end[0], end[1]))
    snapped = []
    for i, line in enumerate(lines):
        start, end = first[int(group[2 * i])], first[int(group[2 * i + 1])]
        inner = [p for p in line[1:-1] if math.dist(p, start) > 0 and math.dist(p, end) > 0]
        snapped.append([start, *inner, end])
    return snapped
