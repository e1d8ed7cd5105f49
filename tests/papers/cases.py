"""Surveys that strain a layout: many trees with long names, one, none, names in other scripts."""

from dataclasses import replace
from pathlib import Path

import bolewalk.demo
from bolewalk.intake.folder import read_folder
from bolewalk.model.trees import Species
from bolewalk.model.units import UnitSystem
from bolewalk.survey import Findings, assess
from tests.papers.invented import ROWS, findings

__all__ = ["CASES", "case"]

_LONG = ("a very long common name of a cultivated hybrid with a story",
         "Magnolia × soulangeana var. longissima")  # fmt: skip
_SCRIPTS = ("بلوط الأحمر الشمالي", "北美红栎", "Дуб красный северный", "אלון אדום צפוני")
CASES = ("demo imperial", "demo metric", "sixty imperial", "sixty metric", "scripts", "one", "none",
         "demo imperial large", "sixty metric large")  # fmt: skip


def case(name: str) -> Findings:
    """Give the findings of one case; "large" ones ask for large type."""
    if name.endswith("large"):
        found = case(name.removesuffix(" large"))
        told = {**found.survey.told, "papers.type": "large"}
        return replace(found, survey=replace(found.survey, told=told))
    if name.startswith("demo"):
        return _demo(_units(name))
    if name.startswith("sixty"):
        return _sixty(_units(name))
    if name == "scripts":
        return _scripts()
    return findings(rows=ROWS[5:6] if name == "one" else [])


def _units(name: str) -> UnitSystem:
    return "metric" if name.endswith("metric") else "imperial"


def _demo(units: UnitSystem) -> Findings:
    found = assess(read_folder(Path(bolewalk.demo.__file__).parent / "teasel-court"))
    return replace(found, survey=replace(found.survey, units=units))


def _sixty(units: UnitSystem) -> Findings:
    rows = [
        (f"T{i + 1:02d}", *_LONG, None if r[3] is None else r[3] + i // 24 * 230, *r[4:])
        for i, r in enumerate((ROWS * 3)[:60])
    ]
    return findings(rows=rows, units=units)


def _scripts() -> Findings:
    f = findings(rows=ROWS[:8], units="metric")
    trees = []
    for i, t in enumerate(f.trees):
        name = _SCRIPTS[i % len(_SCRIPTS)]
        species = Species(None if i % 2 else "Quercus rubra", name, name)
        trees.append(replace(t, tree=replace(t.tree, species=species, notes=f"{name} {name}")))
    survey = replace(f.survey, name="Сад 北美 אלון", place="شارع 5",
                     trees=tuple(t.tree for t in trees))  # fmt: skip
    return replace(f, survey=survey, trees=tuple(trees))
