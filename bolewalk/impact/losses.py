"""Root loss of many trees at once, for every phase of the works."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from bolewalk.impact.accounts import (
    Ground,
    Zones,
    areas_by_owner,
    by_sector,
    clear_arcs,
    inner_area,
    settle,
)  # fmt: skip
from bolewalk.impact.halves import best_halves
from bolewalk.impact.pieces import Pieces, concat, empty
from bolewalk.impact.scene import Scene
from bolewalk.impact.sight import Seen, nearest_m, see

__all__ = [
    "N_PHASES", "LossTable", "Settling", "Stand", "loss_tables", "nearest_by_phase", "reach_of",
    "severed_pct",
]  # fmt: skip

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]
Piles = Literal["made", "dodged", "blind"]
"""As each is told to be made, all dug by hand around roots, or all bored through them."""

N_PHASES = 3
_CHUNK = 8192


@dataclass(frozen=True, slots=True)
class LossTable:
    """Root loss, shape (trees, phases) each, phases as running totals: existing, with proposed,
    with possible later. Shares in percent; `nearest_m` inf and `best_half_bearing` NaN where
    there is none; `sectors_pct` (trees, phases, 8) north first."""

    overlap_pct: Floats
    severed_pct: Floats
    severed_by_depth_pct: Floats
    covered_pct: Floats
    nearest_m: Floats
    widest_clear_arc_deg: Floats
    best_half_severed_pct: Floats
    best_half_bearing: Floats
    dodged_pct: Floats
    blind_pct: Floats
    sectors_pct: Floats


@dataclass(frozen=True, slots=True)
class Stand:
    """Trees set into one scene: positions (east, north) [m], shape (n, 2), and their zones."""

    scene: Scene
    trees_xy: Floats
    zones: Zones


def loss_tables(stands: Sequence[Stand]) -> list[LossTable]:
    """Work out root loss for every tree of every stand, all together."""
    out = []
    for stand in stands:
        n = len(stand.trees_xy)
        parts = [_table(stand, np.arange(k, min(k + _CHUNK, n))) for k in range(0, n, _CHUNK)] or [
            _blank(0)
        ]
        out.append(
            LossTable(
                *(
                    np.concatenate([getattr(p, name) for p in parts])
                    for name in LossTable.__dataclass_fields__
                )
            )
        )
    return out


def severed_pct(stand: Stand, *, phase: int = 1) -> Floats:
    """Share of each zone severed [%] and nothing else, shape (n,).

    Parameters
    ----------
    stand : Stand
    phase : 0, 1 or 2
        Existing works alone, with proposed, with possible later.
    """
    scene, n = stand.scene, len(stand.trees_xy)
    out = np.zeros(n)
    for k in range(0, n, _CHUNK):
        zones = stand.zones.take(np.arange(k, min(k + _CHUNK, n)))
        at = scene.local(stand.trees_xy[k : k + _CHUNK])
        reach = reach_of(zones)
        tree = np.unique(scene.near(at, reach)[0])
        if len(tree):
            seen = see(scene.cuts, at, reach)
            cases = Settling(scene, at, reach, zones, seen, tree, np.full(len(tree), phase))
            out[k + tree] = np.clip(cases.total_pct(piles="made"), 0.0, 100.0)
    return out


def _blank(n: int) -> LossTable:
    def full(value: float) -> Floats:
        return np.full((n, N_PHASES), value)

    return LossTable(
        overlap_pct=full(0.0), severed_pct=full(0.0), severed_by_depth_pct=full(0.0),
        covered_pct=full(0.0), nearest_m=full(np.inf), widest_clear_arc_deg=full(360.0),
        best_half_severed_pct=full(0.0), best_half_bearing=full(np.nan), dodged_pct=full(0.0),
        blind_pct=full(0.0), sectors_pct=np.zeros((n, N_PHASES, 8)),
    )  # fmt: skip


def _table(stand: Stand, rows: Ints) -> LossTable:
    scene = stand.scene
    zones = stand.zones.take(rows)
    at = scene.local(stand.trees_xy[rows])
    n = len(rows)
    table = _blank(n)
    reach = reach_of(zones)
    near_tree, near_work = scene.near(at, reach)
    touched = np.zeros((n, N_PHASES), dtype=bool)
    touched[near_tree, scene.phase[near_work]] = True
    # A phase that brings nothing near a tree leaves its losses as they were.
    tree, phase = np.nonzero(touched)
    seen = see(scene.cuts, at, reach)
    table.nearest_m[:] = nearest_by_phase(scene, at, seen)
    if not len(tree):
        return table
    cases = Settling(scene, at, reach, zones, seen, tree, phase)
    piles = _any_near(tree, phase, near_tree, near_work, scene.pile[near_work], scene.phase, n)
    dodged = _any_near(tree, phase, near_tree, near_work, scene.dodged[near_work], scene.phase, n)
    ground = cases.settle(piles="made", dodged=dodged, need_rim=True)
    size = zones.area[tree]
    m = len(tree)
    sectors = by_sector(ground.terms, ground.weight, m)
    whole = _sector_areas(ground.zones)
    sectors[ground.taken] = whole[ground.taken]
    severed = sectors.sum(axis=1) * 100 / size
    _put(table.sectors_pct, tree, phase, np.clip(100 * sectors / whole, 0.0, 100.0))
    _put(table.severed_pct, tree, phase, np.clip(severed, 0.0, 100.0))
    arc = np.where(ground.taken, 0.0, np.rad2deg(clear_arcs(ground.cuts, m)[0]))
    _put(table.widest_clear_arc_deg, tree, phase, arc)
    share, middle = best_halves(ground)
    _put(table.best_half_severed_pct, tree, phase, np.clip(share, 0.0, 100.0))
    _put(table.best_half_bearing, tree, phase, middle)
    covered, overlap = cases.covered_and_overlap(ground)
    _put(table.covered_pct, tree, phase, np.clip(100 * covered / size, 0.0, 100.0))
    _put(table.overlap_pct, tree, phase, np.clip(100 * overlap / size, 0.0, 100.0))
    blind, spared = severed.copy(), severed.copy()
    some = np.flatnonzero(dodged)
    if len(some):
        blind[some] = cases.some(some).total_pct(piles="blind")
    some = np.flatnonzero(piles)
    if len(some):
        spared[some] = cases.some(some).total_pct(piles="dodged")
    _put(table.blind_pct, tree, phase, np.clip(blind, 0.0, 100.0))
    _put(table.dodged_pct, tree, phase, np.clip(spared, 0.0, 100.0))
    by_depth = cases.by_depth_pct(severed, near_tree, near_work)
    _put(table.severed_by_depth_pct, tree, phase, np.clip(by_depth, 0.0, 100.0))
    for k in range(1, N_PHASES):
        same = ~touched[:, k]
        for name in LossTable.__dataclass_fields__:
            if name != "nearest_m":
                values = getattr(table, name)
                values[same, k] = values[same, k - 1]
    return table


def reach_of(zones: Zones) -> Floats:
    """Radius [m] edges are clipped to; the corners of an outline must not be lost to rounding."""
    return np.where(zones.outline_row >= 0, zones.radius * (1 + 1e-9), zones.radius)


def _put(values: Floats, tree: Ints, phase: Ints, new: Floats) -> None:
    values[tree, phase] = new


def _any_near(
    tree: Ints, phase: Ints, near_tree: Ints, near_work: Ints, of: Flags, phases: Ints, n: int
) -> Flags:
    """Whether each case has, up to its phase, a near work of some sort."""
    has = np.zeros((n, N_PHASES), dtype=bool)
    has[near_tree[of], phases[near_work[of]]] = True
    return np.logical_or.accumulate(has, axis=1)[tree, phase]


def _sector_areas(zones: Zones) -> Floats:
    whole = np.repeat(zones.area[:, None] / 8, 8, axis=1)
    outlined = np.flatnonzero(zones.outline_row >= 0)
    if len(outlined):
        edges = zones.edges(outlined)
        whole[outlined] = by_sector(edges, np.ones(len(edges)), len(whole))[outlined]
    return whole


def nearest_by_phase(scene: Scene, at: Floats, seen: Seen) -> Floats:
    """Distance [m] from each trunk to the nearest cut up to each phase, shape (n, phases); inf
    where there is none, 0 inside one."""
    out = np.empty((len(at), N_PHASES))
    least = np.full(len(at), np.inf)
    for k in range(N_PHASES):
        groups = np.flatnonzero(scene.cutting & (scene.phase == k))
        if len(groups):
            least = np.minimum(least, nearest_m(scene.cuts, groups, at))
            inside = seen.held_trunk[scene.phase[seen.held_group] == k]
            least[inside] = 0.0
        out[:, k] = least
    return out


class Settling:
    """The accounts of some trees and phases; cases are rows of `tree` and `phase`."""

    def __init__(
        self, scene: Scene, at: Floats, reach: Floats, zones: Zones, seen: Seen, tree: Ints,
        phase: Ints,
    ) -> None:  # fmt: skip
        self.scene, self.at, self.reach, self.zones = scene, at, reach, zones
        self.seen, self.tree, self.phase = seen, tree, phase
        source = seen.pieces.source
        flat = np.concatenate([scene.cuts.area_of < 0, np.zeros(len(scene.cuts.arcs), dtype=bool)])
        self._front = (seen.pieces.sign < 0) | flat[source]

    def some(self, rows: Ints) -> "Settling":
        return Settling(
            self.scene, self.at, self.reach, self.zones, self.seen, self.tree[rows],
            self.phase[rows],
        )  # fmt: skip

    def settle(
        self,
        *,
        piles: Piles,
        dodged: Flags | None,
        need_rim: bool,
        least_share: Floats | None = None,
        extra: Pieces | None = None,
    ) -> Ground:
        """Settle each case; `least_share` leaves out works whose share of roots is smaller,
        `extra` adds cuts of its own to each case."""
        scene, seen, m = self.scene, self.seen, len(self.tree)
        if piles == "made":
            by_area = scene.dodged
        elif piles == "dodged":
            by_area = scene.pile
        else:
            by_area = np.zeros(len(scene.works), dtype=bool)
        rows = np.flatnonzero(self._front & ~by_area[seen.group])
        case, at = self._spread(seen.pieces.owner[rows])
        rows = rows[at]
        keep = scene.phase[seen.group[rows]] <= self.phase[case]
        hcase, hat = self._spread(seen.held_trunk)
        hkeep = scene.phase[seen.held_group[hat]] <= self.phase[hcase]
        if least_share is not None:
            keep &= scene.share[seen.group[rows]] >= least_share[case]
            hkeep &= scene.share[seen.held_group[hat]] >= least_share[hcase]
        rows, case = rows[keep], case[keep]
        taken = np.zeros(m, dtype=bool)
        taken[hcase[hkeep]] = True
        patches, holds = empty(), np.zeros(m, dtype=bool)
        wanted = self.phase >= 0 if dodged is None else dodged
        if by_area.any() and wanted.any():
            patches, holds = self._patches(by_area, wanted, least_share)
        cuts, chain = seen.pieces.take(rows).owned(case), seen.chain[rows]
        if extra is not None:
            chain = np.concatenate([chain, np.full(len(extra), -2)])  # rings count from 0
            cuts = concat([cuts, extra])
        return settle(
            cuts,
            chain,
            taken,
            self.zones.take(self.tree),
            patches=patches,
            patch_holds_trunk=holds,
            need_rim=need_rim,
        )

    def _spread(self, trees: Ints) -> tuple[Ints, Ints]:
        """Repeat rows by tree for every case of that tree: (case, row)."""
        order = np.argsort(self.tree, kind="stable")
        ordered = self.tree[order]
        first = np.searchsorted(ordered, trees, side="left")
        count = np.searchsorted(ordered, trees, side="right") - first
        row = np.repeat(np.arange(len(trees)), count)
        step = np.arange(len(row)) - np.repeat(np.cumsum(count) - count, count)
        return order[np.repeat(first, count) + step], row

    def _patches(
        self, by_area: Flags, wanted: Flags, least_share: Floats | None
    ) -> tuple[Pieces, Flags]:
        scene = self.scene
        parts, holds = [empty()], np.zeros(len(self.tree), dtype=bool)
        share = np.zeros(len(self.tree)) if least_share is None else least_share
        sets = np.stack([self.phase.astype(np.float64), share], axis=1)
        which, at = np.unique(sets, axis=0, return_inverse=True)
        for k, (phase, least) in enumerate(which):
            cases = np.flatnonzero((at.ravel() == k) & wanted)
            works = np.flatnonzero(
                scene.cutting & by_area & (scene.phase <= phase) & (scene.share >= least)
            )
            if len(cases) and len(works):
                pieces, inside = self._union(np.zeros(0, dtype=np.int64), works, cases)
                parts.append(pieces)
                holds[inside] = True
        return concat(parts), holds

    def _union(self, plain: Ints, grown: Ints, cases: Ints) -> tuple[Pieces, Ints]:
        trees = self.tree[cases]
        seen = see(self.scene.union(plain, grown), self.at[trees], self.reach[trees])
        return seen.pieces.owned(cases[seen.pieces.owner]), cases[seen.held_trunk]

    def covered_and_overlap(self, ground: Ground) -> tuple[Floats, Floats]:
        """Areas [m2] covered but not severed, and under severing footprints."""
        scene, m = self.scene, len(self.tree)
        covered, overlap = np.zeros(m), np.zeros(m)
        none = np.zeros(0, dtype=np.int64)
        open_ground = settle(
            empty(), none, np.zeros(m, dtype=bool), ground.zones, patches=empty(),
            patch_holds_trunk=np.zeros(m, dtype=bool), need_rim=True,
        )  # fmt: skip
        for phase in np.unique(self.phase):
            cases = np.flatnonzero(self.phase == phase)
            so_far = scene.phase <= phase
            cuts = np.flatnonzero(scene.cutting & so_far)
            covers = np.flatnonzero(scene.covering & so_far)
            patched = np.flatnonzero(scene.cutting & scene.dodged & so_far)
            if len(cuts):
                overlap += self._inner(cuts, none, cases, open_ground)
            if len(covers):
                with_patches = patched if ground.patched[cases].any() else none
                covered += self._inner(covers, with_patches, cases, ground)
                if len(with_patches):
                    covered -= self._inner(none, with_patches, cases, ground)
        return covered, overlap

    def _inner(self, plain: Ints, grown: Ints, cases: Ints, ground: Ground) -> Floats:
        pieces, inside = self._union(plain, grown, cases)
        holds = np.zeros(len(self.tree), dtype=bool)
        holds[inside] = True
        return inner_area(pieces, holds, ground)

    def total_pct(self, *, piles: Piles, least_share: Floats | None = None) -> Floats:
        """Share of the zone severed [%], nothing else."""
        ground = self.settle(piles=piles, dodged=None, need_rim=False, least_share=least_share)
        m = len(self.tree)
        lost = areas_by_owner(ground.terms, ground.weight, m)
        size = ground.zones.area
        return np.where(ground.taken, 100.0, 100.0 * lost / size)

    def by_depth_pct(self, severed: Floats, near_tree: Ints, near_work: Ints) -> Floats:
        """Severed share with each cut taking only the roots above its depth [%].

        Roots above the depth of some cut are lost beyond it, so the loss is a sum over the
        depths that occur: what every cut at least that deep severs, times the share of roots
        between that depth and the next shallower one.
        """
        scene = self.scene
        cuts = scene.cutting[near_work]
        case, at = self._spread(near_tree[cuts])
        work = near_work[cuts][at]
        keep = scene.phase[work] <= self.phase[case]
        levels = np.unique(np.stack([case[keep], scene.share[work[keep]]], axis=1), axis=0)
        out = np.zeros(len(self.tree))
        if not len(levels):
            return out
        case, share = levels[:, 0].astype(np.int64), levels[:, 1]
        first = np.r_[True, case[1:] != case[:-1]]
        gain = share - np.where(first, 0.0, np.r_[0.0, share[:-1]])
        out[case[first]] = severed[case[first]] * gain[first]
        deeper = np.flatnonzero(~first)
        if len(deeper):
            rest = self.some(case[deeper]).total_pct(piles="made", least_share=share[deeper])
            out += np.bincount(case[deeper], weights=rest * gain[deeper], minlength=len(out))
        return out
