"""Hatches that tell kinds of works apart without colour, as lines clipped to the outline.

Patterns are rows of a data table; lines are laid on one grid for the whole sheet, so that two
pieces of the same kind read as one surface.
"""

import math
import tomllib
from dataclasses import dataclass
from functools import lru_cache
from importlib import resources

import numpy as np
import shapely
from numpy.typing import NDArray
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
        return _marks(area, hatch.mark, spacing)
    out: list[tuple[scene.Point, ...]] = []
    for angle in hatch.angles_deg:
        out.extend(_within(_family(area.bounds, angle, spacing, hatch.dash_mm), area))
    return out


def _family(
    bounds: tuple[float, float, float, float],
    angle_deg: float,
    spacing: float,
    dash: tuple[float, ...],
) -> NDArray[np.float64]:
    """Give lines n . p = k * spacing as (n, 2, 2), all k whose line meets the box.

    y runs down on a sheet.
    """
    a = math.radians(angle_deg)
    along, across = np.array((math.cos(a), -math.sin(a))), np.array((math.sin(a), math.cos(a)))
    x0, y0, x1, y1 = bounds
    corners = np.array([(x, y) for x in (x0, x1) for y in (y0, y1)])
    ks, ts = corners @ across / spacing, corners @ along
    lines = np.arange(math.ceil(ks.min()), math.floor(ks.max()) + 1)
    if not dash:
        starts, ends, owners = (
            np.full(len(lines), ts.min() - 1),
            np.full(len(lines), ts.max() + 1),
            lines,
        )
    else:
        # Every second line is shifted by half a period.
        period = sum(dash)
        n = math.ceil((ts.max() - ts.min()) / period) + 2
        shift = (lines % 2) * period / 2
        first = np.floor((ts.min() - shift) / period) * period + shift
        starts = (first[:, None] + np.arange(n) * period).ravel()
        ends, owners = starts + dash[0], np.repeat(lines, n)
    foot = owners[:, None] * spacing * across
    return np.stack([foot + starts[:, None] * along, foot + ends[:, None] * along], axis=1)


_ARM_MM, _DOT_MM = 0.45, 0.06
_STROKES: dict[str, tuple[tuple[float, float, float, float], ...]] = {
    "dot": ((-_DOT_MM, 0, _DOT_MM, 0),),
    "plus": ((-_ARM_MM, 0, _ARM_MM, 0), (0, -_ARM_MM, 0, _ARM_MM)),
    "cross": ((-_ARM_MM, -_ARM_MM, _ARM_MM, _ARM_MM), (-_ARM_MM, _ARM_MM, _ARM_MM, -_ARM_MM)),
    "tick": ((0, -_ARM_MM, 0, _ARM_MM),),
}


def _marks(area: BaseGeometry, mark: str, spacing: float) -> list[tuple[scene.Point, ...]]:
    x0, y0, x1, y1 = area.bounds
    half = spacing / 2
    rows = np.arange(math.ceil(y0 / half), math.floor(y1 / half) + 1)
    columns = np.arange(math.floor(x0 / spacing) - 1, math.ceil(x1 / spacing) + 1)
    if not len(rows) or not len(columns):
        return []
    y = np.repeat(rows * half, len(columns))
    x = (columns[None, :] * spacing + np.where(rows % 2, half, 0.0)[:, None]).ravel()
    inside = shapely.intersects_xy(area, x, y)
    centres = np.column_stack([x[inside], y[inside]])
    strokes = np.array(_STROKES[mark]).reshape(-1, 2, 2)
    lines = centres[:, None, None, :] + strokes[None]
    return _within(lines.reshape(-1, 2, 2), area)


def _within(lines: NDArray[np.float64], area: BaseGeometry) -> list[tuple[scene.Point, ...]]:
    """Cut lines (n, 2, 2) off at the edge of an area, in their order."""
    if not len(lines):
        return []
    drawn = shapely.intersection(shapely.linestrings(lines), area)
    pieces = shapely.get_parts(drawn)
    pieces = pieces[shapely.get_dimensions(pieces) == 1]
    # An intersection may hold points and lines together.
    pieces = shapely.get_parts(pieces)
    pieces = pieces[(shapely.get_type_id(pieces) == 1) & ~shapely.is_empty(pieces)]
    xy, owner = shapely.get_coordinates(pieces, return_index=True)
    cuts = np.flatnonzero(np.diff(owner)) + 1
    return [tuple(map(tuple, run.tolist())) for run in np.split(xy, cuts) if len(run)]
