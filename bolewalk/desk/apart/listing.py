"""A survey folder read as ever, with each file named before it is opened."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from bolewalk.drawing.details import Place
from bolewalk.drawing.dxf import PlanRead
from bolewalk.drawing.grid import Grid
from bolewalk.intake.folder import SurveyUnreadableError, read_survey
from bolewalk.intake.source import FolderSource, Works
from bolewalk.model.problems import Problem
from bolewalk.model.units import UnitSystem

__all__ = ["read_listed"]


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
