"""Reading `planting.toml`: every problem told at once, sound entries kept."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, get_args

from bolewalk.model.problems import Problem
from bolewalk.model.settings_keys import Key, read_keys
from bolewalk.model.units import M_PER_FT, UnitSystem
from bolewalk.planting.fire import FIRE_BASES
from bolewalk.planting.palette import find_taxon
from bolewalk.planting.plan import (
    LIGHTS,
    PURPOSES,
    WATER_METHODS,
    AlternativeWish,
    Bed,
    FixedPlant,
    KeepOut,
    KindWish,
    PlantingPlan,
    PlantingSite,
    ShadeSpot,
    View,
    WaterWish,
    Zone,
)
from bolewalk.planting.tables import rules
from bolewalk.reference.water import WATER_REGIONS, WaterClass
from bolewalk.trees.establishment import stock_sizes

__all__ = ["PLANTING_KEYS", "PLANTING_LISTS", "read_planting"]

_CLASSES = get_args(WaterClass)[:4]
_L_PER_GAL = 3.785411784  # exact
_MM_PER_IN = 25.4  # exact
_FAR = 1e9
_EYE_M, _SHADED_M = (float(rules("planting_rules")["heights"][k]) for k in ("eye_m", "shaded_m"))

PLANTING_KEYS: tuple[Key, ...] = (
    Key("purpose", "texts", choices=PURPOSES),
    Key("year", "whole", low=1, high=50),
    Key("most_plants", "whole", low=0, high=10_000),
    Key("cover", "number", high=_FAR),
    Key("budget", "money"),
    Key("minor_digits", "whole", low=0, high=3),
    Key("site.light", "text", choices=LIGHTS),
    Key("site.native_to", "text"),
    Key("site.natives_only", "flag"),
    Key("site.water_region", "text", choices=WATER_REGIONS),
    Key("site.water_at_most", "text", choices=_CLASSES),
    Key("site.height_at_most", "number", low=0.1, high=500),
    Key("site.width_at_most", "number", low=0.1, high=500),
    Key("site.shallow_soil", "flag"),
    Key("site.salt", "flag"),
    Key("site.wind", "flag"),
    Key("site.evergreen", "flag"),
    Key("site.fire", "flag"),
    Key("site.guide", "text", choices=FIRE_BASES),
    Key("site.slope_read_by", "text"),
    Key("site.slope_error", "number", high=50),
    Key("site.survival", "number", high=1),
    Key("site.latitude", "number", low=-90, high=90),
    Key("site.longitude", "number", low=-180, high=180),
    Key("site.utc_offset", "number", low=-12, high=14),
    Key("water.method", "text", choices=WATER_METHODS),
    Key("water.first_year_at_most", "number", high=_FAR),
    Key("water.eto", "number", high=5000),
    Key("water.eto_months", "numbers", high=1000),
    Key("water.use", "text", choices=("residential", "non-residential", "not rehabilitated")),
    Key("water.factor", "number", low=0.01, high=1),
    Key("water.special_area", "number", high=_FAR),
    Key("water.price", "number", high=_FAR),
)
"""Keys outside lists of tables."""

PLANTING_LISTS: dict[str, tuple[Key, ...]] = {
    "zone": (
        Key("name", "text", required=True),
        Key("plant_factor", "number", required=True, high=1.2),
        Key("area", "number", required=True, high=_FAR),
        Key("emitter", "text", choices=("drip", "spray")),
        Key("efficiency", "number", low=0.01, high=1),
    ),
    "bed": (
        Key("name", "text", required=True),
        Key("outline", "places", required=True, low=3),
        Key("light", "text", choices=LIGHTS),
    ),
    "keep_out": (
        Key("why", "text", required=True),
        Key("outline", "places", low=3),
        Key("place", "place"),
        Key("radius", "number", high=_FAR),
    ),
    "kind": (
        Key("species", "text", required=True),
        Key("stock", "text"),
        Key("cost", "money"),
        Key("at_least", "whole", high=10_000),
        Key("at_most", "whole", high=10_000),
        Key("height", "number", low=0.1, high=400),
        Key("width", "number", low=0.1, high=400),
    ),
    "plant": (
        Key("species", "text", required=True),
        Key("stock", "text"),
        Key("place", "place"),
        Key("replaces", "text"),
        Key("why", "text"),
        Key("cost", "money"),
    ),
    "view": (
        Key("name", "text", required=True),
        Key("at", "place", required=True),
        Key("left", "place", required=True),
        Key("right", "place", required=True),
        Key("eye", "number", high=100),
    ),
    "shade_spot": (
        Key("name", "text", required=True),
        Key("at", "place", required=True),
        Key("month", "whole", required=True, low=1, high=12),
        Key("day", "whole", low=1, high=31),
        Key("hour", "number", required=True, high=24),
        Key("height", "number", high=100),
    ),
    "alternative": (
        Key("name", "text", required=True),
        Key("remove", "texts"),
        Key("plant", "flag"),
        Key("natives_only", "flag"),
        Key("water_at_most", "text", choices=_CLASSES),
        Key("kinds", "texts"),
        Key("wish", "text"),
    ),
}
"""Keys of each list of tables, [[plant]] and its siblings."""


@dataclass(slots=True)
class _Reader:
    table: Mapping[str, Any]
    file: str
    units: UnitSystem
    m_per_grid_unit: float
    problems: list[Problem]
    minor_digits: int = 2

    @property
    def long(self) -> float:
        return M_PER_FT if self.units == "imperial" else 1.0

    def length(self, value: float | None) -> float | None:
        return None if value is None else value * self.long

    def area(self, value: float | None) -> float | None:
        return None if value is None else value * self.long**2

    def litres(self, value: float | None) -> float | None:
        if value is None:
            return None
        return value * _L_PER_GAL if self.units == "imperial" else value

    def depth_mm(self, value: float) -> float:
        return value * _MM_PER_IN if self.units == "imperial" else value

    def place(self, xy: Any) -> tuple[float, float] | None:
        return None if xy is None else self.at(xy)

    def at(self, xy: Any) -> tuple[float, float]:
        return xy[0] * self.m_per_grid_unit, xy[1] * self.m_per_grid_unit

    def tell(self, row: str | None, field: str, value: Any, expected: str) -> None:
        shown = None if value is None else str(value)
        self.problems.append(Problem(self.file, row, field, shown, expected))

    def rows(self, name: str) -> list[tuple[str, dict[str, Any]]]:
        """Give the sound tables of one list, each with its row for later problems."""
        listed = self.table.get(name, [])
        if not isinstance(listed, list):
            self.tell(None, name, "a table", f"a list of tables, [[{name}]]")
            return []
        found = []
        for n, entry in enumerate(listed, 1):
            row = f"{name} {n}"
            if not isinstance(entry, Mapping):
                self.tell(row, name, entry, f"a table, [[{name}]]")
                continue
            values, problems = read_keys(
                entry, PLANTING_LISTS[name], file=self.file, row=row,
                minor_digits=self.minor_digits,
            )  # fmt: skip
            self.problems += problems
            if not problems:
                found.append((row, values))
        return found


def read_planting(
    table: Mapping[str, Any], *, file: str, units: UnitSystem, m_per_grid_unit: float
) -> tuple[PlantingPlan, tuple[Problem, ...]]:
    """Read a planting table.

    Parameters
    ----------
    table : mapping
        As read from TOML.
    file : str
        Its name, for the problems.
    units : UnitSystem
        Units of the survey: feet, square feet, US gallons and inches of water, or metres,
        square metres, litres and millimetres.
    m_per_grid_unit : float
        Metres in one unit of the survey's grid: places are grid coordinates.

    Returns
    -------
    plan : PlantingPlan
        What was sound; a list entry with a problem is left out.
    problems : tuple of Problem
    """
    top = {k: v for k, v in table.items() if k not in PLANTING_LISTS}
    digits = table.get("minor_digits", 2)
    digits = digits if isinstance(digits, int) and 0 <= digits <= 3 else 2
    values, problems = read_keys(top, PLANTING_KEYS, file=file, minor_digits=digits)
    read = _Reader(table, file, units, m_per_grid_unit, list(problems), digits)
    get = values.get
    months = tuple(read.depth_mm(v) for v in get("water.eto_months", ()))
    if months and len(months) != 12:
        read.tell(None, "water.eto_months", len(months), "twelve numbers, January first")
        months = ()
    eto = get("water.eto")
    plan = PlantingPlan(
        purposes=get("purpose", ()),
        year=get("year", 10),
        most_plants=get("most_plants"),
        cover_m2=read.area(get("cover")),
        budget_minor=get("budget"),
        minor_digits=digits,
        site=PlantingSite(
            light=get("site.light"),
            native_to=get("site.native_to", ""),
            natives_only=get("site.natives_only", False),
            water_region=get("site.water_region", ""),
            water_at_most=get("site.water_at_most"),
            height_at_most_m=read.length(get("site.height_at_most")),
            width_at_most_m=read.length(get("site.width_at_most")),
            shallow_soil=get("site.shallow_soil", False),
            salt=get("site.salt", False),
            wind=get("site.wind", False),
            evergreen=get("site.evergreen", False),
            fire=get("site.fire", get("site.guide") is not None),
            guide=get("site.guide"),
            slope_read_by=get("site.slope_read_by", ""),
            slope_error_pct=get("site.slope_error"),
            survival=get("site.survival"),
            latitude_deg=get("site.latitude"),
            longitude_deg=get("site.longitude"),
            utc_offset_hours=get("site.utc_offset"),
        ),
        water=WaterWish(
            method=get("water.method", "hose"),
            first_year_at_most_l=read.litres(get("water.first_year_at_most")),
            eto_mm=None if eto is None else read.depth_mm(eto),
            eto_months_mm=months,
            use=get("water.use"),
            factor=get("water.factor"),
            special_m2=read.area(get("water.special_area")) or 0.0,
            price_minor_per_l=_price(read, get("water.price")),
            zones=tuple(
                Zone(v["name"], v["plant_factor"], v["area"] * read.long**2,
                     v.get("emitter", "drip"), v.get("efficiency"))
                for _, v in read.rows("zone")
            ),
        ),
        beds=tuple(
            Bed(v["name"], _outline(read, v["outline"]), v.get("light"))
            for _, v in read.rows("bed")
        ),
        keep_outs=_keep_outs(read),
        kinds=_kinds(read),
        plants=_plants(read),
        views=tuple(
            View(v["name"], read.at(v["at"]), read.at(v["left"]), read.at(v["right"]),
                 read.length(v.get("eye")) or _EYE_M)
            for _, v in read.rows("view")
        ),
        shade_spots=tuple(
            ShadeSpot(v["name"], read.at(v["at"]), v["month"], v.get("day", 15),
                      v["hour"], read.length(v.get("height")) or _SHADED_M)
            for _, v in read.rows("shade_spot")
        ),
        alternatives=tuple(
            AlternativeWish(v["name"], v.get("remove"), v.get("plant", True),
                            v.get("natives_only"), v.get("water_at_most"), v.get("kinds", ()),
                            v.get("wish", ""))
            for _, v in read.rows("alternative")
        ),
    )  # fmt: skip
    if plan.site.water_at_most and not plan.site.water_region:
        read.tell(None, "site.water_region", None, "one of " + ", ".join(WATER_REGIONS))
    if plan.site.natives_only and not plan.site.native_to:
        read.tell(None, "site.native_to", None, "the place plants shall be native to")
    return plan, tuple(read.problems)


def _price(read: _Reader, value: float | None) -> float | None:
    """Price of a thousand gallons, or of a cubic metre, as minor units a litre."""
    if value is None:
        return None
    litres = 1000 * (_L_PER_GAL if read.units == "imperial" else 1.0)
    return float(value * 10**read.minor_digits / litres)


def _outline(read: _Reader, places: Sequence[Any]) -> tuple[tuple[float, float], ...]:
    k = read.m_per_grid_unit
    return tuple((x * k, y * k) for x, y in places)


def _keep_outs(read: _Reader) -> tuple[KeepOut, ...]:
    found = []
    for row, v in read.rows("keep_out"):
        if ("outline" in v) == ("place" in v):
            read.tell(row, "outline", None, "either an outline or a place with a radius")
            continue
        found.append(
            KeepOut(
                v["why"], _outline(read, v.get("outline", ())), read.place(v.get("place")),
                read.length(v.get("radius")) or 0.0,
            )
        )  # fmt: skip
    return tuple(found)


def _stock(read: _Reader, row: str, v: dict[str, Any]) -> str | None:
    told = v.get("stock", "15 gal")
    name = str(told).replace("gallon", "gal").replace(" inch ", " in ")
    if name not in stock_sizes():
        read.tell(row, "stock", told, "one of " + ", ".join(stock_sizes()))
        return None
    return name


def _kinds(read: _Reader) -> tuple[KindWish, ...]:
    found = []
    for row, v in read.rows("kind"):
        stock = _stock(read, row, v)
        taxon = find_taxon(v["species"])
        if taxon is None:
            read.tell(row, "species", v["species"], "a plant of the palette, see docs/planting.md")
        most = v.get("at_most")
        if most is not None and most < v.get("at_least", 0):
            read.tell(row, "at_most", most, f"no fewer than at_least, {v['at_least']}")
            continue
        if stock is not None and taxon is not None:
            found.append(
                KindWish(
                    taxon.botanical, stock, v.get("cost"), v.get("at_least", 0), most,
                    read.length(v.get("height")), read.length(v.get("width")),
                )
            )  # fmt: skip
    return tuple(found)


def _plants(read: _Reader) -> tuple[FixedPlant, ...]:
    found = []
    for row, v in read.rows("plant"):
        stock = _stock(read, row, v)
        taxon = find_taxon(v["species"])
        if taxon is None:
            read.tell(row, "species", v["species"], "a plant of the palette, see docs/planting.md")
        if stock is not None and taxon is not None:
            found.append(
                FixedPlant(taxon.botanical, stock, read.place(v.get("place")),
                           v.get("replaces", ""), v.get("why", ""), v.get("cost"))
            )  # fmt: skip
    return tuple(found)
