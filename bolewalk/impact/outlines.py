"""The outline of footprints taken together, straight edges and true arcs alike.

Areas are worked out along outlines, so footprints that overlap must first become one: polygons
by overlay, then circles against them and against one another by their meeting points.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from bolewalk.impact.boxes import box_index, box_shapes
from bolewalk.impact.footprints import Footprint
from bolewalk.impact.pieces import TURN

__all__ = ["Outline", "outline_of", "ring_segments", "touching_groups"]

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

_HAIR_M = 1e-12


@dataclass(frozen=True, slots=True, eq=False)
class Outline:
    """A union of footprints.

    Attributes
    ----------
    segments : ndarray, shape (n, 8)
        Edge a to b with the union on its left, then the corner before a and the corner after b
        (for a trunk that stands on a corner).
    arcs : ndarray, shape (k, 5)
        Centre, radius, first and last angle, rising.
    polygons : tuple of shapely.Polygon
    circles : ndarray, shape (m, 3)
        Together with `polygons`, what tells whether a point is inside.
    """

    segments: Floats
    arcs: Floats
    polygons: tuple[shapely.Polygon, ...]
    circles: Floats


def ring_segments(polygons: Iterable[shapely.Polygon]) -> list[Floats]:
    """Give each ring's edges with their neighbours' far corners, shape (n, 8) a ring."""
    out = []
    for polygon in polygons:
        for ring in (polygon.exterior, *polygon.interiors):
            v = shapely.get_coordinates(ring)[:-1]
            out.append(
                np.hstack(
                    [v, np.roll(v, -1, axis=0), np.roll(v, 1, axis=0), np.roll(v, -2, axis=0)]
                )
            )
    return out


def touching_groups(footprints: Sequence[Footprint]) -> list[tuple[int, ...]]:
    """Group footprints whose bounding boxes meet, directly or through others; sorted."""
    n = len(footprints)
    boxes = np.empty((n, 4))
    for i, f in enumerate(footprints):
        corner = [shapely.bounds(p) for p in f.polygons]
        corner += [np.array([x - r, y - r, x + r, y + r]) for x, y, r in f.circles]
        if corner:
            all_ = np.array(corner)
            boxes[i, :2], boxes[i, 2:] = all_[:, :2].min(axis=0), all_[:, 2:].max(axis=0)
        else:
            boxes[i] = np.nan
    group = list(range(n))

    def root(i: int) -> int:
        while group[i] != i:
            group[i] = group[group[i]]
            i = group[i]
        return i

    sound = np.flatnonzero(np.isfinite(boxes[:, 0])) if n else np.zeros(0, dtype=np.int64)
    if n > 40:
        a, b = box_index(boxes[sound]).query(box_shapes(boxes[sound]))
    else:
        box = boxes[sound]
        meets = (box[:, None, :2] <= box[None, :, 2:]).all(axis=2)
        a, b = np.nonzero(meets & meets.T)
    for i, j in zip(sound[a].tolist(), sound[b].tolist(), strict=True):
        ri, rj = root(i), root(j)
        group[max(ri, rj)] = min(ri, rj)
    members: dict[int, list[int]] = {}
    for i in sound.tolist():
        members.setdefault(root(i), []).append(i)
    return [tuple(m) for _, m in sorted(members.items())]


def outline_of(footprints: Sequence[Footprint]) -> Outline:
    """Take footprints together; those without area give nothing."""
    polygons = [p for f in footprints for p in f.polygons]
    if len(polygons) > 1:
        merged = shapely.get_parts(shapely.union_all(polygons))
        polygons = [p for p in shapely.orient_polygons(merged) if p.geom_type == "Polygon"]
    circles = _proper_circles(np.vstack([f.circles for f in footprints] or [np.zeros((0, 3))]))
    segments = np.vstack([*ring_segments(polygons), np.zeros((0, 8))])
    if len(circles) == 0:
        return Outline(segments, np.zeros((0, 5)), tuple(polygons), circles)
    whole = shapely.multipolygons(polygons) if polygons else None
    if len(circles) == 1 and whole is None:
        arcs = np.array([[*circles[0], 0.0, TURN]])
        return Outline(segments, arcs, (), circles)
    if whole is not None:
        shapely.prepare(whole)
    free = [a for i in range(len(circles)) for a in _free_arcs(i, circles, segments, whole)]
    return Outline(
        _free_segments(segments, circles), np.array(free).reshape(-1, 5), tuple(polygons), circles
    )


def _proper_circles(circles: Floats) -> Floats:
    """Drop points, repetitions and circles inside another circle."""
    circles = circles[circles[:, 2] > 0]
    circles = np.unique(circles, axis=0)
    keep = np.ones(len(circles), dtype=bool)
    for i, (x, y, r) in enumerate(circles):
        apart = np.hypot(circles[:, 0] - x, circles[:, 1] - y)
        inside = (apart + r <= circles[:, 2]) & keep
        inside[i] = False
        keep[i] = not inside.any()
    return circles[keep]


def _cuts_on_circle(circle: Floats, segments: Floats) -> Floats:
    """Angles at which straight edges meet a circle."""
    x, y, r = circle
    ax, ay = segments[:, 0] - x, segments[:, 1] - y
    dx, dy = segments[:, 2] - segments[:, 0], segments[:, 3] - segments[:, 1]
    length = np.hypot(dx, dy)
    foot = -(ax * dx + ay * dy) / length
    h = (ax * dy - ay * dx) / length
    meets = np.abs(h) < r
    chord = np.sqrt(np.where(meets, r * r - h * h, 0.0))
    angles = []
    for side in (-1.0, 1.0):
        s = foot + side * chord
        on = meets & (s >= 0) & (s <= length)
        angles.append(np.arctan2((ay + s * dy / length)[on], (ax + s * dx / length)[on]))
    return np.concatenate(angles)


def _free_arcs(
    i: int, circles: Floats, segments: Floats, whole: shapely.MultiPolygon | None
) -> list[tuple[float, float, float, float, float]]:
    x, y, r = circles[i]
    others = np.delete(circles, i, axis=0)
    cut = [_cuts_on_circle(circles[i], segments)] if len(segments) else []
    vx, vy = others[:, 0] - x, others[:, 1] - y
    apart = np.hypot(vx, vy)
    meets = (apart < r + others[:, 2]) & (apart > np.abs(r - others[:, 2]))
    if meets.any():
        d, q = apart[meets], others[meets, 2]
        half = np.arccos(np.clip(0.5 * (d / r + (r - q) * (r + q) / (d * r)), -1, 1))
        phi = np.arctan2(vy[meets], vx[meets])
        cut += [phi - half, phi + half]
    angles = np.unique(np.mod(np.concatenate([*cut, np.zeros(0)]), TURN))
    if len(angles) == 0:
        angles = np.zeros(1)
    ends = np.append(angles[1:], angles[0] + TURN)
    middle = 0.5 * (angles + ends)
    px, py = x + r * np.cos(middle), y + r * np.sin(middle)
    free = np.ones(len(angles), dtype=bool)
    if len(others):
        away = np.hypot(px[:, None] - others[:, 0], py[:, None] - others[:, 1])
        free &= (away >= others[:, 2]).all(axis=1)
    if whole is not None:
        free &= ~shapely.contains_xy(whole, px, py)
    return [
        (x, y, r, float(a), float(b))
        for a, b, f in zip(angles, ends, free, strict=True)
        if f and b > a
    ]


def _free_segments(segments: Floats, circles: Floats) -> Floats:
    """Keep the parts of edges outside every circle."""
    out = []
    for x, y, r in circles:
        if not len(segments):
            break
        ax, ay = segments[:, 0] - x, segments[:, 1] - y
        dx, dy = segments[:, 2] - segments[:, 0], segments[:, 3] - segments[:, 1]
        length = np.hypot(dx, dy)
        foot = -(ax * dx + ay * dy) / length
        h = (ax * dy - ay * dx) / length
        chord = np.sqrt(np.maximum(r * r - h * h, 0.0))
        low = np.clip(foot - chord, 0.0, length)
        high = np.clip(foot + chord, 0.0, length)
        hit = (np.abs(h) < r) & (high > low)
        out = [segments[~hit]]
        part, ux, uy = segments[hit], (dx / length)[hit], (dy / length)[hit]
        low, high, length = low[hit], high[hit], length[hit]
        before, after = part.copy(), part.copy()
        before[:, 2], before[:, 3] = part[:, 0] + low * ux, part[:, 1] + low * uy
        before[:, 6:8] = np.nan
        after[:, 0], after[:, 1] = part[:, 0] + high * ux, part[:, 1] + high * uy
        after[:, 4:6] = np.nan
        # What is left of an edge by rounding alone has no direction.
        segments = np.vstack([*out, before[low > _HAIR_M], after[high < length - _HAIR_M]])
    return segments
