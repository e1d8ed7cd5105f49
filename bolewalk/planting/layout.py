"""Placing plants: proven best where the site is small, good with a stated bound where large.

Small: one exact model. Large: greedy by worth, then swaps, then windows of the site solved again
exactly around what stands outside them; the bound comes from pricing the sets of conflicts. Every
limit on work is deterministic: the same problem gives the same layout on any machine.
"""

from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from bolewalk.planting.layout_bound import upper_bound
from bolewalk.planting.layout_exact import Relaxation, relaxations, solve_exact
from bolewalk.planting.layout_problem import LayoutProblem
from bolewalk.planting.layout_swaps import improve_by_swaps
from bolewalk.planting.tables import rules

__all__ = ["Layout", "greedy", "lay_out"]

Ints = NDArray[np.int64]
Status = Literal["proven", "bounded", "impossible"]


@dataclass(frozen=True, slots=True)
class Layout:
    """A layout and how good it is known to be.

    Attributes
    ----------
    chosen : tuple of int
        Options, sorted.
    worth : int
    bound : int
        No layout is worth more.
    greedy_worth : int
        What taking the most worth first gives.
    status : "proven", "bounded" or "impossible"
        impossible: the limits contradict one another; `relax` then names each limit that alone
        would make it possible, and how far it must move.
    relax : tuple of Relaxation
    """

    chosen: tuple[int, ...]
    worth: int
    bound: int
    greedy_worth: int
    status: Status
    relax: tuple[Relaxation, ...] = ()

    @property
    def gap_pct(self) -> float:
        """How far below the bound it is at most [percent of the bound]."""
        return 100 * (self.bound - self.worth) / self.bound if self.bound else 0.0


def greedy(problem: LayoutProblem, *, by_room: bool = False) -> tuple[int, ...]:
    """Take the fixed options, then what is worth most first wherever spacing and limits allow.

    `by_room` takes first what is worth most for each option it shuts out.
    """
    start, other = problem.neighbours()
    left = np.array([limit.bound for limit in problem.limits], dtype=np.int64)
    weights = np.array([limit.weights for limit in problem.limits], dtype=np.int64)
    weights = weights.reshape(len(problem.limits), problem.n_options)
    free = np.ones(problem.n_options, dtype=bool)
    chosen: list[int] = []
    covered = np.zeros(len(problem.covers), dtype=bool)
    gives: list[list[int]] = [[] for _ in range(problem.n_options)]
    for c, cover in enumerate(problem.covers):
        for o in cover.options.tolist():
            gives[o].append(c)

    def take(o: int) -> None:
        nonlocal left
        chosen.append(o)
        free[o] = False
        free[other[start[o] : start[o + 1]]] = False
        left = left - weights[:, o]
        covered[gives[o]] = True

    for o in problem.fixed:
        take(o)
    gain = problem.worth.copy()
    for c, cover in enumerate(problem.covers):
        if not covered[c]:
            gain[cover.options] += cover.worth
    # Equal gains in the order of the options: a stable sort keeps the choice the same everywhere.
    share = 1.0 / (1.0 + np.diff(start)) if by_room else np.ones(problem.n_options)
    queue = np.argsort(-gain * share, kind="stable").tolist()
    while queue:
        again = []
        for o in queue:
            if not free[o] or gain[o] <= 0:
                continue
            now = int(problem.worth[o]) + sum(
                problem.covers[c].worth for c in gives[o] if not covered[c]
            )
            if now < gain[o]:
                gain[o] = now
                again.append(o)
            elif (weights[:, o] <= left).all() or (
                not (left >= 0).all() and (weights[left < 0, o] < 0).all()
            ):
                take(o)
        queue = sorted(again, key=lambda o: (-float(gain[o] * share[o]), o))
    return tuple(sorted(chosen))


