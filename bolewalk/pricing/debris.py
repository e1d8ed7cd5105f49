"""What leaves the site: brush, chips, logs, stump grindings and soil, in volume, weight, loads.

Volumes in m3 and weights in kg inside; papers print the trade's units.
"""

import math
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

from bolewalk.model.units import CM_PER_IN, M_PER_FT
from bolewalk.pricing.money import round_minor
from bolewalk.pricing.rates import KG_PER, M3_PER, Disposal, Rates
from bolewalk.reference.settings import setting
from bolewalk.trees.mass import Stump

__all__ = [
    "Debris",
    "Earthwork",
    "Loads",
    "TreeMaterial",
    "add_debris",
    "debris_table",
    "diameter_class_in",
    "dump_fee_minor",
    "earthwork",
    "grindings",
    "loads_for",
    "stump_by_the_inch_minor",
    "wood_debris",
    "wood_index",
]

_KG_PER_M3_OF_LB_PER_YD3 = KG_PER["lb"] / M3_PER["yd3"]

_OF_THE_TREE_PAGE = {"chips": "chips_lb_yd3", "brush": "brush_loose_lb_yd3"}


@cache
def debris_table() -> Mapping[str, Any]:
    """Give the densities, stump rules and diameter classes, as in their data file."""
    text = files("bolewalk.pricing").joinpath("data/debris.toml").read_text("utf-8")
    return tomllib.loads(text)


def density_kg_m3(material: str) -> float:
    """Give the bulk density of a material [kg/m3]: chips and brush as the tree page has them."""
    key = _OF_THE_TREE_PAGE.get(material)
    lb = (
        debris_table()["density"][material]["lb_per_yd3"]
        if key is None
        else setting("mass_settings.csv", key)
    )
    return float(lb) * _KG_PER_M3_OF_LB_PER_YD3


@dataclass(frozen=True, slots=True)
class TreeMaterial:
    """What a tree is made of above ground when it comes down [kg, green].

    `log_kg` is trunk and limbs thick enough to be left as wood, the rest is brush.
    `logs_kg_m3` is what a stacked cubic metre of them weighs, None = the table's cordwood.
    `heaviest_piece_kg` None = not known.
    """

    green_kg: float
    low_kg: float
    high_kg: float
    log_kg: float
    heaviest_piece_kg: float | None = None
    logs_kg_m3: float | None = None
    source: str = ""

    def __post_init__(self) -> None:
        if not 0 < self.low_kg <= self.green_kg <= self.high_kg:
            raise ValueError(
                f"mass {self.low_kg:g}..{self.green_kg:g}..{self.high_kg:g} kg must be > 0 and "
                "in rising order"
            )
        if not 0 <= self.log_kg <= self.green_kg:
            raise ValueError(f"log_kg {self.log_kg:g} must lie in 0..{self.green_kg:g}")


@dataclass(frozen=True, slots=True)
class Debris:
    """Volumes to haul [m3] and their weight [kg], by material."""

    volume_m3: Mapping[str, float]
    weight_kg: Mapping[str, float]

    @property
    def total_m3(self) -> float:
        """Volume of everything [m3]."""
        return sum(self.volume_m3.values())

    @property
    def total_kg(self) -> float:
        """Weight of everything [kg]."""
        return sum(self.weight_kg.values())


def _of_weights(weights: Mapping[str, float], *, logs_kg_m3: float | None = None) -> Debris:
    kept = {m: kg for m, kg in sorted(weights.items()) if kg > 0}
    dense = {m: density_kg_m3(m) for m in kept}
    if logs_kg_m3 is not None and "logs" in dense:
        dense["logs"] = logs_kg_m3
    return Debris({m: kg / dense[m] for m, kg in kept.items()}, kept)


def wood_debris(
    *,
    brush_kg: float,
    log_kg: float,
    logs_kg_m3: float | None = None,
    haul_chips: bool = True,
    haul_logs: bool = True,
) -> Debris:
    """Give what must be hauled of a tree's brush and logs.

    Parameters
    ----------
    brush_kg, log_kg : float
        Green weight >= 0.
    logs_kg_m3 : float, optional
        What a stacked cubic metre of the logs weighs, > 0; the table's cordwood otherwise.
    haul_chips, haul_logs : bool
        False = stays on site and is not in the result.

    Returns
    -------
    Debris
        Brush is chipped (share in the table), the rest goes loose.
    """
    if brush_kg < 0 or log_kg < 0:
        raise ValueError(f"weights must be >= 0, not {brush_kg:g} and {log_kg:g}")
    chipped = brush_kg * debris_table()["wood"]["chipped_share_pct"] / 100
    return _of_weights(
        {
            "chips": chipped if haul_chips else 0.0,
            "brush": brush_kg - chipped if haul_chips else 0.0,
            "logs": log_kg if haul_logs else 0.0,
        },
        logs_kg_m3=logs_kg_m3,
    )


