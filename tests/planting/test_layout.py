"""Layouts against brute force, an independent pass over every spacing, and seeded sites."""

from itertools import combinations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bolewalk.planting.layout import greedy, lay_out
from bolewalk.planting.layout_bound import upper_bound
from bolewalk.planting.layout_problem import (
    Cover,
    LayoutProblem,
    Limit,
    clique_cover,
    conflicts,
    spacing_broken,
)
from bolewalk.planting.layout_swaps import improve_by_swaps


def site(spots, kinds, side_m, seed, **kw):
    rng = np.random.default_rng(seed)
    radius = np.linspace(1.0, 3.0, kinds)
    spot, kind = np.divmod(np.arange(spots * kinds), kinds)
    worth = np.rint(100 * radius[kind] ** 2 * rng.uniform(0.3, 1, spots * kinds))
    return LayoutProblem(
        rng.uniform(0, side_m, (spots, 2)), radius[:, None] + radius[None, :], spot, kind,
        worth.astype(np.int64), **kw,
    )  # fmt: skip


def distances_hold(problem, chosen):
    """The independent pass: plain Python on plain pairs, nothing of the solver's."""
    for i, j in combinations(chosen, 2):
        (x1, y1), (x2, y2) = (problem.spots_m[problem.option_spot[o]] for o in (i, j))
        least = problem.spacing_m[problem.option_kind[i]][problem.option_kind[j]]
        if problem.option_spot[i] == problem.option_spot[j]:
            return False
        if ((x1 - x2) ** 2 + (y1 - y2) ** 2) ** 0.5 < least - 1e-6:
            return False
    return True


def limits_hold(problem, chosen):
    return all(sum(int(x.weights[o]) for o in chosen) <= x.bound for x in problem.limits)


def by_brute_force(problem):
    best = None
    n = problem.n_options
    for mask in range(1 << n):
        chosen = [o for o in range(n) if mask >> o & 1]
        if not set(problem.fixed) <= set(chosen):
            continue
        if distances_hold(problem, chosen) and limits_hold(problem, chosen):
            best = max(problem.total(chosen), -1 if best is None else best)
    return best


@settings(max_examples=25, deadline=None)
@given(st.integers(1, 4), st.integers(1, 3), st.floats(1, 9), st.integers(0, 999), st.booleans())
def test_exact_against_brute_force(spots, kinds, side_m, seed, limited):
    rng = np.random.default_rng(seed)
    n = spots * kinds
    extra = {}
    if limited:
        cost = rng.integers(1, 9, n)
        floor = -np.asarray(np.arange(n) % kinds == 0, dtype=np.int64)
        extra = {
            "limits": (Limit("budget", cost, 9), Limit("at_least", floor, -1)),
            "covers": (Cover(np.arange(0, n, 2), 150), Cover(np.arange(1, n, 3), 70)),
        }
    problem = site(spots, kinds, side_m, seed, **extra)
    found = lay_out(problem)
    best = by_brute_force(problem)
    if best is None:
        assert found.status == "impossible"
    else:
        assert found.status == "proven"
        assert found.worth == found.bound == best == problem.total(found.chosen)
        assert limits_hold(problem, found.chosen)
    assert distances_hold(problem, found.chosen)
    assert best is None or upper_bound(problem, known=best) >= best


def test_two_hundred_spots_are_proven():
    problem = site(200, 8, 25.0, 20)
    found = lay_out(problem)
    assert found.status == "proven"
    assert found.worth == found.bound > found.greedy_worth
    assert distances_hold(problem, found.chosen)
    assert not spacing_broken(problem, found.chosen)


def test_a_large_site_is_bounded_and_the_same_on_one_thread_and_two():
    cost = np.arange(600 * 4) % 7 + 1
    problem = site(600, 4, 60.0, 3, limits=(Limit("budget", cost, 300),), fixed=(5, 1800))
    one, two = (lay_out(problem, effort=0.1, threads=n) for n in (1, 2))
    assert one == two
    assert one.greedy_worth < one.worth <= one.bound
    assert distances_hold(problem, one.chosen)
    assert limits_hold(problem, one.chosen)
    assert {5, 1800} <= set(one.chosen)


