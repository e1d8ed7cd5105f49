"""The site: the plan, the verdicts beside it, and what is still to be asked."""

from dataclasses import dataclass
from typing import Any

from bolewalk.desk.drawer import Drawer, Sheet, WorkItem
from bolewalk.desk.views.head import SurveyHead, survey_head
from bolewalk.desk.views.questions import QuestionsView, questions_view
from bolewalk.model.words import (
    FOUNDATIONS,
    MAKINGS,
    PHASES,
    POSITION_BASES,
    PRESENCES,
    WORK_KINDS,
)
from bolewalk.papers.reading import Reading

__all__ = ["CHOICES", "SiteView", "VerdictRow", "site_view"]


@dataclass(frozen=True, slots=True)
class VerdictRow:
    """One tree in the list beside the plan."""

    id: str
    name: str
    botanical: str
    mark: str
    word: str
    later: str
    severed: str
    remove: bool
    located: bool
    pending: bool


@dataclass(frozen=True, slots=True)
class WorkRow:
    """One work in the list beside the plan."""

    id: str
    key: str
    label: str
    kind: str
    phase: str
    drawing: str


@dataclass(frozen=True, slots=True)
class SiteView:
    """The page of the plan."""

    head: SurveyHead
    rows: tuple[VerdictRow, ...]
    works: tuple[WorkRow, ...]
    variants: tuple[tuple[str, str, bool], ...]
    questions: QuestionsView
    choices: dict[str, tuple[str, ...]]
    unit: str
    located: bool
    words: dict[str, str]
    legend_works: tuple[tuple[str, str, str], ...]


CHOICES: dict[str, tuple[str, ...]] = {
    "kind": WORK_KINDS,
    "phase": PHASES,
    "made": MAKINGS,
    "founded": FOUNDATIONS,
    "basis": POSITION_BASES,
    "present": PRESENCES,
}


def site_view(sheet: Sheet, reading: Reading, drawer: Drawer) -> SiteView:
    """Give the page of the plan as things are known now."""
    pending = set(sheet.reckoning.pending)
    entries = sheet.works()
    survey = sheet.job.survey
    head = survey_head(sheet, reading, "site")
    words = reading.labels("plan")
    return SiteView(
        head=head,
        rows=tuple(_row(reading, t, pending) for t in reading.findings.trees),
        works=tuple(_work(reading, w) for w in entries),
        variants=tuple(
            (key, name, key == sheet.variant)
            for key, name in (("", "As drawn"), *sheet.variants())
        ),
        questions=questions_view(sheet, reading, drawer, head=head),
        choices=CHOICES,
        unit=reading.speaker.amounts.length_unit,
        located=any(t.located for t in survey.trees) or bool(survey.works),
        words=words,
        legend_works=tuple(
            (kind, phase, words["works_row"]
             .replace("{kind}", words.get(f"kind_{kind}", kind))
             .replace("{phase}", words[f"phase_{phase}"]))
            for phase in PHASES
            for kind in sorted({w.kind for w in survey.works if w.phase == phase})
        ),
    )  # fmt: skip


def _row(reading: Reading, t: Any, pending: set[str]) -> VerdictRow:
    verdict, roots = t.impact.verdict, t.impact.roots
    names = reading.species(t.tree)
    return VerdictRow(
        id=t.tree.id,
        name=names["name"],
        botanical=names["botanical"],
        mark="none" if verdict is None else verdict.now,
        word=reading.word("verdict_short", None if verdict is None else verdict.now),
        later=""
        if verdict is None or verdict.with_later == verdict.now
        else reading.word("verdict_short", verdict.with_later),
        severed="" if roots is None else f"{roots.proposed.severed_pct:.1f}",
        remove=t.tree.decision == "remove",
        located=t.tree.located,
        pending=t.tree.id in pending,
    )


def _work(reading: Reading, entry: WorkItem) -> WorkRow:
    work = entry.work
    return WorkRow(
        id=work.id,
        key="" if entry.item is None else entry.item.key,
        label=work.label or work.id,
        kind=reading.word("kind", work.kind),
        phase=work.phase,
        drawing=work.drawing,
    )
