"""The place from above in later years, side by side: what stays and what was planted."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
import shapely
from shapely.geometry import Polygon

from bolewalk.model.works import Work
from bolewalk.papers.amounts import Amounts
from bolewalk.papers.draw.frame import Frame, Scale
from bolewalk.papers.draw.plan import draw_work
from bolewalk.papers.draw.scene import Note, Scene
from bolewalk.papers.shapes import crown_ring, work_geometry

if TYPE_CHECKING:
    from bolewalk.planting.later import CrownThen, YearThen

__all__ = ["years_plan"]

_GAP_MM, _HEAD_MM, _MOST_MM = 4.0, 8.0, 47.0
_SHOWN = frozenset({"building", "boundary", "wall", "paving"})


def years_plan(
    years: "Sequence[YearThen]",
    works: Sequence[Work],
    *,
    year: str,
    cover: str,
    amounts: Amounts,
    width_mm: float,
) -> Scene | None:
    """Draw one panel a year, two beside each other, all at one scale.

    Crowns that stay are open rings; planted ones are shaded, as wide as they are if they live.

    Parameters
    ----------
    years : sequence of YearThen
        In order.
    year, cover : str
        Words of the catalogue with {year} and {area} in them.
    width_mm : float

    Returns
    -------
    Scene or None
        None where nothing has a place.
    """
    boxes = [
        (c.x_m - r, c.y_m - r, c.x_m + r, c.y_m + r)
        for y in years
        for c in y.crowns
        for r in (max(c.radii_m),)
    ]
    if not boxes:
        return None
    b = np.array(boxes)
    west, south = float(b[:, 0].min()), float(b[:, 1].min())
    east, north = float(b[:, 2].max()), float(b[:, 3].max())
    panel = (width_mm - _GAP_MM - 0.4) / 2
    k = min(panel / (east - west), _MOST_MM / (north - south))
    high = (north - south) * k
    rows = (len(years) + 1) // 2
    scene = Scene(width_mm, rows * (high + _HEAD_MM))
    standing = [w for w in works if w.phase != "possible later" and w.kind in _SHOWN]
    for i, then in enumerate(years):
        x0 = (i % 2) * (panel + _GAP_MM)
        y0 = (i // 2) * (high + _HEAD_MM) + _HEAD_MM - 2.0
        frame = Frame(
            (x0, y0, x0 + panel, y0 + high),
            ((west + east) / 2, (south + north) / 2),
            Scale(1000 / k, ""),
        )
        for work in standing:
            draw_work(scene, work, frame.placed(work_geometry(work)))
        for c in sorted(then.crowns, key=lambda c: (c.new, c.id)):
            _crown(scene, frame, c)
        text = year.replace("{year}", str(then.year))
        scene.note(Note(x0, y0 - 2.2, text, 8.5, weight="bold"))
        area = cover.replace("{area}", amounts.area(then.cover_m2))
        scene.note(Note(x0 + panel, y0 - 2.2, area, 7.5, "end", ink="grey"))
        scene.rect(x0, y0, panel, high, "thin")
    return scene


def _crown(scene: Scene, frame: Frame, c: "CrownThen") -> None:
    ring = crown_ring(c.x_m, c.y_m, c.radii_m)
    if not ring:
        return
    shape = frame.placed(Polygon(ring))
    for piece in shapely.get_parts(shape):
        if isinstance(piece, Polygon):
            points = [(float(x), float(y)) for x, y in piece.exterior.coords[:-1]]
            scene.shape(points, "bold" if c.new else "line", fill="shade" if c.new else None)
    if c.new:
        x, y = frame.point(c.x_m, c.y_m)
        scene.circle(x, y, 0.35, "", fill="black")
