"""What-if copies of the works side by side: plan, verdicts, what differs in the works."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from markupsafe import Markup

from bolewalk.desk.desk import glimpse
from bolewalk.desk.drawer import Sheet
from bolewalk.desk.views.head import SurveyHead, survey_head
from bolewalk.model.words import VERDICTS
from bolewalk.papers.draw.frame import Box, Frame, Scale
from bolewalk.papers.draw.labels import LabelBoard
from bolewalk.papers.draw.plan import PlanTree, draw_plan, plan_extent
from bolewalk.papers.draw.scene import Scene
from bolewalk.papers.draw.svg import svg
from bolewalk.papers.reading import Reading

__all__ = ["CopiesView", "copies_view"]

_WIDTH_MM, _MOST_MM, _PAD_MM = 150.0, 170.0, 3.0


@dataclass(frozen=True, slots=True)
class Cell:
    """One tree's verdict in one plan; `differs` from that of the works as drawn."""

    mark: str
    word: str
    later: str
    severed: str
    differs: bool


@dataclass(frozen=True, slots=True)
class CopyColumn:
    """One plan. `key` is "" for the works as drawn; `changes` say what it has otherwise than
    those; `totals` count the trees of each verdict, in the order of VERDICTS."""

    key: str
    name: str
    address: str
    plan: Markup | None
    totals: tuple[int, ...]
    changes: tuple[str, ...]
    questions: int
    better: int
    worse: int


@dataclass(frozen=True, slots=True)
class CopiesView:
    """The page. `rows` are (tree, name, cells, whether any cell differs), in file order."""

    head: SurveyHead
    columns: tuple[CopyColumn, ...]
    rows: tuple[tuple[str, str, tuple[Cell, ...], bool], ...]
    words: tuple[tuple[str, str], ...]


def copies_view(sheets: Sequence[Sheet]) -> CopiesView:
    """Give the page.

    Parameters
    ----------
    sheets : sequence of Sheet
        The works as drawn, then each what-if copy; all of one state of the survey, every tree's
        open facts tried.
    """
    readings = [glimpse(s) for s in sheets]
    base = readings[0]
    head = survey_head(sheets[0], base, "site")
    names = {"": "As drawn", **dict(sheets[0].variants())}
    cells = [_cells(r, base) for r in readings]
    extent = _extent(readings)
    return CopiesView(
        head=head,
        columns=tuple(
            CopyColumn(
                key=s.variant,
                name=names[s.variant],
                address=f"{head.root}/site" + (f"?plan={s.variant}" if s.variant else ""),
                plan=_plan(r, extent, names[s.variant]),
                totals=_totals(r),
                changes=() if not s.variant else _changes(sheets[0], s, r),
                questions=len({q.fact for t in r.findings.trees for q in t.impact.questions}),
                better=_moved(r, base, -1),
                worse=_moved(r, base, 1),
            )
            for s, r in zip(sheets, readings, strict=True)
        ),
        rows=tuple(
            (
                t.tree.id,
                base.species(t.tree)["name"],
                tuple(column[t.tree.id] for column in cells),
                any(column[t.tree.id].differs for column in cells),
            )
            for t in base.findings.trees
        ),
        words=tuple((v, base.word("verdict_short", v)) for v in VERDICTS),
    )


def _cells(reading: Reading, base: Reading) -> dict[str, Cell]:
    found = {}
    for t, was in zip(reading.findings.trees, base.findings.trees, strict=True):
        verdict, roots = t.impact.verdict, t.impact.roots
        before = was.impact.verdict
        now = (None, None) if verdict is None else (verdict.now, verdict.with_later)
        then = (None, None) if before is None else (before.now, before.with_later)
        later = "" if verdict is None or verdict.with_later == verdict.now else verdict.with_later
        found[t.tree.id] = Cell(
            mark="none" if verdict is None else verdict.now,
            word=reading.word("verdict_short", now[0]),
            later=reading.word("verdict_short", later) if later else "",
            severed="" if roots is None else f"{roots.proposed.severed_pct:.1f}",
            differs=now != then,
        )
    return found


