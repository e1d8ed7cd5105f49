"""Groves: trees that a rule protects together, because enough of them stand near each other."""

import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from typing import Literal

from bolewalk.model.trees import Tree
from bolewalk.rules.matching import match_species
from bolewalk.rules.table import Rule
from bolewalk.trees.stems import combined_diameters

__all__ = ["GroveStanding", "stand_in_grove"]

_SLACK = 1e-9


@dataclass(frozen=True, slots=True)
class GroveStanding:
    """Whether a tree stands in a grove of a rule. `count` are the trees found standing together,
    the tree itself among them; `open_count` those that may join them once placed or measured."""

    state: Literal["in", "out", "cannot_tell"]
    count: int
    open_count: int


def stand_in_grove(
    tree: Tree, trees: Sequence[Tree], rule: Rule, *, written: Collection[str] = ()
) -> GroveStanding:
    """Tell whether a tree stands in a grove.

    Parameters
    ----------
    tree : Tree
        One the rule's plants cover.
    trees : sequence of Tree
        Of the survey, `tree` among them; trees elsewhere are not known here.
    rule : Rule
        With a grove: from so many trees, each of at least a size, none further than `within_m`
        from the next; without a distance all trees of the survey stand together.
    written : collection of str
        As in `match_species`.

    Returns
    -------
    GroveStanding
        cannot_tell where trees without a place or a trunk decide.
    """
    grove = rule.grove
    assert grove is not None
    kin = [
        t
        for t in trees
        if match_species(t.species, rule.species, written=written) not in ("no", "excepted")
    ]
    thick = {t.id: _thick_enough(t, rule) for t in kin}
    if thick.get(tree.id) is False:
        return GroveStanding("out", 0, 0)
    placed = [t for t in kin if thick[t.id] and (grove.within_m is None or t.located)]
    unsure = [t for t in kin if thick[t.id] is not False and t not in placed]
    together = _together(tree, placed, grove.within_m)
    if tree not in placed:
        most = len(placed) + len(unsure)
        return GroveStanding("cannot_tell" if most >= grove.trees else "out", 0, len(unsure))
    if len(together) >= grove.trees:
        return GroveStanding("in", len(together), len(unsure))
    # One unplaced tree may stand between two groups and join them.
    most = len(together) if not unsure else len(placed) + len(unsure)
    state: Literal["out", "cannot_tell"] = "cannot_tell" if most >= grove.trees else "out"
    return GroveStanding(state, len(together), len(unsure))


def _thick_enough(tree: Tree, rule: Rule) -> bool | None:
    """Whether a tree counts by its size; None where no trunk was measured."""
    grove = rule.grove
    assert grove is not None
    if grove.from_cm is None:
        return True
    if not tree.stems_cm:
        return None
    named = rule.size.stems if rule.size is not None and rule.size.stems != "unknown" else "sum"
    read = combined_diameters([s.value for s in tree.stems_cm])
    return bool(getattr(read, named) >= grove.from_cm * (1 - _SLACK))


def _together(tree: Tree, placed: Sequence[Tree], within_m: float | None) -> list[Tree]:
    """Walk from a tree to all that hang together with it."""
    if tree not in placed:
        return []
    if within_m is None:
        return list(placed)
    left, reached, edge = [t for t in placed if t is not tree], [tree], [tree]
    while edge:
        at = edge.pop()
        near = [t for t in left if _apart_m(at, t) <= within_m * (1 + _SLACK)]
        left = [t for t in left if t not in near]
        reached += near
        edge += near
    return reached


def _apart_m(a: Tree, b: Tree) -> float:
    assert a.x_m is not None
    assert a.y_m is not None
    assert b.x_m is not None
    assert b.y_m is not None
    return math.dist((a.x_m, a.y_m), (b.x_m, b.y_m))
