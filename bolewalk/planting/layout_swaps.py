"""Making a layout better by swaps: put one plant in, take out what stands too near, fill up.

A seeded walk over swaps that never ends worth less than it began (iterated local search as for
independent sets: Andrade, Resende & Werneck 2012, with a plain acceptance rule).
"""

from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from bolewalk.planting.layout_problem import LayoutProblem
from bolewalk.planting.tables import rules

__all__ = ["improve_by_swaps"]

Ints = NDArray[np.int64]


class _Standing:
    """A choice being changed, able to go back to where it was last marked."""

    def __init__(self, problem: LayoutProblem, chosen: tuple[int, ...]) -> None:
        start, other = problem.neighbours()
        self.near = [other[a:b] for a, b in pairwise(start.tolist())]
        self.worth = problem.worth
        self.weights = np.array([limit.weights for limit in problem.limits], dtype=np.int64)
        self.weights = self.weights.reshape(len(problem.limits), problem.n_options)
        self.have = np.zeros(problem.n_options, dtype=bool)
        self.load = np.zeros(problem.n_options, dtype=np.int64)
        """Worth of the chosen options each option conflicts with."""
        self.left = np.array([limit.bound for limit in problem.limits], dtype=np.int64)
        self.gained = 0
        self.log: list[int] = []
        for o in chosen:
            self._add(o)
        self.mark()

    def mark(self) -> None:
        self.gained = 0
        self.log = []

    def _add(self, o: int) -> None:
        self.have[o] = True
        self.load[self.near[o]] += self.worth[o]
        self.left -= self.weights[:, o]
        self.gained += int(self.worth[o])

    def _take_out(self, o: int) -> None:
        self.have[o] = False
        self.load[self.near[o]] -= self.worth[o]
        self.left += self.weights[:, o]
        self.gained -= int(self.worth[o])

    def put(self, o: int) -> list[Ints]:
        """Put an option in and its conflicts out; give the options this set free."""
        freed = []
        for q in self.near[o][self.have[self.near[o]]].tolist():
            self._take_out(q)
            self.log.append(~q)
            freed += [self.near[q], np.array([q])]
        self._add(o)
        self.log.append(o)
        return freed

    def undo(self) -> None:
        for entry in reversed(self.log):
            if entry < 0:
                self._add(~entry)
            else:
                self._take_out(entry)
        self.mark()

    @property
    def holds(self) -> bool:
        return bool((self.left >= 0).all())


def improve_by_swaps(
    problem: LayoutProblem, chosen: tuple[int, ...], *, effort: float = 1.0
) -> tuple[int, ...]:
    """Improve a layout by swaps.

    Parameters
    ----------
    problem : LayoutProblem
        Covers are not looked at: leave them to the windows.
    chosen : tuple of int
        A layout that holds every limit.
    effort : float
        Factor on the setting's number of swaps.

    Returns
    -------
    tuple of int
        Options, sorted; never worth less, every spacing and limit held, fixed ones kept.
    """
    table = rules("layout")["swaps"]
    rounds, again = round(int(table["rounds"]) * effort), int(table["candidates_every"])
    dare = float(table["dare"])
    rng = np.random.default_rng(int(table["seed"]))
    now = _Standing(problem, chosen)
    barred = np.zeros(problem.n_options, dtype=bool)
    for o in problem.fixed:
        barred[o] = True
        barred[now.near[o]] = True
    open_: Ints = np.empty(0, np.int64)
    for draw, pick in enumerate(rng.random(rounds).tolist()):
        if draw % again == 0:
            loss = now.load - problem.worth
            open_ = np.flatnonzero(~now.have & ~barred & (loss < dare * problem.worth))
            if not len(open_):
                break
        o = int(open_[int(pick * len(open_))])
        if now.have[o]:
            continue
        freed = now.put(o)
        while freed:
            options = np.concatenate(freed)
            gain = np.where(
                now.have[options] | barred[options], 0,
                problem.worth[options] - now.load[options],
            )  # fmt: skip
            if len(now.left):
                gain[~(now.weights[:, options] <= now.left[:, None]).all(axis=0)] = 0
            best = int(gain.argmax())
            if gain[best] <= 0:
                break
            freed += now.put(int(options[best]))
        if now.gained < 0 or not now.holds:
            now.undo()
        else:
            now.mark()
    return tuple(np.flatnonzero(now.have).tolist())