_ORDER = {"keep": 0, "keep_if": 1, "undecided": 2, "redesign": 3}


def _moved(reading: Reading, base: Reading, way: int) -> int:
    """Count the trees whose verdict is better (-1) or worse (1) than with the works as drawn."""
    moved = 0
    for t, was in zip(reading.findings.trees, base.findings.trees, strict=True):
        if t.impact.verdict is not None and was.impact.verdict is not None:
            step = _ORDER[t.impact.verdict.now] - _ORDER[was.impact.verdict.now]
            moved += step * way > 0
    return moved


def _totals(reading: Reading) -> tuple[int, ...]:
    now = [t.impact.verdict.now for t in reading.findings.trees if t.impact.verdict is not None]
    return tuple(now.count(v) for v in VERDICTS)


# --- what differs in the works --------------------------------------------------------------------


def _changes(base: Sheet, copy: Sheet, reading: Reading) -> tuple[str, ...]:
    names = reading.work_names()
    own = {e.item.key: e for e in base.works() if e.item is not None}
    said, left = [], dict(own)
    for entry in copy.works():
        if entry.item is None:
            continue
        body = entry.item.body or {}
        name = names.get(entry.work.id) or entry.work.label or entry.work.id
        before = own.get(str(body.get("copy_of", "")))
        properties = body["feature"].get("properties") or {}
        if before is not None:
            left.pop(before.item.key if before.item is not None else "", None)
            said += _changed(name, (before.item and before.item.body) or {}, body)
        elif properties.get("replaces"):
            said.append(f"{name}: otherwise than the drawing has {properties['replaces']}")
        else:
            said.append(f"{name}: new")
    said += [f"{e.work.label or e.work.id}: taken out" for e in left.values()]
    return tuple(said)


def _changed(name: str, was: Mapping[str, Any], now: Mapping[str, Any]) -> list[str]:
    before, after = was["feature"], now["feature"]
    if before == after:
        return []
    told = [] if before.get("geometry") == after.get("geometry") else ["place or shape"]
    a, b = before.get("properties") or {}, after.get("properties") or {}
    for key in dict.fromkeys((*a, *b)):
        if a.get(key) != b.get(key):
            told.append(f"{key} {a.get(key, 'not told')} → {b.get(key, 'not told')}")
    return [f"{name}: {'; '.join(told)}"]


# --- the plans ------------------------------------------------------------------------------------


def _trees(reading: Reading) -> list[PlanTree]:
    return [PlanTree(t.tree, t.impact) for t in reading.findings.trees]


def _extent(readings: Sequence[Reading]) -> Box | None:
    boxes = [plan_extent(_trees(r), r.findings.survey.works) for r in readings]
    known = [b for b in boxes if b is not None]
    if not known:
        return None
    west, south, east, north = zip(*known, strict=True)
    return min(west), min(south), max(east), max(north)


def _plan(reading: Reading, extent: Box | None, name: str) -> Markup | None:
    """Draw one plan; all have one frame, so that they can be laid over each other by eye."""
    if extent is None:
        return None
    west, south, east, north = extent
    across, up = max(east - west, 1.0), max(north - south, 1.0)
    k = min((_WIDTH_MM - 2 * _PAD_MM) / across, (_MOST_MM - 2 * _PAD_MM) / up)
    height = up * k + 2 * _PAD_MM
    scene = Scene(_WIDTH_MM, height)
    centre = ((west + east) / 2, (south + north) / 2)
    frame = Frame((0.0, 0.0, _WIDTH_MM, height), centre, Scale(1000 / k, ""))
    board = LabelBoard(1, 1, _WIDTH_MM - 1, height - 1)
    works = reading.findings.survey.works
    draw_plan(scene, frame, _trees(reading), works, names={}, board=board)
    # Every text in the drawing was escaped as it was written.
    return Markup(svg(scene, words=True, title=f"Site plan, north up: {name}"))
