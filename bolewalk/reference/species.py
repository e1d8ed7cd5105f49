"""What is known of a plant, line by line, and where each line comes from."""

from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

from bolewalk.model.units import M_PER_FT, UnitSystem
from bolewalk.reference.botanical import genus_key, species_key
from bolewalk.reference.growth import growth_table
from bolewalk.reference.plants import Plant, candidates
from bolewalk.reference.regions import region_by_code
from bolewalk.reference.tables import cite, read_rows
from bolewalk.reference.tolerance import tolerance_ratings
from bolewalk.reference.water import water_needs
from bolewalk.reference.wood import wood_density

__all__ = ["Fact", "SpeciesFacts", "curated_names", "species_facts", "tree_type"]

Provenance = Literal["read", "memory", "common practice", "derived"]


@dataclass(frozen=True, slots=True)
class Fact:
    """One line about a plant.

    Attributes
    ----------
    what : str
        origin, mature height, mature spread, usual span, sprouting, weakness, goes wrong,
        water need, construction tolerance, green wood, largest measured.
    text : str
        In words; "" where the numbers say it.
    low, high : float or None
        Range, in `unit`.
    unit : str
        m, years, kg/m3 or "".
    source : str
    provenance : str
        read, memory, common practice or derived.
    """

    what: str
    text: str
    low: float | None
    high: float | None
    unit: str
    source: str
    provenance: Provenance

    def line(self, units: UnitSystem) -> str:
        """Give the fact as one line of text in the reader's units, source last."""
        said = self.text
        if self.low is not None and self.high is not None:
            scale, unit = (1 / M_PER_FT, "ft") if (self.unit, units) == ("m", "imperial") else (
                1.0, self.unit
            )  # fmt: skip
            numbers = f"{self.low * scale:.0f} to {self.high * scale:.0f} {unit}"
            if round(self.low * scale) == round(self.high * scale):
                numbers = f"{self.low * scale:.0f} {unit}"
            said = f"{numbers}, {said}" if said else numbers
        recalled = "; from memory" if self.provenance == "memory" else ""
        return f"{self.what}: {said} [{self.source}{recalled}]"


@dataclass(frozen=True, slots=True)
class SpeciesFacts:
    """A plant and what is known of it, in a fixed order of lines.

    `notes_for` is "" or the name whose notes stand in (the genus, another rank).
    """

    botanical: str
    common: tuple[str, ...]
    family: str
    facts: tuple[Fact, ...]
    notes_for: str = ""

    def of(self, what: str) -> tuple[Fact, ...]:
        """Give the facts of one kind."""
        return tuple(f for f in self.facts if f.what == what)


def curated_names() -> tuple[str, ...]:
    """Give the botanical names that have notes of their own, sorted."""
    return tuple(sorted(r["botanical"] for r in read_rows("species_notes.csv")))


def tree_type(botanical: str) -> str | None:
    """Give the tables' letters for a plant (leaf kind, habit, size: "BDM"), None if not known."""
    row = _notes_row(botanical)
    return row[0]["type"] if row else None


def species_facts(name: str) -> tuple[SpeciesFacts, ...]:
    """Tell what is known of a plant.

    Parameters
    ----------
    name : str
        Botanical or common name.

    Returns
    -------
    tuple of SpeciesFacts
        One for each plant the name may stand for; empty where none is known. A plant without
        notes still gets the lines the tables hold.
    """
    return tuple(_facts_of(plant) for plant in candidates(name))


def _facts_of(plant: Plant) -> SpeciesFacts:
    lines: list[Fact] = []
    notes = _notes_row(plant.botanical)
    stands_for = ""
    if notes:
        row, stands_for = notes
        lines += _from_notes(row)
    lines += _measured_size(plant.botanical)
    needs = water_needs(plant.botanical)
    if needs:
        for region, need in needs.by_region.items():
            lines.append(
                Fact("water need", f"{need} in {region}", None, None, "", needs.source, "read")
            )
    ratings, level = tolerance_ratings(plant.botanical)
    for rating in ratings:
        lines.append(
            Fact(
                "construction tolerance",
                rating.tolerance + (" (rated as a genus)" if level == "genus" else ""),
                None, None, "", rating.source, rating.provenance,
            )
        )  # fmt: skip
    density = wood_density(plant.botanical)
    told = density.basis + (f", {density.stand_in}" if density.stand_in else "")
    lines.append(
        Fact(
            "green wood", f"about {density.green_kg_m3:.0f}; {told}",
            density.low_kg_m3, density.high_kg_m3, "kg/m3", density.source, "derived",
        )
    )  # fmt: skip
    return SpeciesFacts(plant.botanical, plant.common, plant.family, tuple(lines), stands_for)


def _from_notes(row: dict[str, str]) -> list[Fact]:
    memory, practice = "general horticultural knowledge", "common practice"
    lines = [Fact("origin", row["origin"], None, None, "", memory, "memory")]
    for what, column, unit in (
        ("mature height", "height_m", "m"),
        ("mature spread", "spread_m", "m"),
        ("usual span", "span_years", "years"),
    ):
        low, high = (float(v) for v in row[column].split("-"))
        text = "in planted places" if unit == "years" else ""
        lines.append(Fact(what, text, low, high, unit, memory, "memory"))
    lines.append(Fact("sprouting", row["sprouts"], None, None, "", memory, "memory"))
    for what, column in (("weakness", "weaknesses"), ("goes wrong", "goes_wrong")):
        for said in row[column].split(";"):
            lines.append(Fact(what, said.strip(), None, None, "", practice, "common practice"))
    return lines


def _measured_size(botanical: str) -> list[Fact]:
    """Give the largest sizes the growth equations were fitted on, one line a region."""
    table, key = growth_table(), species_key(botanical)
    lines = []
    for s in table.sets:
        if s.key != key or " " not in key:
            continue
        height = table.equations.high[s.rows["height"]]
        crown = table.equations.high[s.rows["crown_diameter"]]
        lines.append(
            Fact(
                "largest measured",
                f"height among street trees of {region_by_code(s.region).label}",
                float(height), float(height), "m", cite("utd").text, "read",
            )
        )  # fmt: skip
        lines.append(
            Fact(
                "largest measured",
                f"crown width among street trees of {region_by_code(s.region).label}",
                float(crown), float(crown), "m", cite("utd").text, "read",
            )
        )  # fmt: skip
    return lines


@lru_cache(maxsize=1)
def _notes() -> tuple[dict[str, dict[str, str]], dict[str, dict[str, str]]]:
    exact: dict[str, dict[str, str]] = {}
    species: dict[str, dict[str, str]] = {}
    for row in read_rows("species_notes.csv"):
        exact[row["botanical"].lower()] = row
        if "'" not in row["botanical"]:
            species[species_key(row["botanical"])] = row
    return exact, species


def _notes_row(botanical: str) -> tuple[dict[str, str], str] | None:
    exact, species = _notes()
    row = exact.get(botanical.lower()) or species.get(species_key(botanical))
    if row:
        return row, ""
    row = species.get(genus_key(botanical))
    return (row, row["botanical"]) if row else None
