"""A tree planted today in later years: stock size, establishment, growth, survival."""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from bolewalk.reference.settings import setting
from bolewalk.reference.tables import read_rows
from bolewalk.trees.equations import curves, evaluate, invert
from bolewalk.trees.growth import growth_error
from bolewalk.trees.standins import find_growth

__all__ = [
    "PlantingProjection",
    "Stock",
    "project_planting",
    "ready_years",
    "stock_sizes",
    "survival_share",
]

Floats = NDArray[np.float64]
_SETTINGS = "growth_settings.csv"
_CM_PER_IN, _M_PER_FT = 2.54, 0.3048


@dataclass(frozen=True, slots=True)
class Stock:
    """One nursery size: caliper [cm] near the ground, usual height and crown width [m]."""

    name: str
    caliper_cm: float
    height_m: float
    spread_m: float
    source: str


@dataclass(frozen=True, slots=True)
class PlantingProjection:
    """One planted tree year by year from planting; every array has years + 1 elements.

    Attributes
    ----------
    trunk_cm, height_m, crown_radius_m : ndarray
        If it lives: the stock's size until growth passes it. `*_low`, `*_high` hold about eight
        trees in ten.
    alive_share : ndarray
        Expected share of plants alive.
    lag_years : float
        Establishment during which it does not grow; 0 in the upper line.
    stock, source, stand_in : str
    """

    trunk_cm: Floats
    trunk_low_cm: Floats
    trunk_high_cm: Floats
    height_m: Floats
    height_low_m: Floats
    height_high_m: Floats
    crown_radius_m: Floats
    crown_radius_low_m: Floats
    crown_radius_high_m: Floats
    alive_share: Floats
    lag_years: float
    stock: Stock
    source: str
    stand_in: str


@lru_cache(maxsize=1)
def stock_sizes() -> dict[str, Stock]:
    """Give the nursery sizes that are known, by name."""
    return {
        r["stock"]: Stock(
            r["stock"], float(r["caliper_in"]) * _CM_PER_IN, float(r["height_ft"]) * _M_PER_FT,
            float(r["spread_ft"]) * _M_PER_FT,
            r["source"],
        )
        for r in read_rows("nursery_stock.csv")
    }  # fmt: skip


def survival_share(years: Floats | float, *, five_year_share: float | None = None) -> Floats:
    """Give the expected share of planted trees alive after some years.

    A constant yearly loss over the establishment period that ends at the share told for it;
    afterwards the setting's yearly survival (no further loss unless it is changed).

    Parameters
    ----------
    years : array_like of float
        Years since planting, >= 0.
    five_year_share : float, optional
        Share alive after five years, 0 to 1; without it 0.71, trees planted for householders in
        one Sacramento study.

    Raises
    ------
    ValueError
        Share outside 0 to 1, negative years.
    """
    share = setting(_SETTINGS, "survival_planted") if five_year_share is None else five_year_share
    if not 0 <= share <= 1:
        raise ValueError(f"five_year_share is {share:g}; it must lie between 0 and 1.")
    t = np.asarray(years, dtype=np.float64)
    if not (t >= 0).all():
        raise ValueError("years must be >= 0.")
    period = setting(_SETTINGS, "survival_years")
    later = setting(_SETTINGS, "survival_later")
    alive: Floats = share ** (np.minimum(t, period) / period) * later ** np.maximum(0, t - period)
    return alive


