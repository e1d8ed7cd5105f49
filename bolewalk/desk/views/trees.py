"""The tree table: as entered, with what was made of it beside."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from bolewalk.desk.drawer import Sheet
from bolewalk.desk.views.head import SurveyHead, survey_head
from bolewalk.intake.tree_table import COLUMNS
from bolewalk.model.words import AGES, CROWN_FORMS, DECISIONS, GRADES, OWNERS, TOLERANCES
from bolewalk.papers.reading import Reading
from bolewalk.store.items import Clash, Item

__all__ = [
    "CHOICES", "SHOWN", "ClashView", "RowView", "TreesView", "clash_view", "row_view", "trees_view",
]  # fmt: skip

SHOWN: tuple[str, ...] = (
    "tree", "species", "x", "y", "diameter", "height", "crown_base", "crown", "age", "health",
    "structure", "owner", "decision", "notes",
)  # fmt: skip
"""Columns of the table; the others are edited on the row and stand on the page of the tree."""

HEADS: dict[str, str] = {
    "tree": "Tree", "species": "Species", "x": "East", "y": "North",
    "offset": "Position off by", "diameter": "Trunk",
    "girth": "Girth", "height": "Height", "crown_base": "Crown base", "crown": "Crown N/E/S/W",
    "flare": "Above the flare", "age": "Age", "health": "Health", "structure": "Structure",
    "owner": "Owner", "decision": "Decision", "form": "Form", "tag": "Tag", "photo": "Photograph",
    "measured_at": "Trunk measured at", "tolerance": "Tolerance", "access": "Access",
    "failure": "Likelihood of failure", "impact": "Likelihood of impact",
    "consequence": "Consequence", "notes": "Notes",
}  # fmt: skip

CHOICES: dict[str, tuple[str, ...]] = {
    "age": AGES, "health": GRADES, "structure": tuple(g for g in GRADES if g != "dead"),
    "owner": OWNERS, "decision": DECISIONS, "form": CROWN_FORMS, "tolerance": TOLERANCES,
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class RowView:
    """One row: its cells as entered, what they were read as, and what was wrong with them.

    `read_as` is the species the words were taken for, "" where that is what was written.
    """

    head: SurveyHead
    key: str
    version: int
    tree: str
    cells: Mapping[str, str]
    read_as: str
    mark: str
    word: str
    severed: str
    problems: tuple[str, ...]
    columns: tuple[str, ...]
    heads: Mapping[str, str]
    choices: Mapping[str, tuple[str, ...]]
    more: tuple[str, ...]
    editing: bool = False
    said: str = ""
    pending: bool = False


@dataclass(frozen=True, slots=True)
class TreesView:
    """The page of the tree table."""

    head: SurveyHead
    rows: tuple[RowView, ...]
    columns: tuple[str, ...]
    heads: Mapping[str, str]
    next_id: str
    pending: bool
    units: str
    trunk_unit: str
    length_unit: str


@dataclass(frozen=True, slots=True)
class ClashCell:
    """One cell two people changed, or one did: what it was, and both."""

    name: str
    head: str
    was: str
    mine: str
    theirs: str
    differ: bool


@dataclass(frozen=True, slots=True)
class ClashView:
    """Two changes of one row, side by side."""

    head: SurveyHead
    key: str
    tree: str
    who: str
    at: str
    version: int
    removed: bool
    cells: tuple[ClashCell, ...]
    others: Mapping[str, str] = field(default_factory=dict)


def trees_view(sheet: Sheet, reading: Reading) -> TreesView:
    """Give the table as things are known now."""
    head = survey_head(sheet, reading, "trees")
    known = _known(sheet, reading)
    items = sheet.stored.of("tree")
    names = {str((i.body or {})["cells"].get("tree", "")).strip() for i in items}
    n = len(items) + 1
    while f"T{n}" in names:
        n += 1
    return TreesView(
        head=head,
        rows=tuple(_row(i, n, head, known) for n, i in enumerate(items, start=2)),
        columns=SHOWN,
        heads=HEADS,
        next_id=f"T{n}",
        pending=bool(sheet.reckoning.pending),
        units=sheet.job.survey.units,
        trunk_unit=reading.speaker.amounts.trunk_unit,
        length_unit=reading.speaker.amounts.length_unit,
    )


@dataclass(frozen=True, slots=True)
class _Known:
    trees: Mapping[int, tuple[str, str, str, str, str]]
    problems: Mapping[int, tuple[str, ...]]
    pending: frozenset[str]


def _known(sheet: Sheet, reading: Reading) -> _Known:
    trees = {}
    for t in reading.findings.trees:
        verdict, roots = t.impact.verdict, t.impact.roots
        names = reading.species(t.tree)
        taken = names["botanical"] or names["name"]
        read_as = taken if taken.lower() != t.tree.species.as_heard.strip().lower() else ""
        if t.tree.row is not None:
            trees[t.tree.row] = (
                t.tree.id,
                read_as,
                "none" if verdict is None else verdict.now,
                reading.word("verdict_short", None if verdict is None else verdict.now),
                "" if roots is None else f"{roots.proposed.severed_pct:.1f}",
            )
    files = {i.key for i in sheet.stored.of("columns")}
    problems: dict[int, list[str]] = {}
    for p in sheet.job.problems:
        if p.file in files and isinstance(p.row, int):
            where = HEADS.get(p.field or "", p.field or "")
            found = f" “{p.value}”:" if p.value else ":"
            problems.setdefault(p.row, []).append(f"{where}{found} expected {p.expected}")
    told = {row: tuple(texts) for row, texts in problems.items()}
    return _Known(trees, told, frozenset(sheet.reckoning.pending))


def row_view(sheet: Sheet, reading: Reading, key: str, *, editing: bool, said: str = "") -> RowView:
    """Give one row. Raises KeyError where there is none."""
    for n, item in enumerate(sheet.stored.of("tree"), start=2):
        if item.key == key:
            head = survey_head(sheet, reading, "trees")
            return _row(item, n, head, _known(sheet, reading), editing=editing, said=said)
    raise KeyError(key)


def _row(
    item: Item, n: int, head: SurveyHead, known: _Known, *, editing: bool = False, said: str = ""
) -> RowView:
    cells = {k: str(v) for k, v in (item.body or {})["cells"].items()}
    name, read_as, mark, word, severed = known.trees.get(n, ("", "", "none", "", ""))
    return RowView(
        head=head,
        key=item.key,
        version=item.version,
        tree=name or cells.get("tree", ""),
        cells={c: cells.get(c, "") for c in (*COLUMNS, *cells)},
        read_as=read_as,
        mark=mark,
        word=word,
        severed=severed,
        problems=known.problems.get(n, ()),
        columns=SHOWN,
        heads=HEADS,
        choices=CHOICES,
        more=tuple(c for c in (*COLUMNS, *(k for k in cells if k not in COLUMNS))
                   if c not in SHOWN),
        editing=editing,
        said=said,
        pending=name in known.pending,
    )  # fmt: skip


def clash_view(sheet: Sheet, reading: Reading, clash: Clash) -> ClashView:
    """Set two changes of one row side by side."""
    mine = _cells(clash.edit.body)
    was = _cells(clash.base)
    theirs = _cells(None if clash.now is None else clash.now.body)
    names = _in_order({*mine, *was, *theirs})
    cells = tuple(
        ClashCell(
            n, HEADS.get(n, n), was.get(n, ""), mine.get(n, ""), theirs.get(n, ""),
            mine.get(n, "") != theirs.get(n, ""),
        )
        for n in names
    )  # fmt: skip
    return ClashView(
        head=survey_head(sheet, reading, "trees"),
        key=clash.edit.key,
        tree=theirs.get("tree", "") or mine.get("tree", ""),
        who=clash.who,
        at=clash.at[:16].replace("T", " "),
        version=0 if clash.now is None else clash.now.version,
        removed=clash.now is None or clash.now.body is None,
        cells=tuple(c for c in cells if c.differ),
        others={c.name: c.theirs for c in cells if not c.differ},
    )


def _cells(body: Mapping[str, object] | None) -> dict[str, str]:
    found = {} if body is None else body.get("cells", {})
    return {k: str(v) for k, v in found.items()} if isinstance(found, Mapping) else {}


def _in_order(names: set[str]) -> Sequence[str]:
    return [c for c in COLUMNS if c in names] + sorted(names - set(COLUMNS))
