"""Files read as ever: a survey folder with each file named before it is opened, or one alone."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from bolewalk.drawing.details import Place
from bolewalk.drawing.dxf import PlanRead, read_dxf
from bolewalk.drawing.geojson import read_geojson
from bolewalk.drawing.grid import Grid, local_grid
from bolewalk.intake.folder import SurveyUnreadableError, read_survey
from bolewalk.intake.kinds import tell_kind
from bolewalk.intake.source import FolderSource, Works
from bolewalk.intake.species_names import name_species
from bolewalk.intake.survey_toml import HEAD_FILE
from bolewalk.intake.tree_table import read_tree_table
from bolewalk.model.problems import Problem
from bolewalk.model.survey import Drawing
from bolewalk.model.units import UnitSystem
from bolewalk.walk.cues import read_cues

__all__ = ["read_alone", "read_listed"]


@dataclass(frozen=True, slots=True)
class _Listed(FolderSource):
    """A folder that says which file is opened next."""

    tell: Callable[[str], None] = print

    def path(self, name: str) -> Path:
        self.tell(name)
        return FolderSource.path(self, name)

    def toml(self, name: str) -> dict[str, Any]:
        self.tell(name)
        return FolderSource.toml(self, name)

    def records(self, name: str, whole: Place) -> Sequence[Sequence[str]]:
        self.tell(name)
        return FolderSource.records(self, name, whole)

    def works(self, name: str, *, grid: Grid, units: UnitSystem) -> Works:
        self.tell(name)
        return FolderSource.works(self, name, grid=grid, units=units)

    def plan(self, name: str, **options: Any) -> PlanRead:
        self.tell(name)
        return FolderSource.plan(self, name, **options)


def read_listed(
    folder: Path, tell: Callable[[str], None]
) -> tuple[Sequence[Problem], dict[str, Any]]:
    """Read a survey folder and tell each file before it is opened.

    Returns
    -------
    problems, facts
        Facts are empty. A survey.toml that cannot be read is for the desk to tell, as ever.
    """
    try:
        return read_survey(_Listed(folder.resolve(), tell)).problems, {}
    except SurveyUnreadableError as e:
        return e.problems, {}


def read_alone(path: Path, name: str) -> Sequence[Problem]:
    """Read one file as what its content tells, in feet: what it costs does not hang on the unit.

    Returns
    -------
    sequence of Problem
        Of a file that is none of a survey's: none.
    """
    kind = tell_kind(path, name).kind
    grid = local_grid("imperial")
    if kind == "drawing":
        drawing = Drawing(file=name, title="")
        return read_dxf(
            path, drawing=drawing, layers={}, grid=grid, units="imperial",
            listed=Place(HEAD_FILE, None), unit="ft",
        ).problems  # fmt: skip
    if kind == "works":
        return read_geojson(path, file=name, grid=grid, units="imperial")[1]
    if kind == "transcript":
        return read_cues(path, file=name)[1]
    if kind == "trees":
        return read_tree_table(
            path, file=name, grid=grid, units="imperial", name_species=name_species
        )[1]
    # A table of settings was opened to tell that it is one.
    return ()
