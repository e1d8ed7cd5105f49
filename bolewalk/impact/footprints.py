"""Works as footprints: what each one cuts, covers and occupies on the ground.

Inside, a footprint lives in a frame whose first axis is north and second east, about a shared
origin, so that a compass bearing is the plain angle from the first axis. Polygon rings run with
their inside on the left of that frame.
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray

from bolewalk.impact.settings import depth_share, root_loss_settings
from bolewalk.model.words import Phase
from bolewalk.model.works import Part, Ring, Work

__all__ = ["PHASE_RANK", "Footprint", "covers", "footprint", "line_polygon", "severs"]

Floats = NDArray[np.float64]

PHASE_RANK: dict[Phase, int] = {"existing": 0, "proposed": 1, "possible later": 2}

_CUTS = frozenset({"trench", "excavation", "strip footing", "drain", "utility", "wall", "pile"})
_CUT_IF_DEEP = frozenset({"paving", "slab", "access"})
_COVERS = frozenset({"paving", "slab", "access", "fill", "roof", "storage"})


@dataclass(frozen=True, slots=True, eq=False)
class Footprint:
    """One work on the ground.

    Attributes
    ----------
    polygons : tuple of shapely.Polygon
        Valid, with area, inside on the left; (north, east) pairs [m] about the origin.
    circles : ndarray, shape (n, 3)
        Centre north, centre east, radius [m]; radius 0 is a point.
    lines : tuple of ndarray, shape (n, 2)
        Footprints without area: they cut but occupy nothing.
    severs, covers, is_pile, dodged : bool
    share : float
        Share of roots above the depth of the cut, 0..1.
    phase : int
        0 existing, 1 proposed, 2 possible later.
    present : bool
        False only where the work is said not to be there.
    """

    polygons: tuple[shapely.Polygon, ...]
    circles: Floats
    lines: tuple[Floats, ...]
    severs: bool
    covers: bool
    is_pile: bool
    dodged: bool
    share: float
    phase: int
    present: bool

    def with_margin(self, margin_m: float) -> "Footprint":
        """Give the footprint grown by a margin all round, corners rounded, exactly."""
        polygons = list(self.polygons)
        circles = [c + np.array([0.0, 0.0, margin_m]) for c in self.circles]
        rings = [*self.lines]
        for polygon in self.polygons:
            rings += [shapely.get_coordinates(r) for r in (polygon.exterior, *polygon.interiors)]
        for ring in rings:
            circles += [np.array([x, y, margin_m]) for x, y in ring]
            for a, b in pairwise(ring):
                if (a != b).any():
                    polygons += _valid(_strip(a, b, margin_m))[0]
        return Footprint(
            tuple(polygons), np.array(circles).reshape(-1, 3), (), self.severs, self.covers,
            self.is_pile, self.dodged, self.share, self.phase, self.present,
        )  # fmt: skip


def severs(work: Work) -> bool:
    """Tell whether a work cuts roots where it stands.

    Trenches, excavations, strip footings, drains, utilities, walls and piles do; a building on
    strip footings does; paving, slab and access do where a depth is given. Anything but a pile
    made without a trench at the least depth or deeper does not.
    """
    depth = None if work.depth_m is None else work.depth_m.value
    least = root_loss_settings().trenchless_least_depth_m
    if work.kind != "pile" and work.made == "trenchless" and (depth is None or depth >= least):
        return False
    if work.kind == "building":
        return work.founded == "strip"
    return work.kind in _CUTS or (work.kind in _CUT_IF_DEEP and bool(depth))


def covers(work: Work) -> bool:
    """Tell whether a work lies over roots without cutting them."""
    if work.kind == "building":
        return work.founded == "slab"
    return work.kind in _COVERS and not severs(work)


def footprint(work: Work, origin: tuple[float, float]) -> Footprint:
    """Lay one work on the ground.

    Parameters
    ----------
    work : Work
        Coordinates (east, north) [m].
    origin : (east, north) [m]
        Taken off every coordinate first, so that large grid coordinates cost no digits.

    Returns
    -------
    Footprint
        Points with a diameter as true circles, lines with their width, polygons with holes.
        A ring that crosses itself occupies every loop it closes.

    Raises
    ------
    ValueError
        A coordinate, width or diameter is not finite, or a width or diameter is negative.
    """
    width, diameter = work.width_m, work.diameter_m or 0.0
    if not (math.isfinite(width) and math.isfinite(diameter) and width >= 0 and diameter >= 0):
        raise ValueError(
            f"work {work.id!r}: width {width!r} and diameter {diameter!r} must be finite and >= 0."
        )
    polygons: list[shapely.Polygon] = []
    circles: list[tuple[float, float, float]] = []
    lines: list[Floats] = []
    for part in work.parts:
        outer, holes = _local(work.id, part, origin)
        if part.shape == "point":
            circles += [(float(x), float(y), diameter / 2) for x, y in outer]
        elif len(outer) == 1:
            circles.append((float(outer[0, 0]), float(outer[0, 1]), 0.0))
        elif part.shape == "line":
            if width == 0:
                lines.append(outer)
            else:
                polygons += line_polygon(outer, width)
        else:
            shells, rest = _valid(shapely.Polygon(outer, holes)) if len(outer) > 2 else ([], True)
            polygons += shells
            if rest and not shells:
                lines.append(np.vstack([outer, outer[:1]]))
    return Footprint(
        polygons=tuple(polygons),
        circles=np.array(circles, dtype=np.float64).reshape(-1, 3),
        lines=tuple(lines),
        severs=severs(work),
        covers=covers(work),
        is_pile=work.kind == "pile",
        dodged=work.kind == "pile" and work.made in ("hand", "air"),
        share=depth_share(None if work.depth_m is None else work.depth_m.value),
        phase=PHASE_RANK[work.phase],
        present=work.present != "no",
    )


def _local(name: str, part: Part, origin: tuple[float, float]) -> tuple[Floats, list[Floats]]:
    def ring(points: Ring) -> Floats:
        xy = np.asarray(points, dtype=np.float64).reshape(-1, 2)
        if not np.isfinite(xy).all():
            raise ValueError(f"work {name!r}: every coordinate must be a finite number.")
        xy = (xy - np.asarray(origin))[:, ::-1]
        keep = np.ones(len(xy), dtype=bool)
        keep[1:] = (xy[1:] != xy[:-1]).any(axis=1)
        return np.ascontiguousarray(xy[keep])

    outer = ring(part.ring)
    if len(outer) == 0:
        raise ValueError(f"work {name!r}: a part needs at least one point.")
    return outer, [h for h in map(ring, part.holes) if len(h) > 2]


def _valid(polygon: shapely.Polygon) -> tuple[list[shapely.Polygon], bool]:
    """Polygons with area, and whether what was given had collapsed to a line."""
    whole = polygon if polygon.is_valid else shapely.make_valid(polygon, method="structure")
    parts = shapely.get_parts(shapely.get_parts([whole]))
    shells = [
        p
        for p in shapely.orient_polygons(parts)
        if p.geom_type == "Polygon" and not p.is_empty and p.area > 0
    ]
    return shells, not shells


def line_polygon(points: Floats, width_m: float) -> list[shapely.Polygon]:
    """Give a line its width: flat ends, mitred corners.

    A mitre longer than the limit (in half widths) is cut off there, square to its bisector. A
    line that returns to its first point is mitred there too.

    Parameters
    ----------
    points : ndarray, shape (n, 2)
        n >= 2, no point repeated in a row.
    width_m : float
        > 0.
    """
    half = width_m / 2
    cells: list[shapely.Polygon] = [_strip(a, b, half) for a, b in pairwise(points)]
    corners: Iterable[tuple[Floats, Floats, Floats]] = zip(
        points[:-2], points[1:-1], points[2:], strict=True
    )
    if len(points) > 3 and (points[0] == points[-1]).all():
        corners = [*corners, (points[-2], points[0], points[1])]
    for a, b, c in corners:
        cells += _mitre(a, b, c, half)
    if len(cells) == 1:
        return list(shapely.orient_polygons(cells))
    return list(shapely.orient_polygons(shapely.get_parts(shapely.union_all(cells))))


def _strip(a: Floats, b: Floats, half: float) -> shapely.Polygon:
    side = _left(a, b) * half
    return shapely.Polygon([a - side, b - side, b + side, a + side])


def _left(a: Floats, b: Floats) -> Floats:
    along: Floats = (b - a) / math.hypot(*(b - a))
    return np.array([-along[1], along[0]])


def _mitre(a: Floats, b: Floats, c: Floats, half: float) -> Sequence[shapely.Polygon]:
    n0, n1 = _left(a, b), _left(b, c)
    turn = n0[0] * n1[1] - n0[1] * n1[0]
    if turn == 0:  # straight on, or straight back: the strips end flush
        return []
    if turn > 0:  # turning left opens the corner on the right
        n0, n1 = -n0, -n1
    bisector = n0 + n1
    size = math.hypot(*bisector)
    if size == 0:
        return []
    bisector = bisector / size
    cosine = size / 2  # between a face normal and the bisector
    limit = root_loss_settings().mitre_limit
    p0, p1 = b + half * n0, b + half * n1
    if limit * cosine >= 1.0:
        return [shapely.Polygon([b, p0, b + bisector * (half / cosine), p1])]
    # Along each face from its end to where it meets the square cut at `limit` half widths.
    sine = math.sqrt(max(0.0, 1.0 - cosine * cosine))
    run = half * (limit - cosine) / sine
    t0, t1 = _toward(n0, bisector), _toward(n1, bisector)
    return [shapely.Polygon([b, p0, p0 + run * t0, p1 + run * t1, p1])]


def _toward(normal: Floats, bisector: Floats) -> Floats:
    along = bisector - normal * float(normal @ bisector)
    unit: Floats = along / math.hypot(*along)
    return unit
