"""The list of surveys."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import cast, get_args

from bolewalk.model.units import UnitSystem
from bolewalk.model.words import PURPOSES, Purpose
from bolewalk.store.items import SurveyEntry

__all__ = ["NewSurvey", "SurveysView", "new_survey", "surveys_view"]


@dataclass(frozen=True, slots=True)
class SurveyRow:
    """One line of the list."""

    id: int
    name: str
    visited: str
    kept: str
    revision: int


@dataclass(frozen=True, slots=True)
class SurveysView:
    """The page: the list, what was typed for a new one, and what was wrong with it."""

    rows: tuple[SurveyRow, ...]
    today: str
    says: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class NewSurvey:
    """A survey to begin: sound values only."""

    name: str
    visited: date
    units: UnitSystem
    purpose: Purpose


def surveys_view(
    entries: Sequence[SurveyEntry], *, today: date, says: Sequence[str] = ()
) -> SurveysView:
    """Give the list, newest first."""
    rows = tuple(
        SurveyRow(e.id, e.name or f"Survey {e.id}", e.visited, e.created_at[:10], e.revision)
        for e in entries
    )
    return SurveysView(rows, today.isoformat(), tuple(says))


def new_survey(name: str, visited: str, units: str, purpose: str) -> NewSurvey | list[str]:
    """Check what was typed for a new survey.

    Returns
    -------
    NewSurvey or list of str
        What is wrong, in words, where something is.
    """
    says = []
    if not name.strip():
        says.append("Name: give the survey one, such as the property's.")
    try:
        day = date.fromisoformat(visited)
    except ValueError:
        says.append(f"Day of the walk: {visited!r} is no day such as 2026-05-12.")
        day = date.min
    if units not in get_args(UnitSystem):
        says.append("Units: imperial or metric.")
    if purpose not in PURPOSES:
        says.append("Purpose: estimate, opinion or hazard visit.")
    return says or NewSurvey(
        name.strip()[:200], day, cast(UnitSystem, units), cast(Purpose, purpose)
    )
