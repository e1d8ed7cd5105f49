"""Root loss as areas: what the cuts take of a zone, by window of bearings.

A loss is kept as terms: pieces with a weight, whose areas add up to it over any window.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bolewalk.impact.envelope import fill_gaps, lower_envelope, under
from bolewalk.impact.pieces import RIM, TURN, Pieces, area, concat, segment_pieces

__all__ = ["Ground", "Zones", "areas_by_owner", "by_sector", "clear_arcs", "inner_area", "settle"]

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]

_SECTOR = TURN / 8
OUTLINE_POINTS = 360


@dataclass(frozen=True, slots=True)
class Zones:
    """Root zones, one row a zone.

    Attributes
    ----------
    radius : ndarray, shape (n,)
        Disc radius, or the largest distance of the outline [m].
    area : ndarray, shape (n,)
        [m2]
    outline : ndarray, shape (m, 360)
        Distances on whole degrees of bearing [m].
    outline_row : ndarray of int64, shape (n,)
        Row of `outline`, -1 for a disc.
    """

    radius: Floats
    area: Floats
    outline: Floats
    outline_row: Ints

    def take(self, rows: Ints) -> "Zones":
        """Give some zones, by position."""
        return Zones(self.radius[rows], self.area[rows], self.outline, self.outline_row[rows])

    def edges(self, rows: Ints) -> Pieces:
        """Give the straight edges of outlined zones; owner is the position in `rows`' values."""
        z = self.outline[self.outline_row[rows]]
        t = np.deg2rad(np.arange(OUTLINE_POINTS))
        x, y = z * np.cos(t), z * np.sin(t)
        seg = np.stack([x, y, np.roll(x, -1, axis=1), np.roll(y, -1, axis=1)], axis=-1)
        owner = np.repeat(rows, OUTLINE_POINTS)
        reach = self.radius[owner] * (1 + 1e-9)
        edges, _ = segment_pieces(seg.reshape(-1, 4), owner, reach, np.full(len(owner), -1))
        return edges


@dataclass(frozen=True, slots=True)
class Ground:
    """Accounts settled: `terms` with `weight` add up to the area lost; `cuts` are the visible
    cuts, `rim` the edge of what is left over the whole turn, None where it was not needed;
    `taken` marks trunks
    inside a cut, `patched` those that lose something by area, `patch_holds` those in a patch."""

    zones: Zones
    terms: Pieces
    weight: Floats
    cuts: Pieces
    rim: Pieces | None
    taken: Flags
    patched: Flags
    patch_holds: Flags


def settle(
    cuts: Pieces,
    chain: Ints,
    taken: Flags,
    zones: Zones,
    *,
    patches: Pieces,
    patch_holds_trunk: Flags,
    need_rim: bool,
) -> Ground:
    """Find what the cuts take of every zone.

    Parameters
    ----------
    cuts : Pieces
        Near sides of the cuts, owner = row of `zones`, clipped to the zone's radius.
    chain : ndarray of int64
        Ring of each cut piece.
    taken, patch_holds_trunk : ndarray of bool, shape (n,)
        Trunk inside a cut; trunk inside a patch.
    zones : Zones
    patches : Pieces
        Both sides of the outlines of patches taken by area, clipped likewise.
    need_rim : bool
        Whether the edge of what is left will be asked for.
    """
    n = len(zones.radius)
    live = ~taken[cuts.owner]
    cuts, chain = cuts.take(live), chain[live]
    outlined = np.flatnonzero(zones.outline_row >= 0)
    edges = zones.edges(outlined)
    if len(outlined):
        chains = np.concatenate([chain, np.full(len(edges), -1, dtype=np.int64)])
        env = lower_envelope(concat([cuts, edges]), chains)
    else:
        env = lower_envelope(cuts, chain)
    seen = env.take(env.source >= 0)
    disc = seen.take(zones.outline_row[seen.owner] < 0) if len(outlined) else seen
    k = len(disc)
    rims = Pieces(
        disc.owner, disc.t0, disc.t1, np.full(k, RIM, dtype=np.int8), disc.a, disc.b, disc.c,
        disc.branch, disc.sign, disc.cap, disc.source,
    )  # fmt: skip
    terms, weight = [disc, rims], [np.full(k, -1.0), np.ones(k)]
    if len(outlined):
        whole = env.take(zones.outline_row[env.owner] >= 0)
        edges = edges.take(~taken[edges.owner])
        whole = whole.take(~taken[whole.owner])
        terms += [whole, edges]
        weight += [np.full(len(whole), -1.0), np.ones(len(edges))]
    rim = None
    patched = np.zeros(n, dtype=bool)
    patched[patches.owner] = True
    patched |= patch_holds_trunk
    patched &= ~taken
    if need_rim or patched.any():
        rim = fill_gaps(env, np.arange(n), zones.radius)
        rim = rim.take(~taken[rim.owner])
    if rim is not None and patched.any():
        mine, beyond = under(patches.take(~taken[patches.owner]), rim)
        around = rim.take(patch_holds_trunk[rim.owner])
        terms += [mine, beyond, around]
        weight += [mine.sign, -mine.sign, np.ones(len(around))]
    return Ground(
        zones, concat(terms), np.concatenate(weight), seen, rim, taken, patched, patch_holds_trunk
    )


