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

from bolewalk.planting.layout_problem import LayoutProblem, clique_cover
from bolewalk.planting.tables import rules

__all__ = ["upper_bound"]

Floats = NDArray[np.float64]


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
    start, other = problem.neighbours()
    first = np.repeat(np.arange(n), np.diff(start))
    once = first < other
    first, second = first[once], other[once]
    cliques = clique_cover(n, first, second, each_at_most=int(table["sets_begun"]))
    rows = np.repeat(np.arange(len(cliques)), [len(c) for c in cliques])
    cols = np.array([m for c in cliques for m in c], dtype=np.int64)
    sets = csr_array((np.ones(len(cols)), (rows, cols)), shape=(len(cliques), n))
    limits = np.array([limit.weights for limit in problem.limits], dtype=np.float64)
    limits = limits.reshape(len(problem.limits), n)
    bounds = np.array([limit.bound for limit in problem.limits], dtype=np.float64)
    scale = np.maximum(1.0, np.abs(limits).max(axis=1, initial=1.0))
    limits, bounds = limits / scale[:, None], bounds / scale
    worth = problem.worth.astype(np.float64)
    extra = float(sum(c.worth for c in problem.covers))
    prices = np.zeros(len(cliques))
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
