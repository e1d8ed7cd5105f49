"""The papers: made of which state, issued when, and how today differs from what was issued."""

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from bolewalk.desk.drawer import Sheet
from bolewalk.desk.tasks import Task
from bolewalk.desk.views.head import SurveyHead, survey_head
from bolewalk.desk.views.sizes import bytes_in_words
from bolewalk.desk.views.tasks import TaskView, task_view
from bolewalk.papers.findings_json import findings_json
from bolewalk.papers.reading import DASH, Reading
from bolewalk.papers.write import reading_of
from bolewalk.store.issues import Issue, Mark

__all__ = [
    "PAPER_TITLES", "CompareView", "PapersView", "compare_view", "papers_view",
]  # fmt: skip

PAPER_TITLES: dict[str, str] = {
    "report.pdf": "Arborist report",
    "proposal.pdf": "Proposal for tree work",
    "protection.pdf": "Tree protection sheet",
    "questions.pdf": "Question sheet",
    "crew.pdf": "Crew sheet",
    "letter.pdf": "Client letter",
    "neighbour.pdf": "Neighbour notice",
    "planting.pdf": "Planting and water sheet",
    "monitoring.pdf": "Monitoring sheet",
    "bid.pdf": "Bid-compare sheet",
    "closeout.pdf": "Close-out",
    "decisions.pdf": "Decision record",
    "change.pdf": "Change order",
    "return.pdf": "Return visit",
    "insurer.pdf": "Letter to an insurer",
    "utility.pdf": "Request to the owner of a wire",
    "evidence.pdf": "Evidence sheets",
    "board.pdf": "Tree plan for the board",
    "client/index.html": "Page for the client",
    "tree-table.xlsx": "Tree table, spreadsheet",
    "tree-table.csv": "Tree table, CSV",
    "survey.dxf": "Drawing layers, DXF",
    "survey.gpkg": "Map layers, GeoPackage",
    "walk-index.vtt": "Index of the recording",
    "findings.json": "Everything computed, JSON",
}


@dataclass(frozen=True, slots=True)
class PaperRow:
    """One paper that is there."""

    name: str
    title: str
    size: str
    address: str
    shown: bool


@dataclass(frozen=True, slots=True)
class IssueRow:
    """One sealed set of papers.

    `marks` say what became of it, `later` are the issues that may take its place.
    """

    id: int
    number: str
    title: str
    at: str
    who: str
    state: str
    seal: str
    revision: int
    papers: tuple[PaperRow, ...]
    marks: tuple[str, ...]
    later: tuple[tuple[int, str], ...]


@dataclass(frozen=True, slots=True)
class PapersView:
    """The page of the papers.

    `made` is the state the papers here were made of, None where there are none; `current` tells
    whether that is the survey's state now.
    """

    head: SurveyHead
    papers: tuple[PaperRow, ...]
    made: int | None
    current: bool
    show: str
    show_title: str
    show_kind: str
    task: TaskView | None
    issues: tuple[IssueRow, ...]
    problems: tuple[tuple[str, str, str, str], ...]
    defaults: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class CompareView:
    """What differs between an issue and the survey as it is now."""

    head: SurveyHead
    number: str
    title: str
    at: str
    seal: str
    sound: tuple[str, ...]
    rows: tuple[tuple[str, str, str, str], ...]
    gone: tuple[str, ...]
    new: tuple[str, ...]
    totals: tuple[str, str]
    same_state: bool


def papers_view(
    sheet: Sheet,
    reading: Reading,
    *,
    made: Path | None,
    tasks: Sequence[Task],
    issues: Sequence[Issue],
    show: str,
) -> PapersView:
    """Give the page.

    Parameters
    ----------
    sheet, reading
    made : Path or None
        Folder of the newest papers made of this plan, named by their state.
    tasks : sequence of Task
        Of the survey, newest first.
    issues : sequence of Issue
    show : str
        Name of the paper to show beside the list.
    """
    head = survey_head(sheet, reading, "papers")
    state = None if made is None else int(made.name)
    papers: tuple[PaperRow, ...] = ()
    if made is not None:
        base = f"{head.root}/papers/{sheet.variant or 'as-drawn'}/{state}"
        sizes = {
            p.relative_to(made).as_posix(): p.stat().st_size for p in made.rglob("*") if p.is_file()
        }
        papers = _papers(sizes, base, show)
    chosen = next((p for p in papers if p.shown), None)
    newest = next((t for t in tasks if t.plan == sheet.variant), None)
    task = None
    if newest is not None and (newest.open or newest.state == "failed"):
        task = task_view(head, newest)
    return PapersView(
        head=head,
        papers=papers,
        made=state,
        current=state == sheet.stored.revision,
        show="" if chosen is None else chosen.address,
        show_title="" if chosen is None else chosen.title,
        show_kind="" if chosen is None else chosen.name.rsplit(".", 1)[-1],
        task=task,
        issues=tuple(_issue(head, i, issues) for i in reversed(issues)),
        problems=tuple(
            (
                p.level,
                ", ".join(str(v) for v in (p.file, p.row, p.field) if v not in (None, "")),
                DASH if p.value is None else p.value,
                p.expected,
            )
            for p in sheet.job.problems
        ),
        defaults=tuple(reading.texts(reading.findings.defaults)),
    )


