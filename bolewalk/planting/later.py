"""The place in later years: cover today, lost, regained, and the year the gap is filled."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from bolewalk.planting.crowns import Grower, crown_outlines
from bolewalk.planting.tables import rules

__all__ = ["CrownThen", "Later", "YearThen", "crown_area_m2", "in_later_years"]

Floats = NDArray[np.float64]
_LINES: tuple[Literal["likely", "low", "high"], ...] = ("likely", "low", "high")


@dataclass(frozen=True, slots=True)
class CrownThen:
    """One plant in one year. Sizes if it lives, with the band; `alive` the share expected."""

    id: str
    label: str
    x_m: float
    y_m: float
    radii_m: tuple[float, float, float, float]
    radius_low_m: float
    radius_high_m: float
    height_m: float | None
    height_low_m: float | None
    height_high_m: float | None
    base_m: float
    alive: float
    new: bool


@dataclass(frozen=True, slots=True)
class YearThen:
    """The place in one year.

    `kept_m2` ground under the crowns that stay; `new_m2` expected ground under new crowns
    outside them, with survival, and its band; `cover_m2` both.
    """

    year: int
    crowns: tuple[CrownThen, ...]
    kept_m2: float
    new_m2: float
    new_low_m2: float
    new_high_m2: float

    @property
    def cover_m2(self) -> float:
        """Ground under any crown, new ones with survival [m2]."""
        return self.kept_m2 + self.new_m2


@dataclass(frozen=True, slots=True)
class Later:
    """Old and new crowns over the years.

    Attributes
    ----------
    years : tuple of YearThen
    today_m2 : float
        Ground under all crowns that stand today.
    gap_m2 : float
        What is lost with the trees that go.
    filled : (fast, likely, slow) of int or None
        Year in which new crowns alone cover as much as was lost; None = not within the horizon.
    back_years : int or None
        Year in which today's cover is back, growth of the trees that stay included.
    horizon : int
    sources : tuple of str
        Where growth comes from, each once; stand-ins as sentences.
    """

    years: tuple[YearThen, ...]
    today_m2: float
    gap_m2: float
    filled: tuple[int | None, int | None, int | None]
    back_years: int | None
    horizon: int
    sources: tuple[str, ...]


def crown_area_m2(
    years: Floats | Sequence[float], *, grown_width_m: float, plants: int, survival: float,
    rate: float | None = None,
) -> Floats:  # fmt: skip
    """Give the expected crown area of alike plants by saturating growth [m2].

    plants x survival x pi x (width / 2 x (1 - exp(-rate x years)))**2

    Parameters
    ----------
    years : array_like
    grown_width_m : float
    plants : int
    survival : float
        Share alive, 0 to 1.
    rate : float, optional
        Share of the missing size gained a year; without it the setting's for trees.
    """
    k = float(rules("planting_rules")["growth"]["tree_rate"]) if rate is None else rate
    radius = grown_width_m / 2 * (1 - np.exp(-k * np.asarray(years, dtype=np.float64)))
    area: Floats = plants * survival * math.pi * radius**2
    return area


def in_later_years(kept: Sequence[Grower], gone: Sequence[Grower], new: Sequence[Grower]) -> Later:
    """Give the place in the years of the setting.

    Parameters
    ----------
    kept, gone, new : sequence of Grower
        Trees that stay, trees that go, and what is planted; one horizon for all.

    Returns
    -------
    Later
    """
    table = rules("planting_rules")["later"]
    everything = [*kept, *gone, *new]
    horizon = len(everything[0].radius_m) - 1 if everything else int(table["horizon"])
    kept_now = [g.outline(0) for g in kept]
    today = _area([*kept_now, *(g.outline(0) for g in gone)])
    gap = today - _area(kept_now)
    years = range(horizon + 1)
    kept_union = [shapely.union_all(crown_outlines(kept, y)) for y in years]
    lines: dict[str, Floats] = {
        line: np.array([_new_area(new, y, kept_union[y], line) for y in years]) for line in _LINES
    }
    cover = np.array([k.area for k in kept_union]) + lines["likely"]
    told = []
    for year in (int(y) for y in table["years"] if y <= horizon):
        told.append(
            YearThen(
                year, tuple(_then(g, year) for g in (*kept, *new)), float(kept_union[year].area),
                *(float(lines[k][year]) for k in _LINES),
            )
        )  # fmt: skip
    fast, likely, slow = (_first(lines[k], gap) for k in ("high", "likely", "low"))
    sources = dict.fromkeys(text for g in (*kept, *new) for text in (g.source, g.stand_in) if text)
    return Later(
        tuple(told), today, gap, (fast, likely, slow), _first(cover, today), horizon,
        tuple(sources),
    )  # fmt: skip


def _area(polygons: Sequence[shapely.Polygon]) -> float:
    return float(shapely.union_all(list(polygons)).area) if polygons else 0.0


def _new_area(
    new: Sequence[Grower], year: int, kept: BaseGeometry, line: Literal["likely", "low", "high"]
) -> float:
    if not new:
        return 0.0
    outside = shapely.area(shapely.difference(crown_outlines(new, year, line=line), kept))
    return float(np.array([g.alive[year] for g in new]) @ outside)


def _first(values: Floats, least: float) -> int | None:
    if least <= 0:
        return 0
    # Unions of many outlines carry the rounding of their corners.
    reached = values >= least * (1 - 1e-9)
    return int(np.argmax(reached)) if reached.any() else None


def _then(g: Grower, year: int) -> CrownThen:
    def size(values: Floats) -> float | None:
        return None if math.isnan(values[year]) else float(values[year])

    r = float(g.radius_m[year])
    n, e, s, w = (share * r for share in g.radii_share)
    height = size(g.height_m)
    base = g.base_m
    if base is None:
        share = float(rules("planting_rules")["later"]["crown_base_share"])
        base = 0.0 if height is None else share * height
    return CrownThen(
        g.id, g.label, g.x_m, g.y_m, (n, e, s, w), float(g.radius_low_m[year]),
        float(g.radius_high_m[year]), height, size(g.height_low_m), size(g.height_high_m), base,
        float(g.alive[year]), g.new,
    )  # fmt: skip