def areas_by_owner(p: Pieces, weight: Floats, n: int) -> Floats:
    """Add up weighted areas for each of n owners [m2]."""
    sums = np.bincount(p.owner, weights=weight * area(p), minlength=n)
    return sums.astype(np.float64)  # numpy counts in integers where there are no rows


def by_sector(p: Pieces, weight: Floats, n: int) -> Floats:
    """Add up weighted areas in the eight compass sectors, shape (n, 8), north first [m2]."""
    k0 = np.floor(p.t0 / _SECTOR + 0.5).astype(np.int64)
    k1 = np.floor(p.t1 / _SECTOR + 0.5).astype(np.int64)
    count = k1 - k0 + 1
    row = np.repeat(np.arange(len(p)), count)
    k = np.arange(len(row)) - np.repeat(np.cumsum(count) - count, count) + np.repeat(k0, count)
    t0 = np.maximum(p.t0[row], (k - 0.5) * _SECTOR)
    t1 = np.minimum(p.t1[row], (k + 0.5) * _SECTOR)
    some = np.flatnonzero(t1 > t0)
    row, k = row[some], k[some] % 8
    cut = p.within(row, t0[some], t1[some])
    sums = np.bincount(cut.owner * 8 + k, weights=weight[row] * area(cut), minlength=8 * n)
    return sums.astype(np.float64).reshape(n, 8)


def inner_area(p: Pieces, holds_trunk: Flags, ground: Ground) -> Floats:
    """Area [m2] of footprints that lies this side of every cut and of the zone's edge.

    Parameters
    ----------
    p : Pieces
        Both sides of the outlines of a union of footprints.
    holds_trunk : ndarray of bool, shape (n,)
        Whether that union holds the trunk.
    ground : Ground
        Settled with `need_rim`.
    """
    if ground.rim is None:
        raise ValueError("the ground was settled without its rim; pass need_rim=True.")
    n = len(holds_trunk)
    mine, beyond = under(p.take(~ground.taken[p.owner]), ground.rim)
    # Every bearing counts what lies before an outline; what reaches the rim cancels out, and a
    # union that holds the trunk begins at the trunk.
    around = ground.rim.take(holds_trunk[ground.rim.owner])
    return (
        areas_by_owner(mine, mine.sign, n)
        - areas_by_owner(beyond, mine.sign, n)
        + areas_by_owner(around, np.ones(len(around)), n)
    )


def clear_arcs(p: Pieces, n: int) -> tuple[Floats, Floats]:
    """Widest run of bearings without a piece, for each of n owners.

    Returns
    -------
    width, start : ndarray, shape (n,)
        [rad]; a whole turn from north where there is no piece. The first from north where
        several are equally wide.
    """
    width, start = np.full(n, TURN), np.zeros(n)
    if not len(p):
        return width, start
    p = p.take(np.lexsort((p.t0, p.owner)))
    first = np.r_[True, p.owner[1:] != p.owner[:-1]]
    head = np.flatnonzero(first)
    # Pieces may overlap: a gap begins at the farthest end so far. Owners are kept apart by
    # more than a turn.
    shift = p.owner * (2 * TURN)
    reach = p.t1 + shift
    holder = np.where(reach >= np.maximum.accumulate(reach), np.arange(len(p)), 0)
    far = p.t1[np.maximum.accumulate(holder)]
    last = np.r_[head[1:], len(p)] - 1
    gap = np.empty(len(p))
    gap[1:] = p.t0[1:] - far[:-1]
    gap[head] = p.t0[head] + TURN - far[last]
    gap_start = np.empty(len(p))
    gap_start[1:] = far[:-1]
    gap_start[head] = far[last]
    order = np.lexsort((np.mod(gap_start, TURN), -np.round(gap, 12), p.owner))
    best = order[head]
    owners = p.owner[best]
    width[owners] = np.maximum(gap[best], 0.0)
    start[owners] = gap_start[best]
    width[width < 1e-9] = 0.0
    return width, start
