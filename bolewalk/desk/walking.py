"""What a person makes of the trees found on a walk: edits of the table, the words as heard kept."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

from bolewalk.desk.drawer import Sheet
from bolewalk.store.edits import new_tree, set_cells
from bolewalk.store.items import Edit, Item
from bolewalk.walk.draft import DraftTree
from bolewalk.walk.table_rows import said_cells

__all__ = [
    "ACTIONS", "Action", "Correction", "WalkError", "accepting", "corrections", "discarding",
    "found_key", "free_numbers", "merging", "splitting",
]  # fmt: skip

Action = Literal["accept", "correct", "merge", "split", "discard"]
ACTIONS: tuple[Action, ...] = ("accept", "correct", "merge", "split", "discard")


class WalkError(ValueError):
    """Something that cannot be made of a found tree; the text says what can."""


@dataclass(frozen=True, slots=True)
class Correction:
    """What was made of one found tree: `trees` are the rows it became, `into` what it joined."""

    found: str
    do: Action
    trees: tuple[str, ...]
    into: str
    item: Item


def found_key(tree: DraftTree) -> str:
    """Give a name for a found tree that lasts when the draft finds others before it: the moment
    it was first spoken of, and the words."""
    start = tree.moments[0].start if tree.moments else 0.0
    return f"{start:.3f} {tree.species.as_heard}"[:120]


def corrections(sheet: Sheet) -> dict[str, Correction]:
    """Give what was made of each found tree so far, by `found_key`."""
    made = {}
    for item in sheet.stored.of("correction"):
        body = item.body or {}
        if body.get("of") == "walk":
            made[str(body["found"])] = Correction(
                str(body["found"]), body["do"], tuple(body.get("trees", ())),
                str(body.get("into", "")), item,
            )  # fmt: skip
    return made


def _heard(tree: DraftTree) -> dict[str, Any]:
    return {
        "species": tree.species.as_heard,
        "taken_for": tree.species.botanical,
        "count": tree.count,
        "decision": tree.decision,
        "measures": [{"what": m.what, "value": m.value, "unit": m.unit, "said": m.moment.said}
                     for m in tree.measures],
        "moments": [{"start": m.start, "end": m.end, "said": m.said} for m in tree.moments],
    }  # fmt: skip


def _correction(
    sheet: Sheet, tree: DraftTree, do: Action, trees: Sequence[str] = (), into: str = ""
) -> Edit:
    key = found_key(tree)
    before = corrections(sheet).get(key)
    body = {
        "of": "walk", "found": key, "do": do, "trees": list(trees), "into": into,
        "heard": _heard(tree),
    }  # fmt: skip
    return Edit(
        "correction",
        "" if before is None else before.item.key,
        body,
        0 if before is None else before.item.version,
    )


def free_numbers(sheet: Sheet, n: int) -> list[str]:
    """Give n numbers no tree of the table has."""
    taken = {str((i.body or {})["cells"].get("tree", "")).strip() for i in sheet.stored.of("tree")}
    free: list[str] = []
    k = 1
    while len(free) < n:
        if f"T{k}" not in taken:
            free.append(f"T{k}")
        k += 1
    return free


def accepting(sheet: Sheet, tree: DraftTree, cells: Mapping[str, str]) -> tuple[Edit, ...]:
    """Give the edits that take a found tree into the table, as found or corrected.

    Raises
    ------
    WalkError
        No number, or one the table has.
    """
    cells = {k: v.strip() for k, v in cells.items() if v.strip()}
    name = cells.get("tree", "")
    if not name:
        raise WalkError("A tree needs a number of its own.")
    if sheet.tree_item(name) is not None:
        raise WalkError(f"The table has a {name} already: give another number, or merge with it.")
    said = said_cells(tree, sheet.job.survey.units)
    same = {k: v for k, v in cells.items() if k != "tree"} == said
    do: Action = "accept" if same else "correct"
    return new_tree(cells), _correction(sheet, tree, do, [name])


def discarding(sheet: Sheet, tree: DraftTree) -> tuple[Edit, ...]:
    """Give the edit that says a found tree is none; what was heard stays."""
    return (_correction(sheet, tree, "discard"),)


def merging(sheet: Sheet, tree: DraftTree, into: str) -> tuple[Edit, ...]:
    """Give the edits that join a found tree to a row: empty cells take what was said.

    Raises
    ------
    WalkError
        There is no such row.
    """
    item = sheet.tree_item(into)
    if item is None or item.body is None:
        raise WalkError(f"The table has no {into}: choose one it has.")
    said = said_cells(tree, sheet.job.survey.units)
    now = item.body["cells"]
    fills = {k: v for k, v in said.items() if not str(now.get(k, "")).strip()}
    edits = [_correction(sheet, tree, "merge", [into], into)]
    if fills:
        edits.insert(0, set_cells(item, fills))
    return tuple(edits)


def splitting(sheet: Sheet, tree: DraftTree, n: int) -> tuple[Edit, ...]:
    """Give the edits that make several rows of one found tree, row or group.

    Raises
    ------
    WalkError
        Not 2 to 200.
    """
    if not 2 <= n <= 200:
        raise WalkError("Split into 2 to 200 trees.")
    names = free_numbers(sheet, n)
    cells = said_cells(tree, sheet.job.survey.units)
    rows = [new_tree({"tree": name, **cells}) for name in names]
    return (*rows, _correction(sheet, tree, "split", names))
