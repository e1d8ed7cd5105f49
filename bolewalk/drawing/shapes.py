"""Shapes of works made fit for use: rings cleaned, areas checked, areas and lines told apart."""

import math
import re
from collections.abc import Sequence

import shapely

from bolewalk.drawing.details import AREA_KINDS
from bolewalk.drawing.settings import reading_settings
from bolewalk.model.works import Part, Ring, Work

__all__ = ["ShapeError", "check_parts", "line_part", "point_part", "polygon_part"]

XY = tuple[float, float]
_WHERE = re.compile(r"\[(\S+) (\S+)\]")


class ShapeError(ValueError):
    """A shape that cannot be used. The text says what was expected; `value` what was found."""

    def __init__(self, expected: str, value: str | None = None) -> None:
        super().__init__(expected)
        self.value = value


def _cleaned(points: Sequence[XY]) -> list[XY]:
    if not all(math.isfinite(x) and math.isfinite(y) for x, y in points):
        raise ShapeError("coordinates that are numbers", "NaN or infinite")
    far_m = reading_settings().far_m
    farthest = max((abs(v) for p in points for v in p), default=0.0)
    if farthest > far_m:
        raise ShapeError(f"a place within {far_m:,.0f} m of the grid's origin", f"{farthest:.3g} m")
    return [p for i, p in enumerate(points) if i == 0 or p != points[i - 1]]


def point_part(point: XY) -> Part:
    """Make a point [m]; ShapeError where it is not finite."""
    return Part("point", tuple(_cleaned([point])))


def line_part(points: Sequence[XY]) -> Part:
    """Make a line [m], closed where its last point is its first; ShapeError where it has no
    length."""
    ring = _cleaned(points)
    if len(ring) < 2:
        raise ShapeError("a line of two points or more", "a line without length")
    return Part("line", tuple(ring))


def _open_ring(points: Sequence[XY]) -> Ring:
    ring = _cleaned(points)
    if len(ring) > 1 and ring[0] == ring[-1]:
        ring.pop()
    if len(set(ring)) < 3:
        raise ShapeError("an area of three corners or more", f"{len(set(ring))} corners")
    return tuple(ring)


def polygon_part(
    outline: Sequence[XY], holes: Sequence[Sequence[XY]] = (), *, m_per_unit: float
) -> Part:
    """Make an area.

    Parameters
    ----------
    outline, holes : sequences of (east, north) [m]
        Closed or not by repeating the first point.
    m_per_unit : float
        Turns the place of a crossing back into the grid's unit for the message.

    Raises
    ------
    ShapeError
        Fewer than three corners, no area, an outline that crosses itself, a hole outside.
    """
    ring = _open_ring(outline)
    inner = tuple(_open_ring(h) for h in holes)
    polygon = shapely.Polygon(ring, inner)
    if not polygon.is_valid:
        raise ShapeError("an outline that does not cross itself", _why(polygon, m_per_unit))
    if polygon.area == 0:
        raise ShapeError("an outline with an area", "no area")
    return Part("polygon", ring, inner)


def _why(polygon: shapely.Polygon, m_per_unit: float) -> str:
    reason = str(shapely.is_valid_reason(polygon))
    where = _WHERE.search(reason)
    what = reason.split("[")[0].strip().lower()
    if where is None:
        return what
    x, y = (float(g) / m_per_unit for g in where.groups())
    return f"{what} at {x:.2f}, {y:.2f}"


def check_parts(work: Work, *, m_per_unit: float) -> tuple[Part, ...]:
    """Give the parts of a work as its kind needs them.

    A closed line of a kind that covers ground becomes an area, unless it has a width.

    Raises
    ------
    ShapeError
        The kind covers ground and a part has neither area, width nor diameter; or a pile is
        drawn as an open line.
    """
    parts = []
    for part in work.parts:
        if part.shape == "line" and work.kind == "pile":
            raise ShapeError("a pile as a point, a circle or a closed outline", "an open line")
        if part.shape == "line" and work.kind in AREA_KINDS and not work.width_m:
            if part.ring[0] != part.ring[-1]:
                raise ShapeError(
                    f"a closed outline for {work.kind}, or a width", "an open line without width"
                )
            part = polygon_part(part.ring, m_per_unit=m_per_unit)
        if part.shape == "point" and work.kind != "pile" and not work.diameter_m:
            raise ShapeError(f"a line, an area or a diameter for {work.kind}", "a bare point")
        parts.append(part)
    return tuple(parts)
