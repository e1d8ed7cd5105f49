"""Distances on sloping ground: in plan, as every figure here is, and along the tape.

The ground about a tree is taken as one plane of the site's slope.
"""

import math
from dataclasses import dataclass

from bolewalk.impact.thresholds import Thresholds
from bolewalk.model.survey import Site

__all__ = ["Slope", "slope_of"]


@dataclass(frozen=True, slots=True)
class Slope:
    """Ground that falls `pct` percent towards `fall_deg`, None where the way it falls is not
    told: a tape is then taken to run straight up or down, which makes it longest."""

    pct: float
    fall_deg: float | None = None

    @property
    def steepest(self) -> float:
        """How many times the plan distance a tape straight up or down the slope reads."""
        return math.hypot(1.0, self.pct / 100.0)

    def times(self, bearing_deg: float) -> float:
        """Give how many times the plan distance a tape laid on a bearing reads, 1 or more.

        plan / cos(a), with tan(a) the grade along the bearing: the slope times the cosine of the
        angle between the bearing and the fall.

        Examples
        --------
        >>> round(20 * Slope(38.0, 180.0).times(0.0), 1)
        21.4
        """
        if self.fall_deg is None:
            return self.steepest
        along = math.cos(math.radians(bearing_deg - self.fall_deg))
        return math.hypot(1.0, self.pct / 100.0 * along)

    def tape_m(self, start: tuple[float, float], end: tuple[float, float]) -> float:
        """Give what a tape held on the ground reads between two points (east, north) [m]."""
        east, north = end[0] - start[0], end[1] - start[1]
        return math.hypot(east, north) * self.times(math.degrees(math.atan2(east, north)))


def slope_of(site: Site, thresholds: Thresholds) -> Slope | None:
    """Give the slope of a site.

    Returns
    -------
    Slope or None
        None where none was told, or one under "slope.least", on which tape and plan agree better
        than a tape is read.
    """
    if site.slope_pct is None or site.slope_pct < thresholds.value("slope.least"):
        return None
    return Slope(site.slope_pct, site.slope_bearing_deg)