def _papers(sizes: Mapping[str, int], base: str, show: str) -> tuple[PaperRow, ...]:
    names = [n for n in PAPER_TITLES if n in sizes]
    names += sorted(n for n in sizes if n not in PAPER_TITLES)
    return tuple(
        PaperRow(n, PAPER_TITLES.get(n, n), bytes_in_words(sizes[n]), f"{base}/{n}", n == show)
        for n in names
    )


def _issue(head: SurveyHead, issue: Issue, every: Sequence[Issue]) -> IssueRow:
    sizes = {name: medium.size for name, medium in issue.papers.items()}
    return IssueRow(
        id=issue.id,
        number=issue.number,
        title=issue.title,
        at=issue.at[:10],
        who=issue.who,
        state=issue.state,
        seal=issue.sha256[:16],
        revision=issue.revision,
        papers=_papers(sizes, f"{head.root}/issues/{issue.id}", ""),
        marks=tuple(_mark(m, every) for m in issue.marks),
        later=tuple(
            (i.id, f"issue {i.number}: {i.title}") for i in every
            if i.id > issue.id and i.state == "issued"
        ),
    )  # fmt: skip


def _mark(mark: Mark, every: Sequence[Issue]) -> str:
    when = f"{mark.at[:10]}, {mark.who}"
    if mark.by_issue is None:
        return f"Withdrawn, {when}: {mark.reason}"
    number = next((i.number for i in every if i.id == mark.by_issue), str(mark.by_issue))
    return f"Issue {number} took its place, {when}: {mark.reason}"


def compare_view(
    sheet: Sheet, reading: Reading, issue: Issue, issued: bytes, *, faults: Sequence[str]
) -> CompareView:
    """Set an issue beside today's state.

    Parameters
    ----------
    sheet : Sheet
        As drawn, not a what-if copy.
    reading : Reading
    issue : Issue
    issued : bytes
        Its findings.json.
    faults : sequence of str
        What of the issue is no longer what was sealed.
    """
    then = json.loads(issued)
    alone = reading_of(sheet.reckoning.findings())
    now = json.loads(findings_json(alone.findings, alone.speaker))
    before = {t["tree"]: t for t in then.get("trees", [])}
    after = {t["tree"]: t for t in now.get("trees", [])}
    rows = []
    for name in [n for n in before if n in after]:
        for what, was, is_ in _differences(reading, before[name], after[name]):
            rows.append((name, what, was, is_))
    return CompareView(
        head=survey_head(sheet, reading, "papers"),
        number=issue.number,
        title=issue.title,
        at=issue.at[:10],
        seal=issue.sha256,
        sound=tuple(faults),
        rows=tuple(rows),
        gone=tuple(n for n in before if n not in after),
        new=tuple(n for n in after if n not in before),
        totals=(_total(then), _total(now)),
        same_state=issue.revision == sheet.stored.revision,
    )


def _differences(
    reading: Reading, was: dict[str, Any], now: dict[str, Any]
) -> list[tuple[str, str, str]]:
    def at(tree: dict[str, Any], *path: str) -> Any:
        found: Any = tree
        for key in path:
            found = found.get(key) if isinstance(found, dict) else None
        return found

    def word(value: Any) -> str:
        return reading.word("verdict_short", value) if value else DASH

    def number(value: Any) -> str:
        return DASH if value is None else f"{value:.1f}" if isinstance(value, float) else str(value)

    told = [
        ("Verdict", word(at(was, "verdict", "now")), word(at(now, "verdict", "now"))),
        (
            "Verdict with later works",
            word(at(was, "verdict", "with_later")),
            word(at(now, "verdict", "with_later")),
        ),
        (
            "Severed, percent",
            number(at(was, "roots", "proposed", "severed_pct")),
            number(at(now, "roots", "proposed", "severed_pct")),
        ),
        (
            "Diameter",
            number(at(was, "diameter", "combined")),
            number(at(now, "diameter", "combined")),
        ),
        (
            "Species",
            number(at(was, "species", "botanical")),
            number(at(now, "species", "botanical")),
        ),
        ("Decision", _decision(at(was, "decision")), _decision(at(now, "decision"))),
    ]
    return [t for t in told if t[1] != t[2]]


def _decision(value: Any) -> str:
    if isinstance(value, dict):
        value = value.get("decision") or value.get("word") or value.get("is")
    return str(value) if value else DASH


def _total(findings: dict[str, Any]) -> str:
    price = findings.get("price")
    if not isinstance(price, dict):
        return DASH
    total = price.get("total")
    return DASH if total is None else str(total)
