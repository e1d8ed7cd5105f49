"""Keeping a tree at a size: how often it would be cut, and whether that is good practice."""

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

import numpy as np

from bolewalk.reference.botanical import genus_key, species_key
from bolewalk.reference.settings import setting
from bolewalk.reference.tables import read_rows
from bolewalk.reference.wood import wood_kind
from bolewalk.trees.growth import project

__all__ = ["Caution", "Holding", "hold_at"]

What = Literal["height", "crown radius"]
_SETTINGS = "holding_settings.csv"


@dataclass(frozen=True, slots=True)
class Caution:
    """Why holding is not good practice here: in words, with its source."""

    text: str
    source: str


@dataclass(frozen=True, slots=True)
class Holding:
    """What holding a tree within a limit would take.

    Attributes
    ----------
    what : "height" or "crown radius"
    limit_m, now_m : float
    years_until_limit : float or None
        From today until growth reaches the limit; 0 where it is over it already, None where the
        forecast never reaches it.
    cut_back_to_m : float
        As far as one visit may cut it back.
    foliage_pct : float
        Share of the crown one such visit takes off.
    interval_years : float or None
        From a cut to the limit again; None where growth does not bring it back.
    interval_low_years, interval_high_years : float or None
        The same for fast and slow growth.
    holdable : bool
        Whether one visit within the pruning dose brings it inside the limit.
    cautions : tuple of Caution
        Empty only where nothing speaks against it.
    source, stand_in : str
        Of the growth.
    """

    what: What
    limit_m: float
    now_m: float
    years_until_limit: float | None
    cut_back_to_m: float
    foliage_pct: float
    interval_years: float | None
    interval_low_years: float | None
    interval_high_years: float | None
    holdable: bool
    cautions: tuple[Caution, ...]
    source: str
    stand_in: str


def hold_at(
    botanical: str,
    region: str,
    *,
    what: What,
    limit_m: float,
    trunk_cm: float,
    height_m: float,
    crown_radius_m: float,
    crown_base_m: float = 0.0,
    dose_pct: float | None = None,
    mature: bool = True,
) -> Holding | None:
    """Tell how often a tree would have to be pruned to stay within a height or crown radius.

    One visit may take off the pruning dose. Crown volume goes with the cube of its size where
    the whole crown is drawn in, so a cut from s to s' takes 1 - (s'/s)^3 of it: a quarter of the
    foliage lets the size come back by 9 %. Growth after a cut is the forecast growth of the
    uncut tree through the same sizes; many species answer a cut with faster growth, so the
    interval is the longest to plan for.

    Parameters
    ----------
    botanical, region : str
        As `find_growth`.
    what : "height" or "crown radius"
    limit_m : float
        What it must not pass [m], > 0.
    trunk_cm, height_m, crown_radius_m : float
        Measured sizes, > 0.
    crown_base_m : float
        Height of the lowest live crown [m]; a height is drawn in between it and the top.
    dose_pct : float, optional
        Largest share of the foliage in one visit, 0 to 100; without it the published quarter.
    mature : bool
        Adds the caution against repeated reduction of mature trees.

    Returns
    -------
    Holding or None
        None where nothing published speaks for the species.

    Raises
    ------
    ValueError
        A size or the dose out of range.
    """
    if what not in ("height", "crown radius"):
        raise ValueError(f"what is {what!r}; it must be 'height' or 'crown radius'.")
    if not (math.isfinite(limit_m) and limit_m > 0):
        raise ValueError(f"limit_m is {limit_m:g}; it must be finite and > 0.")
    dose = (setting(_SETTINGS, "dose_pct") if dose_pct is None else dose_pct) / 100
    if not 0 < dose < 1:
        raise ValueError(f"dose_pct is {dose * 100:g}; it must lie between 0 and 100.")
    if not 0 <= crown_base_m < height_m:
        raise ValueError(f"crown base {crown_base_m:g} m must lie below the top at {height_m:g} m.")
    horizon = int(setting(_SETTINGS, "horizon_years"))
    p = project(
        botanical, region, years=horizon, trunk_cm=trunk_cm, height_m=height_m,
        crown_radius_m=crown_radius_m,
    )  # fmt: skip
    if p is None:
        return None
    tall = what == "height"
    now = height_m if tall else crown_radius_m
    base = crown_base_m if tall else 0.0
    lines = (
        (p.height_m, p.height_high_m, p.height_low_m)
        if tall
        else (p.crown_radius_m, p.crown_radius_high_m, p.crown_radius_low_m)
    )
    # Cutting starts from the limit where growth gets there first, else from today's size.
    keep = (1 - dose) ** (1 / 3)
    cut_to = base + (max(now, limit_m) - base) * keep
    holdable = limit_m > base and cut_to < limit_m
    intervals = [_years_between(line, cut_to, limit_m) if holdable else None for line in lines]
    return Holding(
        what, limit_m, now, _first_year(lines[0], limit_m), cut_to, dose * 100,
        intervals[0], intervals[1], intervals[2], holdable,
        _cautions(botanical, what, holdable=holdable, mature=mature, often=intervals[0]),
        p.source, p.stand_in,
    )  # fmt: skip


def _first_year(line: np.ndarray, size: float) -> float | None:
    if line[0] >= size:
        return 0.0
    over = np.flatnonzero(line >= size)
    if not over.size:
        return None
    i = int(over[0])
    return float(i - (line[i] - size) / (line[i] - line[i - 1]))


def _years_between(line: np.ndarray, start: float, end: float) -> float | None:
    """Give the years the forecast takes from one size to another.

    Below today's size the growth of the first forecast year is taken, the fastest it has.
    """
    last = _first_year(line, end)
    if line[0] >= end:
        yearly = float(line[1] - line[0])
        return (end - start) / yearly if yearly > 0 else None
    if last is None:
        return None
    if start >= line[0]:
        first = _first_year(line, start)
        return last - first if first is not None else None
    yearly = float(line[1] - line[0])
    return last + (float(line[0]) - start) / yearly if yearly > 0 else None


def _cautions(
    botanical: str, what: What, *, holdable: bool, mature: bool, often: float | None
) -> tuple[Caution, ...]:
    rows = {r["when"]: r for r in read_rows("holding_cautions.csv")}
    codes = []
    kind = wood_kind(botanical)
    if kind == "palm":
        codes.append("palm")
    elif what == "height":
        codes.append("height of a conifer" if kind == "conifer" else "height")
    elif kind == "conifer" and not _regrows(botanical):
        codes.append("conifer without regrowth")
    if mature and kind != "palm":
        codes.append("mature")
    if not holdable:
        codes.append("over the dose")
    if often is not None and often < setting(_SETTINGS, "often_years"):
        codes.append("often")
    return tuple(Caution(rows[c]["text"], rows[c]["source"]) for c in codes)


@lru_cache(maxsize=1)
def _regrowing() -> frozenset[str]:
    return frozenset(r["name"].lower() for r in read_rows("regrowing_conifers.csv"))


def _regrows(botanical: str) -> bool:
    return bool({species_key(botanical), genus_key(botanical)} & _regrowing())