def lay_out(problem: LayoutProblem, *, effort: float = 1.0, threads: int = 2) -> Layout:
    """Lay a site out.

    Parameters
    ----------
    problem : LayoutProblem
    effort : float
        Factor on the deterministic limits of the settings, > 0.
    threads : int
        Windows solved at once; the result does not depend on it.

    Returns
    -------
    Layout
    """
    table = rules("layout")
    first = greedy(problem)
    feasible = _holds(problem, first)
    size = problem.n_options
    if size <= int(table["exact"]["options"]):
        found = solve_exact(
            problem, hint=first if feasible else (),
            work=float(table["exact"]["work"]) * effort,
        )  # fmt: skip
        if found is None:
            return Layout((), 0, 0, problem.total(first), "impossible", relaxations(problem))
        worth = problem.total(found.chosen)
        status: Status = "proven" if found.bound <= worth else "bounded"
        return Layout(found.chosen, worth, found.bound, problem.total(first), status)
    if not feasible:
        started = solve_exact(problem, hint=(), work=float(table["start"]["work"]) * effort)
        if started is None:
            return Layout((), 0, 0, problem.total(first), "impossible", relaxations(problem))
        start = started.chosen
    else:
        roomy = greedy(problem, by_room=True)
        better = _holds(problem, roomy) and problem.total(roomy) > problem.total(first)
        start = roomy if better else first
    if not problem.covers:
        start = improve_by_swaps(problem, start, effort=effort)
    chosen = _repair(problem, start, effort=effort, threads=threads)
    worth = problem.total(chosen)
    bound = max(worth, upper_bound(problem, known=worth))
    status = "proven" if bound == worth else "bounded"
    return Layout(chosen, worth, bound, problem.total(first), status)


def _holds(problem: LayoutProblem, chosen: tuple[int, ...]) -> bool:
    picked = list(chosen)
    return all(int(limit.weights[picked].sum()) <= limit.bound for limit in problem.limits)


def _repair(
    problem: LayoutProblem, chosen: tuple[int, ...], *, effort: float, threads: int
) -> tuple[int, ...]:
    """Solve windows of the site again, each exactly around what stands outside it."""
    table = rules("layout")["windows"]
    rng = np.random.default_rng(int(table["seed"]))
    have = np.zeros(problem.n_options, dtype=bool)
    have[list(chosen)] = True
    spots = np.unique(problem.option_spot)
    at_spot: dict[int, list[int]] = {}
    for o, s in enumerate(problem.option_spot.tolist()):
        at_spot.setdefault(s, []).append(o)
    rounds = max(1, round(int(table["rounds"]) * effort))
    pair = int(table["at_once"])
    wide = int(table["spots"])
    work = float(table["work"])
    times = np.zeros(len(spots), dtype=np.int64)
    with ThreadPoolExecutor(max_workers=max(1, threads)) as pool:
        for _ in range(rounds):
            windows = _windows(problem, spots, times, rng, count=pair, size=min(wide, len(spots)))
            jobs = [
                pool.submit(
                    solve_exact, problem, hint=(), work=work, keep=have.copy(),
                    window=np.array([o for s in w for o in at_spot[s]], dtype=np.int64),
                )
                for w in windows
            ]  # fmt: skip
            for w, job in zip(windows, jobs, strict=True):
                found = job.result()
                if found is None:
                    continue
                inside = np.array([o for s in w for o in at_spot[s]], dtype=np.int64)
                tried = have.copy()
                tried[inside] = False
                tried[list(found.chosen)] = True
                # Two windows at once may each use up the same limit; the later one then waits.
                picked = tuple(np.flatnonzero(tried).tolist())
                if problem.total(picked) > problem.total(np.flatnonzero(have)) and _holds(
                    problem, picked
                ):
                    have = tried
    return tuple(np.flatnonzero(have).tolist())


def _windows(
    problem: LayoutProblem, spots: Ints, times: Ints, rng: np.random.Generator, *, count: int,
    size: int,
) -> list[list[int]]:  # fmt: skip
    """Pick windows of nearest spots, where fewest were before, none seeing another's choices.

    `times` counts how often each spot lay in a window; it is brought up to date.
    """
    reach = float(problem.spacing_m.max())
    xy = problem.spots_m[spots]
    windows: list[list[int]] = []
    clear = np.ones(len(spots), dtype=bool)
    while clear.any() and len(windows) < count:
        open_ = np.flatnonzero(clear)
        fewest = open_[times[open_] == times[open_].min()]
        centre = xy[int(rng.choice(fewest))]
        near = np.argsort(np.hypot(*(xy - centre).T), kind="stable")[:size]
        if not clear[near].all():
            clear[near[0]] = False
            continue
        times[near] += 1
        windows.append(spots[near].tolist())
        inside = xy[near]
        clear &= np.hypot(*(xy[:, None] - inside[None]).transpose(2, 0, 1)).min(axis=1) > reach
    return windows
