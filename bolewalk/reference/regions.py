"""Growth regions: found by name or reference city; their codes stay inside the data."""

import math
from dataclasses import dataclass
from functools import lru_cache

from bolewalk.reference.tables import read_rows

__all__ = ["Region", "find_region", "nearest_regions", "region_by_code", "region_names"]

_EARTH_RADIUS_KM = 6371.0


@dataclass(frozen=True, slots=True)
class Region:
    """One climate region and the city whose street trees were measured there.

    `lat_deg`, `lon_deg` are the city's, to a tenth of a degree (general geography, recalled);
    they only order regions by distance.
    """

    code: str
    name: str
    city: str
    state: str
    year: str
    lat_deg: float
    lon_deg: float

    @property
    def label(self) -> str:
        """Name and city, as papers print it."""
        return f"{self.name} ({self.city}, {self.state})"


@lru_cache(maxsize=1)
def _regions() -> dict[str, Region]:
    return {
        r["code"]: Region(
            r["code"], r["name"], r["city"], r["state"], r["year"],
            float(r["lat_deg"]), float(r["lon_deg"]),
        )
        for r in read_rows("utd_regions.csv")
    }  # fmt: skip


def region_names() -> tuple[str, ...]:
    """Give the names of all regions, sorted."""
    return tuple(sorted(r.name for r in _regions().values()))


def region_by_code(code: str) -> Region:
    """Give a region by the code the tables use.

    Raises
    ------
    KeyError
        No such code.
    """
    return _regions()[code]


def find_region(text: str) -> Region | None:
    """Find a region by its name or its reference city, in any case; None where none matches.

    Examples
    --------
    >>> find_region("inland empire").city
    'Claremont'
    >>> find_region("Berkeley").name
    'Northern California Coast'
    """
    wanted = " ".join(text.lower().split())
    for region in _regions().values():
        city, state = region.city.lower(), region.state.lower()
        if wanted in (region.name.lower(), city, f"{city}, {state}", region.label.lower()):
            return region
    return None


@lru_cache(maxsize=32)
def nearest_regions(code: str) -> tuple[tuple[Region, float], ...]:
    """Give all regions with their distance [km], nearest first, the region itself included."""
    here = _regions()[code]
    return tuple(
        sorted(
            ((r, _distance_km(here, r)) for r in _regions().values()),
            key=lambda pair: (pair[1], pair[0].code),
        )
    )


def _distance_km(a: Region, b: Region) -> float:
    lat_a, lat_b = math.radians(a.lat_deg), math.radians(b.lat_deg)
    half = (
        math.sin((lat_b - lat_a) / 2) ** 2
        + math.cos(lat_a) * math.cos(lat_b) * math.sin(math.radians(b.lon_deg - a.lon_deg) / 2) ** 2
    )
    return 2 * _EARTH_RADIUS_KM * math.asin(math.sqrt(half))
