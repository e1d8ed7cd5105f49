"""Which published growth set speaks for a species in a region, and what it stands in for."""

from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

from bolewalk.reference.botanical import species_key
from bolewalk.reference.growth import GrowthSet, growth_table
from bolewalk.reference.regions import find_region, nearest_regions, region_by_code, region_names
from bolewalk.reference.settings import setting
from bolewalk.reference.species import tree_type as noted_type

__all__ = ["GrowthSource", "How", "find_growth"]

How = Literal["species", "region", "genus", "kind"]
"""species: its own set. region: its set of another region. genus: another species of the
genus. kind: a tree of the same leaf habit and size."""


@dataclass(frozen=True, slots=True)
class GrowthSource:
    """A growth set and how well it speaks for what was asked.

    `stand_in` is "" where the species has its own set in the region, else one sentence.
    `widen` is the factor on the band.
    """

    growth: GrowthSet
    how: How
    region: str
    stand_in: str
    widen: float

    @property
    def source(self) -> str:
        """The set and its publication, as papers print it."""
        where = region_by_code(self.growth.region).label
        return (
            f"Urban tree database (McPherson, van Doorn & Peper 2016, updated 2020), "
            f"{self.growth.botanical}, {where}"
        )


def find_growth(
    botanical: str, region: str, *, tree_type: str | None = None
) -> GrowthSource | None:
    """Find the growth set for a species in a region, or the nearest that can stand in.

    In this order: the species in the region; the species in another region not far off; the
    best measured species of the genus in the region; the species farther off; the genus
    farther off; where its kind is known, the best measured tree of that kind.

    Parameters
    ----------
    botanical : str
        Botanical name; cultivars and hybrid signs do not matter.
    region : str
        A region's name or reference city.
    tree_type : str, optional
        The tables' letters: B, C, P (broadleaf, conifer, palm), D or E (deciduous, evergreen),
        S, M or L (small, medium, large), "BDM". Not told: as the notes on the species have it.

    Returns
    -------
    GrowthSource or None
        None where nothing can stand in.

    Raises
    ------
    ValueError
        No such region.
    """
    here = find_region(region)
    if here is None:
        raise ValueError(
            f"no growth region {region!r}; name one of: {', '.join(region_names())}, or its "
            "reference city."
        )
    best = _find(species_key(botanical), here.code, tree_type or noted_type(botanical))
    if best is None:
        return None
    found, how = best
    widen = 1.0 if how == "species" else setting("growth_settings.csv", f"widen_{how}")
    return GrowthSource(found, how, here.code, _sentence(found, how, botanical, here.code), widen)


@lru_cache(maxsize=4096)
def _find(key: str, code: str, tree_type: str | None) -> tuple[GrowthSet, How] | None:
    table = growth_table()
    usable = [s for s in table.sets if _grows_by_age(s)]
    order = {r.code: (i, km) for i, (r, km) in enumerate(nearest_regions(code))}
    genus = key.partition(" ")[0]
    measured = {
        id(s): int(table.equations.n[s.rows.get("trunk_of_age", s.rows["height"])])
        for s in usable
    }  # fmt: skip

    def best(sets: list[GrowthSet]) -> GrowthSet | None:
        ranked = sorted(sets, key=lambda s: (order[s.region][0], -measured[id(s)], s.botanical))
        return ranked[0] if ranked else None

    near_km = setting("growth_settings.csv", "near_region_km")
    same = [s for s in usable if s.key == key] if " " in key else []
    kin = [s for s in usable if s.key.partition(" ")[0] == genus] if genus else []
    steps: tuple[tuple[How, list[GrowthSet]], ...] = (
        ("species", [s for s in same if s.region == code]),
        ("region", [s for s in same if order[s.region][1] <= near_km]),
        ("genus", [s for s in kin if s.region == code]),
        ("region", same),
        ("genus", kin),
        ("kind", [s for s in usable if tree_type and s.tree_type == tree_type]),
    )
    for how, sets in steps:
        found = best(sets)
        if found is not None:
            return found, how
    return None


def _grows_by_age(s: GrowthSet) -> bool:
    # Three palm sets give height by trunk, which does not grow: no age can be found from them.
    return not s.is_palm or int(growth_table().equations.x_kind[s.rows["height"]]) == 0


def _sentence(found: GrowthSet, how: How, asked: str, code: str) -> str:
    where = region_by_code(code).name
    there = region_by_code(found.region).label
    if how == "species":
        return ""
    if how == "region":
        return f"{asked} was not measured in {where}; its growth in {there} stands in."
    if how == "genus":
        at = "" if found.region == code else f" in {there}"
        return f"{asked} was not measured in {where}; {found.botanical}{at} stands in."
    return (
        f"Neither {asked} nor its genus was measured; {found.botanical} in {there}, a tree of "
        "the same kind, stands in."
    )
