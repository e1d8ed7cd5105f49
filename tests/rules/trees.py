"""Trees and tables the tests of the rules are made of."""

import tomllib
from typing import Any

from bolewalk.drawing.details import Place
from bolewalk.intake.species_names import name_species
from bolewalk.model.figures import Figure
from bolewalk.model.trees import Species, Tree
from bolewalk.rules.reader import read_rules
from bolewalk.rules.settings import packaged
from bolewalk.rules.table import RuleTable

CM = 2.54
FT = 0.3048
US_BREAST_M = 4.5 * FT

HEAD = """
[table]
place = "Town of Quillmere"
source = "invented"
checked = 2026-03-01
units = "imperial"
"""


def tree(
    species: str = "Quercus agrifolia",
    stems_in: tuple[float, ...] = (),
    *,
    basis: Any = "measured",
    **more: Any,
) -> Tree:
    """A tree named as in the tree table, stems in inches."""
    stems = tuple(Figure(d * CM, basis) for d in stems_in)
    return Tree("T1", name_species(species, Place("", None, [])), stems_cm=stems, **more)


def garbled(*candidates: str, stems_in: tuple[float, ...] = (14.0,)) -> Tree:
    """A tree whose name was not understood."""
    stems = tuple(Figure(d * CM, "measured") for d in stems_in)
    return Tree("T1", Species(None, None, "corse oak", alternatives=candidates), stems_cm=stems)


def table(text: str, *, head: str = HEAD) -> RuleTable:
    """A sound rule table from TOML, imperial."""
    read, problems = read_rules(tomllib.loads(head + text), file="rules.toml")
    assert [p.line() for p in problems if p.level == "fault"] == []
    return read


def example(name: str) -> RuleTable:
    """One of the worked examples that ship."""
    read, problems = read_rules(packaged(f"examples/{name}.toml"), file=f"{name}.toml")
    assert [p for p in problems if p.level == "fault"] == []
    return read
