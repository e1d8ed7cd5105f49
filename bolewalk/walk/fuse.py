"""Setting the draft of a walk beside the tree table: which entry speaks of which row."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

from bolewalk.model.problems import Problem
from bolewalk.model.trees import Tree
from bolewalk.reference.botanical import genus_key, species_key
from bolewalk.walk.draft import Draft, DraftTree

__all__ = ["fuse"]

_FILE = "trees.csv"
_CM = {"in": 2.54, "ft": 30.48, "mm": 0.1, "cm": 1.0, "m": 100.0}
# Weights of the match, ours: a number said with the tree outweighs its name, the name its size.
_BY_ID, _BY_SPECIES, _BY_GENUS, _SIZE_FITS, _SIZE_DIFFERS = 6.0, 3.0, 1.2, 1.0, -1.5
_SIZE_TOLERANCE = 0.12


@dataclass(frozen=True, slots=True)
class _Pair:
    row: int
    entry: int
    weight: float
    sure: bool


def fuse(
    draft: Draft, trees: Sequence[Tree]
) -> tuple[Mapping[str, DraftTree], tuple[Problem, ...]]:
    """Find for each tree of the table the entry of the draft that speaks of it.

    Parameters
    ----------
    draft : Draft
    trees : sequence of Tree
        In the order of the table.

    Returns
    -------
    mapping of str to DraftTree
        By tree id, only pairs that leave no doubt: same number, or same species with sizes that
        do not differ and no second entry or row that would do as well out of order. An entry of
        several trees stands at each of its rows.
    tuple of Problem
        Notices: pairs in doubt (not merged) and entries that speak of no row. They never change
        the exit code.
    """
    pairs = _align(draft.trees, trees)
    matched: dict[str, DraftTree] = {}
    problems: list[Problem] = []
    met: set[int] = set()
    for pair in pairs:
        entry, tree = draft.trees[pair.entry], trees[pair.row]
        met.add(pair.entry)
        if pair.sure:
            matched[tree.id] = entry
        else:
            problems.append(
                Problem(
                    _FILE, tree.row if tree.row is not None else tree.id, "species",
                    f"{tree.id}, {tree.species.label}",
                    f"a person to say whether this is {_called(entry)} of the walk",
                    "notice",
                )
            )  # fmt: skip
    for k, entry in enumerate(draft.trees):
        if k not in met:
            expected = f"a row for {_called(entry)}; a proposal: nothing is amiss if it is no tree"
            problems.append(Problem(_FILE, None, "tree", entry.id, expected, "notice"))
    return MappingProxyType(matched), tuple(problems)


def _called(entry: DraftTree) -> str:
    at = f" at {_clock(entry.moments[0].start)}" if entry.moments else ""
    return f"{entry.id} ({entry.species.label}{at})"


def _clock(seconds: float) -> str:
    return f"{int(seconds) // 60}:{int(seconds) % 60:02d}"


def _align(entries: Sequence[DraftTree], trees: Sequence[Tree]) -> list[_Pair]:
    """Match in order: the best sum of weights with neither side's order broken.

    An entry may take as many rows in a run as it counts trees. Numbers said on the walk are
    matched first and hold whatever the order.
    """
    weights = [[_weight(e, t) for t in trees] for e in entries]
    pairs: list[_Pair] = []
    taken_rows: set[int] = set()
    taken: set[int] = set()
    for i, e in enumerate(entries):
        for j, t in enumerate(trees):
            same = _same_number(e, t) and _species_weight(e, t) >= _BY_SPECIES
            if j not in taken_rows and same:
                pairs.append(_Pair(j, i, weights[i][j], True))
                taken_rows.add(j)
                taken.add(i)
                break
    slots = [i for i, e in enumerate(entries) if i not in taken for _ in range(min(e.count, 50))]
    rows = [j for j in range(len(trees)) if j not in taken_rows]
    for i, j in _in_order(slots, rows, weights):
        sure = weights[i][j] >= _BY_SPECIES and not _rival(i, j, slots, rows, weights, trees)
        pairs.append(_Pair(j, i, weights[i][j], sure))
    return sorted(pairs, key=lambda p: p.row)


def _in_order(
    slots: Sequence[int], rows: Sequence[int], weights: Sequence[Sequence[float]]
) -> list[tuple[int, int]]:
    n, m = len(slots), len(rows)
    best = [[0.0] * (m + 1) for _ in range(n + 1)]
    for a in range(n - 1, -1, -1):
        for b in range(m - 1, -1, -1):
            w = weights[slots[a]][rows[b]]
            take = w + best[a + 1][b + 1] if w > 0 else -1.0
            best[a][b] = max(take, best[a + 1][b], best[a][b + 1])
    out: list[tuple[int, int]] = []
    a = b = 0
    while a < n and b < m:
        w = weights[slots[a]][rows[b]]
        if w > 0 and best[a][b] == w + best[a + 1][b + 1]:
            out.append((slots[a], rows[b]))
            a, b = a + 1, b + 1
        elif best[a][b] == best[a + 1][b]:
            a += 1
        else:
            b += 1
    return out


def _rival(
    i: int, j: int, slots: Sequence[int], rows: Sequence[int],
    weights: Sequence[Sequence[float]], trees: Sequence[Tree],
) -> bool:  # fmt: skip
    """Whether as many entries as rows of this species exist, so that order settles it."""
    key = species_key(trees[j].species.botanical or "")
    same_rows = [r for r in rows if species_key(trees[r].species.botanical or "") == key]
    same_slots = [s for s in slots if weights[s][j] >= _BY_SPECIES - abs(_SIZE_DIFFERS)]
    if len(same_rows) == len(same_slots):
        return False
    others_row = [r for r in same_rows if r != j and weights[i][r] >= weights[i][j]]
    others_slot = [s for s in set(same_slots) if s != i and weights[s][j] >= weights[i][j]]
    return bool(others_row or others_slot)


def _same_number(entry: DraftTree, tree: Tree) -> bool:
    if not entry.said_number:
        return False
    digits = "".join(c for c in tree.id if c.isdigit()).lstrip("0")
    tag = "".join(c for c in tree.tag if c.isdigit()).lstrip("0")
    return entry.said_number in (digits, tag)


def _weight(entry: DraftTree, tree: Tree) -> float:
    """Weigh one entry against one row; 0 or less is no match."""
    weight = _species_weight(entry, tree)
    if weight <= 0:
        return 0.0
    if _same_number(entry, tree):
        weight += _BY_ID
    sizes = [m for m in entry.measures if m.what == "diameter" and not m.ambiguous]
    if sizes and tree.stems_cm and not tree.by_girth:
        said = sizes[0].value * _CM.get(sizes[0].unit, 1.0)
        stands = [s.value for s in tree.stems_cm]
        fits = any(abs(said - s) <= _SIZE_TOLERANCE * s for s in (*stands, sum(stands)))
        weight += _SIZE_FITS if fits else _SIZE_DIFFERS
    return max(weight, 0.0)


def _species_weight(entry: DraftTree, tree: Tree) -> float:
    said, stands = entry.species.botanical, tree.species.botanical
    if said is None or stands is None:
        same = entry.species.as_heard.lower() == tree.species.as_heard.lower()
        near = stands is not None and stands in entry.species.alternatives
        return _BY_SPECIES if same else _BY_GENUS if near else 0.0
    if species_key(said) == species_key(stands):
        return _BY_SPECIES
    if stands in entry.species.alternatives or genus_key(said) == genus_key(stands):
        return _BY_GENUS
    return 0.0
