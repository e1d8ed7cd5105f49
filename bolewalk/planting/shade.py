"""Shade at a named spot and hour: which crowns stand between it and the sun, in which year."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from bolewalk.planting.later import CrownThen, Later
from bolewalk.planting.plan import ShadeSpot
from bolewalk.planting.sun import Sun, sun_position

__all__ = ["ShadeThen", "SpotShade", "shade_at", "shades"]


@dataclass(frozen=True, slots=True)
class ShadeThen:
    """One year: the plants whose crown shades the spot, and the chance that one still does."""

    year: int
    by: tuple[str, ...]
    chance: float


@dataclass(frozen=True, slots=True)
class SpotShade:
    """One spot at one hour. `first_year` is the first of the years told with shade more likely
    than not; None where there is none."""

    spot: ShadeSpot
    sun: Sun
    years: tuple[ShadeThen, ...]
    first_year: int | None


def shades(crown: CrownThen, spot: ShadeSpot, sun: Sun) -> bool:
    """Tell whether a crown stands between a spot and the sun.

    The crown is a spheroid between its lowest branch and its top, its four radii those of the
    outline on the side the ray passes. Trunks and leafless crowns are not looked at.
    """
    if sun.elevation_deg <= 0 or crown.height_m is None or crown.height_m <= crown.base_m:
        return False
    half = (crown.height_m - crown.base_m) / 2
    middle = crown.base_m + half
    az, el = math.radians(sun.azimuth_deg), math.radians(sun.elevation_deg)
    ray = (math.sin(az) * math.cos(el), math.cos(az) * math.cos(el), math.sin(el))
    dx, dy, dz = spot.at[0] - crown.x_m, spot.at[1] - crown.y_m, spot.height_m - middle
    north, east, south, west = crown.radii_m
    # Nearest point of the ray to the trunk tells which side of the crown it passes.
    flat = ray[0] ** 2 + ray[1] ** 2
    t = max(0.0, -(dx * ray[0] + dy * ray[1]) / flat) if flat > 0 else 0.0
    a = east if dx + t * ray[0] >= 0 else west
    b = north if dy + t * ray[1] >= 0 else south
    if not (a > 0 and b > 0):
        return False
    ox, oy, oz = dx / a, dy / b, dz / half
    rx, ry, rz = ray[0] / a, ray[1] / b, ray[2] / half
    qa = rx * rx + ry * ry + rz * rz
    qb = ox * rx + oy * ry + oz * rz
    qc = ox * ox + oy * oy + oz * oz - 1
    if qc <= 0:
        return True
    root = qb * qb - qa * qc
    return root >= 0 and qb < 0


def shade_at(
    spot: ShadeSpot, later: Later, *, year: int, latitude_deg: float, longitude_deg: float,
    utc_offset_hours: float,
) -> SpotShade:  # fmt: skip
    """Give the shade on a spot in the years told.

    Parameters
    ----------
    spot : ShadeSpot
    later : Later
    year : int
        Calendar year for the sun; the hour hardly changes from one to the next.
    latitude_deg, longitude_deg, utc_offset_hours : float
        As `sun_position`.
    """
    sun = sun_position(
        _day(year, spot.month, spot.day), spot.hour, latitude_deg=latitude_deg,
        longitude_deg=longitude_deg, utc_offset_hours=utc_offset_hours,
    )  # fmt: skip
    told = tuple(_in_year(spot, y.crowns, y.year, sun) for y in later.years)
    first = next((t.year for t in told if t.chance > 0.5), None)
    return SpotShade(spot, sun, told, first)


def _day(year: int, month: int, day: int) -> date:
    while True:
        try:
            return date(year, month, day)
        except ValueError:
            # 31 June, 29 February: the last day the month has.
            day -= 1


def _in_year(spot: ShadeSpot, crowns: Sequence[CrownThen], year: int, sun: Sun) -> ShadeThen:
    by = [c for c in crowns if shades(c, spot, sun)]
    open_ = math.prod(1 - c.alive for c in by)
    return ShadeThen(year, tuple(c.id for c in by), 1 - open_ if by else 0.0)
