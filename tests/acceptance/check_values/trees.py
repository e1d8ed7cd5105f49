"""Measuring, growth, mass, condition, value."""

import math
from dataclasses import replace

from bolewalk.reference.biomass import group_equation
from bolewalk.reference.growth import growth_table
from bolewalk.trees.boundary import trunk_share_beyond_pct, years_until_line
from bolewalk.trees.decay import decay_readings
from bolewalk.trees.equations import curves, evaluate, invert
from bolewalk.trees.height import (
    crown_area_m2,
    crown_mean_width_m,
    height_percent,
    height_sine,
    height_tangent,
    plan_distance_on_slope_m,
)
from bolewalk.trees.identity import wrong_tree
from bolewalk.trees.mass import heaviest_piece, stump, tree_mass
from bolewalk.trees.position import locate
from bolewalk.trees.stems import CombinedDiameters, combined_diameters
from bolewalk.trees.value import (
    adjusted_trunk_area_cm2,
    replacement_cost,
    reproduction_cost,
    trunk_area_cm2,
)

from . import FT, IN, IN2, IN_CM, OAK, YD3, Checks, Found
from .money import chips_lb


def oak_at_fifteen() -> Found:
    rows_of = growth_table().find("InlEmp", "QUAG").rows
    trunk = evaluate(curves(), rows_of["trunk_of_age"], 15)
    sizes = [evaluate(curves(), rows_of[n], trunk) for n in ("height", "crown_diameter")]
    return [float(trunk), *map(float, sizes)]


def sweetgum() -> Found:
    row = growth_table().find("NoCalC", "LIST").rows["trunk_of_age"]
    return [float(evaluate(curves(), row, 33))]


def age_of_the_oak() -> Found:
    row = growth_table().find("InlEmp", "QUAG").rows["trunk_of_age"]
    return [float(invert(curves(), row, 30.0))]


def oak_mass() -> Found:
    m = tree_mass("Quercus agrifolia", 50, 14)
    return [m.volume_m3, m.green_kg / 1000]


def oak_mass_range() -> Found:
    m = tree_mass("Quercus agrifolia", 50, 14)
    return [m.low_kg / 1000, m.high_kg / 1000]


def decay(rule: str, stem: float, wall: float, **kw: float) -> float:
    values = {r.rule: r.value_pct for r in decay_readings(stem, wall, **kw).readings}  # type: ignore[arg-type]
    found = values[rule]  # type: ignore[index]
    assert found is not None
    return found


def shell() -> Found:
    d = decay_readings(100, 15)
    return [d.area_lost_pct, d.bending_lost_pct]


def pin_oak(*names: str) -> Found:
    a = reproduction_cost(
        30 * IN_CM, nursery_minor=200_00, nursery_caliper_cm=3 * IN_CM, condition=0.80,
        functional=0.75, external=1,
    )  # fmt: skip
    steps = {s.what: s for s in a.steps}
    unit = [steps["unit cost"].value / 100 * IN2] if "unit cost" in names else []
    return unit + [(steps[n].minor or 0) / 100 for n in names if n != "unit cost"]


def pistaches(step: str) -> Found:
    found = []
    for dbh, area, condition in ((21.0, 347, 0.56), (24.3, 462, 0.56), (22.2, 388, 0.64)):
        a = replacement_cost(
            dbh, installed_minor=345_00, replacement_area_cm2=14.2, unit_minor_per_cm2=1194,
            species=0.90, condition=condition, location=0.667, trunk_area=area,
        )  # fmt: skip
        basic = next(s.value for s in a.steps if s.what == "basic cost")
        found.append((a.minor if step == "appraised" else basic) / 100)
    return found


def trunk_area_more() -> Found:
    a = replacement_cost(
        22 * IN_CM, installed_minor=787_00, replacement_area_cm2=trunk_area_cm2(4 * IN_CM),
        unit_minor_per_cm2=1000, species=1, condition=1, location=(1, 1, 1),
    )  # fmt: skip
    return [next(s.value for s in a.steps if s.what == "trunk area increase") / IN2]


def stems(*inches: float) -> CombinedDiameters:
    return combined_diameters([i * IN_CM for i in inches])


