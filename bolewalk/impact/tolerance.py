"""Which tolerance of construction counts for one tree, and what stands behind it."""

from dataclasses import dataclass
from typing import Literal

from bolewalk.model.statements import Statement, say
from bolewalk.model.trees import Tree
from bolewalk.model.words import Tolerance
from bolewalk.reference.tolerance import ToleranceRating, tolerance_ratings

__all__ = ["ToleranceFound", "tolerance_of", "tolerance_of_name"]

_WORST_FIRST: tuple[Tolerance, ...] = ("poor", "moderate", "good")


@dataclass(frozen=True, slots=True)
class ToleranceFound:
    """The tolerance that counts. `level` None = unknown, which is judged by its own limit.

    `by` tells whether the tree table named it (tree), or a list rates the species or its genus.
    `notes` are statements a paper must print beside a verdict that leans on it.
    """

    level: Tolerance | None
    by: Literal["tree", "species", "genus", "nothing"]
    ratings: tuple[ToleranceRating, ...] = ()
    notes: tuple[Statement, ...] = ()


def tolerance_of_name(botanical: str | None) -> ToleranceFound:
    """Rate a species: where sources disagree the poorer counts.

    Returns
    -------
    ToleranceFound
        `notes` says which rating counts, whether sources disagree, whether every rating behind
        the one that counts is from memory, and whether a genus stands in.
    """
    if botanical is None:
        return ToleranceFound(None, "nothing", (), (say("tolerance.species_unknown"),))
    ratings, by = tolerance_ratings(botanical)
    if by is None:
        return ToleranceFound(None, "nothing", (), (say("tolerance.not_rated", species=botanical),))
    levels = {r.tolerance for r in ratings}
    level = next(t for t in _WORST_FIRST if t in levels)
    notes = [say(f"tolerance.{level}", species=botanical)]
    if by == "genus":
        notes.append(say("tolerance.genus_stands_in", genus=ratings[0].species, species=botanical))
    if len(levels) > 1:
        notes.append(say("tolerance.sources_disagree", species=botanical))
    if all(r.provenance == "memory" for r in ratings if r.tolerance == level):
        notes.append(say("tolerance.from_memory", species=botanical))
    return ToleranceFound(level, by, ratings, tuple(notes))


def tolerance_of(tree: Tree) -> ToleranceFound:
    """Give the tolerance of one tree; what the tree table says wins over every list."""
    if tree.tolerance is not None:
        return ToleranceFound(
            tree.tolerance, "tree", (), (say(f"tolerance.{tree.tolerance}_as_recorded"),)
        )
    return tolerance_of_name(tree.species.botanical)
