"""The nearest allowed cut: how near a straight trench may come on each side."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from bolewalk.impact.accounts import Ground, areas_by_owner
from bolewalk.impact.halves import best_halves
from bolewalk.impact.losses import Settling, reach_of
from bolewalk.impact.pieces import Pieces, segment_pieces
from bolewalk.impact.results import CutLimit, NearestCut, RootZone
from bolewalk.impact.roots import zones_table
from bolewalk.impact.scene import Scene
from bolewalk.impact.sight import see
from bolewalk.model.words import Verdict

__all__ = ["CutLimits", "bearing_names", "nearest_allowed_cuts"]

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

_NAMES = (
    "N", "NNE", "NE", "ENE", "E", "ESE", "SE", "SSE",
    "S", "SSW", "SW", "WSW", "W", "WNW", "NW", "NNW",
)  # fmt: skip
_PROPOSED = 1
# The trench found stays this far inside its limit, give or take half, in percent of the zone.
_SHY_PCT = 2e-7
_ROUNDS = 80


@dataclass(frozen=True, slots=True)
class CutLimits:
    """What one tree may lose [percent]: severed for keep and for keep_if, and the best half."""

    severed_keep_pct: float
    severed_keep_if_pct: float
    best_half_pct: float


def bearing_names(count: Literal[8, 16]) -> tuple[str, ...]:
    """Give the compass names of 8 or 16 bearings, north first, clockwise."""
    if count not in (8, 16):
        raise ValueError(f"count is {count!r}; expected 8 or 16 bearings.")
    return _NAMES if count == 16 else _NAMES[::2]


def nearest_allowed_cuts(
    trees_xy: NDArray[np.float64],
    zones: Sequence[RootZone],
    scene: Scene,
    limits: Sequence[CutLimits],
    levels: Sequence[Verdict],
    *,
    cut_length_m: float | None = None,
    bearings: Literal[8, 16] = 8,
) -> list[NearestCut]:
    """Find how near a straight trench square to each bearing may come to each tree.

    Everything there and proposed stays as it is; the trench comes on top. Its root loss rises
    steadily as it nears, so the distance at which a limit is met is searched for.

    Parameters
    ----------
    trees_xy : ndarray, shape (n, 2)
        Trunk centres (east, north) [m].
    zones : sequence of RootZone, length n
    scene : Scene
    limits : sequence of CutLimits, length n
    levels : sequence of Verdict, length n
        The verdict of each tree with what is there and proposed, by recorded facts (keep, keep_if
        or redesign).
    cut_length_m : float, optional
        Length of the trench, centred on the bearing; across the whole zone where left out.
    bearings : 8 or 16

    Returns
    -------
    list of NearestCut
        Without spans, tapes and notes, which `cut_band` adds. Distance from trunk centre to the
        trench's near face, the same for any width of trench. A distance is never below the
        structural radius. Beyond the limit's figure by no more than 1e-9, short of it by no more
        than 1e-6 percent of the zone.

    Raises
    ------
    ValueError
        Lengths differ, or cut_length_m is not > 0.
    """
    n = len(zones)
    if not len(trees_xy) == len(limits) == len(levels) == n:
        raise ValueError("give one position, zone, CutLimits and level a tree.")
    if cut_length_m is not None and not cut_length_m > 0:
        raise ValueError(f"cut_length_m is {cut_length_m!r}; it must be > 0.")
    names = bearing_names(bearings)
    if n == 0:
        return []
    search = _Search(np.asarray(trees_xy, dtype=np.float64), zones, scene, names, cut_length_m)
    keep = search.solve(
        np.array([level == "keep" for level in levels]),
        np.array([x.severed_keep_pct for x in limits]),
        None,
    )
    keep_if = search.solve(
        np.array([level in ("keep", "keep_if") for level in levels]),
        np.array([x.severed_keep_if_pct for x in limits]),
        np.array([x.best_half_pct for x in limits]),
    )
    out = []
    for i in range(n):
        first, second = keep[i], keep_if[i]
        # What is within the limits of keep is within those of keep_if, whatever the best half.
        second = [
            (a, why_a) if b is None or (a is not None and a < b) else (b, why_b)
            for (a, why_a), (b, why_b) in zip(first, second, strict=True)
        ]
        out.append(
            NearestCut(
                keep={k: d for k, (d, _) in zip(names, first, strict=True)},
                keep_if={k: d for k, (d, _) in zip(names, second, strict=True)},
                limit_keep={k: why for k, (_, why) in zip(names, first, strict=True)},
                limit_keep_if={k: why for k, (_, why) in zip(names, second, strict=True)},
            )
        )
    return out


class _Search:
    """Trenches about some trees; a case is one tree and one bearing."""

    def __init__(
        self,
        trees_xy: Floats,
        zones: Sequence[RootZone],
        scene: Scene,
        names: tuple[str, ...],
        length: float | None,
    ) -> None:
        self.n, self.k = len(zones), len(names)
        self.zones = zones_table(zones)
        self.at, self.reach = scene.local(trees_xy), reach_of(self.zones)
        self.seen = see(scene.cuts, self.at, self.reach)
        self.scene = scene
        self.structural = np.array([z.structural_radius_m for z in zones])
        self.half = 2 * self.reach if length is None else np.full(self.n, length / 2)
        self.bearing = np.arange(self.k) * 2 * np.pi / self.k

    def _ground(self, case: Ints, distance: Floats) -> Ground:
        tree = case // self.k
        b = self.bearing[case % self.k]
        cos, sin, half = np.cos(b), np.sin(b), self.half[tree]
        x, y = distance * cos, distance * sin
        seg = np.stack([x + half * sin, y - half * cos, x - half * sin, y + half * cos], axis=1)
        owner = np.arange(len(case))
        line, _ = segment_pieces(seg, owner, self.reach[tree], np.zeros(len(case), dtype=np.int64))
        settling = Settling(
            self.scene, self.at, self.reach, self.zones, self.seen, tree,
            np.full(len(case), _PROPOSED),
        )  # fmt: skip
        return settling.settle(piles="made", dodged=None, need_rim=False, extra=_as_cut(line))

    def _severed(self, case: Ints, distance: Floats) -> Floats:
        ground = self._ground(case, distance)
        lost = areas_by_owner(ground.terms, ground.weight, len(case))
        return np.where(ground.taken, 100.0, 100 * lost / ground.zones.area)

    def _best_half(self, case: Ints, distance: Floats) -> Floats:
        return best_halves(self._ground(case, distance))[0]

    def solve(
        self, open_: NDArray[np.bool_], severed_pct: Floats, best_half_pct: Floats | None
    ) -> list[list[tuple[float | None, CutLimit]]]:
        """Distances by tree and bearing; `open_` tells which trees still have the level."""
        case = np.flatnonzero(np.repeat(open_, self.k))
        tree = case // self.k
        inner = self.structural[tree]
        outer = np.maximum(self.reach[tree], inner)
        distance, held = _bisect(self._severed, case, severed_pct[tree], inner, outer)
        why = np.where(held, "severed", "structural").astype(object)
        if best_half_pct is not None:
            goal = best_half_pct[tree]
            over = np.flatnonzero(self._best_half(case, distance) > goal)
            if len(over):
                further, _ = _bisect(
                    self._best_half, case[over], goal[over], distance[over], outer[over]
                )
                distance[over], why[over] = further, "best_half"
        found: list[list[tuple[float | None, CutLimit]]] = [
            [(None, "already")] * self.k for _ in range(self.n)
        ]
        for c, d, w in zip(case.tolist(), distance.tolist(), why.tolist(), strict=True):
            found[c // self.k][c % self.k] = (d, w)
        return found


def _as_cut(line: Pieces) -> Pieces:
    return Pieces(
        line.owner, line.t0, line.t1, line.kind, line.a, line.b, line.c, line.branch,
        np.full(len(line), -1.0), line.cap, line.source,
    )  # fmt: skip


def _bisect(
    figure: Callable[[Ints, Floats], Floats],
    case: Ints,
    goal: Floats,
    inner: Floats,
    outer: Floats,
) -> tuple[Floats, NDArray[np.bool_]]:
    """Nearest distance at which a figure that falls with distance is within its goal.

    False position, with the weight of an end that stays put halved (Illinois), and a plain
    halving whenever that gains little. Returns the distance and whether the goal held it off
    `inner`.
    """
    aim = goal - _SHY_PCT
    lo, hi = inner.copy(), outer.copy()
    over_lo = figure(case, lo) - aim
    held = over_lo > _SHY_PCT
    out = lo.copy()
    out[held] = hi[held]
    rows = np.flatnonzero(held)
    if not len(rows):
        return out, held
    over_hi = np.zeros(len(case))
    over_hi[rows] = figure(case[rows], hi[rows]) - aim[rows]
    rows = rows[over_hi[rows] < 0]  # else nothing is left to lose: not even the zone's edge
    w_lo, w_hi = over_lo.copy(), over_hi.copy()
    side = np.zeros(len(case))
    for turn in range(_ROUNDS):
        rows = rows[hi[rows] - lo[rows] > 1e-13 * outer[rows]]
        if not len(rows):
            break
        a, b = lo[rows], hi[rows]
        x = b - (b - a) * w_hi[rows] / (w_hi[rows] - w_lo[rows])
        if turn % 4 == 3:
            x = 0.5 * (a + b)
        x = np.clip(x, a, b)
        f = figure(case[rows], x) - aim[rows]
        near = np.abs(f) <= 0.5 * _SHY_PCT
        out[rows[near]] = x[near]
        above, below = rows[f > 0], rows[f <= 0]
        lo[above], w_lo[above] = x[f > 0], f[f > 0]
        w_hi[above[side[above] > 0]] *= 0.5
        side[above] = 1.0
        hi[below], w_hi[below] = x[f <= 0], f[f <= 0]
        out[below] = x[f <= 0]
        w_lo[below[side[below] < 0]] *= 0.5
        side[below] = -1.0
        rows = rows[~near]
    return out, held
