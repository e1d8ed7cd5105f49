"""All that a verdict on one tree is read from."""

from dataclasses import dataclass

from bolewalk.impact.near import NearWork
from bolewalk.impact.results import CrownClash, FillOver, Question, RootLosses, RootZone
from bolewalk.impact.tolerance import ToleranceFound
from bolewalk.model.statements import Statement
from bolewalk.model.words import Verdict
from bolewalk.model.works import LeftOut

__all__ = ["SLACK", "OpenFacts", "Standing"]

SLACK = 1e-9
"""Percent and metres alike: a figure that meets its limit to the last bits has met it."""


@dataclass(frozen=True, slots=True)
class OpenFacts:
    """What the missing facts leave open: every level some combination leads to.

    `now` without possible later works, `with_later` with all of them. `questions` are those that
    can change something, most flips first.
    """

    now: frozenset[Verdict]
    with_later: frozenset[Verdict]
    questions: tuple[Question, ...] = ()
    settle: tuple[Statement, ...] = ()
    """For each question that can change the present verdict: the condition to settle it."""


@dataclass(frozen=True, slots=True)
class Standing:
    """All that a verdict on one tree is read from, later works apart in `crown_later`."""

    zone: RootZone
    roots: RootLosses
    tolerance: ToleranceFound
    crown: CrownClash | None
    crown_later: CrownClash | None
    near: tuple[NearWork, ...] = ()
    fill: FillOver | None = None
    unread: tuple[LeftOut, ...] = ()
    """Works within reach whose records could not be used; of `lost` not even the place is known."""
    lost: tuple[LeftOut, ...] = ()
