"""What is kept of earlier visits, and of what was chosen and done since."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Literal, get_args

from bolewalk.model.survey import Drawing
from bolewalk.model.trees import Tree

__all__ = [
    "ACTS_DONE", "CHOICES", "ActDone", "Assumption", "Choice", "ChoiceWord", "Choices", "Done",
    "EarlierVisit", "IssueOf", "TreeThen", "WorkThen",
]  # fmt: skip

ChoiceWord = Literal["yes", "later", "no"]
CHOICES: tuple[ChoiceWord, ...] = get_args(ChoiceWord)

ActDone = Literal["prune", "remove", "inspect", "monitor", "plant", "other"]
ACTS_DONE: tuple[ActDone, ...] = get_args(ActDone)

Day = date
"""The class under a second name: a field named `date` hides the first inside its own class."""


@dataclass(frozen=True, slots=True)
class Choice:
    """What an owner chose of what was advised for one tree. `until` is the day a choice to wait
    runs to; None = no day was named."""

    tree: str
    choice: ChoiceWord
    by: str
    date: Day
    until: Day | None = None
    reason: str = ""
    how: str = ""


@dataclass(frozen=True, slots=True)
class Done:
    """What was done to one tree, on which day, by whom."""

    tree: str
    act: ActDone
    date: Day
    by: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True)
class Assumption:
    """Something that was taken as given. `until` is the last day it was to hold, `ended` the day
    on which it was known to hold no longer; None = not told."""

    text: str
    trees: tuple[str, ...] = ()
    until: date | None = None
    ended: date | None = None
    source: str = ""


@dataclass(frozen=True, slots=True)
class Choices:
    """One choices.toml. Entries in file order; those with a fault are not in it."""

    choices: tuple[Choice, ...] = ()
    done: tuple[Done, ...] = ()
    assumptions: tuple[Assumption, ...] = ()


@dataclass(frozen=True, slots=True)
class TreeThen:
    """One tree as it stood in earlier papers, its sentences as they were printed."""

    tree: Tree
    verdict: str | None = None
    verdict_later: str | None = None
    because: tuple[str, ...] = ()
    conditions: tuple[str, ...] = ()
    reasons: tuple[str, ...] = ()
    asked: tuple[tuple[str, str], ...] = ()
    """Open questions: the fact's key and the question."""


@dataclass(frozen=True, slots=True)
class WorkThen:
    """Works as they stood in earlier papers."""

    id: str
    label: str
    kind: str
    phase: str
    present: str


@dataclass(frozen=True, slots=True)
class IssueOf:
    """The seal of an issue: number, title, moment, whom by, the hash of the whole."""

    number: str
    title: str
    at: str
    who: str
    sha256: str


@dataclass(frozen=True, slots=True)
class EarlierVisit:
    """One earlier visit, as its papers had it; lengths in metres, trunks in centimetres.

    `source` names where it was read; `issue` is None where the papers were not sealed.
    `defaults` are what stood in for facts not told then: key (code and values) -> sentence.
    """

    source: str
    date: Day
    name: str
    purpose: str
    assessor: str
    credential_until: Day | None
    price_until: Day | None
    drawings: tuple[Drawing, ...]
    trees: tuple[TreeThen, ...]
    works: tuple[WorkThen, ...]
    defaults: Mapping[str, str] = field(default_factory=dict)
    issue: IssueOf | None = None

    def of(self, tree: str) -> TreeThen | None:
        """Give one tree of the visit by its id then."""
        return next((t for t in self.trees if t.tree.id == tree), None)
