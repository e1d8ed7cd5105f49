"""A bound no layout can pass: every set of conflicts and every limit is given a price.

For any prices y >= 0 on sets of which at most one member may stand, and u >= 0 on limits, no
layout is worth more than

    sum(y) + sum(u * bound) + sum over options of max(0, worth - their sets' y - weight * u)

so the prices need not be the best ones for the bound to hold; they are lowered by subgradient
steps (Held, Wolfe & Crowder 1974).
"""

import math

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_array
from scipy.spatial import cKDTree

from bolewalk.planting.layout_problem import TOUCH_M, LayoutProblem
from bolewalk.planting.tables import rules

__all__ = ["upper_bound"]

Floats = NDArray[np.float64]


def _reach(problem: LayoutProblem) -> Floats:
    """Give each kind a disc so that kinds whose discs share a point stand too near."""
    reach: Floats = np.diag(problem.spacing_m) / 2
    both = reach[:, None] + reach[None, :]
    if (problem.spacing_m < both).any():
        reach = problem.spacing_m.min(axis=1) / 2
    return np.maximum(0.0, reach - TOUCH_M)


def _sets(problem: LayoutProblem) -> csr_array:
    """Sets of options of which at most one may stand: those whose discs hold one point.

    Points: the spots, and a grid between them. Conflicts no point shows are left out, which
    only makes the bound wider.
    """
    table = rules("layout")["bound"]
    reach = _reach(problem)
    spots = problem.spots_m[np.unique(problem.option_spot)]
    if not len(spots):
        return csr_array((0, problem.n_options))
    low, high = spots.min(axis=0), spots.max(axis=0)
    width, depth = np.maximum(high - low, 1e-6)
    step = max(
        float(reach[reach > 0].min(initial=np.inf)) * float(table["step_share"]),
        float(np.sqrt(width * depth / int(table["points"]))),
        float(max(width, depth)) / int(table["points"]),
    )
    points = spots
    if np.isfinite(step):
        x, y = np.meshgrid(*(np.arange(a, b + step, step) for a, b in zip(low, high, strict=True)))
        points = np.concatenate([spots, np.stack([x.ravel(), y.ravel()], axis=1)])
    rows, cols = [], []
    for kind, radius in enumerate(reach.tolist()):
        own = np.flatnonzero(problem.option_kind == kind)
        if not len(own):
            continue
        near = cKDTree(problem.spots_m[problem.option_spot[own]]).query_ball_point(points, radius)
        count = np.array([len(n) for n in near])
        rows.append(np.repeat(np.arange(len(points)), count))
        cols.append(own[np.concatenate([np.asarray(n, dtype=np.int64) for n in near])])
    row, col = np.concatenate(rows), np.concatenate(cols)
    return csr_array((np.ones(len(col)), (row, col)), shape=(len(points), problem.n_options))


def upper_bound(problem: LayoutProblem, *, known: int) -> int:
    """Give a bound on the worth of any layout.

    Parameters
    ----------
    problem : LayoutProblem
    known : int
        Worth of a layout that exists; steers the steps, does not enter the bound.

    Returns
    -------
    int
        Whole units, rounded down as worths are whole; covers count in full.
    """
    table = rules("layout")["bound"]
    n = problem.n_options
    sets = _sets(problem)
    limits = np.array([limit.weights for limit in problem.limits], dtype=np.float64)
    limits = limits.reshape(len(problem.limits), n)
    bounds = np.array([limit.bound for limit in problem.limits], dtype=np.float64)
    scale = np.maximum(1.0, np.abs(limits).max(axis=1, initial=1.0))
    limits, bounds = limits / scale[:, None], bounds / scale
    worth = problem.worth.astype(np.float64)
    extra = float(sum(c.worth for c in problem.covers))
    prices = np.zeros(sets.shape[0])
    per_limit = np.zeros(len(bounds))
    best, step, idle = math.inf, float(table["step"]), 0
    transposed = sets.T.tocsr()
    for _ in range(int(table["rounds"])):
        left = worth - transposed @ prices - per_limit @ limits
        taken = left > 0
        value = float(prices.sum() + per_limit @ bounds + left[taken].sum())
        if value < best * (1 - 1e-4):
            idle = 0
        else:
            idle += 1
        best = min(best, value)
        if idle >= int(table["patience"]):
            step, idle = step / 2, 0
        over = (sets @ taken) - 1.0
        beyond = limits @ taken - bounds
        # A price at zero that wants to fall cannot: it must not lengthen the step.
        over[(over < 0) & (prices <= 0)] = 0.0
        beyond[(beyond < 0) & (per_limit <= 0)] = 0.0
        length = float(over @ over + beyond @ beyond)
        if length == 0 or value <= known - extra:
            break
        move = step * max(value - (known - extra), 0.0) / length
        prices = np.maximum(0.0, prices + move * over)
        per_limit = np.maximum(0.0, per_limit + move * beyond)
    return math.floor(best + extra + 1e-6)
