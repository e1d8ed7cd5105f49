"""The same tree again: a later survey's trees matched to an earlier one's, with the doubt shown.

Each pair is weighed by what speaks for one tree against what speaks for two: how far apart the
positions lie once the two surveys are laid on each other by their common layout, species, stem
count, a trunk that has grown and not shrunk, the tag. The best matching of all together is
taken, and each match carries its chance against its alternatives.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bolewalk.model.extras import extra
from bolewalk.model.trees import Tree
from bolewalk.reference.botanical import genus_key, species_key
from bolewalk.reference.settings import setting
from bolewalk.trees.growth import project
from bolewalk.trees.stems import equal_area_cm

__all__ = ["GrowthCheck", "Match", "Rematch", "growth_check", "rematch"]

_TABLE = "rematch_settings.csv"
_IMPOSSIBLE = 1e9


@dataclass(frozen=True, slots=True)
class Match:
    """One tree of the later survey.

    Attributes
    ----------
    later : str
        Its id there.
    earlier : str or None
        Id of the tree it is taken for; None: taken for a tree that was not recorded then.
    chance : float
        Against every alternative, 0 to 1.
    doubtful : bool
        Whether the chance lies below the setting: a person decides.
    for_it, against_it : tuple of str
        Codes: "near", "same_species", "same_genus", "same_tag", "same_stems", "grown"; "far",
        "other_species", "other_tag", "other_stems", "shrunk".
    alternatives : tuple of (id, chance)
        The next best, at most three.
    """

    later: str
    earlier: str | None
    chance: float
    doubtful: bool
    for_it: tuple[str, ...]
    against_it: tuple[str, ...]
    alternatives: tuple[tuple[str, float], ...]


@dataclass(frozen=True, slots=True)
class Rematch:
    """All matches in the later survey's order, and what was not found again.

    `shift_m` is how far (east, north) the later survey lies off the earlier one by their common
    layout. `not_found` lists trees of the earlier survey: removed, or missed.
    """

    matches: tuple[Match, ...]
    not_found: tuple[str, ...]
    shift_m: tuple[float, float]


@dataclass(frozen=True, slots=True)
class GrowthCheck:
    """Trunk growth measured between two surveys against the forecast of the first."""

    measured_cm_year: float
    forecast_cm_year: float
    forecast_low_cm_year: float
    forecast_high_cm_year: float
    verdict: str
    """below, within or above the forecast's band; "shrunk" where the trunk reads smaller."""


def rematch(
    earlier: Sequence[Tree],
    later: Sequence[Tree],
    *,
    years: float,
    earlier_error_m: float | None = None,
    later_error_m: float | None = None,
) -> Rematch:
    """Match a later survey's trees to an earlier one's.

    Parameters
    ----------
    earlier, later : sequence of Tree
        Ids unique within each.
    years : float
        Between the two, >= 0.
    earlier_error_m, later_error_m : float, optional
        Standard deviation of each survey's positions [m], > 0; without it the setting.

    Returns
    -------
    Rematch
        Every later tree once; an earlier tree at most once.

    Raises
    ------
    ValueError
        Negative years, an error that is not > 0.
    """
    if not years >= 0:
        raise ValueError(f"years is {years:g}; it must be >= 0.")
    told = setting(_TABLE, "position_error_m")
    errors = [told if e is None else e for e in (earlier_error_m, later_error_m)]
    if not all(e > 0 for e in errors):
        raise ValueError("position errors must be > 0.")
    spread = math.hypot(*errors)
    shift = _common_shift(earlier, later, spread)
    weights = np.zeros((len(later), len(earlier)))
    reasons: dict[tuple[int, int], tuple[list[str], list[str]]] = {}
    for i, new in enumerate(later):
        for j, old in enumerate(earlier):
            weights[i, j], good, bad = _weigh(old, new, years, shift, spread, len(earlier))
            reasons[i, j] = good, bad
    alone = setting(_TABLE, "new_tree") / (1 - setting(_TABLE, "new_tree"))
    chosen = _assign(weights, alone)
    matches = []
    for i, new in enumerate(later):
        total = weights[i].sum() + alone
        mine = chosen[i]
        chance = float((alone if mine is None else weights[i, mine]) / total)
        others = [
            (earlier[k].id, float(weights[i, k] / total))
            for k in sorted(range(len(earlier)), key=lambda k: (-weights[i, k], earlier[k].id))
            if k != mine and weights[i, k] / total >= 0.01
        ][:3]
        good, bad = reasons[i, mine] if mine is not None else ([], [])
        matches.append(
            Match(
                new.id, None if mine is None else earlier[mine].id, chance,
                chance < setting(_TABLE, "doubtful_below"), tuple(good), tuple(bad),
                tuple(others),
            )
        )  # fmt: skip
    found = {j for j in chosen if j is not None}
    return Rematch(
        tuple(matches), tuple(t.id for j, t in enumerate(earlier) if j not in found), shift
    )


