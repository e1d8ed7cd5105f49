"""A trunk and the boundary line: how much of it lies beyond, or when it gets there.

The line is the one drawn or told. A fence is not a survey: who owns what is a surveyor's and a
lawyer's to say.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from bolewalk.model.statements import Statement, say
from bolewalk.model.survey import Survey
from bolewalk.model.trees import Tree
from bolewalk.rules.near import nearest
from bolewalk.rules.settings import packaged
from bolewalk.rules.table import LineTold, RuleTable
from bolewalk.trees.boundary import trunk_share_beyond_pct, years_until_line
from bolewalk.trees.growth import project
from bolewalk.trees.stems import equal_area_cm

__all__ = ["LineStanding", "stand_at_line"]

On = Literal["yes", "maybe", "no"]


@dataclass(frozen=True, slots=True)
class LineStanding:
    """One trunk at one line.

    `on` is "maybe" where the line's own error reaches the trunk. `share_beyond_pct` is the share
    of the trunk section on the other side than its middle. `years_to_line` counts where the trunk
    does not reach the line yet, None where no growth is known or it takes longer than is told.
    `surveyed` False: fence, drawing or hearsay.
    """

    tree: str
    on: On
    trunk_cm: float
    distance_m: float
    gap_m: float
    share_beyond_pct: float
    years_to_line: float | None
    surveyed: bool
    line: str
    says: tuple[Statement, ...]


def stand_at_line(tree: Tree, survey: Survey, tables: Sequence[RuleTable]) -> LineStanding | None:
    """Set a trunk against the boundary.

    Parameters
    ----------
    tree, survey
        The nearest drawn boundary counts, a fence where there is none.
    tables : sequence of RuleTable
        A distance told in [[line]] goes before the drawing, so does a growth measured.

    Returns
    -------
    LineStanding or None
        None where no line is known or no trunk was measured. The trunk at the ground counts: the
        flare where it was measured, else the trunk.
    """
    told = next((x for t in tables for x in t.lines if x.tree == tree.id), None)
    if tree.flare_cm is not None:
        trunk_cm = tree.flare_cm.value
    elif tree.stems_cm:
        trunk_cm = equal_area_cm([s.value for s in tree.stems_cm])
    else:
        return None
    found = _line(tree, survey, told)
    if found is None:
        return None
    distance, line, surveyed, offset = found
    # Told with a sign or drawn without one: what lies beyond is what its middle does not stand on.
    distance = abs(distance)
    gap = distance - trunk_cm / 200
    share = trunk_share_beyond_pct(trunk_cm, distance)
    on: On = "yes" if gap < 0 else ("maybe" if gap <= offset else "no")
    years = None if on == "yes" else _years(tree, survey, told, gap, trunk_cm)
    says: list[Statement] = []
    if on != "no" or years is not None:
        # A line that the trunk never reaches is no news for the reader.
        says.append(_says(tree, on, share, gap))
        if years is not None and on == "no":
            says.append(say("consent.line_reached", tree=tree.id, n_years=round(years, 1)))
        if not surveyed:
            says.append(say("consent.line_not_surveyed", tree=tree.id))
    return LineStanding(
        tree.id, on, trunk_cm, distance, gap, share, years, surveyed, line, tuple(says)
    )


def _says(tree: Tree, on: On, share_pct: float, gap_m: float) -> Statement:
    if on == "yes":
        return say("consent.line_share", tree=tree.id, share_pct=share_pct)
    return say(f"consent.line_{'maybe' if on == 'maybe' else 'gap'}", tree=tree.id, gap_m=gap_m)


def _line(
    tree: Tree, survey: Survey, told: LineTold | None
) -> tuple[float, str, bool, float] | None:
    """Give distance from the trunk's middle [m], name of the line, whether surveyed, its error."""
    if told is not None and told.distance_m is not None:
        return told.distance_m, told.basis, told.basis == "surveyed", 0.0
    setting = packaged("settings.toml")["boundary"]
    for kind in setting["line_kinds"]:
        found = nearest(tree, survey.works, (kind,))
        if found is not None:
            work, away = found
            surveyed = kind == "boundary" and work.basis in setting["surveyed"]
            return away, work.label or work.id, surveyed, work.offset_m
    return None


def _years(
    tree: Tree, survey: Survey, told: LineTold | None, gap_m: float, trunk_cm: float
) -> float | None:
    if told is not None and told.growth_cm_year is not None:
        return years_until_line(gap_m, told.growth_cm_year)
    region, name = survey.method.growth_region, tree.species.botanical
    if region is None or name is None or not tree.stems_cm:
        return None
    setting = packaged("settings.toml")["boundary"]
    if gap_m > setting["reach_m"]:
        return None
    horizon = setting["horizon_years"]
    stem = equal_area_cm([s.value for s in tree.stems_cm])
    height = None if tree.height_m is None else tree.height_m.value
    path = project(name, region, years=horizon, trunk_cm=stem, height_m=height)
    if path is None:
        return None
    # The ground section grows in proportion to the trunk at breast height.
    reach = [float(d) / stem * trunk_cm / 200 for d in path.trunk_cm]
    return next((float(n) for n, r in enumerate(reach) if r - reach[0] >= gap_m), None)
