"""What papers print of a verdict: its weightiest reasons, what decides, and how to work.

Conditions that name a way of working hold for many trees and many works alike. They are said
once, under a letter, with the works and trees they hold for; at the tree stand only its letter
and the conditions that are its own. All of them stay in findings.json.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from string import ascii_uppercase
from typing import TYPE_CHECKING, Any

from bolewalk.impact.results import TreeVerdict
from bolewalk.model.statements import Statement
from bolewalk.papers.reading import Reading

if TYPE_CHECKING:
    from bolewalk.survey import TreeFinding

__all__ = ["WayOfWorking", "decisive", "nearest_flips", "ways_data", "ways_of", "weightiest"]

_OWN = frozenset({
    "covered_over", "crown_over", "crown_pruned_first", "no_later_works", "protect_best_half",
    "no_more_cuts", "one_side_a_year", "fill_pulled_back",
})  # fmt: skip
_IN_CROWN = frozenset({"crown_where", "crown_limb"})
_NOT_OF_THE_WAY = frozenset({"works", "radius_m"})
_WHEREVER_DUG = frozenset({"roots_met"})
"""Holds for every cut at its trees: naming each work would only repeat the others."""
_CHANGES = ("by_hand", "bored", "moved", "on_piles", "together", "left_out")
"""Changes to the plan, the least costly to the designer first: our order, no source."""
_SAID_ELSEWHERE = ("questions_decide", "only_together", "later_")


@dataclass(frozen=True, slots=True)
class WayOfWorking:
    """One way of working: its letter, its sentence, and the trees at each list of works."""

    letter: str
    says: str
    where: tuple[tuple[str, tuple[str, ...]], ...]

    @property
    def trees(self) -> tuple[str, ...]:
        """All trees it holds for, each once."""
        return tuple(dict.fromkeys(t for _, ids in self.where for t in ids))


def weightiest(v: TreeVerdict, *, most: int = 2) -> tuple[Statement, ...]:
    """Give the first reasons, which stand in order of weight; that a fact is open is said by
    the verdict itself."""
    real = [s for s in v.because if s.code != "verdict.open_facts_decide"]
    return tuple((real or v.because)[:most])


def nearest_flips(v: TreeVerdict) -> tuple[Statement, ...]:
    """Give at most two changes to the plan and one margin, or two margins."""

    def rank(s: Statement) -> tuple[int, float]:
        way = _name(s).split("_to_")[0]
        shift = dict(s.values).get("shift_m", 0.0)
        return _CHANGES.index(way), float(shift)

    changes = sorted((s for s in v.flips_if if _name(s).split("_to_")[0] in _CHANGES), key=rank)
    margins = [
        s for s in v.flips_if if s not in changes and not _name(s).startswith(_SAID_ELSEWHERE)
    ]
    return (*changes[:2], *margins[: 1 if changes else 2])


def decisive(v: TreeVerdict | None) -> tuple[Statement, ...]:
    """Give the conditions that are this tree's own: what must be settled, what must change."""
    return () if v is None else tuple(
        s for s in v.conditions
        if _name(s).startswith("settle_") or _name(s) in _OWN or not s.code.startswith("condition.")
    )  # fmt: skip


def ways_of(reading: Reading, trees: "Sequence[TreeFinding]") -> tuple[WayOfWorking, ...]:
    """Gather the ways of working of all trees.

    Parameters
    ----------
    reading : Reading
    trees : sequence of TreeFinding
        Those the paper is about, in its order.

    Returns
    -------
    tuple of WayOfWorking
        In the order in which they are first asked for, lettered A, B, ... Z, AA, ...
    """
    found: dict[Statement, dict[str, list[str]]] = {}
    for t in trees:
        v = t.impact.verdict
        for s in v.conditions if v else ():
            if s in decisive(v) or _name(s) in _IN_CROWN:
                continue
            key = Statement(s.code, tuple(x for x in s.values if x[0] not in _NOT_OF_THE_WAY))
            everywhere = _name(s) in _WHEREVER_DUG
            works = "" if everywhere else str(dict(s.values).get("works", ""))
            found.setdefault(key, {}).setdefault(works, []).append(t.tree.id)
    return tuple(
        WayOfWorking(
            _letter(i),
            reading.speaker.text(Statement(f"way.{_name(s)}", s.values)),
            tuple((works, tuple(ids)) for works, ids in where.items()),
        )
        for i, (s, where) in enumerate(found.items())
    )


def ways_data(ways: Sequence[WayOfWorking]) -> list[dict[str, Any]]:
    """Give the ways of working as JSON values."""
    return [
        {
            "letter": w.letter,
            "says": w.says,
            "where": [{"works": works, "ids": list(ids)} for works, ids in w.where],
        }
        for w in ways
    ]


def _name(s: Statement) -> str:
    return s.code.split(".", 1)[-1]


def _letter(i: int) -> str:
    letter = ascii_uppercase[i % 26]
    return letter if i < 26 else _letter(i // 26 - 1) + letter
