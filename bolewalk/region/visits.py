"""The order in which trees are looked at on foot: stops, tours, and the way through each tour."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from bolewalk.region.judge import WEIGHT
from bolewalk.region.settings import settings

__all__ = ["Visits", "order_of", "plan_visits", "tour_length_m"]

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Visits:
    """Stops before they are put in order.

    Attributes
    ----------
    stop : ndarray of int64, shape (trees,)
        Stop from which each tree is seen.
    at : ndarray, shape (stops, 2)
        Middle of its trees, east and north [m].
    tours : tuple of ndarray of int64
        Stops of each tour, the tour with most trees of the gravest verdict first.
    """

    stop: Ints
    at: Floats
    tours: tuple[Ints, ...]


def plan_visits(x: Floats, y: Floats, verdicts: NDArray[np.str_]) -> Visits:
    """Gather trees into stops and stops into tours.

    Parameters
    ----------
    x, y : ndarray, shape (n,)
        East and north [m].
    verdicts : ndarray of str, shape (n,)
    """
    side = settings().stop_m
    square = np.stack([np.floor(x / side), np.floor(y / side)], axis=1).astype(np.int64)
    squares, stop = np.unique(square, axis=0, return_inverse=True)
    stop = stop.ravel().astype(np.int64)
    n = len(squares)
    count = np.maximum(np.bincount(stop, minlength=n), 1)
    at = np.column_stack([np.bincount(stop, weights=v, minlength=n) / count for v in (x, y)])
    if not n:
        return Visits(stop, at, ())
    along = np.argsort(_curve(squares - squares.min(axis=0)), kind="stable")
    size = settings().stops_a_tour
    pieces = -(-n // size)
    tours = [np.sort(t) for t in np.array_split(along, pieces)]
    grave = np.zeros((n, len(WEIGHT)), dtype=np.int64)
    for verdict, weight in WEIGHT.items():
        grave[:, weight] = np.bincount(stop, weights=verdicts == verdict, minlength=n)
    rank = [tuple(-grave[t].sum(axis=0)[::-1]) for t in tours]
    ordered = sorted(range(len(tours)), key=lambda k: (rank[k], k))
    return Visits(stop, at, tuple(tours[k] for k in ordered))


def _curve(squares: Ints) -> Ints:
    """Place of each square along a Hilbert curve: neighbours on it are neighbours on the ground."""
    bits = max(int(squares.max(initial=1)).bit_length(), 1)
    x, y = squares[:, 0].copy(), squares[:, 1].copy()
    place = np.zeros(len(squares), dtype=np.int64)
    for k in range(bits - 1, -1, -1):
        s = 1 << k
        rx, ry = (x & s) > 0, (y & s) > 0
        place += s * s * ((3 * rx) ^ ry)
        turn = ~ry
        flip = turn & rx
        x[flip], y[flip] = s - 1 - (x[flip] & (s - 1)), s - 1 - (y[flip] & (s - 1))
        x[turn], y[turn] = y[turn].copy(), x[turn].copy()
    return place


def order_of(at: Floats) -> list[int]:
    """Put the stops of one tour in a short order, beginning and ending anywhere.

    Parameters
    ----------
    at : ndarray, shape (n, 2)
        [m], straight lines between stops.

    Returns
    -------
    list of int
        The solver's order where its extra is installed, else nearest neighbour mended by
        reversals; the same stops always give the same order.
    """
    if len(at) < 3:
        return list(range(len(at)))
    apart = np.hypot(at[:, None, 0] - at[None, :, 0], at[:, None, 1] - at[None, :, 1])
    try:
        found = _solved(apart)
    except ModuleNotFoundError:
        found = _mended(apart)
    # A way and its reverse are one: begin at the western end.
    first, last = tuple(at[found[0]]), tuple(at[found[-1]])
    return found if first <= last else found[::-1]


def _solved(apart: Floats) -> list[int]:
    from ortools.constraint_solver import pywrapcp, routing_enums_pb2

    n = len(apart)
    # Stop 0 is nowhere: from it and to it costs nothing, so the way is open at both ends.
    cost = np.zeros((n + 1, n + 1), dtype=np.int64)
    cost[1:, 1:] = np.rint(apart * 10)
    manager: Any = pywrapcp.RoutingIndexManager(n + 1, 1, 0)
    routing: Any = pywrapcp.RoutingModel(manager)
    routing.SetArcCostEvaluatorOfAllVehicles(routing.RegisterTransitMatrix(cost.tolist()))
    search: Any = pywrapcp.DefaultRoutingSearchParameters()
    search.first_solution_strategy = routing_enums_pb2.FirstSolutionStrategy.PATH_CHEAPEST_ARC
    # Descent ends by itself: a limit of time would make the order depend on the machine.
    search.local_search_metaheuristic = routing_enums_pb2.LocalSearchMetaheuristic.GREEDY_DESCENT
    solution = routing.SolveWithParameters(search)
    found, index = [], routing.Start(0)
    while not routing.IsEnd(index):
        node = manager.IndexToNode(index)
        if node:
            found.append(node - 1)
        index = solution.Value(routing.NextVar(index))
    return found


def _mended(apart: Floats) -> list[int]:
    n = len(apart)
    way, left = [0], set(range(1, n))
    while left:
        here = way[-1]
        way.append(min(left, key=lambda k: (apart[here, k], k)))
        left.remove(way[-1])
    for _ in range(settings().two_opt_rounds):
        better = False
        for i in range(n - 1):
            for j in range(i + 1, n):
                before = apart[way[i - 1], way[i]] if i else 0.0
                after = apart[way[j], way[j + 1]] if j + 1 < n else 0.0
                new = (apart[way[i - 1], way[j]] if i else 0.0) + (
                    apart[way[i], way[j + 1]] if j + 1 < n else 0.0
                )
                if new < before + after - 1e-9:
                    way[i : j + 1] = way[i : j + 1][::-1]
                    better = True
        if not better:
            break
    return way


def tour_length_m(at: Floats, order: Sequence[int]) -> float:
    """Give the length of a way through stops [m], in straight lines."""
    steps = np.diff(at[list(order)], axis=0)
    return float(np.hypot(*steps.T).sum()) if len(steps) else 0.0
