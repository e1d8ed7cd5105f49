"""What a survey folder gives: the survey, the tables of the other rooms, and what was wrong."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from bolewalk.drawing.underlay import Underlay
from bolewalk.impact.thresholds import Thresholds
from bolewalk.model.problems import Problem
from bolewalk.model.statements import Statement
from bolewalk.model.survey import Survey
from bolewalk.planting.plan import PlantingPlan
from bolewalk.pricing.future_cases import FutureCase
from bolewalk.pricing.phase_items import PhasePlan
from bolewalk.pricing.rates import Rates
from bolewalk.rules.table import RuleTable
from bolewalk.visits.record import Choices, EarlierVisit
from bolewalk.walk.cues import Cue

__all__ = ["Job", "RawTable", "WalkPart"]


@dataclass(frozen=True, slots=True)
class RawTable:
    """A TOML file as it was read, for the room that understands it. `file` is relative to the
    survey folder."""

    file: str
    table: dict[str, Any]


@dataclass(frozen=True, slots=True)
class WalkPart:
    """A stretch of the walk's time line: the transcript it comes from, the recording it was taken
    down from ("" where that is not in the survey), and the seconds it takes up."""

    transcript: str
    recording: str
    start_s: float
    end_s: float


@dataclass(frozen=True, slots=True)
class Job:
    """Everything a survey folder holds.

    `rates` is None where the survey has none or they cannot be used; `rates_table` is then still
    what was read. `phases` is None where there is no plan or it has a fault; `futures` are the
    sound cases. `rules` are the tables named, unread ones among them. `photos` are paths relative
    to the survey folder, sorted. `parts` are the stretches of `cues`' time line, in order;
    `underlays` the pictures among the drawings. `earlier` are earlier visits in file order,
    `choices` what was chosen, done and assumed since; `discussion` is tree id -> key -> text, what
    is said of single trees at length; `examples` tells what is still as a new survey has it.
    `problems` come in the order the files are read: survey.toml,
    trees, works, drawings, walk, the other tables, then what holds across them.
    """

    survey: Survey
    rates: Rates | None = None
    rates_table: RawTable | None = None
    rules: tuple[RuleTable, ...] = ()
    planting: PlantingPlan | None = None
    phases: PhasePlan | None = None
    futures: tuple[FutureCase, ...] = ()
    limits: Thresholds | None = None
    cues: tuple[Cue, ...] = ()
    parts: tuple[WalkPart, ...] = ()
    underlays: tuple[Underlay, ...] = ()
    photos: tuple[str, ...] = ()
    earlier: tuple[EarlierVisit, ...] = ()
    choices: Choices | None = None
    discussion: Mapping[str, Mapping[str, str]] = field(default_factory=dict)
    examples: tuple[Statement, ...] = ()
    problems: tuple[Problem, ...] = field(default=())