def growth_check(earlier: Tree, later: Tree, *, years: float, region: str) -> GrowthCheck | None:
    """Compare the trunk growth between two looks with the forecast made from the first.

    Returns
    -------
    GrowthCheck or None
        None where a trunk was not measured twice, or nothing published speaks for the species.

    Raises
    ------
    ValueError
        Years below 1 (growth is then smaller than the error of measuring), no such region.
    """
    if not years >= 1:
        raise ValueError(f"years is {years:g}; growth is judged over at least one year.")
    before, after = _trunk(earlier), _trunk(later)
    if before is None or after is None or earlier.species.botanical is None:
        return None
    p = project(earlier.species.botanical, region, years=math.ceil(years), trunk_cm=before)
    if p is None:
        return None
    at = np.arange(len(p.trunk_cm), dtype=np.float64)
    forecast, low, high = (
        (float(np.interp(years, at, line)) - before) / years
        for line in (p.trunk_cm, p.trunk_low_cm, p.trunk_high_cm)
    )
    measured = (after - before) / years
    slack = setting(_TABLE, "trunk_error_share") * before * math.sqrt(2) / years
    if measured < -slack:
        verdict = "shrunk"
    elif measured < low - slack:
        verdict = "below"
    elif measured > high + slack:
        verdict = "above"
    else:
        verdict = "within"
    return GrowthCheck(measured, forecast, low, high, verdict)


def _weigh(
    old: Tree, new: Tree, years: float, shift: tuple[float, float], spread: float, n_earlier: int
) -> tuple[float, list[str], list[str]]:
    """Give how much likelier the two records are one tree's than two trees', and why."""
    weight, good, bad = 1.0, [], []
    if old.tag and new.tag:
        if old.tag == new.tag:
            weight *= setting(_TABLE, "same_tag")
            good.append("same_tag")
        else:
            weight /= setting(_TABLE, "same_tag")
            bad.append("other_tag")
    where_old, where_new = _spot(old), _spot(new)
    if where_old is not None and where_new is not None:
        off = math.dist(
            (where_new[0] - shift[0], where_new[1] - shift[1]), where_old
        ) / spread  # fmt: skip
        if off > setting(_TABLE, "reach_deviations"):
            return 0.0, good, [*bad, "far"]
        # Against a different tree anywhere within reach.
        weight *= math.exp(-(off**2) / 2) * setting(_TABLE, "reach_deviations") ** 2 / 2
        (good if off < 2 else bad).append("near" if off < 2 else "far")
    else:
        weight /= max(1, n_earlier)
    weight *= _species(old, new, good, bad)
    weight *= _size(old, new, years, good, bad)
    if old.stems_cm and new.stems_cm:
        same = len(old.stems_cm) == len(new.stems_cm)
        likely, other = setting(_TABLE, "same_stems"), setting(_TABLE, "other_stems_share")
        weight *= likely / other if same else (1 - likely) / (1 - other)
        (good if same else bad).append("same_stems" if same else "other_stems")
    return weight, good, bad


