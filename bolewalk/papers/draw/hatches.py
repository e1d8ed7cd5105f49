"""Hatches that tell kinds of works apart without colour, as lines clipped to the outline.

Patterns are rows of a data table; lines are laid on one grid for the whole sheet, so that two
pieces of the same kind read as one surface.
"""

import math
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from importlib import resources

import shapely
from shapely.geometry import LineString, MultiLineString, MultiPoint, Point, Polygon
from shapely.geometry.base import BaseGeometry

from bolewalk.papers.draw import scene

__all__ = ["Hatch", "hatch_for", "hatch_lines"]


@dataclass(frozen=True, slots=True)
class Hatch:
    """One pattern: families of parallel lines by angle, or a mark repeated on a grid.

    Attributes
    ----------
    angles_deg : tuple of float
        Directions of the line families, counter-clockwise from right.
    spacing_mm : float
        Between lines, or of the grid of marks.
    mark : str
        "" (lines), "dot", "cross", "plus", "tick".
    dash_mm : tuple of float
        Drawn and left out along each line; empty = unbroken.
    """

    angles_deg: tuple[float, ...] = ()
    spacing_mm: float = 2.0
    mark: str = ""
    dash_mm: tuple[float, ...] = ()


@lru_cache(maxsize=1)
def _table() -> dict[str, Hatch]:
    text = (resources.files(__package__) / "hatches.toml").read_text(encoding="utf-8")
    return {
        kind: Hatch(
            tuple(float(a) for a in row.get("angles", ())),
            float(row["spacing"]),
            row.get("mark", ""),
            tuple(float(d) for d in row.get("dash", ())),
        )
        for kind, row in tomllib.loads(text).items()
    }


def hatch_for(kind: str) -> Hatch | None:
    """Give the hatch of a kind of works, None for those drawn as a line only."""
    return _table().get(kind)


def hatch_lines(
    area: BaseGeometry, hatch: Hatch, *, widen: float = 1.0
) -> list[tuple[scene.Point, ...]]:
    """Fill an area.

    Parameters
    ----------
    area : shapely polygon or multipolygon
        In sheet millimetres.
    hatch : Hatch
    widen : float
        Factor on the spacing, > 0: works that may come later are hatched wider.

    Returns
    -------
    list of tuples of points [mm]
        Short open lines; a dot is a line of no length drawn with a round end.
    """
    if area.is_empty:
        return []
    spacing = hatch.spacing_mm * widen
    if hatch.mark:
        return list(_marks(area, hatch.mark, spacing))
    out: list[tuple[scene.Point, ...]] = []
    for angle in hatch.angles_deg:
        lines = MultiLineString(list(_family(area.bounds, angle, spacing, hatch.dash_mm)))
        out.extend(_pieces(shapely.intersection(lines, area)))
    return out


def _family(
    bounds: tuple[float, float, float, float],
    angle_deg: float,
    spacing: float,
    dash: tuple[float, ...],
) -> Iterator[tuple[scene.Point, scene.Point]]:
    # Lines n . p = k * spacing, all k whose line meets the box; y runs down on a sheet.
    a = math.radians(angle_deg)
    along, across = (math.cos(a), -math.sin(a)), (math.sin(a), math.cos(a))
    x0, y0, x1, y1 = bounds
    corners = [(x, y) for x in (x0, x1) for y in (y0, y1)]
    ks = [(x * across[0] + y * across[1]) / spacing for x, y in corners]
    ts = [x * along[0] + y * along[1] for x, y in corners]
    for k in range(math.ceil(min(ks)), math.floor(max(ks)) + 1):
        ox, oy = across[0] * k * spacing, across[1] * k * spacing
        if not dash:
            runs: Iterator[tuple[float, float]] = iter([(min(ts) - 1, max(ts) + 1)])
        else:
            runs = _dashes(min(ts), max(ts), dash, shift=(k % 2) * sum(dash) / 2)
        for s, e in runs:
            yield (ox + along[0] * s, oy + along[1] * s), (ox + along[0] * e, oy + along[1] * e)


def _dashes(
    start: float, end: float, dash: tuple[float, ...], *, shift: float
) -> Iterator[tuple[float, float]]:
    period = sum(dash)
    t = math.floor((start - shift) / period) * period + shift
    while t < end:
        yield t, t + dash[0]
        t += period


def _marks(area: BaseGeometry, mark: str, spacing: float) -> Iterator[tuple[scene.Point, ...]]:
    x0, y0, x1, y1 = area.bounds
    half = spacing / 2
    centres = [
        (c * spacing + (half if r % 2 else 0.0), r * half)
        for r in range(math.ceil(y0 / half), math.floor(y1 / half) + 1)
        for c in range(math.floor(x0 / spacing) - 1, math.ceil(x1 / spacing) + 1)
    ]
    if not centres:
        return
    inside = shapely.intersection(MultiPoint(centres), area)
    marks = [line for p in _points(inside) for line in _one_mark(mark, p.x, p.y)]
    yield from _pieces(shapely.intersection(MultiLineString(marks), area))


def _one_mark(mark: str, x: float, y: float) -> Iterator[tuple[scene.Point, ...]]:
    s = 0.45
    if mark == "dot":
        yield (x - 0.06, y), (x + 0.06, y)
    elif mark == "plus":
        yield (x - s, y), (x + s, y)
        yield (x, y - s), (x, y + s)
    elif mark == "cross":
        yield (x - s, y - s), (x + s, y + s)
        yield (x - s, y + s), (x + s, y - s)
    else:
        yield (x, y - s), (x, y + s)


def _pieces(found: BaseGeometry) -> Iterator[tuple[scene.Point, ...]]:
    if isinstance(found, LineString):
        if not found.is_empty:
            yield tuple((float(x), float(y)) for x, y in found.coords)
    elif not isinstance(found, Point | Polygon):
        for part in shapely.get_parts(found):
            yield from _pieces(part)


def _points(found: BaseGeometry) -> Iterator[Point]:
    if isinstance(found, Point):
        if not found.is_empty:
            yield found
    else:
        parts = [p for p in shapely.get_parts(found) if isinstance(p, Point)]
        yield from sorted(parts, key=lambda p: (p.y, p.x))