def project_planting(
    botanical: str,
    region: str,
    *,
    years: int,
    stock: str = "15 gal",
    lag_years: float | None = None,
    five_year_share: float | None = None,
    tree_type: str | None = None,
) -> PlantingProjection | None:
    """Project a tree planted today.

    It stands at its stock size until established, then follows the published equation from the
    age that has its trunk. Where the equation's smallest tree is larger than the stock, the gap
    closes over some years; stock that is taller than the equation's tree of its trunk stays at
    that height until the trunk catches up.

    Parameters
    ----------
    botanical, region, tree_type : str
        As `find_growth`.
    years : int
        0 to 200.
    stock : str
        A name of `stock_sizes()`.
    lag_years : float, optional
        Years of establishment, >= 0; without it one for each inch of caliper.
    five_year_share : float, optional
        As `survival_share`.

    Returns
    -------
    PlantingProjection or None
        None where nothing published speaks for the species.

    Raises
    ------
    ValueError
        Unknown stock or region, years or lag out of range.
    """
    if not 0 <= years <= 200:
        raise ValueError(f"years is {years}; it must lie between 0 and 200.")
    sizes = stock_sizes()
    if stock not in sizes:
        raise ValueError(f"no stock size {stock!r}; name one of: {', '.join(sizes)}.")
    plant = sizes[stock]
    if lag_years is None:
        lag_years = setting(_SETTINGS, "lag_years_per_caliper_in") * plant.caliper_cm / _CM_PER_IN
    if not lag_years >= 0:
        raise ValueError(f"lag_years is {lag_years:g}; it must be >= 0.")
    found = find_growth(botanical, region, tree_type=tree_type)
    if found is None:
        return None
    curve, rows, palm = curves(), found.growth.rows, found.growth.is_palm
    driver = rows["height" if palm else "trunk_of_age"]
    start_age = float(invert(curve, driver, plant.height_m if palm else plant.caliper_cm))
    ahead = np.arange(years + 1, dtype=np.float64)

    def sizes_after(growing: Floats) -> tuple[Floats, Floats, Floats]:
        size = evaluate(curve, driver, start_age + growing)
        crown = evaluate(curve, rows["crown_diameter"], size) / 2
        crown = _from_stock(crown, plant.spread_m / 2, growing)
        if palm:
            height = _from_stock(size, plant.height_m, growing)
            return np.full(growing.shape, plant.caliper_cm), height, crown
        height = evaluate(curve, rows["height"], size)
        return (
            _from_stock(size, plant.caliper_cm, growing),
            _from_stock(height, plant.height_m, growing),
            crown,
        )

    likely = sizes_after(np.maximum(0, ahead - lag_years))
    slow = sizes_after(np.maximum(0, ahead - 2 * lag_years))
    fast = sizes_after(ahead)
    bands = []
    deviations = setting(_SETTINGS, "band_deviations") * found.widen
    for name, mid, low, high in zip(
        ("trunk_of_age", "height", "crown_diameter"), likely, slow, fast, strict=True
    ):
        half = deviations * growth_error(found, name)
        bands.append(
            (
                mid,
                low[0] + (low - low[0]) * max(0.0, 1 - half),
                high[0] + (high - high[0]) * (1 + half),
            )
        )
    (t, t_low, t_high), (h, h_low, h_high), (r, r_low, r_high) = bands
    return PlantingProjection(
        t, t_low, t_high, h, h_low, h_high, r, r_low, r_high,
        survival_share(ahead, five_year_share=five_year_share),
        lag_years, plant, found.source, found.stand_in,
    )  # fmt: skip


def ready_years(
    planting: PlantingProjection,
    *,
    height_m: float | None = None,
    crown_radius_m: float | None = None,
) -> tuple[int | None, int | None, int | None]:
    """Give the years after planting in which a successor has reached a size.

    Parameters
    ----------
    planting : PlantingProjection
    height_m, crown_radius_m : float, optional
        What it must reach; with both, the later year counts.

    Returns
    -------
    tuple of three int or None
        Fast, likely and slow growth; None where the projection ends before.

    Raises
    ------
    ValueError
        Neither size given.
    """
    if height_m is None and crown_radius_m is None:
        raise ValueError("give a height or a crown radius to reach.")
    found = []
    for height, crown in (
        (planting.height_high_m, planting.crown_radius_high_m),
        (planting.height_m, planting.crown_radius_m),
        (planting.height_low_m, planting.crown_radius_low_m),
    ):
        reached = np.ones(len(height), dtype=bool)
        if height_m is not None:
            reached &= height >= height_m
        if crown_radius_m is not None:
            reached &= crown >= crown_radius_m
        found.append(int(np.argmax(reached)) if reached.any() else None)
    fast, likely, slow = found
    return fast, likely, slow


def _from_stock(on_curve: Floats, stock: float, growing: Floats) -> Floats:
    """Start at the stock's size and run into the curve; `growing` holds years, the first 0."""
    gap = max(0.0, float(on_curve[0]) - stock)
    fade = np.exp(-growing / setting(_SETTINGS, "stock_gap_years"))
    return np.maximum(on_curve - gap * fade, stock)
