"""The half of the zone that loses least: the exact minimum over all half-discs.

The loss of the half-disc that begins at bearing b changes with b by what the bearing opposite
loses less what b loses, so it can only turn where an edge begins, ends, or meets the mirror
image of an edge on the other side. All those bearings are found in closed form and compared.
Where patches taken by area or a polygon zone come in, the bearings in between are searched.
"""

import numpy as np
from numpy.typing import NDArray

from bolewalk.impact.accounts import Ground, clear_arcs
from bolewalk.impact.envelope import fill_gaps, nearer, overlay
from bolewalk.impact.pieces import TURN, Pieces, area, concat

__all__ = ["best_halves"]

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

_EQUAL = 1e-9  # of the half-zone's area: two half-discs closer than this lose the same
_FINE = 16  # steps between two critical bearings where no closed form holds


def best_halves(ground: Ground) -> tuple[Floats, Floats]:
    """Find the half-disc that loses the smallest share.

    Returns
    -------
    share : ndarray, shape (n,)
        Smallest share lost of a half [%].
    middle : ndarray, shape (n,)
        Compass bearing [deg] of its middle; where several share the minimum, the middle of the
        widest run of them, the first from north of equally wide runs. NaN where all halves
        lose the same.
    """
    zones = ground.zones
    n = len(zones.radius)
    share, middle = np.zeros(n), np.full(n, np.nan)
    share[ground.taken] = 100.0
    outlined = zones.outline_row >= 0
    # Edges of zones lose nothing themselves.
    losing = ground.terms.take(ground.terms.source >= 0)
    width, start = clear_arcs(losing, n)
    touched = np.zeros(n, dtype=bool)
    touched[losing.owner] = True
    touched |= ground.patch_holds
    touched &= ~ground.taken
    width[ground.patch_holds] = 0.0
    clear = touched & (width >= np.pi - 1e-12)
    middle[clear] = np.rad2deg(np.mod(start + width / 2, TURN))[clear]
    searched = touched & ~clear & (outlined | ground.patched)
    closed = np.flatnonzero(touched & ~clear & ~searched)
    if len(closed):
        share[closed], middle[closed] = _closed(ground, closed)
    for owner in np.flatnonzero(searched):
        share[owner], middle[owner] = _searched(ground, int(owner))
    return share, np.mod(middle, 360.0)


def _closed(ground: Ground, owners: Ints) -> tuple[Floats, Floats]:
    n = len(owners)
    rank = np.full(len(ground.zones.radius), -1, dtype=np.int64)
    rank[owners] = np.arange(n)
    cuts = ground.cuts.take(rank[ground.cuts.owner] >= 0)
    cuts = cuts.owned(rank[cuts.owner])
    radius = ground.zones.radius[owners]
    whole = fill_gaps(cuts, np.arange(n), radius)
    # The two half turns laid over one another: the second seen through the trunk.
    near = np.flatnonzero(whole.t0 < np.pi)
    far = np.flatnonzero(whole.t1 > np.pi)
    front = whole.within(near, whole.t0[near], np.minimum(whole.t1[near], np.pi))
    back = whole.within(far, np.maximum(whole.t0[far], np.pi) - np.pi, whole.t1[far] - np.pi)
    k = len(front)
    both = _mirrored(front, back)
    t0, t1 = both.t0, both.t1
    left, right, s0, s1, where = overlay(
        np.arange(len(both)), t0, t1, both.owner, np.arange(len(both)) >= k
    )
    held = (left >= 0) & (right >= 0)
    left, right, s0, s1, where = left[held], right[held], s0[held], s1[held], where[held]
    x1, x2, _ = nearer(both, left, right, s0, s1)
    i = np.repeat(np.arange(len(left)), 3)
    u0 = np.stack([s0, x1, x2], axis=1).ravel()
    u1 = np.stack([x1, x2, s1], axis=1).ravel()
    some = np.flatnonzero(u1 > u0)
    i, u0, u1, at = i[some], u0[some], u1[some], where[i[some]]
    gone_front = area(both.within(left[i], u0, u1))
    gone_back = area(both.within(right[i], u0, u1))
    half = radius * radius * np.pi / 2
    first = half - np.bincount(at, weights=gone_front, minlength=n)
    second = half - np.bincount(at, weights=gone_back, minlength=n)
    step = gone_front - gone_back
    head = np.flatnonzero(np.r_[True, at[1:] != at[:-1]])
    run = np.cumsum(step)
    run = run - np.repeat((run - step)[head], np.diff(np.r_[head, len(at)]))
    after = first[at] + run
    before = after - step
    total = (first + second)[at]
    # Second half turn: what the other half does not lose. Then once more, so that runs across
    # north are whole.
    owner = np.concatenate([at] * 4)
    b0 = np.concatenate([u0 + k * np.pi for k in range(4)])
    b1 = np.concatenate([u1 + k * np.pi for k in range(4)])
    v0 = np.concatenate([before, total - before] * 2)
    v1 = np.concatenate([after, total - after] * 2)
    order = np.lexsort((b0, owner))
    least, mid = _widest_least(owner[order], b0[order], b1[order], v0[order], v1[order], half)
    return 100.0 * least / half, mid


