"""Sizes a client can see: a plant in some year set beside a tree or thing on the site."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from bolewalk.model.statements import Statement, say
from bolewalk.model.survey import Survey
from bolewalk.planting.crowns import Grower
from bolewalk.planting.palette import PaletteTaxon
from bolewalk.planting.tables import rules

__all__ = ["Likeness", "likenesses"]


@dataclass(frozen=True, slots=True)
class Likeness:
    """One kind in one year, `year` None = grown. `like` is the tree's id or the thing's name,
    None where nothing on the site is alike."""

    kind: str
    year: int | None
    height_m: float
    width_m: float
    like: str | None
    said: Statement


def likenesses(
    survey: Survey, kinds: Sequence[tuple[PaletteTaxon, Grower]]
) -> tuple[Likeness, ...]:
    """Set each kind at the setting's years and grown beside the nearest tree or measured thing.

    Nearest by height and crown width together, as ratios; alike within the setting's factor.
    A thing has only a height; trees go first.
    """
    table = rules("planting_rules")["likeness"]
    found = []
    for taxon, grower in kinds:
        for year in (*(int(y) for y in table["years"]), None):
            if year is None:
                height, width = taxon.height_m.value, taxon.spread_m.value
            else:
                height, width = float(grower.height_m[year]), 2 * float(grower.radius_m[year])
            like, said = _nearest(survey, taxon.common, year, height, width)
            found.append(Likeness(taxon.botanical, year, height, width, like, said))
    return tuple(found)


def _nearest(
    survey: Survey, kind: str, year: int | None, height_m: float, width_m: float
) -> tuple[str | None, Statement]:
    near = math.log(float(rules("planting_rules")["likeness"]["factor"]))
    when = "grown" if year is None else "year"
    trees = [
        (max(abs(math.log(t.height_m.value / height_m)),
             abs(math.log(2 * t.crown.mean_m / width_m))), t.id)
        for t in survey.trees
        if t.height_m is not None and t.height_m.value > 0 and t.crown is not None
        and t.crown.mean_m > 0
    ]  # fmt: skip
    common: dict[str, str | float | int] = {
        "kind": kind, "year": year or 0, "height_m": height_m, "width_m": width_m,
    }  # fmt: skip
    if trees and min(trees)[0] <= near:
        like = min(trees)[1]
        return like, say(f"planting.like_tree_{when}", tree=like, **common)
    things = [
        (abs(math.log(w.high_m / height_m)), w.label or w.id)
        for w in survey.works
        if w.high_m is not None and w.high_m > 0 and w.kind in ("building", "roof", "wire", "wall")
    ]
    if things and min(things)[0] <= near:
        like = min(things)[1]
        return like, say(f"planting.like_thing_{when}", thing=like, **common)
    return None, say(f"planting.like_nothing_{when}", **common)
