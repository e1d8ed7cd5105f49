"""What can be planted: grown size, origin, light, uses, roots, and where each figure comes from.

`data/palette.csv` holds one taxon a row. Where `size_source` is "notes" its size and origin stand
in the notes on species and are not repeated. All sizes are recalled, for planted places.
"""

from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Literal, cast

from bolewalk.model.figures import Figure
from bolewalk.planting.tables import read_csv
from bolewalk.reference.plants import Plant, find_plant
from bolewalk.reference.species import SpeciesFacts, species_facts
from bolewalk.reference.water import NEEDS, WaterClass, water_needs

__all__ = [
    "PaletteTaxon", "PlantKind", "Roots", "find_taxon", "grown_as", "load_palette",
    "plant_factor", "water_class",
]  # fmt: skip

PlantKind = Literal["tree", "shrub", "ground cover", "palm"]
Roots = Literal["low", "moderate", "high"]
"""How likely roots lift paving nearby."""


@dataclass(frozen=True, slots=True)
class PaletteTaxon:
    """One taxon.

    Attributes
    ----------
    botanical, common, family, genus : str
    kind : PlantKind
    evergreen : bool or None
        None where not known.
    origin : str
    native_to : tuple of str
        Places named in the palette where it is native: "California", "Pacific Northwest" ...
    height_m, spread_m : Figure
        Grown, middle of the usual range, with the range.
    light : tuple of str
        sun, part, shade: where it does well.
    uses : tuple of str
        shade, screen, bank, berries, flowers.
    roots : Roots
    stands : tuple of str
        salt, wind, shallow soil.
    """

    botanical: str
    common: str
    family: str
    genus: str
    kind: PlantKind
    evergreen: bool | None
    origin: str
    native_to: tuple[str, ...]
    height_m: Figure
    spread_m: Figure
    light: tuple[str, ...]
    uses: tuple[str, ...]
    roots: Roots
    stands: tuple[str, ...]


@lru_cache(maxsize=1)
def load_palette() -> tuple[PaletteTaxon, ...]:
    """Read the palette, sorted by botanical name.

    Raises
    ------
    ValueError
        A packaged row is damaged.
    """
    return tuple(sorted((_taxon(r) for r in read_csv("palette")), key=lambda t: t.botanical))


def _taxon(row: dict[str, str]) -> PaletteTaxon:
    name = row["botanical"]
    plant = find_plant(name)
    if plant is None and not row["common"]:
        raise ValueError(f"palette: {name!r} is in no gazetteer and has no common name")
    height, spread, origin = _sizes(row)
    leaf = row["leaf"] or (plant.leaf if plant else "")
    genus = name.split()[0]
    return PaletteTaxon(
        name, row["common"] or (plant.common[0] if plant else name), _family(plant, genus), genus,
        cast(PlantKind, row["kind"]), None if not leaf else leaf == "evergreen", origin,
        _parts(row["native_to"]), height, spread, _parts(row["light"]), _parts(row["uses"]),
        cast(Roots, row["roots"]), _parts(row["stands"]),
    )  # fmt: skip


def _family(plant: Plant | None, genus: str) -> str:
    if plant is not None:
        return plant.family
    of_genus = find_plant(genus)
    return of_genus.family if of_genus else _FAMILIES.get(genus, "")


_FAMILIES = {r["genus"]: r["family"] for r in read_csv("palette_families")}


def _parts(cell: str) -> tuple[str, ...]:
    return tuple(p for p in cell.split(";") if p)


def _sizes(row: dict[str, str]) -> tuple[Figure, Figure, str]:
    if row["size_source"] != "notes":
        height, spread = (_figure(row[c], "grown size recalled, not read") for c in _SIZES)
        return height, spread, row["origin"]
    facts = _notes(row["botanical"])
    height, spread = (_of(facts, what) for what in ("mature height", "mature spread"))
    return height, spread, facts.of("origin")[0].text


_SIZES = ("height_m", "spread_m")


def _notes(botanical: str) -> SpeciesFacts:
    for facts in species_facts(botanical):
        if facts.of("mature height"):
            return facts
    raise ValueError(f"palette: no notes on {botanical!r}")


def _of(facts: SpeciesFacts, what: str) -> Figure:
    f = facts.of(what)[0]
    if f.low is None or f.high is None:
        raise ValueError(f"palette: no {what} of {facts.botanical!r}")
    return Figure((f.low + f.high) / 2, "default", f"{f.source}, {f.provenance}", f.low, f.high)


def _figure(text: str, source: str) -> Figure:
    low, high = (float(v) for v in text.split("-"))
    return Figure((low + high) / 2, "default", source, low, high)


def find_taxon(name: str) -> PaletteTaxon | None:
    """Find a taxon by botanical or common name; None where the palette does not hold it."""
    wanted = " ".join(name.lower().split())
    for t in load_palette():
        if wanted in (t.botanical.lower(), t.common.lower()):
            return t
    plant = find_plant(name)
    if plant is None:
        return None
    for t in load_palette():
        own = find_plant(t.botanical)
        if own is not None and own.botanical == plant.botanical:
            return t
    return None


def grown_as(taxon: PaletteTaxon, *, height_m: float | None, width_m: float | None) -> PaletteTaxon:
    """Give a taxon with the grown size a person expects on this site.

    Parameters
    ----------
    taxon : PaletteTaxon
    height_m, width_m : float, optional
        > 0; None leaves the palette's size.
    """
    source = "stated in planting.toml"
    return replace(
        taxon,
        height_m=taxon.height_m if height_m is None else Figure(height_m, "estimated", source),
        spread_m=taxon.spread_m if width_m is None else Figure(width_m, "estimated", source),
    )


def water_class(botanical: str, region: str) -> WaterClass:
    """Give a plant's published water class in a region, "not rated" where the list lacks it.

    A garden form of no named species is not rated by another form of its genus.
    """
    needs = water_needs(botanical)
    if needs is None or (_bare_genus(needs.botanical) and needs.botanical != botanical):
        return "not rated"
    return needs.in_region(region)


def _bare_genus(botanical: str) -> bool:
    words = botanical.split()
    return len(words) > 1 and words[1].startswith("'")


def plant_factor(need: WaterClass) -> float | None:
    """Give the middle of a class' share of reference evapotranspiration, 0 to 1; None where the
    plant has none."""
    band = NEEDS[need]
    return None if band is None else (band[0] + band[1]) / 200
