"""The exact model of a layout, whole or of one window, and what to relax when none exists."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from ortools.sat.python import cp_model

from bolewalk.planting.layout_problem import LayoutProblem, clique_cover, conflicts
from bolewalk.planting.tables import rules

__all__ = ["Exact", "Relaxation", "relaxations", "solve_exact"]

Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Exact:
    """Options chosen (of the window alone where there is one), and a bound on the worth of the
    whole model solved."""

    chosen: tuple[int, ...]
    bound: int


@dataclass(frozen=True, slots=True)
class Relaxation:
    """One limit that alone would make a layout possible: `to` is where it must go at least.

    `name` is the limit's, "fixed" for the plants that were fixed.
    """

    name: str
    bound: int
    to: int


def solve_exact(
    problem: LayoutProblem,
    *,
    hint: tuple[int, ...],
    work: float,
    keep: NDArray[np.bool_] | None = None,
    window: Ints | None = None,
) -> Exact | None:
    """Solve a layout, or one window of it around what stands outside.

    Parameters
    ----------
    problem : LayoutProblem
    hint : tuple of int
        A choice to start from.
    work : float
        Deterministic limit of the solver, in its own unit (about a second each).
    keep : bool array, optional
        What is chosen now; outside the window it stays.
    window : int array, optional
        Options to choose anew.

    Returns
    -------
    Exact or None
        None where no choice holds every limit, or none was found within the work.
    """
    free, outside = _free(problem, keep, window)
    model, x = _model(problem, free, outside)
    if keep is not None:
        for o, v in x.items():
            model.add_hint(v, bool(keep[o]))
    elif hint:
        known = set(hint)
        for o, v in x.items():
            model.add_hint(v, o in known)
    solver = _solver(work)
    status = solver.solve(model)
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return None
    chosen = tuple(sorted(o for o, v in x.items() if solver.boolean_value(v)))
    return Exact(chosen, int(np.floor(solver.best_objective_bound + 1e-6)))


def _solver(work: float) -> cp_model.CpSolver:
    solver = cp_model.CpSolver()
    # One worker and a deterministic limit: the same answer on a laptop and a server.
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = int(rules("layout")["exact"]["seed"])
    solver.parameters.max_deterministic_time = work
    # The conflicts come grouped already; looking for more sets costs more than the search.
    solver.parameters.cp_model_probing_level = 0
    solver.parameters.symmetry_level = 0
    solver.parameters.merge_at_most_one_work_limit = 0.0
    solver.parameters.linearization_level = 2
    return solver


def _free(
    problem: LayoutProblem, keep: NDArray[np.bool_] | None, window: Ints | None
) -> tuple[Ints, Ints]:
    """Give the options open to choice and those that stand outside."""
    if window is None or keep is None:
        return np.arange(problem.n_options), np.empty(0, np.int64)
    inside = np.zeros(problem.n_options, dtype=bool)
    inside[window] = True
    outside = np.flatnonzero(keep & ~inside)
    start, other = problem.neighbours()
    barred = np.zeros(problem.n_options, dtype=bool)
    for o in outside.tolist():
        barred[other[start[o] : start[o + 1]]] = True
    return np.flatnonzero(inside & ~barred), outside


def _model(
    problem: LayoutProblem, free: Ints, outside: Ints, *, skip: frozenset[str] = frozenset()
) -> tuple[cp_model.CpModel, dict[int, cp_model.IntVar]]:
    model = cp_model.CpModel()
    x = {o: model.new_bool_var("") for o in free.tolist()}
    local = {o: n for n, o in enumerate(free.tolist())}
    a, b = conflicts(problem, free)
    to_local = np.zeros(problem.n_options, dtype=np.int64)
    to_local[free] = np.arange(len(free))
    for clique in clique_cover(len(local), to_local[a], to_local[b]):
        model.add_at_most_one(x[int(free[m])] for m in clique)
    for limit in problem.limits:
        if limit.name in skip:
            continue
        used = int(limit.weights[outside].sum())
        terms = [(o, int(limit.weights[o])) for o in x if limit.weights[o]]
        if terms or used > limit.bound:
            model.add(sum(w * x[o] for o, w in terms) <= limit.bound - used)
    if "fixed" not in skip:
        standing = set(outside.tolist())
        for o in problem.fixed:
            if o in x:
                model.add(x[o] == 1)
            elif o not in standing:
                model.add_bool_or([])
    goals = [(int(problem.worth[o]), v) for o, v in x.items()]
    for cover in problem.covers:
        if np.isin(cover.options, outside).any():
            continue
        givers = [x[o] for o in cover.options.tolist() if o in x]
        if givers:
            seen = model.new_bool_var("")
            model.add_bool_or([*givers, seen.negated()])
            goals.append((cover.worth, seen))
    model.maximize(sum(w * v for w, v in goals))
    return model, x


def relaxations(problem: LayoutProblem) -> tuple[Relaxation, ...]:
    """Find each limit that alone keeps every layout out, and how far it must move.

    Returns
    -------
    tuple of Relaxation
        In the order of the limits, the fixed plants last; empty where no single limit helps.
    """
    work = float(rules("layout")["relax"]["work"])
    free, outside = np.arange(problem.n_options), np.empty(0, np.int64)
    found = []
    for limit in problem.limits:
        model, x = _model(problem, free, outside, skip=frozenset({limit.name}))
        used = sum(int(w) * x[o] for o, w in enumerate(limit.weights.tolist()) if w)
        model.minimize(used)
        solver = _solver(work)
        if solver.solve(model) in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            found.append(Relaxation(limit.name, limit.bound, round(solver.objective_value)))
    if problem.fixed:
        model, x = _model(problem, free, outside, skip=frozenset({"fixed"}))
        model.maximize(sum(x[o] for o in problem.fixed))
        solver = _solver(work)
        if solver.solve(model) in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            to = round(solver.objective_value)
            if to < len(problem.fixed):
                found.append(Relaxation("fixed", len(problem.fixed), to))
    return tuple(found)
