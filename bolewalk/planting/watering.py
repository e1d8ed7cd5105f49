"""Establishment water: how much, in which month of which year, and by what means."""

from collections.abc import Sequence
from dataclasses import dataclass

from bolewalk.model.statements import Statement, say
from bolewalk.model.units import CM_PER_IN
from bolewalk.planting.palette import PlantKind
from bolewalk.planting.plan import WaterMethod
from bolewalk.planting.practice import caliper_water_gal_week
from bolewalk.planting.tables import rules
from bolewalk.trees.establishment import stock_sizes

__all__ = ["L_PER_GAL", "WaterLedger", "first_year_l", "water_ledger"]

L_PER_GAL = 3.785411784
"""Litres in a US gallon, exact."""

_MONTH_DAYS = (31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)


def first_year_l(kind: PlantKind, stock: str) -> float:
    """Give one plant's water in its first year [l].

    Trees by the published gallons a week and inch of caliper (middle), shrubs and ground covers
    by our figure a week, over the weeks of the dry season.
    """
    table = rules("planting_rules")
    season = float(table["shrub_establishment"]["season_weeks"])
    if kind in ("tree", "palm"):
        low, high = caliper_water_gal_week(stock_sizes()[stock].caliper_cm / CM_PER_IN)
        return (low + high) / 2 * season * L_PER_GAL
    return float(table["shrub_establishment"]["gal_week"]) * season * L_PER_GAL


@dataclass(frozen=True, slots=True)
class WaterLedger:
    """Water of a planting by year and month [l].

    Attributes
    ----------
    months_l : tuple of 12-tuples
        One row a year, January first.
    years_l : tuple of float
    last_year : int
        Year after which watering stops.
    each_first_year_l : tuple of float
        The plants', in their order, in the first year.
    method : WaterMethod
    how : tuple of Statement
        What it takes with the method in the driest month of the first year.
    """

    months_l: tuple[tuple[float, ...], ...]
    years_l: tuple[float, ...]
    last_year: int
    each_first_year_l: tuple[float, ...]
    method: WaterMethod
    how: tuple[Statement, ...]


def water_ledger(
    plants: Sequence[tuple[PlantKind, str]],
    *,
    method: WaterMethod = "hose",
    eto_months_mm: Sequence[float] = (),
    south: bool = False,
) -> WaterLedger:
    """Spread the establishment water of a planting over its months.

    Parameters
    ----------
    plants : sequence of (kind, stock)
    method : WaterMethod
    eto_months_mm : sequence of 12 float, optional
        Reference evapotranspiration by month: the dry season's water follows it.
    south : bool
        South of the equator: the dry season lies half a year on.

    Returns
    -------
    WaterLedger
    """
    table = rules("planting_rules")
    first, last = (int(table["dry_season"][k]) for k in ("first_month", "last_month"))
    shift = 6 if south else 0
    dry = {(m - 1 + shift) % 12 for m in range(first, last + 1)}
    weights = [
        (eto_months_mm[m] if eto_months_mm else float(_MONTH_DAYS[m])) if m in dry else 0.0
        for m in range(12)
    ]
    whole = sum(weights)
    each = tuple(first_year_l(kind, stock) for kind, stock in plants)
    shares = [float(v) for v in table["establishment_share"]["years"]]
    years = tuple(sum(each) * share for share in shares)
    months = tuple(tuple(y * w / whole if whole else 0.0 for w in weights) for y in years)
    return WaterLedger(
        months, years, int(table["establishment_share"]["last_year"]), each, method,
        _how(method, months[0]) if plants else (),
    )  # fmt: skip


def _how(method: WaterMethod, months: tuple[float, ...]) -> tuple[Statement, ...]:
    table = rules("planting_rules")["watering"]
    driest = max(range(12), key=lambda m: (months[m], -m))
    week_l = months[driest] / (_MONTH_DAYS[driest] / 7)
    gal = week_l / L_PER_GAL
    if method == "hose":
        return (say("planting.by_hose", water_l=week_l,
                    minutes=round(gal / float(table["hose_gal_per_min"]))),)  # fmt: skip
    if method == "bucket":
        return (say("planting.by_bucket", water_l=week_l,
                    buckets_count=-int(-gal // float(table["bucket_gal"]))),)  # fmt: skip
    return (say("planting.by_drip", water_l=week_l),)
