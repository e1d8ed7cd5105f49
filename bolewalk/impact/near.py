"""The works near one tree: how far, on which side, and what each does to the roots."""

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from bolewalk.impact.footprints import covers, severs
from bolewalk.model.works import Part, Work

__all__ = ["NearWork", "Role", "moved", "names_of", "near_works", "outline_of", "role_of"]

Role = Literal["pile", "severs", "covers", "nothing"]

_MITRE_LIMIT = 5.0  # times half the width, then bevelled: the survey folder's rule for lines


@dataclass(frozen=True, slots=True)
class NearWork:
    """One work near one tree.

    `distance_m` and `bearing_deg` lead from the trunk centre to the nearest point of the work's
    footprint (0 m and 0 degrees where the trunk stands in it); `role` is what it does to roots
    it reaches.
    """

    work: Work
    distance_m: float
    bearing_deg: float
    role: Role


def role_of(work: Work) -> Role:
    """Tell what a work does to the roots it reaches: cuts them, covers them, or neither."""
    if work.kind == "pile":
        return "pile"
    if severs(work):
        return "severs"
    return "covers" if covers(work) else "nothing"


def moved(work: Work, east_m: float, north_m: float) -> Work:
    """Give the work moved east and north [m]."""

    def ring(points: tuple[tuple[float, float], ...]) -> tuple[tuple[float, float], ...]:
        return tuple((x + east_m, y + north_m) for x, y in points)

    parts = tuple(Part(p.shape, ring(p.ring), tuple(map(ring, p.holes))) for p in work.parts)
    return replace(work, parts=parts)


_NUMBERED = re.compile(r"(.*?)(\d+)")


def names_of(works: Sequence[Work]) -> str:
    """List works by their label on the drawing, ids in brackets; by id where there is no label.

    Each once, in order; a run of numbered ids as its ends; those of one label together.

    Examples
    --------
    >>> names_of([Work(f"P{i}", "pile", (), label="Deck pile") for i in (1, 2, 3, 7)])
    'Deck pile (P1 to P3, P7)'
    >>> names_of([Work("W1", "trench", (), label="Power"), Work("W4", "drain", ())])
    'Power (W1); W4'
    """
    by_label: dict[str, list[str]] = {}
    for w in works:
        ids = by_label.setdefault(w.label if w.label != w.id else "", [])
        if w.id not in ids:
            ids.append(w.id)
    return "; ".join(
        f"{label} ({_runs(ids)})" if label else _runs(ids) for label, ids in by_label.items()
    )


def _runs(ids: Sequence[str]) -> str:
    runs: list[list[str]] = []
    for name in ids:
        if runs and _follows(runs[-1][-1], name):
            runs[-1].append(name)
        else:
            runs.append([name])
    parts: list[str] = []
    for run in runs:
        parts += [f"{run[0]} to {run[-1]}"] if len(run) > 2 else run
    return ", ".join(parts)


def _follows(before: str, after: str) -> bool:
    a, b = _NUMBERED.fullmatch(before), _NUMBERED.fullmatch(after)
    return bool(a and b and a[1] == b[1] and int(a[2]) + 1 == int(b[2]))


def _part(part: Part, work: Work) -> BaseGeometry:
    if part.shape == "point":
        return shapely.Point(part.ring[0]).buffer((work.diameter_m or 0.0) / 2, quad_segs=64)
    if part.shape == "line":
        line = shapely.LineString(part.ring)
        if work.width_m <= 0:
            return line
        return line.buffer(
            work.width_m / 2, cap_style="flat", join_style="mitre", mitre_limit=_MITRE_LIMIT
        )
    return shapely.Polygon(part.ring, part.holes)


def outline_of(work: Work) -> BaseGeometry:
    """Give a work's footprint on the survey's grid [m], for distances and crown clashes.

    A point of zero diameter and a line of zero width stay what they are.
    """
    return shapely.union_all([_sound(_part(p, work)) for p in work.parts])


def _sound(shape: BaseGeometry) -> BaseGeometry:
    if shape.is_empty:
        return shapely.Point(0, 0) if shape.geom_type == "Point" else shape
    return shape if shape.is_valid else shapely.make_valid(shape)


def near_works(
    tree_xy: tuple[float, float],
    radius_m: float,
    works: Sequence[Work],
    *,
    shapes: Sequence[BaseGeometry] | None = None,
) -> tuple[NearWork, ...]:
    """Find the works whose footprint, moved by its position error, comes within a radius.

    Parameters
    ----------
    tree_xy : (east, north) [m]
    radius_m : float
        Reach about the trunk centre [m].
    works : sequence of Work
        Those said not to be there are left out.
    shapes : sequence of geometry, optional
        `outline_of` of each work, where they are known already.

    Returns
    -------
    tuple of NearWork
        In the order of `works`.

    Raises
    ------
    ValueError
        An offset is not finite and >= 0.
    """
    if not works:
        return ()
    known = np.array(shapes if shapes is not None else [outline_of(w) for w in works])
    trunk = shapely.Point(tree_xy)
    distance = shapely.distance(known, trunk)
    offset = np.array([w.offset_m for w in works])
    if not (np.isfinite(offset) & (offset >= 0)).all():
        bad = works[int(np.argmin(np.isfinite(offset) & (offset >= 0)))]
        raise ValueError(f"work {bad.id!r}: offset {bad.offset_m!r} must be finite and >= 0 m.")
    found = []
    for i in np.flatnonzero(distance <= radius_m + offset).tolist():
        work, d = works[i], float(distance[i])
        if work.present == "no":
            continue
        end = shapely.get_coordinates(shapely.shortest_line(trunk, known[i]))[1]
        east, north = end[0] - tree_xy[0], end[1] - tree_xy[1]
        bearing = math.degrees(math.atan2(east, north)) % 360.0 if d > 0 else 0.0
        found.append(NearWork(work, d, bearing, role_of(work)))
    return tuple(found)
