"""Figures of one tree held against each other: what cannot be is left out, what is odd is told."""

from dataclasses import replace

from bolewalk.drawing.details import Place
from bolewalk.intake.plausible import plausible
from bolewalk.model.trees import Tree
from bolewalk.model.units import (
    UnitSystem,
    length_unit,
    to_survey_length,
    to_survey_trunk,
    trunk_unit,
)
from bolewalk.reference.plants import find_plant

__all__ = ["check_tree"]


def check_tree(tree: Tree, place: Place, *, units: UnitSystem) -> Tree:
    """Give the tree without the figures that contradict each other.

    Both of a contradicting pair are left out: nothing tells which of them is wrong. Doubtful
    figures are kept and told as notices.
    """
    top, base = tree.height_m, tree.crown_base_m
    if top is not None and base is not None and base.value > top.value:
        place.tell(
            "crown_base",
            base.as_entered,
            f"a crown base below the height ({top.as_entered}); both are left out",
        )
        tree = replace(tree, height_m=None, crown_base_m=None)
    top = tree.height_m
    if top is not None and tree.measured_at_m is not None and tree.measured_at_m > top.value:
        place.tell(
            "measured_at",
            tree.entered.get("measured_at"),
            f"a height of measure below the height ({top.as_entered}); left out",
        )
        tree = replace(tree, measured_at_m=None)
    _doubtful_trunk(tree, place, units)
    _doubtful_others(tree, place, units)
    return tree


def _doubtful_trunk(tree: Tree, place: Place, units: UnitSystem) -> None:
    if not tree.stems_cm:
        return
    p = plausible()
    column = "girth" if tree.by_girth else "diameter"
    widest = max(s.value for s in tree.stems_cm)
    text = tree.entered.get(column)
    unit = trunk_unit(units)
    if widest > p.trunk_doubt_cm:
        place.tell(
            column,
            text,
            f"a trunk below {to_survey_trunk(p.trunk_doubt_cm, units):.0f} {unit} across, or a "
            "second look: girth given as diameter, or another unit? Kept",
            level="notice",
        )
        return
    if tree.height_m is None or tree.height_m.value < p.stump_m or _is_palm(tree):
        return
    ratio = tree.height_m.value * 100 / widest
    across = f"{to_survey_trunk(widest, units):.1f} {unit}"
    tall = f"{to_survey_length(tree.height_m.value, units):.0f} {length_unit(units)}"
    if ratio < p.slender_low:
        ask = "another unit?" if tree.by_girth else "girth given as diameter?"
        place.tell(
            column, text, f"a trunk that fits the height: {across} at {tall}; {ask} Kept",
            level="notice",
        )  # fmt: skip
    elif ratio > p.slender_high:
        ask = "diameter given as girth?" if tree.by_girth else "another unit?"
        place.tell(
            column, text, f"a trunk that fits the height: {across} at {tall}; {ask} Kept",
            level="notice",
        )  # fmt: skip


def _is_palm(tree: Tree) -> bool:
    plant = find_plant(tree.species.botanical or "")
    return tree.form == "palm" or (plant is not None and plant.kind == "palm")


def _doubtful_others(tree: Tree, place: Place, units: UnitSystem) -> None:
    p = plausible()
    if tree.flare_cm is not None and len(tree.stems_cm) == 1:
        trunk = tree.stems_cm[0]
        if tree.flare_cm.value < trunk.value:
            place.tell(
                "flare",
                tree.flare_cm.as_entered,
                f"a flare wider than the trunk ({trunk.as_entered}); kept",
                level="notice",
            )
    if tree.crown is not None and max(tree.crown.radii_m) > p.crown_doubt_m:
        most = f"{to_survey_length(p.crown_doubt_m, units):.0f} {length_unit(units)}"
        place.tell(
            "crown",
            tree.entered.get("crown"),
            f"radii below {most}, or a second look: width given as radius? Kept",
            level="notice",
        )
