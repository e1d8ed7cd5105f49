"""Planting, fire spacing, water."""

from datetime import date

from bolewalk.planting.budget import (
    Hydrozone,
    adjustment_factor,
    estimated_use_gal,
    hundred_cubic_feet,
    maximum_allowance_gal,
    water_budget,
)
from bolewalk.planting.fire import (
    casual_grid_count,
    fire_spacing,
    ground_length_m,
    least_branch_m,
    plan_area_m2,
    tree_gap_m,
)
from bolewalk.planting.later import crown_area_m2
from bolewalk.planting.sun import sun_position
from bolewalk.planting.watering import L_PER_GAL, water_ledger

from . import FT, Checks, Found


def bank(basis: str, row: int = 0) -> Found:
    found = fire_spacing(2400 * FT**2, height_m=3 * FT, width_m=5 * FT, slope_pct=38,
                         read_by="phone")  # fmt: skip
    one = [r for r in found.rows if r.basis == basis][row]
    return [one.centres_m / FT, one.plants_count]


def worksheet(what: str) -> Found:
    areas = ((0.5, 204, "drip"), (0.2, 1310, "drip"), (0.8, 677, "spray"), (0.2, 194, "drip"))
    found = water_budget(
        43.0, [Hydrozone(str(n), f, a, e) for n, (f, a, e) in enumerate(areas)],  # type: ignore[arg-type]
        factor=adjustment_factor("residential"), special_ft2=68,
    )  # fmt: skip
    return [getattr(found, what)]


def fresno(factor: float, special_ft2: float = 0) -> float:
    return maximum_allowance_gal(51.1, 50_000, factor=factor, special_ft2=special_ft2)


def fresno_use() -> Found:
    zone = Hydrozone("all", 24_700 / 50_000, 50_000, efficiency=0.71)
    return [estimated_use_gal(51.1, [zone])]


def cover(survival: float) -> Found:
    found = crown_area_m2([5, 10, 15], grown_width_m=25 * FT, plants=3, survival=survival)
    return [float(v) / FT**2 for v in found]


def sun() -> Found:
    found = sun_position(
        date(2003, 10, 17), 12 + 30 / 60 + 30 / 3600, latitude_deg=39.742476,
        longitude_deg=-105.1786, utc_offset_hours=-7,
    )  # fmt: skip
    return [90 - found.elevation_deg, found.azimuth_deg]


CHECKS: Checks = {
    "fire-spacing": {
        "20 ft in plan": lambda: [ground_length_m(20, slope_pct=38)],
        "2,400 sq ft": lambda: [plan_area_m2(2400, slope_pct=38)],
        "bank of": lambda: bank("shrub_height"),
        "by width": lambda: bank("shrub_width"),
        "by height above": lambda: bank("shrub_height", 1),
        "casual grid": lambda: casual_grid_count(2400 * FT**2),
        "lowest branch": lambda: [least_branch_m(5 * FT) / FT],
        "tree crowns": lambda: [tree_gap_m(s) / FT for s in (10, 30, 60)],
    },
    "water": {
        "ETo 51.1": lambda: [fresno(0.7), hundred_cubic_feet(fresno(0.7))],
        "the same at 0.55, at": lambda: [fresno(0.55), fresno(0.45)],
        "the same at 0.55 with": lambda: [fresno(0.55, 2000)],
        "use, plant": fresno_use,
        "a residential": lambda: worksheet("use_gal"),
        "its allowance": lambda: worksheet("allowance_gal"),
        "nine shrubs": lambda: [
            litres / L_PER_GAL for litres in water_ledger([("shrub", "5 gal")] * 9).years_l
        ],
    },
    "planting": {
        "three trees": lambda: cover(0.71),
        "the same, 90 %": lambda: cover(0.90),
        "17 October": sun,
    },
}
