"""Planting lines and the water card: what the person with the spade and the hose needs."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from bolewalk.model.statements import Statement, say
from bolewalk.model.units import CM_PER_IN
from bolewalk.planting.palette import PaletteTaxon
from bolewalk.planting.practice import Hole, hole_for, soil_by_crown_m3
from bolewalk.planting.tables import rules
from bolewalk.planting.watering import WaterLedger

__all__ = [
    "Planted", "PlantingLine", "WaterCard", "alike", "planting_lines", "season_day", "water_card",
]  # fmt: skip


@dataclass(frozen=True, slots=True)
class Planted:
    """One plant of the plan: by hand (`fixed`) or laid out."""

    id: str
    taxon: PaletteTaxon
    stock: str
    place: tuple[float, float] | None
    fixed: bool
    replaces: str = ""
    why: str = ""
    cost_minor: int | None = None


@dataclass(frozen=True, slots=True)
class PlantingLine:
    """One plant for the planting day.

    `soil_m3` is what its grown crown asks for. `plant_on` and `stakes_off` are the first day of
    the season and the last day stakes may stand.
    """

    plant: Planted
    hole: Hole
    width_m: float
    height_m: float
    soil_m3: float
    water_first_year_l: float
    plant_on: date
    stakes_off: date
    said: tuple[Statement, ...]


def alike(plants: Sequence[Planted]) -> tuple[tuple[Planted, ...], ...]:
    """Put plants of one name, size and price together, each lot in the order of its first."""
    lots: dict[tuple[str, str, int | None], list[Planted]] = {}
    for plant in plants:
        lots.setdefault((plant.taxon.common, plant.stock, plant.cost_minor), []).append(plant)
    return tuple(tuple(lot) for lot in lots.values())


def season_day(survey_day: date, *, south: bool = False) -> date:
    """Give the first day for planting after a survey: the survey's own inside the planting
    season of the setting, else the season's first."""
    season = rules("planting_rules")["season"]
    shift = 6 if south else 0
    first, last = ((int(season[k]) - 1 + shift) % 12 + 1 for k in ("plant_month", "last_month"))
    inside = (
        first <= survey_day.month <= last
        if first <= last
        else survey_day.month >= first or survey_day.month <= last
    )
    if inside:
        return survey_day
    return date(survey_day.year + (survey_day.month > first), first, 1)


def planting_lines(
    plants: Sequence[Planted], ledger: WaterLedger, *, survey_day: date, south: bool = False
) -> tuple[PlantingLine, ...]:
    """Give one line a plant, in the order given.

    Parameters
    ----------
    plants : sequence of Planted
        The same plants, in the same order, as the ledger's.
    ledger : WaterLedger
    survey_day : date
    south : bool
        South of the equator.
    """
    table = rules("planting_rules")
    on = season_day(survey_day, south=south)
    months = int(table["stakes"]["off_months"])
    ahead = on.month - 1 + months
    off = date(on.year + ahead // 12, ahead % 12 + 1, 1)
    found = []
    for p, litres in zip(plants, ledger.each_first_year_l, strict=True):
        ball = float(table["ball"][p.stock]) * CM_PER_IN / 100
        hole = hole_for(ball)
        width = p.taxon.spread_m.value
        said = [
            say("planting.line_hole", low_m=hole.width_low_m, high_m=hole.width_high_m,
                depth_m=hole.depth_m),
            say("planting.line_flare", low_m=hole.flare_low_m, high_m=hole.flare_high_m),
            say("planting.line_width", width_m=width, height_m=p.taxon.height_m.value),
        ]  # fmt: skip
        if p.taxon.kind == "tree":
            said.append(say("planting.line_stakes", month=off.isoformat()[:7]))  # fmt: skip
        found.append(
            PlantingLine(
                p, hole, width, p.taxon.height_m.value,
                soil_by_crown_m3(math.pi * width**2 / 4), litres, on, off, tuple(said),
            )
        )  # fmt: skip
    return tuple(found)


@dataclass(frozen=True, slots=True)
class WaterCard:
    """Water by month for the person who waters; `rows` are (plant id, label, litres in each
    year's month), totals in the ledger."""

    ledger: WaterLedger
    rows: tuple[tuple[str, str, tuple[float, ...]], ...]
    said: tuple[Statement, ...]


def water_card(plants: Sequence[Planted], ledger: WaterLedger) -> WaterCard:
    """Give the water card: each plant's share of the first year's months, and what to look for."""
    whole = sum(ledger.each_first_year_l)
    rows = tuple(
        (p.id, p.taxon.common, tuple(m * litres / whole for m in ledger.months_l[0]))
        for p, litres in zip(plants, ledger.each_first_year_l, strict=True)
    )
    years = ledger.years_l
    said = [
        *ledger.how,
        say("planting.water_years", first_l=years[0], second_l=years[1], third_l=years[2],
            last_years=ledger.last_year),
        say("planting.water_look"),
    ]  # fmt: skip
    return WaterCard(ledger, rows, tuple(said) if plants else ())
