"""What the arborist wants planted and on what site: the content of `planting.toml`.

Lengths in metres, areas in square metres, water in litres, money in minor units; places on the
survey's grid, east before north [m].
"""

from dataclasses import dataclass, field
from typing import Literal, get_args

from bolewalk.planting.budget import LandscapeUse
from bolewalk.planting.fire import FireBasis
from bolewalk.reference.water import WaterClass

__all__ = [
    "LIGHTS", "PURPOSES", "WATER_METHODS", "AlternativeWish", "Bed", "FixedPlant", "KeepOut",
    "KindWish", "Light", "PlantingPlan", "PlantingSite", "Purpose", "ShadeSpot", "View",
    "WaterMethod", "WaterWish", "Zone",
]  # fmt: skip

Purpose = Literal["shade", "screen", "bank", "berries", "flowers"]
PURPOSES: tuple[Purpose, ...] = get_args(Purpose)
Light = Literal["sun", "part", "shade"]
LIGHTS: tuple[Light, ...] = get_args(Light)
WaterMethod = Literal["hose", "bucket", "drip"]
WATER_METHODS: tuple[WaterMethod, ...] = get_args(WaterMethod)

Place = tuple[float, float]
Outline = tuple[Place, ...]


@dataclass(frozen=True, slots=True)
class PlantingSite:
    """Limits the site and the client set; None and empty = not told, no limit.

    `water_at_most` asks for a class in `water_region`. `guide` is the fire guide that governs,
    None where fire matters and none was named; `fire` says whether it matters.
    """

    light: Light | None = None
    native_to: str = ""
    natives_only: bool = False
    water_region: str = ""
    water_at_most: WaterClass | None = None
    height_at_most_m: float | None = None
    width_at_most_m: float | None = None
    shallow_soil: bool = False
    salt: bool = False
    wind: bool = False
    evergreen: bool = False
    fire: bool = False
    guide: FireBasis | None = None
    slope_read_by: str = ""
    slope_error_pct: float | None = None
    survival: float | None = None
    latitude_deg: float | None = None
    longitude_deg: float | None = None
    utc_offset_hours: float | None = None


@dataclass(frozen=True, slots=True)
class Zone:
    """One area watered alike, for the landscape water budget."""

    name: str
    plant_factor: float
    area_m2: float
    emitter: Literal["spray", "drip"] = "drip"
    efficiency: float | None = None


@dataclass(frozen=True, slots=True)
class WaterWish:
    """Water: the method of establishment watering, its limit in the first year, and what the
    Californian budget needs (reference evapotranspiration by year or month, zones), and what a
    litre costs."""

    method: WaterMethod = "hose"
    first_year_at_most_l: float | None = None
    eto_mm: float | None = None
    eto_months_mm: tuple[float, ...] = ()
    use: LandscapeUse | None = None
    factor: float | None = None
    special_m2: float = 0.0
    zones: tuple[Zone, ...] = ()
    price_minor_per_l: float | None = None


@dataclass(frozen=True, slots=True)
class Bed:
    """Where planting is wanted; without any bed the whole room of the site counts."""

    name: str
    outline: Outline
    light: Light | None = None


@dataclass(frozen=True, slots=True)
class KeepOut:
    """Where nothing may be planted: an outline, or a place with a radius."""

    why: str
    outline: Outline = ()
    place: Place | None = None
    radius_m: float = 0.0


@dataclass(frozen=True, slots=True)
class KindWish:
    """A kind to lay out. `cost_minor` is for one plant of the stock, in the ground. `height_m` and
    `width_m` are the grown size the person expects here, in place of the palette's."""

    species: str
    stock: str
    cost_minor: int | None = None
    at_least: int = 0
    at_most: int | None = None
    height_m: float | None = None
    width_m: float | None = None


@dataclass(frozen=True, slots=True)
class FixedPlant:
    """A plant whose spot the person chose. `place` None = spot not told yet."""

    species: str
    stock: str
    place: Place | None = None
    replaces: str = ""
    why: str = ""
    cost_minor: int | None = None


@dataclass(frozen=True, slots=True)
class View:
    """A view to screen: from an eye at `at`, what lies between `left` and `right`."""

    name: str
    at: Place
    left: Place
    right: Place
    eye_m: float


@dataclass(frozen=True, slots=True)
class ShadeSpot:
    """A spot where shade is wanted at an hour of standard time."""

    name: str
    at: Place
    month: int
    day: int
    hour: float
    height_m: float


@dataclass(frozen=True, slots=True)
class AlternativeWish:
    """A whole alternative: which trees go, and under which limits the gap is planted.

    `remove` None = as decided in the tree table; `plant` False = nothing is planted.
    """

    name: str
    remove: tuple[str, ...] | None = None
    plant: bool = True
    natives_only: bool | None = None
    water_at_most: WaterClass | None = None
    kinds: tuple[str, ...] = ()
    wish: str = ""


@dataclass(frozen=True, slots=True)
class PlantingPlan:
    """The whole of `planting.toml`.

    `year` is the year whose cover the layout is made for; `most_plants` a limit on new plants;
    `cover_m2` the cover asked for in that year, None = as much as the limits allow.
    """

    purposes: tuple[Purpose, ...] = ()
    year: int = 10
    most_plants: int | None = None
    cover_m2: float | None = None
    budget_minor: int | None = None
    minor_digits: int = 2
    site: PlantingSite = field(default_factory=PlantingSite)
    water: WaterWish = field(default_factory=WaterWish)
    beds: tuple[Bed, ...] = ()
    keep_outs: tuple[KeepOut, ...] = ()
    kinds: tuple[KindWish, ...] = ()
    plants: tuple[FixedPlant, ...] = ()
    views: tuple[View, ...] = ()
    shade_spots: tuple[ShadeSpot, ...] = ()
    alternatives: tuple[AlternativeWish, ...] = ()
