"""Layouts on seeded sites: against taking the most worth first, and against the proven bound.

    python bench/planting.py [spots] [effort]

The large site: 2,000 spots x 8 kinds with dense conflicts, about two million pairs. Worth is the
crown at maturity times how well the spot suits the kind. Then 200 spots x 8 kinds, proven.
"""

import math
import sys
import time

import numpy as np

from bolewalk.planting.layout import lay_out
from bolewalk.planting.layout_problem import LayoutProblem, spacing_broken


def site(spots, kinds=8, side_m=80.0, seed=20):
    """Seeded spots with kinds of 2 to 9 m crown width, each suited to each spot by chance."""
    rng = np.random.default_rng(seed)
    xy = rng.uniform(0, side_m, (spots, 2))
    radius = np.linspace(1.0, 4.5, kinds)
    spacing = radius[:, None] + radius[None, :]
    spot, kind = np.divmod(np.arange(spots * kinds), kinds)
    suits = rng.uniform(0.3, 1.0, spots * kinds)
    worth = np.rint(10 * math.pi * radius[kind] ** 2 * suits).astype(np.int64)
    return LayoutProblem(xy, spacing, spot, kind, worth)


def run(name, problem, effort):
    began, cpu = time.perf_counter(), time.process_time()
    start, _ = problem.neighbours()
    pairs = int(start[-1]) // 2
    found = lay_out(problem, effort=effort)
    took, worked = time.perf_counter() - began, time.process_time() - cpu
    assert not spacing_broken(problem, found.chosen)
    over = 100 * (found.worth / found.greedy_worth - 1)
    print(
        f"{name}: {problem.n_options} options, {pairs} conflicts; most worth first "
        f"{found.greedy_worth}, layout {found.worth} (+{over:.1f} %), bound {found.bound} "
        f"(gap {found.gap_pct:.1f} %), {found.status}, {len(found.chosen)} plants, {took:.1f} s, "
        f"{worked:.1f} s of processor"
    )


if __name__ == "__main__":
    spots = int(sys.argv[1]) if len(sys.argv) > 1 else 2000
    effort = float(sys.argv[2]) if len(sys.argv) > 2 else 1.0
    run("large", site(spots, side_m=80.0 * math.sqrt(spots / 2000)), effort)
    run("small", site(200, side_m=80.0 * math.sqrt(200 / 2000)), effort)
