"""The tables a builder works from: piles to shift, points to flag."""

from collections.abc import Sequence

from bolewalk.impact.piles import PileShift, pile_shifts
from bolewalk.impact.results import TreeImpact
from bolewalk.impact.slope import slope_of
from bolewalk.impact.stake_out import StakePoint, stake_out
from bolewalk.impact.thresholds import Thresholds, thresholds
from bolewalk.model.survey import Survey

__all__ = ["pile_table", "stake_out_list"]


def pile_table(
    survey: Survey, impacts: Sequence[TreeImpact], *, limits: Thresholds | None = None
) -> tuple[tuple[str, PileShift], ...]:
    """List, by tree, how far and which way each pile in its root zone must move.

    Parameters
    ----------
    survey : Survey
    impacts : sequence of TreeImpact
        From `assess_all` of the same survey.
    limits : Thresholds, optional

    Returns
    -------
    tuple of (tree id, PileShift)
        In file order of trees, then of works.
    """
    by_id = {t.id: t for t in survey.trees}
    rows: list[tuple[str, PileShift]] = []
    for impact in impacts:
        tree = by_id[impact.tree]
        if impact.zone is None or tree.x_m is None or tree.y_m is None:
            continue
        at = (tree.x_m, tree.y_m)
        shifts = pile_shifts(tree.id, at, impact.zone, survey.works, limits or thresholds())
        rows += [(tree.id, s) for s in shifts]
    return tuple(rows)


def stake_out_list(
    survey: Survey, impacts: Sequence[TreeImpact], *, limits: Thresholds | None = None
) -> tuple[StakePoint, ...]:
    """List the points of drawn works to flag within the root zones of a survey.

    Parameters
    ----------
    survey : Survey
    impacts : sequence of TreeImpact
        From `assess_all` of the same survey.
    limits : Thresholds, optional
    """
    reach = {i.tree: i.zone.radius_m for i in impacts if i.zone is not None}
    t = limits or thresholds()
    return stake_out(survey.works, survey.trees, reach, t, slope=slope_of(survey.site, t))