def add_debris(parts: Sequence[Debris]) -> Debris:
    """Add up debris by material."""
    volume: dict[str, float] = {}
    weight: dict[str, float] = {}
    for part in parts:
        for m in part.volume_m3:
            volume[m] = volume.get(m, 0.0) + part.volume_m3[m]
            weight[m] = weight.get(m, 0.0) + part.weight_kg[m]
    return Debris(dict(sorted(volume.items())), dict(sorted(weight.items())))


def grindings(ground: Stump) -> Debris:
    """Give the loose grindings of one stump: the middle of the range the tree page gives."""
    loose = (ground.grindings_low_m3 + ground.grindings_high_m3) / 2
    return _of_weights({"grindings": loose * density_kg_m3("grindings")})


@dataclass(frozen=True, slots=True)
class Earthwork:
    """Soil to be moved: in place, loose, and the loads of it."""

    in_place_m3: float
    loose_m3: float
    loads: int


def earthwork(*, area_m2: float, depth_m: float, load_m3: float) -> Earthwork:
    """Give the volume of soil over an area, loose after digging, and its loads.

    Parameters
    ----------
    area_m2, depth_m : float
        >= 0.
    load_m3 : float
        Volume of one load, > 0.

    Examples
    --------
    1,271 sq ft x 14 in, ten-yard loads: 55 yd3 in place, 69 loose, 7 loads.
    """
    if area_m2 < 0 or depth_m < 0 or load_m3 <= 0:
        raise ValueError(f"bad earthwork: {area_m2:g} m2, {depth_m:g} m, load {load_m3:g} m3")
    in_place = area_m2 * depth_m
    loose = in_place * (1 + debris_table()["soil"]["swell_pct"] / 100)
    return Earthwork(in_place, loose, _whole_loads(loose / load_m3))


def _whole_loads(loads: float) -> int:
    # A load that is full to nine digits is one load, not two.
    return math.ceil(loads - 1e-9)


@dataclass(frozen=True, slots=True)
class Loads:
    """Loads of one job. `by` tells whether box volume or payload made the count."""

    count: int
    by: str
    hours: float
    """Hours of truck and its crew on the road: loads x round trip."""


def loads_for(debris: Debris, rates: Rates) -> Loads:
    """Give the truck loads of a job's debris, by volume or by weight, whichever is more."""
    by_volume = _whole_loads(debris.total_m3 / rates.truck.box_m3)
    payload = rates.truck.payload_kg
    by_weight = 0 if payload is None else _whole_loads(debris.total_kg / payload)
    count = max(by_volume, by_weight)
    return Loads(
        count, "weight" if by_weight > by_volume else "volume", count * rates.truck.round_trip_hours
    )


def dump_fee_minor(debris: Debris, rates: Rates) -> tuple[int, tuple[str, ...]]:
    """Give the dump fees of some debris [minor units], and the materials that have no fee.

    A material without a fee in the rates is named, not taken as free.
    """
    fee = 0.0
    unpriced: list[str] = []
    for m, volume_m3 in debris.volume_m3.items():
        entry: Disposal | None = rates.disposal.get(m)
        if entry is None:
            unpriced.append(m)
        elif entry.per == "volume":
            fee += entry.rate_minor * volume_m3 / M3_PER[rates.volume_unit]
        else:
            fee += entry.rate_minor * debris.weight_kg[m] / KG_PER[rates.weight_unit]
    return round_minor(fee), tuple(unpriced)


def diameter_class_in(diameter_in: float) -> tuple[float, float | None]:
    """Give the bid class of a trunk as (over, up to) in inches; None = no upper bound.

    The upper bound belongs to the class: 12.0 is in "over 6 to 12", 12.5 in "over 12 to 18".
    """
    if not diameter_in > 0:
        raise ValueError(f"diameter_in must be > 0, not {diameter_in!r}")
    below = 0.0
    for upper in debris_table()["classes"]["upper_in"]:
        if diameter_in <= upper:
            return below, float(upper)
        below = float(upper)
    return below, None


def stump_by_the_inch_minor(diameter_cm: float, *, per_in_minor: int) -> int:
    """Give the price of grinding by the inch of stump diameter [minor units], rounded half up.

    36 in at $3: $108 (city bid form, Eugene, Oregon).
    """
    if diameter_cm < 0 or per_in_minor < 0:
        raise ValueError("diameter and price must be >= 0")
    return round_minor(round(diameter_cm / CM_PER_IN, 9) * per_in_minor)


def wood_index(stems_cm: Sequence[float], height_m: float) -> float:
    """Give trunk size squared times height, summed over stems [in2 ft]: how big the job is.

    Only ratios mean anything: the same tree later over now says how the job grows by waiting.
    """
    if any(d < 0 for d in stems_cm) or height_m < 0:
        raise ValueError("sizes must be >= 0")
    return sum((d / CM_PER_IN) ** 2 for d in stems_cm) * height_m / M_PER_FT
