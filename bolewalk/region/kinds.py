"""What a row of the tree table may turn out to be: its root zones and tolerances.

A city has a few hundred species names and a few thousand trunk entries, so all that depends on
them is worked out once for each and looked up for every tree.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from itertools import product
from typing import Any, Literal

from bolewalk.drawing.details import Place
from bolewalk.impact.results import RootZone
from bolewalk.impact.thresholds import Thresholds, thresholds
from bolewalk.impact.tolerance import tolerance_of
from bolewalk.impact.tree_facts import species_facts, trunk_facts
from bolewalk.impact.zones import root_zone
from bolewalk.intake.species_names import name_species
from bolewalk.model.figures import Figure
from bolewalk.model.survey import RootZoneMethod
from bolewalk.model.trees import Crown, Species, Tree
from bolewalk.model.units import UnitError, UnitSystem, length_unit, parse_crown, trunk_unit
from bolewalk.model.words import AGES, CROWN_FORMS, TOLERANCES, Tolerance
from bolewalk.reference.wood import wood_kind
from bolewalk.region.columns import Columns
from bolewalk.region.settings import settings
from bolewalk.region.sizes import SizeBasis, Trunk, read_trunk

__all__ = ["KIND_COLUMNS", "Fault", "Kind", "Kinds"]

KIND_COLUMNS = ("diameter", "girth", "species", "age", "tolerance", "crown", "form")
"""The columns a kind is read from, in the order `Kinds.kind` takes them."""

Fault = tuple[str, str, str, Literal["fault", "notice"]]
"""Column, what was found, what was expected, level."""


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of tree.

    Attributes
    ----------
    zones : tuple of RootZone
        Distinct zones it may have, the recorded one first.
    cases : tuple of (zone, tolerance)
        Joint possibilities; the first is what was recorded.
    limits : Thresholds
    size : SizeBasis
    """

    zones: tuple[RootZone, ...]
    cases: tuple[tuple[int, Tolerance | None], ...]
    limits: Thresholds
    size: SizeBasis

    @property
    def reach_m(self) -> float:
        """How far off a work may matter [m]: structural roots of a thin trunk leave its zone."""
        return max(max(z.radius_m, z.structural_radius_m) for z in self.zones)


