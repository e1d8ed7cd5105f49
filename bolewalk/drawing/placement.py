"""A drawing laid onto the survey's grid: by its unit alone, or by two points known in both."""

import math
import sys
from dataclasses import dataclass

__all__ = ["Pair", "Placement", "PlacementError", "by_points", "by_unit"]

XY = tuple[float, float]
Pair = tuple[XY, XY]
"""One point twice: (in the drawing, in the survey)."""


class PlacementError(ValueError):
    """Two points that do not place a drawing; the text says what to give."""


@dataclass(frozen=True, slots=True)
class Placement:
    """Drawing coordinates -> metres on the survey's grid.

    survey [m] = (a -b; b a) drawing + (shift_x, shift_y): turned and scaled without distortion.
    `m_per_unit` is the scale, sqrt(a^2 + b^2).
    """

    a: float
    b: float
    shift_x_m: float
    shift_y_m: float

    @property
    def m_per_unit(self) -> float:
        """Metres on the grid for one unit of the drawing."""
        return math.hypot(self.a, self.b)

    @property
    def turned_deg(self) -> float:
        """How far the drawing was turned, counter-clockwise from its own axes [degrees]."""
        return math.degrees(math.atan2(self.b, self.a))

    def move(self, x: float, y: float) -> XY:
        """Give the place on the grid [m] of a point of the drawing."""
        return (
            self.a * x - self.b * y + self.shift_x_m,
            self.b * x + self.a * y + self.shift_y_m,
        )


def by_unit(m_per_unit: float) -> Placement:
    """Place a drawing whose origin and axes are the survey's own."""
    return Placement(m_per_unit, 0.0, 0.0, 0.0)


def by_points(
    first: Pair, second: Pair, *, m_per_grid_unit: float, least_apart_m: float
) -> Placement:
    """Place a drawing by two points known in both.

    Parameters
    ----------
    first, second : Pair
        ((drawing x, y), (survey x, y)), survey in the grid's own unit.
    m_per_grid_unit : float
    least_apart_m : float
        Least distance of the two points in the survey [m].

    Returns
    -------
    Placement
        With a drawing difference d and a survey difference s as complex numbers, a + ib = s / d.

    Raises
    ------
    PlacementError
        A coordinate is not finite, or the points lie too close to give a direction.
    """
    numbers = [v for pair in (first, second) for point in pair for v in point]
    # Not math.isfinite: whole numbers of any length may stand here.
    if not all(abs(v) <= sys.float_info.max for v in numbers):
        raise PlacementError("points whose coordinates are numbers")
    (d1, s1), (d2, s2) = first, second
    drawn = complex(d2[0] - d1[0], d2[1] - d1[1])
    surveyed = complex(s2[0] - s1[0], s2[1] - s1[1]) * m_per_grid_unit
    if drawn == 0 or abs(surveyed) < least_apart_m:
        raise PlacementError(
            f"two points apart in the drawing, and at least {least_apart_m:g} m apart in the survey"
        )
    turn = surveyed / drawn
    a, b = turn.real, turn.imag
    x0, y0 = s1[0] * m_per_grid_unit, s1[1] * m_per_grid_unit
    return Placement(a, b, x0 - (a * d1[0] - b * d1[1]), y0 - (b * d1[0] + a * d1[1]))
