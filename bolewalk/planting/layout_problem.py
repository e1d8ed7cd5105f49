"""What a layout chooses from, under which limits; and which choices exclude one another."""

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

__all__ = [
    "TOUCH_M",
    "Cover",
    "LayoutProblem",
    "Limit",
    "clique_cover",
    "conflicts",
    "spacing_broken",
]

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]

TOUCH_M = 1e-9
"""Crowns that only touch keep their spacing; this much of a metre is rounding."""


@dataclass(frozen=True, slots=True)
class Limit:
    """One limit over all options: the weights of the chosen ones add up to at most `bound`.

    Attributes
    ----------
    name : str
        What it is, for the report: "budget", "water", "diversity:Quercus", "at_least:...".
    weights : int array, shape (n_options,)
    bound : int
    """

    name: str
    weights: Ints
    bound: int


@dataclass(frozen=True, slots=True)
class Cover:
    """Something counted once however many plants give it: a piece of a view, an hour of shade.

    `options` are those that give it; `worth` in the units of the options' worth.
    """

    options: Ints
    worth: int


@dataclass(frozen=True, slots=True)
class LayoutProblem:
    """Spots, kinds and what each kind on each spot is worth.

    Attributes
    ----------
    spots_m : float array, shape (n_spots, 2)
        Places along the ground: the way down a slope counts as its tape length.
    spacing_m : float array, shape (n_kinds, n_kinds)
        Least distance between two kinds, trunk to trunk; symmetric.
    option_spot, option_kind : int array, shape (n_options,)
        One option is one kind on one spot; at most one is chosen on a spot.
    worth : int array, shape (n_options,)
        What the purpose gains, >= 0, in whole units small enough that nothing is lost.
    limits : tuple of Limit
    covers : tuple of Cover
    fixed : tuple of int
        Options that stand whatever else is chosen.
    """

    spots_m: Floats
    spacing_m: Floats
    option_spot: Ints
    option_kind: Ints
    worth: Ints
    limits: tuple[Limit, ...] = ()
    covers: tuple[Cover, ...] = ()
    fixed: tuple[int, ...] = ()
    _neighbours: list[tuple[Ints, Ints]] = field(default_factory=list, repr=False)

    def __post_init__(self) -> None:
        n = len(self.option_spot)
        if len(self.option_kind) != n or len(self.worth) != n:
            raise ValueError("option_spot, option_kind and worth must be equally long.")
        if (self.worth < 0).any():
            raise ValueError("worth must be >= 0.")
        if not np.array_equal(self.spacing_m, self.spacing_m.T) or (self.spacing_m < 0).any():
            raise ValueError("spacing_m must be symmetric and >= 0.")
        if any(len(limit.weights) != n for limit in self.limits):
            raise ValueError("every limit needs one weight an option.")

    @property
    def n_options(self) -> int:
        """Number of options."""
        return len(self.option_spot)

    def total(self, chosen: Sequence[int] | Ints) -> int:
        """Give what a choice is worth, covers included."""
        picked = np.asarray(chosen, dtype=np.int64)
        have = np.zeros(self.n_options, dtype=bool)
        have[picked] = True
        covered = sum(c.worth for c in self.covers if have[c.options].any())
        return int(self.worth[picked].sum()) + covered

    def neighbours(self) -> tuple[Ints, Ints]:
        """Give the options in conflict with each option, as one run of indices.

        Returns
        -------
        start : int array, shape (n_options + 1,)
        other : int array
            Options in conflict with option i: other[start[i]:start[i + 1]], sorted.
        """
        if not self._neighbours:
            a, b = conflicts(self)
            src, dst = np.concatenate([a, b]), np.concatenate([b, a])
            order = np.lexsort((dst, src))
            start = np.searchsorted(src[order], np.arange(self.n_options + 1))
            self._neighbours.append((start.astype(np.int64), dst[order]))
        return self._neighbours[0]


