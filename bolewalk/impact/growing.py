"""The crown of a survey tree in later years."""

from dataclasses import replace

from bolewalk.impact.clashes import Growth
from bolewalk.impact.crown import CrownSolid
from bolewalk.model.trees import Tree
from bolewalk.trees.growth import project
from bolewalk.trees.stems import combined_diameters

__all__ = ["growth_of"]


def growth_of(
    tree: Tree, solid: CrownSolid | None, *, region: str | None, years: int
) -> Growth | None:
    """Grow one crown by the published equations of a region.

    Parameters
    ----------
    tree : Tree
    solid : CrownSolid or None
        Its crown today.
    region : str or None
        Growth region; None = no growth can be told.
    years : int
        How far ahead.

    Returns
    -------
    callable or None
        The crown so many years from now: the four radii grow in proportion, the top with the
        height, the crown base stays. None where nothing published speaks for the species.
    """
    if solid is None or region is None or tree.species.botanical is None or not tree.stems_cm:
        return None
    trunk_cm = combined_diameters([s.value for s in tree.stems_cm]).equal_area
    mean = sum(solid.radii_m) / 4
    path = project(
        tree.species.botanical,
        region,
        years=years,
        trunk_cm=trunk_cm,
        height_m=solid.top_m,
        crown_radius_m=mean,
    )
    if path is None:
        return None

    def grown(year: int) -> CrownSolid | None:
        if not 0 <= year <= years:
            return None
        times = float(path.crown_radius_m[year]) / mean
        north, east, south, west = (r * times for r in solid.radii_m)
        return replace(solid, radii_m=(north, east, south, west), top_m=float(path.height_m[year]))

    return grown
