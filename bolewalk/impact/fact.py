"""One open fact: what may be true, who can tell, and what each answer would change."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

from bolewalk.model.statements import Statement
from bolewalk.model.trees import Tree
from bolewalk.model.works import Work

__all__ = ["Asked", "ChangeTree", "ChangeWork", "Fact", "FactValue", "Kind", "Touches"]

Asked = Literal["designer", "client", "surveyor", "locator", "builder", "assessor"]
Kind = Literal[
    "made", "offset", "present", "depth", "later", "roof_low", "height", "wire_low", "diameter",
    "species",
]  # fmt: skip
Touches = Literal["roots", "crown", "tolerance"]


ChangeWork = Callable[[Work], Work | None]
ChangeTree = Callable[[Tree], Tree]


def _as_it_is(work: Work) -> Work:
    return work


def _same_tree(tree: Tree) -> Tree:
    return tree


@dataclass(frozen=True, slots=True)
class FactValue:
    """One value a fact may have: the answer in words, and what it makes of the fact's works
    (None takes one away) or of the tree."""

    answer: Statement
    change: ChangeWork = _as_it_is
    of_tree: ChangeTree = _same_tree


@dataclass(frozen=True, slots=True)
class Fact:
    """One open fact.

    Attributes
    ----------
    id : str
        Work ids and kind, "W4.depth", the same for every tree the fact bears on.
    kind : Kind
    ask, settle, not_needed : Statement
        The question; the condition to settle it first; the remark that it changes nothing.
    of : Asked
        Who can answer.
    values : tuple of FactValue
        The first is what is counted as long as the fact is not told.
    touches : frozenset
        Which figures an answer can move; empty where it can move none that a verdict reads.
    works : frozenset of str
        Ids of the works the values change; empty for facts about the tree.
    later : bool
        The fact is whether a possible later work will be there.
    """

    id: str
    kind: Kind
    ask: Statement
    settle: Statement
    not_needed: Statement
    of: Asked
    values: tuple[FactValue, ...]
    touches: frozenset[Touches]
    works: frozenset[str] = frozenset()
    later: bool = False