def all_readings() -> Found:
    c = stems(10, 8, 6)
    half, mean = c.largest_plus_half_of_rest, c.largest_plus_mean_of_rest
    return [v / IN_CM for v in (c.equal_area, c.sum, half, mean, c.two_largest)]


def some_readings() -> Found:
    c = stems(5.5, 4.5, 4)
    return [v / IN_CM for v in (c.equal_area, c.sum, c.largest_plus_half_of_rest)]


def top_error(top_deg: float) -> float:
    """What half a degree on the top angle does; the part of the base angle is taken out."""
    both = height_tangent(66 * FT, top_deg, -5, angle_error_deg=0.5).error_m
    base = 66 * FT / math.cos(math.radians(5)) ** 2 * math.radians(0.5)
    return math.sqrt(both**2 - base**2) / FT


def leaning() -> Found:
    """20 m tall, 23 m away, the top 3 m nearer: the sine reads true, the tangent too much."""
    true = height_sine(math.hypot(20, 20), 45, 23, -1e-9).height_m
    return [height_tangent(23, 45, -1e-9).height_m - true]


def taped() -> Found:
    found = locate((0, 0), (5, 0), 3, 4, error_m=0.05, side="left")
    return [found.x_m, found.y_m]


def taped_error() -> Found:
    return [locate((0, 0), (5, 0), 3, 4, error_m=0.05, side="left").ellipse.long_m]


def mixed_up() -> Found:
    pair = [replace(OAK, id="a"), replace(OAK, id="b", x_m=4.0)]
    return [100 * wrong_tree(pair, "a", error_m=2).chance]


CHECKS: Checks = {
    "growth": {
        "sweetgum": sweetgum,
        "coast live oak": oak_at_fifteen,
        "the same oak at 30 cm": age_of_the_oak,
    },
    "mass": {
        "coast live oak": oak_mass,
        "its range": oak_mass_range,
        "Jenkins": lambda: [float(group_equation("Quercus agrifolia", "broadleaf")(50))],
        "ten cubic yards": chips_lb,
        "stump of 30 in": lambda: [stump(30, flare_cm=30 * IN_CM).dug_m3 / YD3],
        "butt of 2 m": lambda: [heaviest_piece("Quercus agrifolia", 50, 14, length_m=2).kg],
    },
    "condition": {
        "decay of 0.6": lambda: [decay("coder-1989", 100, 20), decay("wagener-1963", 100, 20)],
        "the same, open": lambda: [decay("smiley-fraedrich-1992", 100, 20, opening_share=0.2)],
        "20 in stem": lambda: [decay("smiley-fraedrich-1992", 20, 5, opening_share=0.25)],
        "shell ratio 0.3": shell,
    },
    "value": {
        "3 in pin oak": lambda: pin_oak("unit cost", "basic cost"),
        "condition 0.80": lambda: pin_oak("after condition", "after functional limitations"),
        "three Chinese": lambda: pistaches("basic"),
        "their appraised": lambda: pistaches("appraised"),
        "22 in against 4 in": trunk_area_more,
        "40 in": lambda: [adjusted_trunk_area_cm2(40 * IN_CM) / IN2],
    },
    "measuring": {
        "12.2, 13.2": lambda: [stems(12.2, 13.2, 3.8, 22.1).equal_area / IN_CM],
        "10, 8, 6 in": all_readings,
        "5.5, 4.5": some_readings,
        "66 ft away": lambda: [height_tangent(66 * FT, 40, -5).height_m / FT],
        "error of half": lambda: [top_error(40), top_error(70)],
        "100 ft away": lambda: [height_percent(100 * FT, 68, -7).height_m / FT],
        "70 ft of tape": lambda: [plan_distance_on_slope_m(70 * FT, 35) / FT],
        "a top 3 m": leaning,
        "crown 30 x 40": lambda: [
            crown_mean_width_m((30 * FT, 40 * FT)) / FT,
            crown_area_m2((30 * FT, 40 * FT)) / FT**2,
        ],
        "3 and 4 m": taped,
        "its error": taped_error,
        "trunk of 26 in": lambda: [trunk_share_beyond_pct(26 * IN_CM, 9 * IN)],
        "gap of 4 in": lambda: [years_until_line(4 * IN, 0.4 * IN_CM) or 0.0],
        "two alike": mixed_up,
    },
}