def _mirrored(front: Pieces, back: Pieces) -> Pieces:
    flipped = Pieces(
        back.owner, back.t0, back.t1, back.kind, -back.a, -back.b, back.c, back.branch, back.sign,
        back.cap, back.source,
    )  # fmt: skip
    return concat([front, flipped])


def _widest_least(
    owner: Ints, b0: Floats, b1: Floats, v0: Floats, v1: Floats, scale: Floats
) -> tuple[Floats, Floats]:
    """Smallest value of each owner's steps over two turns, and the middle [deg] of the half-disc
    in the middle of the widest run at it."""
    head = np.flatnonzero(np.r_[True, owner[1:] != owner[:-1]])
    least = np.minimum.reduceat(np.minimum(v0, v1), head)
    most = np.maximum.reduceat(np.maximum(v0, v1), head)
    even = most - least <= _EQUAL * scale
    bound = (least + _EQUAL * scale)[owner]
    flat = (v0 <= bound) & (v1 <= bound)
    at = np.arange(len(owner))
    begins = ~flat
    begins[1:] |= ~flat[:-1]
    begins[head] = True
    run_start = b0[np.maximum.accumulate(np.where(begins, at, -1))]
    width = np.where(flat, np.minimum(b1 - run_start, TURN), np.where(v0 <= bound, 0.0, -1.0))
    centre = np.where(flat, b1 - width / 2, b0)
    bearing = np.mod(centre + np.pi / 2, TURN)
    order = np.lexsort((np.round(bearing, 12), -np.round(width, 9), owner))
    best = order[head]
    middle = np.rad2deg(bearing[best])
    middle[even] = np.nan
    return np.maximum(least, 0.0), middle


def _searched(ground: Ground, owner: int) -> tuple[float, float]:
    """One trunk whose loss has no closed-form critical bearings."""
    mine = ground.terms.owner == owner
    terms, weight = ground.terms.take(mine), ground.weight[mine]
    zones = ground.zones
    edges = zones.edges(np.array([owner])) if zones.outline_row[owner] >= 0 else None
    full = float(zones.area[owner])
    total = float(np.sum(weight * area(terms)))

    def before(p: Pieces, w: Floats, t: Floats) -> Floats:
        rows = np.tile(np.arange(len(p)), len(t))
        end = np.repeat(t, len(p))
        cut = p.within(rows, p.t0[rows], np.clip(end, p.t0[rows], p.t1[rows]))
        sums: Floats = (np.tile(w, len(t)) * area(cut)).reshape(len(t), len(p)).sum(axis=1)
        return sums

    def halves(b: Floats) -> Floats:
        """Share lost of the half that begins at b, and of the other half, shape (2, len)."""
        t = np.concatenate([b, b + np.pi])
        lost = before(terms, weight, t)
        lost = lost[len(b) :] - lost[: len(b)]
        if edges is None:
            size = np.full(len(b), full / 2)
        else:
            held = before(edges, np.ones(len(edges)), t)
            size = held[len(b) :] - held[: len(b)]
        return np.stack([lost / size, (total - lost) / (full - size)])

    marks = np.mod(np.concatenate([terms.t0, terms.t1, [0.0]]), np.pi)
    marks = np.unique(np.round(marks, 13))
    marks = np.append(marks[marks < np.pi - 1e-12], np.pi)
    b = np.unique((marks[:-1, None] + np.diff(marks)[:, None] * np.arange(_FINE) / _FINE).ravel())
    b = np.append(b, np.pi)
    value = halves(b)
    least = float(value.min())
    # Golden-section search in the brackets that could still go lower.
    for turn in range(2):
        row = value[turn]
        inner = np.flatnonzero((row[1:-1] <= row[:-2]) & (row[1:-1] <= row[2:])) + 1
        inner = inner[np.argsort(row[inner], kind="stable")[:4]]
        inner = inner[row[inner] < min(2 * least, least + 0.02) + 1e-6]
        if not len(inner):
            continue
        lo, hi = b[inner - 1].copy(), b[inner + 1].copy()
        ratio = (np.sqrt(5.0) - 1) / 2
        for _ in range(40):
            c, d = hi - ratio * (hi - lo), lo + ratio * (hi - lo)
            left = halves(c)[turn] <= halves(d)[turn]
            hi, lo = np.where(left, d, hi), np.where(left, lo, c)
        found = 0.5 * (lo + hi)
        b = np.concatenate([b, found])
        value = np.concatenate([value, halves(found)], axis=1)
    order = np.argsort(b, kind="stable")
    b, value = b[order], value[:, order]
    v = np.concatenate([value[0, :-1], value[1, :-1]] * 2)
    w = np.concatenate([value[0, 1:], value[1, 1:]] * 2)
    b0 = np.concatenate([b[:-1] + k * np.pi for k in range(4)])
    b1 = np.concatenate([b[1:] + k * np.pi for k in range(4)])
    low, mid = _widest_least(np.zeros(len(b0), dtype=np.int64), b0, b1, v, w, np.ones(1))
    return 100.0 * float(low[0]), float(mid[0])
