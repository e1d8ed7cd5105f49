"""Low, likely and high of many lines at once, by seeded simulation."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bolewalk.pricing.tasks import TaskHours, hours_table

__all__ = ["Runs", "simulate_hours"]


@dataclass(frozen=True, slots=True)
class Runs:
    """Simulated crew hours and debris factors, shape (n_lines, n_runs)."""

    hours: NDArray[np.float32]
    debris: NDArray[np.float32]

    def band(self) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Give the low and high hours of each line, at the table's percentiles."""
        sim = hours_table()["simulation"]
        low, high = np.percentile(self.hours, [sim["low_pct"], sim["high_pct"]], axis=1)
        return low, high


def simulate_hours(
    lines: Sequence[TaskHours],
    mass_bands: Sequence[tuple[float, float, float] | None],
    *,
    runs: int | None = None,
    seed: int | None = None,
) -> Runs:
    """Draw crew hours for each line.

    Each line's hours scatter lognormally about their likely value: the task's own scatter, part
    of it common to the whole job (a slow day slows every line), the green mass of its tree
    through the powers of its stages, and what unrecorded access adds.

    Parameters
    ----------
    lines : sequence of TaskHours, length n_lines
    mass_bands : sequence, length n_lines
        (low, likely, high) green mass [any unit, > 0] of each line's tree, None where it has no
        part in the hours.
    runs, seed : int, optional
        Default: the table's.

    Returns
    -------
    Runs
        Same seed and lines, same runs. The median of each line is near its likely hours.
    """
    sim = hours_table()["simulation"]
    n_runs = int(runs or sim["runs"])
    n = len(lines)
    rng = np.random.Generator(np.random.PCG64(sim["seed"] if seed is None else seed))

    def column(values: Sequence[float]) -> NDArray[np.float32]:
        # Single precision is far finer than any hour guessed, and twice as quick.
        return np.asarray(values, dtype=np.float32).reshape(n, 1)

    sigma = column([np.log1p(t.spread_pct / 100) for t in lines])
    unknown = column([np.log1p(t.unknown_pct / 100) for t in lines])
    mass_sigma = column(
        [0.0 if m is None else np.log(m[2] / m[0]) / (2 * sim["mass_band_sigmas"])
         for m in mass_bands]
    )  # fmt: skip
    job = rng.standard_normal((1, n_runs), dtype=np.float32)
    access = rng.standard_normal((1, n_runs), dtype=np.float32)
    own = rng.standard_normal((n, n_runs), dtype=np.float32)
    mass = rng.standard_normal((n, n_runs), dtype=np.float32) * mass_sigma
    shared = np.float32(sim["shared"])
    scatter = np.exp(sigma * (np.sqrt(shared) * job + np.sqrt(1 - shared) * own))
    cut = column([t.cut for t in lines]) * np.exp(column([t.cut_power for t in lines]) * mass)
    handle = column([t.handle for t in lines]) * np.exp(
        column([t.handle_power for t in lines]) * mass + unknown * access
    )
    return Runs((column([t.set_up for t in lines]) + cut + handle) * scatter, np.exp(mass))