class Kinds:
    """Reads kinds of trees under one method, each once.

    Parameters
    ----------
    method : RootZoneMethod
    columns : Columns
    units : UnitSystem
        Of plain numbers.
    """

    def __init__(self, method: RootZoneMethod, columns: Columns, units: UnitSystem) -> None:
        self.method = method
        self._units = units
        self._trunk_unit = columns.trunk_unit or trunk_unit(units)
        self._classes = columns.classes
        self._limits = thresholds()
        self._trunks: dict[tuple[str, str], Trunk] = {}
        self._species: dict[str, tuple[Species, tuple[Fault, ...]]] = {}
        self._by_tolerance: dict[tuple[str, str], tuple[Tree, ...]] = {}
        self._zones: dict[tuple[Any, ...], tuple[RootZone, ...]] = {}
        self._kinds: dict[tuple[str, ...], Kind] = {}

    def trunk(self, diameter: str, girth: str) -> Trunk:
        """Read a trunk entry (`read_trunk`)."""
        key = (diameter, girth)
        if key not in self._trunks:
            self._trunks[key] = read_trunk(
                diameter, girth, unit=self._trunk_unit, classes=self._classes
            )
        return self._trunks[key]

    def species(self, words: str) -> tuple[Species, tuple[Fault, ...]]:
        """Match a species name; what could not be matched is told."""
        if words not in self._species:
            place = Place("", None)
            found = name_species(words, place)
            told = tuple(
                (p.field or "", p.value or "", p.expected, p.level) for p in place.problems
            )
            self._species[words] = (found, told)
        return self._species[words]

    def is_palm(self, words: str) -> bool:
        """Tell whether a species name is that of a palm."""
        botanical = self.species(words)[0].botanical
        return botanical is not None and wood_kind(botanical) == "palm"

    def faults(self, row: Mapping[str, str]) -> tuple[Fault, ...]:
        """Give what is wrong with the cells of a row, all but its trunk and its species."""
        return tuple(
            f for name in ("age", "tolerance", "form", "crown") for f in self.cell(name, row[name])
        )

    def cell(self, name: str, text: str) -> tuple[Fault, ...]:
        """Give what is wrong with one cell of `KIND_COLUMNS`, trunk and species apart."""
        words: dict[str, tuple[str, ...]] = {
            "age": AGES, "tolerance": TOLERANCES, "form": CROWN_FORMS,
        }  # fmt: skip
        if not text:
            return ()
        if name in words and text.lower() not in words[name]:
            return ((name, text, f"one of {', '.join(words[name])}; left out", "notice"),)
        if name == "crown" and self._crown(text) is None:
            unit = length_unit(self._units)
            expected = f"one mean radius or four, 12/15/10/14 (plain numbers are {unit}); left out"
            return ((name, text, expected, "notice"),)
        return ()

    def kind(self, *cells: str) -> Kind:
        """Give the kind of a row by its cells, in the order of `KIND_COLUMNS`."""
        if cells not in self._kinds:
            self._kinds[cells] = self._read(dict(zip(KIND_COLUMNS, cells, strict=True)))
        return self._kinds[cells]

    def _read(self, row: Mapping[str, str]) -> Kind:
        trunk = self.trunk(row["diameter"], row["girth"])
        like = self._possible_species(row["species"], row["tolerance"])
        age = _word(row["age"], AGES)
        by_species = self.method == "tolerance-age"
        zones: list[RootZone] = []
        cases: list[tuple[int, Tolerance | None]] = []
        for tree in like:
            for zone in self._zones_of(tree if by_species else like[0], trunk, row):
                if zone not in zones:
                    zones.append(zone)
                case = (zones.index(zone), tolerance_of(tree).level)
                if case not in cases:
                    cases.append(case)
        limits = self._limits.for_tree(method=self.method, age=age)
        return Kind(tuple(zones), tuple(cases), limits, trunk.basis)

    def _possible_species(self, words: str, tolerance: str) -> tuple[Tree, ...]:
        key = (words, tolerance)
        if key not in self._by_tolerance:
            species, _ = self.species(words)
            tree = Tree("", species, tolerance=_word(tolerance, TOLERANCES))
            facts = species_facts(tree, self.method)
            likely = [v.of_tree(tree) for f in facts for v in f.values]
            self._by_tolerance[key] = (tree, *likely)
        return self._by_tolerance[key]

    def _zones_of(self, like: Tree, trunk: Trunk, row: Mapping[str, str]) -> tuple[RootZone, ...]:
        form = _word(row["form"], CROWN_FORMS)
        palm = form == "palm" or self.is_palm(row["species"])
        crowned = palm or self.method == "din18920"
        level = tolerance_of(like).level if self.method == "tolerance-age" else None
        age = _word(row["age"], AGES) if self.method == "tolerance-age" else None
        crown = row["crown"] if crowned else ""
        key = (trunk, level, age, palm, crown, form if crowned else None)
        if key not in self._zones:
            base = replace(
                like, stems_cm=trunk.stems_cm, age=age, crown=self._crown(crown), form=form
            )
            trees = [base, *self._other_trunks(base, trunk)]
            if crowned and base.crown is None:
                s = settings()
                radii = s.missing_palm_crown_m if palm else s.missing_crown_m
                trees = [replace(t, crown=_round(r)) for t, r in product(trees, radii)]
            found = (root_zone(t, self.method) for t in trees)
            self._zones[key] = tuple(dict.fromkeys(z for z in found if z is not None))
        return self._zones[key]

    def _other_trunks(self, tree: Tree, trunk: Trunk) -> list[Tree]:
        facts = trunk_facts(tree, self.method)
        if facts:
            return [v.of_tree(tree) for f in facts for v in f.values]
        if trunk.basis == "measured" or len(trunk.stems_cm) != 1:
            return []
        # A class narrower than what a survey asks about is still a class: both ends count.
        (stem,) = trunk.stems_cm
        ends = [e for e in (stem.low, stem.high) if e is not None]
        return [
            replace(tree, stems_cm=(Figure(e, "default", "end of a size class"),)) for e in ends
        ]

    def _crown(self, text: str) -> Crown | None:
        if not text:
            return None
        try:
            radii = [q.value_m for q in parse_crown(text, default_unit=length_unit(self._units))]
        except UnitError:
            return None
        if min(radii) <= 0:
            return None
        north, east, south, west = radii
        basis = Figure(sum(radii) / 4, "measured", as_entered=text)
        return Crown(north, east, south, west, basis)


def _word(text: str, known: tuple[Any, ...]) -> Any:
    return text.lower() if text.lower() in known else None


def _round(radius_m: float) -> Crown:
    basis = Figure(radius_m, "default", "crown not recorded")
    return Crown(radius_m, radius_m, radius_m, radius_m, basis)
