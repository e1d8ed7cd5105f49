"""What stands and what goes: the trees of a survey split by what is decided, and grown."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import shapely

from bolewalk.model.survey import Survey
from bolewalk.model.trees import Tree
from bolewalk.planting.crowns import Grower, old_grower
from bolewalk.planting.result import Gap
from bolewalk.reference.plants import find_plant

__all__ = ["Stand", "grow_all", "split_stand"]


@dataclass(frozen=True, slots=True)
class Stand:
    """Trees that stay and trees that go, with crowns where they have a place.

    `standing` holds (species, genus, family) of every tree that stays, placed or not.
    """

    kept: tuple[Grower, ...]
    gone: tuple[Grower, ...]
    removed: tuple[str, ...]
    standing: tuple[tuple[str, str, str], ...]
    gaps: tuple[Gap, ...]


def grow_all(survey: Survey, *, horizon: int) -> Mapping[str, Grower]:
    """Project every tree that has a place and a crown; id -> grower."""
    region = survey.method.growth_region
    grown = ((t.id, old_grower(t, region=region, horizon=horizon)) for t in survey.trees)
    return {i: g for i, g in grown if g is not None}


def split_stand(
    survey: Survey, grown: Mapping[str, Grower], *, removed: Sequence[str] | None = None
) -> Stand:
    """Split the trees.

    Parameters
    ----------
    survey : Survey
    grown : mapping
        From `grow_all`.
    removed : sequence of str, optional
        Ids that go; without it those the tree table decides to remove.
    """
    goes = (
        {t.id for t in survey.trees if t.decision == "remove"} if removed is None else set(removed)
    )
    kept = tuple(grown[t.id] for t in survey.trees if t.id in grown and t.id not in goes)
    gone = tuple(grown[t.id] for t in survey.trees if t.id in grown and t.id in goes)
    cover = shapely.union_all([g.outline(0) for g in kept])
    gaps = tuple(
        Gap(g.id, float(g.outline(0).area), float(g.outline(0).difference(cover).area))
        for g in gone
    )
    return Stand(
        kept, gone, tuple(t.id for t in survey.trees if t.id in goes),
        tuple(_names(t) for t in survey.trees if t.id not in goes and t.species.botanical),
        gaps,
    )  # fmt: skip


def _names(tree: Tree) -> tuple[str, str, str]:
    botanical = tree.species.botanical or ""
    plant = find_plant(botanical)
    return botanical, botanical.split()[0], plant.family if plant else ""
