"""Groves: trees that a rule protects together, because enough of them stand near each other."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from bolewalk.model.trees import Tree
from bolewalk.rules.matching import match_species
from bolewalk.rules.table import Grove, Rule
from bolewalk.trees.stems import combined_diameters

__all__ = ["GroveStanding", "Groves", "find_groves"]

_SLACK = 1e-9


@dataclass(frozen=True, slots=True)
class GroveStanding:
    """Whether a tree stands in a grove of a rule. `count` are the trees found standing together,
    the tree itself among them; `open_count` those that may join them once placed or measured."""

    state: Literal["in", "out", "cannot_tell"]
    count: int
    open_count: int


Groves = Mapping[Rule, Mapping[str, GroveStanding]]
"""Rule -> tree id -> how the tree stands, for the rules that protect groves."""


def find_groves(
    trees: Sequence[Tree], rules: Sequence[Rule], *, written: Collection[str] = ()
) -> Groves:
    """Find the groves of a survey, all at once: they are the same for each of its trees.

    Parameters
    ----------
    trees : sequence of Tree
        Of the survey; trees elsewhere are not known here.
    rules : sequence of Rule
        Those with a grove are read: from so many trees, each of at least a size, none further
        than `within_m` from the next; without a distance all trees stand together.
    written : collection of str
        As in `match_species`.

    Returns
    -------
    mapping
        Of trees the rule's plants cover. cannot_tell where trees without a place or a trunk
        decide.
    """
    return {r: _standings(trees, r, r.grove, written) for r in rules if r.grove is not None}


def _standings(
    trees: Sequence[Tree], rule: Rule, grove: Grove, written: Collection[str]
) -> dict[str, GroveStanding]:
    placed: list[Tree] = []
    unsure: list[str] = []
    found: dict[str, GroveStanding] = {}
    for t in trees:
        if match_species(t.species, rule.species, written=written) in ("no", "excepted"):
            continue
        thick = _thick_enough(t, rule, grove)
        if thick is False:
            found[t.id] = GroveStanding("out", 0, 0)
        elif thick and (grove.within_m is None or t.located):
            placed.append(t)
        else:
            unsure.append(t.id)
    most = len(placed) + len(unsure)
    open_: Literal["cannot_tell", "out"] = "cannot_tell" if most >= grove.trees else "out"
    found.update((i, GroveStanding(open_, 0, len(unsure))) for i in unsure)
    for together in _together(placed, grove.within_m):
        state: Literal["in", "cannot_tell", "out"] = "out"
        if len(together) >= grove.trees:
            state = "in"
        elif unsure:
            # One unplaced tree may stand between two groups and join them.
            state = open_
        found.update((t.id, GroveStanding(state, len(together), len(unsure))) for t in together)
    return found


def _thick_enough(tree: Tree, rule: Rule, grove: Grove) -> bool | None:
    """Whether a tree counts by its size; None where no trunk was measured."""
    if grove.from_cm is None:
        return True
    if not tree.stems_cm:
        return None
    named = rule.size.stems if rule.size is not None and rule.size.stems != "unknown" else "sum"
    read = combined_diameters([s.value for s in tree.stems_cm])
    return bool(getattr(read, named) >= grove.from_cm * (1 - _SLACK))


def _together(placed: Sequence[Tree], within_m: float | None) -> list[list[Tree]]:
    """Part trees into groups that hang together, each within a distance of the next."""
    if within_m is None:
        return [list(placed)]
    at = np.array([(t.x_m, t.y_m) for t in placed], dtype=np.float64).reshape(-1, 2)
    left = np.ones(len(placed), dtype=bool)
    groups = []
    for first in range(len(placed)):
        if not left[first]:
            continue
        left[first] = False
        reached = edge = [first]
        while edge:
            # All trees left are measured from one tree at a time: memory grows with the trees
            # alone, not with their pairs.
            apart_m = np.hypot(*(at - at[edge[-1]]).T)
            near = np.flatnonzero(left & (apart_m <= within_m * (1 + _SLACK))).tolist()
            left[near] = False
            edge = edge[:-1] + near
            reached = reached + near
        groups.append([placed[i] for i in reached])
    return groups
