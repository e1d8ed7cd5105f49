"""The rows of a tree table that a walk would fill, cells as said."""

from collections.abc import Sequence

from bolewalk.model.units import UnitSystem
from bolewalk.walk.draft import Draft, DraftTree, Measure

__all__ = ["ROW_COLUMNS", "said_cells", "table_rows"]

ROW_COLUMNS = (
    "tree", "species", "x", "y", "diameter", "girth", "height", "crown", "owner", "decision",
    "notes",
)  # fmt: skip
"""The columns a walk can fill, and the position, which it cannot."""
_TOGETHER_S = 15.0  # ours: a size said later is a second reading or another thing
_MOST_OF_ONE = 50  # rows for one entry; "a hundred cypress" is a hedge, not rows


def table_rows(draft: Draft) -> list[dict[str, str]]:
    """Give the rows of a tree table for all trees found, in the order of the walk.

    Parameters
    ----------
    draft : Draft

    Returns
    -------
    list of dict
        Cells by `ROW_COLUMNS`, lengths with the unit they were said in. A row is called by the
        number said with it, where no other has it, else by the next free of T1, T2 ... An entry
        of several trees gives as many rows, at most 50.
    """
    said = [t.said_number for t in draft.trees if t.count == 1]
    named = {n for n in said if n and said.count(n) == 1}
    free = (f"T{k}" for k in range(1, 10**6) if f"T{k}" not in named)
    rows = []
    for tree in draft.trees:
        cells = said_cells(tree)
        for _ in range(min(tree.count, _MOST_OF_ONE)):
            own = tree.count == 1 and tree.said_number in named
            rows.append({"tree": tree.said_number if own else next(free), **cells})
    return rows


def said_cells(tree: DraftTree, units: UnitSystem | None = None) -> dict[str, str]:
    """Give the cells of the tree table a found tree would fill, as said.

    A number that can be read in two ways stays out of the table: it must be asked about.

    Parameters
    ----------
    tree : DraftTree
    units : UnitSystem or None
        Of the table: its own length unit is understood, and reads better without.

    Returns
    -------
    dict
        Column -> cell; columns of which nothing was said are missing.
    """
    cells = {"species": tree.species.botanical or tree.species.as_heard}
    stems = next((round(m.value) for m in tree.measures if m.what == "stems"), 0)
    for what in ("diameter", "girth", "height", "spread"):
        sizes = [m for m in tree.measures if m.what == what and not m.ambiguous]
        if not sizes:
            continue
        if what == "spread":
            # Said across, entered as a radius.
            cells["crown"] = f"{sizes[0].value / 2:g}{sizes[0].unit}"
        elif what == "diameter":
            cells["diameter"] = "+".join(
                f"{m.value:g}{m.unit}" for m in _of_one_trunk(sizes, stems)
            )
        else:
            cells[what] = f"{sizes[0].value:g}{sizes[0].unit}"
    if tree.decision:
        cells["decision"] = tree.decision
    if tree.owner != "unknown":
        cells["owner"] = tree.owner
    if tree.reasons:
        cells["notes"] = " ".join(dict.fromkeys(tree.reasons))
    return {k: _plain(v, units) for k, v in cells.items()}


def _of_one_trunk(sizes: Sequence[Measure], stems: int) -> list[Measure]:
    """Give the stems: those said close together, or all where as many stems were told."""
    if len(sizes) == stems:
        return list(sizes)
    first = sizes[0].moment.start
    return [m for m in sizes if m.moment.start - first <= _TOGETHER_S]


def _plain(value: str, units: UnitSystem | None) -> str:
    return value.removesuffix("ft") if units == "imperial" and value.endswith("ft") else value
