"""The few figures a verdict is read from, for many trees at once and nothing else."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bolewalk.impact.accounts import areas_by_owner
from bolewalk.impact.halves import best_halves
from bolewalk.impact.losses import (
    N_PHASES,
    Settling,
    Stand,
    nearest_by_phase,
    reach_of,
)  # fmt: skip
from bolewalk.impact.sight import see

__all__ = ["ReadingTable", "readings"]

Floats = NDArray[np.float64]

_CHUNK = 8192


@dataclass(frozen=True, slots=True)
class ReadingTable:
    """What `judge_roots` reads, shape (trees, 2) each: with proposed works, with later ones too.

    Shares in percent; `nearest_m` inf where there is no cut.
    """

    severed_pct: Floats
    covered_pct: Floats
    best_half_severed_pct: Floats
    nearest_m: Floats


def readings(stand: Stand) -> ReadingTable:
    """Work out the figures of `loss_tables` that a verdict reads.

    Parameters
    ----------
    stand : Stand

    Notes
    -----
    Of the same accounts; the sums are taken in another order, so that the last digits may differ.
    """
    n = len(stand.trees_xy)
    none = np.zeros((n, 2))
    table = ReadingTable(none.copy(), none.copy(), none.copy(), np.full((n, 2), np.inf))
    for k in range(0, n, _CHUNK):
        _read(stand, k, min(k + _CHUNK, n), table)
    return table


def _read(stand: Stand, start: int, stop: int, table: ReadingTable) -> None:
    scene = stand.scene
    zones = stand.zones.take(np.arange(start, stop))
    at = scene.local(stand.trees_xy[start:stop])
    reach = reach_of(zones)
    near_tree, near_work = scene.near(at, reach)
    touched = np.zeros((len(at), N_PHASES), dtype=bool)
    touched[near_tree, scene.phase[near_work]] = True
    touched[:, 1] |= touched[:, 0]
    seen = see(scene.cuts, at, reach)
    table.nearest_m[start:stop] = nearest_by_phase(scene, at, seen)[:, 1:]
    tree, later = np.nonzero(touched[:, 1:])
    if not len(tree):
        return
    cases = Settling(scene, at, reach, zones, seen, tree, later + 1)
    covers = np.zeros((len(at), N_PHASES), dtype=bool)
    some = scene.covering[near_work]
    covers[near_tree[some], scene.phase[near_work[some]]] = True
    covered = np.logical_or.accumulate(covers, axis=1)[tree, later + 1]
    for wanted in (False, True):
        rows = np.flatnonzero(covered == wanted)
        if not len(rows):
            continue
        part = cases.some(rows)
        ground = part.settle(piles="made", dodged=None, need_rim=wanted)
        size = ground.zones.area
        lost = areas_by_owner(ground.terms, ground.weight, len(rows))
        severed = np.where(ground.taken, 100.0, 100.0 * lost / size)
        where = (start + tree[rows], later[rows])
        table.severed_pct[where] = np.clip(severed, 0.0, 100.0)
        table.best_half_severed_pct[where] = np.clip(best_halves(ground)[0], 0.0, 100.0)
        if wanted:
            area = part.covered_and_overlap(ground)[0]
            table.covered_pct[where] = np.clip(100.0 * area / size, 0.0, 100.0)
    alike = start + np.flatnonzero(~touched[:, 2])
    for values in (table.severed_pct, table.covered_pct, table.best_half_severed_pct):
        values[alike, 1] = values[alike, 0]