def test_swaps_never_lose_and_keep_what_is_fixed():
    problem = site(300, 4, 40.0, 4, fixed=(7,))
    start = greedy(problem)
    better = improve_by_swaps(problem, start, effort=0.05)
    assert problem.total(better) > problem.total(start)
    assert 7 in better
    assert distances_hold(problem, better)


def test_contradictory_limits_name_what_to_relax():
    # By hand: at least 3 plants at 40 each want 120, the budget is 100; two fit 6 m apart.
    spots = np.array([[0.0, 0.0], [6.0, 0.0], [12.0, 0.0]])
    problem = LayoutProblem(
        spots, np.array([[5.0]]), np.arange(3), np.zeros(3, np.int64), np.array([1, 1, 1]),
        limits=(
            Limit("budget", np.full(3, 40), 100),
            Limit("at_least", np.full(3, -1), -3),
            Limit("water", np.full(3, 10), 30),
        ),
    )  # fmt: skip
    found = lay_out(problem)
    assert found.status == "impossible"
    assert [(r.name, r.bound, r.to) for r in found.relax] == [
        ("budget", 100, 120), ("at_least", -3, -2),
    ]  # fmt: skip


def test_fixed_plants_too_near_are_named():
    problem = LayoutProblem(
        np.array([[0.0, 0.0], [1.0, 0.0]]), np.array([[3.0]]), np.arange(2),
        np.zeros(2, np.int64), np.array([1, 1]), fixed=(0, 1),
    )  # fmt: skip
    found = lay_out(problem)
    assert found.status == "impossible"
    assert [(r.name, r.bound, r.to) for r in found.relax] == [("fixed", 2, 1)]


def test_no_options_is_an_empty_layout():
    empty = np.empty(0, np.int64)
    found = lay_out(LayoutProblem(np.empty((0, 2)), np.array([[3.0]]), empty, empty, empty))
    assert (found.chosen, found.worth, found.bound, found.status) == ((), 0, 0, "proven")


@given(st.integers(0, 14), st.data())
@settings(deadline=None)
def test_cliques_hold_every_conflict_and_nothing_else(n, data):
    pairs = list(combinations(range(n), 2))
    some = sorted(data.draw(st.sets(st.sampled_from(pairs)) if pairs else st.just(set())))
    first = np.array([a for a, _ in some], dtype=np.int64)
    second = np.array([b for _, b in some], dtype=np.int64)
    covered = {p for c in clique_cover(n, first, second) for p in combinations(c, 2)}
    assert covered == set(some)


def test_conflicts_by_hand():
    # Kinds of 1 m and 2 m radius; spots 2.5 m apart: only two small ones stand together.
    radius = np.array([1.0, 2.0])
    problem = LayoutProblem(
        np.array([[0.0, 0.0], [2.5, 0.0]]), radius[:, None] + radius[None, :],
        np.array([0, 0, 1, 1]), np.array([0, 1, 0, 1]), np.ones(4, np.int64),
    )  # fmt: skip
    a, b = conflicts(problem)
    assert list(zip(a.tolist(), b.tolist(), strict=True)) == [
        (0, 1), (0, 3), (1, 2), (1, 3), (2, 3),
    ]  # fmt: skip


def test_touching_crowns_keep_their_spacing():
    problem = LayoutProblem(
        np.array([[0.0, 0.0], [3.0, 0.0]]), np.array([[3.0]]), np.arange(2),
        np.zeros(2, np.int64), np.ones(2, np.int64),
    )  # fmt: skip
    assert lay_out(problem).chosen == (0, 1)


def test_bad_problems_are_refused():
    with pytest.raises(ValueError, match="symmetric"):
        LayoutProblem(
            np.zeros((1, 2)), np.array([[1.0, 2.0], [3.0, 1.0]]), np.zeros(1, np.int64),
            np.zeros(1, np.int64), np.ones(1, np.int64),
        )  # fmt: skip
