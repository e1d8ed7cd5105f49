"""A tree of the survey as material: what comes down when it is taken down."""

from bolewalk.model.survey import Survey
from bolewalk.model.trees import Tree
from bolewalk.pricing.debris import TreeMaterial, debris_table
from bolewalk.reference.wood import wood_kind
from bolewalk.trees.mass import BREAST_HEIGHT_M, heaviest_piece, tree_mass
from bolewalk.trees.stems import equal_area_cm

__all__ = ["is_palm", "survey_materials", "tree_material"]


def is_palm(tree: Tree) -> bool:
    """Tell whether a tree is a palm, by its recorded form or its botanical name."""
    return tree.form == "palm" or wood_kind(tree.species.botanical or "") == "palm"


def tree_material(tree: Tree) -> TreeMaterial | None:
    """Give what a tree is made of above ground, green.

    Parameters
    ----------
    tree : Tree
        A palm of a kind not recorded counts as the table's stand-in.

    Returns
    -------
    TreeMaterial or None
        None where no trunk was measured, or a palm's height was not.
    """
    if not tree.stems_cm:
        return None
    name = tree.species.botanical or ""
    if is_palm(tree) and wood_kind(name) != "palm":
        name = debris_table()["wood"]["palm_stand_in"]
    across = equal_area_cm([s.value for s in tree.stems_cm])
    height = None if tree.height_m is None else tree.height_m.value
    try:
        mass = tree_mass(name, across, height, dead=tree.health == "dead")
    except ValueError:
        # A palm without its height; every other size was checked when the table was read.
        return None
    piece = None
    if height is not None and height > BREAST_HEIGHT_M:
        largest = max(s.value for s in tree.stems_cm)
        length = debris_table()["wood"]["piece_m"]
        piece = heaviest_piece(name, largest, height, length_m=length).kg
    return TreeMaterial(
        green_kg=mass.total_kg,
        low_kg=min(mass.total_low_kg, mass.total_kg),
        high_kg=max(mass.total_high_kg, mass.total_kg),
        log_kg=mass.stem_kg,
        heaviest_piece_kg=piece,
        logs_kg_m3=mass.stem_kg / mass.logs_stacked_m3 if mass.logs_stacked_m3 > 0 else None,
        source=mass.source,
    )


def survey_materials(survey: Survey) -> dict[str, TreeMaterial]:
    """Give the material of every tree that has enough measured, by id."""
    found = {}
    for tree in survey.trees:
        material = tree_material(tree)
        if material is not None:
            found[tree.id] = material
    return found