def _species(old: Tree, new: Tree, good: list[str], bad: list[str]) -> float:
    if old.species.botanical is None or new.species.botanical is None:
        return setting(_TABLE, "unnamed")
    share = setting(_TABLE, "species_share")
    a, b = old.species.botanical, new.species.botanical
    if species_key(a) == species_key(b):
        good.append("same_species")
        return setting(_TABLE, "same_species") / share
    if genus_key(a) == genus_key(b):
        good.append("same_genus")
        return setting(_TABLE, "same_genus") / share
    bad.append("other_species")
    return setting(_TABLE, "other_species") / (1 - share)


def _size(old: Tree, new: Tree, years: float, good: list[str], bad: list[str]) -> float:
    before, after = _trunk(old), _trunk(new)
    if before is None or after is None:
        return 1.0
    error = setting(_TABLE, "trunk_error_share") * before * math.sqrt(2)
    spread = math.hypot(error, setting(_TABLE, "growth_spread_cm_year") * years)
    grown = after - before - setting(_TABLE, "growth_cm_year") * years
    if after < before - 2 * error:
        bad.append("shrunk")
        # No tree's trunk shrinks: measured against its error alone, not against its growth.
        spread, grown = error, after - before
    elif abs(grown) <= 2 * spread:
        good.append("grown")
    one = math.exp(-((grown / spread) ** 2) / 2) / spread
    wide = setting(_TABLE, "size_spread")
    two = math.exp(-((math.log(after / before) / wide) ** 2) / 2) / (wide * after)
    return one / two


def _common_shift(
    earlier: Sequence[Tree], later: Sequence[Tree], spread: float
) -> tuple[float, float]:
    """Find the shift most trees agree on: every pair of one species votes for its own."""
    votes = [
        (new[0] - old[0], new[1] - old[1])
        for a in earlier
        for b in later
        if (old := _spot(a)) is not None
        and (new := _spot(b)) is not None
        and _may_be_one(a, b)
        and math.dist(old, new) <= setting(_TABLE, "largest_shift_m")
    ]
    if not votes:
        return 0.0, 0.0
    v = np.array(votes)
    near = setting(_TABLE, "vote_m")
    apart = np.hypot(v[:, None, 0] - v[None, :, 0], v[:, None, 1] - v[None, :, 1])
    support = (apart <= near).sum(axis=1)
    # Of equal support the smaller shift: a survey lies where it says unless most trees disagree.
    best = min(range(len(v)), key=lambda i: (-support[i], round(math.hypot(*v[i]), 9), votes[i]))
    # Two trees agree on some shift by chance; three do not easily.
    if support[best] < 3:
        return 0.0, 0.0
    mean = v[apart[best] <= near].mean(axis=0)
    if math.hypot(*mean) <= spread:
        return 0.0, 0.0
    return float(mean[0]), float(mean[1])


def _may_be_one(a: Tree, b: Tree) -> bool:
    if a.species.botanical is None or b.species.botanical is None:
        return True
    return species_key(a.species.botanical) == species_key(b.species.botanical)


def _assign(weights: NDArray[np.float64], alone: float) -> list[int | None]:
    """Give each later tree its earlier one in the likeliest matching of all, or None."""
    n, m = weights.shape
    cost = np.full((n, m + n), _IMPOSSIBLE)
    positive = weights > 0
    cost[:, :m][positive] = -np.log(weights[positive])
    cost[np.arange(n), m + np.arange(n)] = -math.log(alone)
    with extra("planning", what="Matching the trees of two surveys"):
        from scipy.optimize import linear_sum_assignment

    rows, columns = linear_sum_assignment(cost)
    chosen: list[int | None] = [None] * n
    for i, j in zip(rows, columns, strict=True):
        chosen[int(i)] = int(j) if j < m else None
    return chosen


def _spot(tree: Tree) -> tuple[float, float] | None:
    return None if tree.x_m is None or tree.y_m is None else (tree.x_m, tree.y_m)


def _trunk(tree: Tree) -> float | None:
    return equal_area_cm([s.value for s in tree.stems_cm]) if tree.stems_cm else None
