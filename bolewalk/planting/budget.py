"""California's landscape water budget: the allowance and the estimated use.

Formulas and factors: `data/water_budget.toml`. Inches, square feet and gallons inside, as the
ordinance is written; metres and litres are converted at the border.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from bolewalk.planting.tables import rules

__all__ = [
    "Hydrozone", "LandscapeUse", "WaterBudget", "adjustment_factor", "applied_water_gal",
    "estimated_use_gal", "hundred_cubic_feet", "irrigation_efficiency", "maximum_allowance_gal",
    "net_eto_in", "water_budget",
]  # fmt: skip

LandscapeUse = Literal["residential", "non-residential", "not rehabilitated"]
Emitter = Literal["spray", "drip"]


def adjustment_factor(use: LandscapeUse) -> float:
    """Give the ordinance's evapotranspiration adjustment factor outside special areas."""
    return float(rules("water_budget")["adjustment"][use])


def irrigation_efficiency(emitter: Emitter) -> float:
    """Give the ordinance's irrigation efficiency."""
    return float(rules("water_budget")["efficiency"][emitter])


def hundred_cubic_feet(gal: float) -> float:
    """Give gallons as hundreds of cubic feet, the unit of many water bills."""
    return gal / float(rules("water_budget")["hcf"]["gal"])


def applied_water_gal(eto_in: float, factor: float, area_ft2: float) -> float:
    """Give eto x 0.62 x factor x area [gal a year]."""
    return eto_in * float(rules("water_budget")["gal_per_in_ft2"]) * factor * area_ft2


def net_eto_in(eto_in: float, rain_in: float) -> float:
    """Take the rain the ordinance lets a city count off the yearly reference
    evapotranspiration [in]; never below 0."""
    share = float(rules("water_budget")["effective_rain"]["share_pct"]) / 100
    return max(0.0, eto_in - share * rain_in)


def maximum_allowance_gal(
    eto_in: float, area_ft2: float, *, factor: float, special_ft2: float = 0.0
) -> float:
    """Give the maximum applied water allowance [gal a year].

    ETo x 0.62 x (factor x area + (1 - factor) x special)

    Parameters
    ----------
    eto_in : float
        Reference evapotranspiration [in a year], >= 0.
    area_ft2 : float
        Landscape area, special areas included.
    factor : float
        `adjustment_factor`, or a stricter local one; 0 to 1.
    special_ft2 : float
        Special landscape area, 0 to area_ft2; counts at 1.0.

    Raises
    ------
    ValueError
        Out of range.

    Examples
    --------
    >>> round(maximum_allowance_gal(51.1, 50_000, factor=0.7))
    1108870
    """
    if not (eto_in >= 0 and area_ft2 >= 0 and 0 <= special_ft2 <= area_ft2 and 0 <= factor <= 1):
        raise ValueError(
            "eto_in and area_ft2 must be >= 0, factor 0 to 1, special_ft2 0 to area_ft2."
        )
    return applied_water_gal(eto_in, factor * area_ft2 + (1 - factor) * special_ft2, 1.0)


@dataclass(frozen=True, slots=True)
class Hydrozone:
    """An area watered alike.

    `plant_factor` is the share of reference evapotranspiration its plants need, 0 to 1.
    `emitter` gives the efficiency; `efficiency` wins over it where a system's own is known.
    """

    name: str
    plant_factor: float
    area_ft2: float
    emitter: Emitter = "drip"
    efficiency: float | None = None

    def __post_init__(self) -> None:
        if not (0 <= self.plant_factor <= 1.2 and self.area_ft2 >= 0):
            raise ValueError("plant_factor must be 0 to 1.2 and area_ft2 >= 0")
        if self.efficiency is not None and not 0 < self.efficiency <= 1:
            raise ValueError("efficiency must be above 0 and at most 1")

    @property
    def factor(self) -> float:
        """The plant factor over the efficiency."""
        return self.plant_factor / (self.efficiency or irrigation_efficiency(self.emitter))


def estimated_use_gal(
    eto_in: float, zones: Sequence[Hydrozone], *, special_ft2: float = 0.0
) -> float:
    """Give the estimated total water use [gal a year], special areas at 1.0."""
    special = float(rules("water_budget")["adjustment"]["special"])
    return applied_water_gal(
        eto_in, sum(z.factor * z.area_ft2 for z in zones) + special * special_ft2, 1.0
    )


@dataclass(frozen=True, slots=True)
class WaterBudget:
    """Allowance and use of one landscape, gallons a year.

    `mean_factor` is the mean of the zones' factors by area, `site_factor` the same with special
    areas; None where there is no area. `zone_use_gal` follows the zones.
    """

    allowance_gal: float
    use_gal: float
    zone_use_gal: tuple[float, ...]
    special_use_gal: float
    mean_factor: float | None
    site_factor: float | None
    within: bool


def water_budget(
    eto_in: float, zones: Sequence[Hydrozone], *, factor: float, special_ft2: float = 0.0
) -> WaterBudget:
    """Set the estimated use of a landscape against its allowance.

    Parameters
    ----------
    eto_in : float
        Reference evapotranspiration [in a year].
    zones : sequence of Hydrozone
        Special areas left out.
    factor, special_ft2 : float
        As `maximum_allowance_gal`.
    """
    area = sum(z.area_ft2 for z in zones)
    allowance = maximum_allowance_gal(
        eto_in, area + special_ft2, factor=factor, special_ft2=special_ft2
    )
    each = tuple(applied_water_gal(eto_in, z.factor, z.area_ft2) for z in zones)
    special = applied_water_gal(eto_in, 1.0, special_ft2)
    use = sum(each) + special
    by_area = sum(z.factor * z.area_ft2 for z in zones)
    whole = area + special_ft2
    return WaterBudget(
        allowance, use, each, special, by_area / area if area else None,
        (by_area + special_ft2) / whole if whole else None, use <= allowance,
    )  # fmt: skip
