"""The place in a later year: a plan, and the same trees seen from the south."""

import math
from collections.abc import Sequence

from bolewalk.model.units import M_PER_FT, UnitSystem
from bolewalk.model.works import Work
from bolewalk.papers.draw.frame import Box, Frame, Scale
from bolewalk.papers.draw.plan import draw_work
from bolewalk.papers.draw.scene import Note, Point, Scene
from bolewalk.papers.shapes import work_geometry
from bolewalk.planting.later import CrownThen

__all__ = ["later_plan", "side_view"]

_STANDING = frozenset({"boundary", "building", "wall", "paving", "roof", "fence", "wire"})
_PAD_M = 2.0


def _extent(crowns: Sequence[CrownThen]) -> Box | None:
    if not crowns:
        return None
    return (
        min(c.x_m - c.radii_m[3] for c in crowns) - _PAD_M,
        min(c.y_m - c.radii_m[2] for c in crowns) - _PAD_M,
        max(c.x_m + c.radii_m[1] for c in crowns) + _PAD_M,
        max(c.y_m + c.radii_m[0] for c in crowns) + _PAD_M,
    )


def later_plan(
    crowns: Sequence[CrownThen],
    works: Sequence[Work],
    *,
    widest: Sequence[CrownThen],
    width_mm: float,
    most_mm: float,
) -> Scene | None:
    """Draw crowns from above, north up: those that stay in ink, new ones in the accent.

    Parameters
    ----------
    crowns : sequence of CrownThen
        Of the year drawn.
    works : sequence of Work
        Buildings, boundaries and paving are drawn.
    widest : sequence of CrownThen
        Of the last year: the drawing has one frame for all years.
    width_mm, most_mm : float
        Width, and the most it may be high.
    """
    extent = _extent([*crowns, *widest])
    if extent is None:
        return None
    west, south, east, north = extent
    k = min(width_mm / (east - west), most_mm / (north - south))
    height = (north - south) * k
    scene = Scene(width_mm, height)
    centre = ((west + east) / 2, (south + north) / 2)
    frame = Frame((0.0, 0.0, width_mm, height), centre, Scale(1000 / k, ""))
    for work in works:
        if work.kind in _STANDING and work.phase != "possible later":
            shape = frame.placed(work_geometry(work))
            if not shape.is_empty:
                draw_work(scene, work, shape)
    for c in sorted(crowns, key=lambda c: c.new):
        scene.shape([frame.point(*p) for p in _outline(c)], "accent" if c.new else "line")
        x, y = frame.point(c.x_m, c.y_m)
        scene.circle(x, y, 0.5, "line", fill="black")
        scene.note(Note(x + 0.9, y - 0.7, c.id, 6.5, ink="accent" if c.new else "black"))
    return scene


def _outline(c: CrownThen) -> list[Point]:
    north, east, south, west = c.radii_m
    ring = []
    for i in range(72):
        a = 2 * math.pi * i / 72
        s, k = math.sin(a), math.cos(a)
        ring.append(
            (c.x_m + s * (east if s >= 0 else west), c.y_m + k * (north if k >= 0 else south))
        )
    return ring


def side_view(
    crowns: Sequence[CrownThen],
    *,
    widest: Sequence[CrownThen],
    units: UnitSystem,
    width_mm: float,
    most_mm: float,
) -> Scene | None:
    """Draw trunks and crowns from the south, one scale up and along, heights on the left.

    Trees without a height are left out. Crowns are drawn as ellipses between base and top.
    """
    tall = [c for c in crowns if c.height_m is not None]
    extent = _extent([*crowns, *widest])
    top = max((c.height_m or 0.0 for c in (*crowns, *widest)), default=0.0)
    if extent is None or not tall or top <= 0:
        return None
    west, _, east, _ = extent
    left = 9.0
    k = min((width_mm - left) / (east - west), (most_mm - 5.0) / top)
    height = top * k + 5.0
    ground = height - 1.5
    scene = Scene(width_mm, height)
    unit_m = M_PER_FT if units == "imperial" else 1.0
    step = next(s for s in (1, 2, 5, 10, 20, 50, 100) if top / (s * unit_m) <= 6)
    mark = 0.0
    while mark * unit_m <= top:
        y = ground - mark * unit_m * k
        scene.line([(left, y), (left + (east - west) * k, y)], "line" if mark == 0 else "grid")
        scene.note(Note(left - 1.5, y + 0.9, f"{mark:g}", 6.5, "end", ink="grey"))
        mark += step
    # The farthest first: what stands nearer is drawn over it.
    for c in sorted(tall, key=lambda c: -c.y_m):
        assert c.height_m is not None
        x = left + (c.x_m - west) * k
        pen = "accent" if c.new else "line"
        base, high = c.base_m * k, c.height_m * k
        scene.line([(x, ground), (x, ground - base)], "bold" if not c.new else "accent")
        middle, half = ground - (base + high) / 2, (high - base) / 2
        ring = []
        for i in range(48):
            a = 2 * math.pi * i / 48
            reach = c.radii_m[1] if math.sin(a) >= 0 else c.radii_m[3]
            ring.append((x + math.sin(a) * reach * k, middle - math.cos(a) * half))
        scene.shape(ring, pen, fill="white")
        scene.note(Note(x, middle + 0.8, c.id, 6.5, "middle", ink="accent" if c.new else "black"))
    return scene