def conflicts(problem: LayoutProblem, among: Ints | None = None) -> tuple[Ints, Ints]:
    """Give every pair of options that may not both be chosen.

    Parameters
    ----------
    problem : LayoutProblem
    among : int array, optional
        Only pairs of these options.

    Returns
    -------
    first, second : int array
        Pairs with first < second: on one spot, or nearer than their kinds' spacing.
    """
    options = np.arange(problem.n_options) if among is None else np.sort(among)
    spot, kind = problem.option_spot[options], problem.option_kind[options]
    spots, at = np.unique(spot, return_inverse=True)
    if not len(options):
        return np.empty(0, np.int64), np.empty(0, np.int64)
    order = np.argsort(at, kind="stable")
    start = np.searchsorted(at[order], np.arange(len(spots) + 1))
    reach = float(problem.spacing_m.max())
    xy = problem.spots_m[spots]
    pairs = cKDTree(xy).query_pairs(max(reach, TOUCH_M), output_type="ndarray").astype(np.int64)
    same = np.stack([np.arange(len(spots))] * 2, axis=1)
    pairs = np.concatenate([same, pairs])
    n_a, n_b = np.diff(start)[pairs[:, 0]], np.diff(start)[pairs[:, 1]]
    each = n_a * n_b
    pair = np.repeat(np.arange(len(pairs)), each)
    within = np.arange(each.sum()) - np.repeat(np.cumsum(each) - each, each)
    i = order[start[pairs[pair, 0]] + within // n_b[pair]]
    j = order[start[pairs[pair, 1]] + within % n_b[pair]]
    apart = np.linalg.norm(xy[pairs[:, 0]] - xy[pairs[:, 1]], axis=1)[pair]
    near = np.where(at[i] == at[j], i < j, apart < problem.spacing_m[kind[i], kind[j]] - TOUCH_M)
    low, high = np.minimum(i, j)[near], np.maximum(i, j)[near]
    key = np.sort(low * len(options) + high)
    return options[key // len(options)], options[key % len(options)]


def clique_cover(n: int, first: Ints, second: Ints) -> list[list[int]]:
    """Group conflicts into sets of which at most one member may be chosen.

    Greedy: each conflict not yet covered grows into a largest set it lies in. Every pair given
    lies in some set, and every pair of a set was given.

    Parameters
    ----------
    n : int
        Number of options, numbered 0 to n - 1.
    first, second : int array
        Pairs in conflict.

    Returns
    -------
    list of list of int
        Sorted members; in order of their first member.
    """
    src, dst = np.concatenate([first, second]), np.concatenate([second, first])
    dst = dst[np.argsort(src, kind="stable")]
    start = np.concatenate([[0], np.cumsum(np.bincount(src, minlength=n))])
    row = np.zeros(n, dtype=bool)
    adjacent = []
    for a in range(n):
        near = dst[start[a] : start[a + 1]]
        row[near] = True
        adjacent.append(int.from_bytes(np.packbits(row, bitorder="little").tobytes(), "little"))
        row[near] = False
    open_ = list(adjacent)
    cliques = []
    for a in range(n):
        # Only pairs with a later option are still to be covered: earlier ones went before.
        while later := open_[a] >> (a + 1):
            members = [a]
            wanted = later << (a + 1)
            allowed = adjacent[a]
            while allowed:
                fresh = allowed & wanted
                pick = fresh or allowed
                b = (pick & -pick).bit_length() - 1
                members.append(b)
                allowed &= adjacent[b]
            mask = 0
            for m in members:
                mask |= 1 << m
            for m in members:
                open_[m] &= ~mask
            cliques.append(sorted(members))
    return cliques


def spacing_broken(problem: LayoutProblem, chosen: Sequence[int]) -> list[tuple[int, int]]:
    """Check a choice against every spacing, pair by pair, apart from how it was found.

    Returns
    -------
    list of (int, int)
        Chosen options on one spot or nearer than their spacing; empty when all hold.
    """
    broken = []
    for n, i in enumerate(chosen):
        for j in chosen[n + 1 :]:
            a, b = problem.spots_m[problem.option_spot[i]], problem.spots_m[problem.option_spot[j]]
            least = problem.spacing_m[problem.option_kind[i], problem.option_kind[j]]
            apart = float(np.hypot(a[0] - b[0], a[1] - b[1]))
            if problem.option_spot[i] == problem.option_spot[j] or apart < least - TOUCH_M:
                broken.append((int(i), int(j)))
    return broken
