"""How much water landscape plants need in California, by the published evaluations.

Source: University of California, WUCOLS IV evaluations, an early snapshot of the public plant
list, four of its six regions.
"""

from dataclasses import dataclass
from functools import lru_cache
from typing import Literal, get_args

from bolewalk.reference.botanical import species_key
from bolewalk.reference.tables import cite, read_rows

__all__ = ["NEEDS", "WATER_REGIONS", "WaterClass", "WaterNeeds", "WaterRegion", "water_needs"]

WaterRegion = Literal[
    "North-Central Coastal", "Central Valley", "South Coastal", "South Inland Valley"
]
WATER_REGIONS: tuple[WaterRegion, ...] = get_args(WaterRegion)
WaterClass = Literal["very low", "low", "moderate", "high", "not for this region", "not rated"]

NEEDS: dict[WaterClass, tuple[float, float] | None] = {
    "very low": (0.0, 10.0),
    "low": (10.0, 30.0),
    "moderate": (40.0, 60.0),
    "high": (70.0, 90.0),
    "not for this region": None,
    "not rated": None,
}
"""Share of reference evapotranspiration [percent], low and high, as the source defines it."""

_LETTERS: dict[str, WaterClass] = {
    "VL": "very low", "L": "low", "M": "moderate", "H": "high", "-": "not for this region",
    "?": "not rated",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class WaterNeeds:
    """One plant's class in each region. "not rated" is an answer, never a guess."""

    botanical: str
    common: str
    by_region: dict[WaterRegion, WaterClass]
    source: str

    def in_region(self, region: str) -> WaterClass:
        """Give the class in one region.

        Raises
        ------
        ValueError
            Not one of the rated regions.
        """
        for name, need in self.by_region.items():
            if name == region:
                return need
        raise ValueError(f"no water region {region!r}; name one of: {', '.join(WATER_REGIONS)}.")


def water_needs(botanical: str) -> WaterNeeds | None:
    """Give a plant's water classes, None where the list does not hold the species.

    Cultivars, varieties and hybrid signs do not matter; moved names are followed.
    """
    key = species_key(botanical)
    return _table().get(key) if key else None


@lru_cache(maxsize=1)
def _table() -> dict[str, WaterNeeds]:
    found: dict[str, WaterNeeds] = {}
    for r in read_rows("water_use.csv"):
        found.setdefault(
            species_key(r["botanical"]),
            WaterNeeds(
                r["botanical"], r["common"],
                {
                    region: _LETTERS[r[region.lower().replace("-", "_").replace(" ", "_")]]
                    for region in WATER_REGIONS
                },
                cite("wucols").text,
            ),
        )  # fmt: skip
    return found
