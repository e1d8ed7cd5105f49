"""The first edge met on every bearing, and what lies this side of it.

The lower envelope of the pieces about each trunk is built by merging neighbours pairwise, all
trunks at once, in as many rounds as the largest group needs halvings. Where two pieces share
bearings they are cut at their crossings, found in closed form, and the nearer is kept.
"""

import numpy as np
from numpy.typing import NDArray

from bolewalk.impact.pieces import ARC, LINE, RIM, TURN, Pieces, concat, radius

__all__ = ["fill_gaps", "lower_envelope", "nearer", "overlay", "under"]

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]

_STEPS = float(2**40)  # bearings are ordered in steps of 1e-12 rad
_ROOM = 44  # bits of a sort key below its group: 8 * 2**40 steps and one for the kind of event


def _steps(t: Floats) -> Ints:
    return (t * _STEPS).astype(np.int64)


def _ranks(sorted_ids: Ints) -> Ints:
    new = np.ones(len(sorted_ids), dtype=np.int64)
    new[1:] = sorted_ids[1:] != sorted_ids[:-1]
    return np.cumsum(new) - 1


def lower_envelope(p: Pieces, chain: Ints) -> Pieces:
    """Keep, for every owner and bearing, the nearest piece.

    Parameters
    ----------
    p : Pieces
        Any order.
    chain : ndarray of int64, shape (n,)
        Edges of one ring. Pieces of one owner and chain that do not share bearings are taken as
        merged already; any grouping gives the same answer.

    Returns
    -------
    Pieces
        Sorted by owner and bearing, disjoint; neighbours of one edge joined.
    """
    keep = np.flatnonzero(_steps(p.t1) > _steps(p.t0))
    order = keep[np.lexsort((p.t0[keep], chain[keep], p.owner[keep]))]
    p, chain = p.take(order), chain[order]
    if not len(p):
        return p
    owner_rank = _ranks(p.owner)
    group = np.ones(len(p), dtype=bool)
    group[1:] = (p.owner[1:] != p.owner[:-1]) | (chain[1:] != chain[:-1])
    overlap = np.zeros(len(p), dtype=bool)
    overlap[1:] = ~group[1:] & (_steps(p.t0[1:]) < _steps(p.t1[:-1]))
    group_id = np.cumsum(group) - 1
    loose = np.zeros(group_id[-1] + 1, dtype=bool)
    loose[group_id[overlap]] = True
    node = np.cumsum(group | loose[group_id]) - 1
    # Number nodes from 0 within each owner, then halve until every owner has one.
    first = np.zeros(owner_rank[-1] + 1, dtype=np.int64)
    starts = np.flatnonzero(np.r_[True, owner_rank[1:] != owner_rank[:-1]])
    first[:] = node[starts]
    local = node - first[owner_rank]
    row, t0, t1 = np.arange(len(p)), p.t0, p.t1
    while True:
        busy_owner = np.zeros(owner_rank[-1] + 1, dtype=bool)
        busy_owner[owner_rank[row[local > 0]]] = True
        busy = busy_owner[owner_rank[row]]
        if not busy.any():
            break
        done = ~busy
        m_row, m0, m1, m_local = _merge(
            p, row[busy], t0[busy], t1[busy], owner_rank[row[busy]], local[busy]
        )
        row = np.concatenate([row[done], m_row])
        t0, t1 = np.concatenate([t0[done], m0]), np.concatenate([t1[done], m1])
        local = np.concatenate([np.zeros(int(done.sum()), dtype=np.int64), m_local])
        if done.any():
            order = np.lexsort((t0, local, owner_rank[row]))
            row, t0, t1, local = row[order], t0[order], t1[order], local[order]
    return p.within(row, t0, t1)


def _merge(
    p: Pieces, row: Ints, t0: Floats, t1: Floats, owner: Ints, local: Ints
) -> tuple[Ints, Floats, Floats, Ints]:
    """Merge each even group with the odd one after it; rows come sorted by owner, group, t0."""
    half = local >> 1
    new = np.ones(len(row), dtype=np.int64)
    new[1:] = (owner[1:] != owner[:-1]) | (half[1:] != half[:-1])
    parent = np.cumsum(new) - 1
    head = np.flatnonzero(new)
    left, right, s0, s1, where = overlay(row, t0, t1, parent, (local & 1).astype(bool))
    row, s0, s1, where = _nearest_of_two(p, left, right, s0, s1, where)
    keep = np.flatnonzero(_steps(s1) > _steps(s0))
    row, s0, s1, where = row[keep], s0[keep], s1[keep], where[keep]
    # Join neighbours of one edge again.
    start = np.ones(len(row), dtype=bool)
    start[1:] = (row[1:] != row[:-1]) | (where[1:] != where[:-1]) | (s0[1:] > s1[:-1] + 4e-12)
    begin = np.flatnonzero(start)
    end = np.r_[begin[1:], len(row)] - 1
    s0 = s0[begin]
    s1 = s1[end]
    row, where = row[begin], where[begin]
    # Steps may order two ends a hair wrongly: never let neighbours share a bearing.
    same = where[1:] == where[:-1]
    s0[1:] = np.where(same, np.maximum(s0[1:], s1[:-1]), s0[1:])
    return row, s0, s1, half[head[where]]


def overlay(
    row: Ints, t0: Floats, t1: Floats, parent: Ints, odd: Flags
) -> tuple[Ints, Ints, Floats, Floats, Ints]:
    """Cut the bearings of each parent at every end; tell who is there on either side (-1 none)."""
    # What opens and closes in one step would seem to close before it opens.
    some = np.flatnonzero(_steps(t1) > _steps(t0))
    row, t0, t1, parent, odd = row[some], t0[some], t1[some], parent[some], odd[some]
    n = len(row)
    t = np.concatenate([t0, t1])
    opens = np.zeros(2 * n, dtype=np.int64)
    opens[:n] = 1
    key = (np.concatenate([parent, parent]) << _ROOM) | (_steps(t) << 1) | opens
    order = np.argsort(key)
    t = t[order]
    opened = opens[order].astype(bool)
    event = order % n if n else order
    at = np.arange(2 * n)
    is_odd = odd[event]
    held = np.where(opened, row[event], -1)
    last_even = np.maximum.accumulate(np.where(is_odd, -1, at))
    last_odd = np.maximum.accumulate(np.where(is_odd, at, -1))
    left = np.where(last_even >= 0, held[last_even], -1)[:-1]
    right = np.where(last_odd >= 0, held[last_odd], -1)[:-1]
    keep = np.flatnonzero(((left >= 0) | (right >= 0)) & (t[1:] > t[:-1]))
    return left[keep], right[keep], t[:-1][keep], t[1:][keep], parent[event][:-1][keep]


def _nearest_of_two(
    p: Pieces, left: Ints, right: Ints, t0: Floats, t1: Floats, where: Ints
) -> tuple[Ints, Floats, Floats, Ints]:
    winner = np.where(left >= 0, left, right)
    both = np.flatnonzero((left >= 0) & (right >= 0))
    if not len(both):
        return winner, t0, t1, where
    i, j = left[both], right[both]
    x1, x2, wins = nearer(p, i, j, t0[both], t1[both])
    # Up to three rows where there was one, kept in order.
    n = len(left)
    count = np.ones(n, dtype=np.int64)
    count[both] = 3
    begin = np.cumsum(count) - count
    at = np.repeat(np.arange(n), count)
    out_row, out0, out1 = winner[at], t0[at], t1[at]
    b = begin[both]
    for k, (lo, hi) in enumerate(((t0[both], x1), (x1, x2), (x2, t1[both]))):
        out_row[b + k] = np.where(wins[k], i, j)
        out0[b + k], out1[b + k] = lo, hi
    some = out1 > out0
    return out_row[some], out0[some], out1[some], where[at][some]


def nearer(
    p: Pieces, i: Ints, j: Ints, t0: Floats, t1: Floats
) -> tuple[Floats, Floats, tuple[Flags, Flags, Flags]]:
    """Compare two pieces over shared bearings.

    Returns
    -------
    x1, x2 : ndarray
        t0 <= x1 <= x2 <= t1: where they cross; t1 where they do not.
    wins : three ndarray of bool
        Whether i is the nearer between t0 and x1, x1 and x2, x2 and t1.
    """
    span = t1 - t0
    wa, wb = p.a[i] - p.a[j], p.b[i] - p.b[j]
    # 1/r of a straight edge is a sine of the bearing, and so is the difference of two.
    f0 = wa * np.cos(t0) + wb * np.sin(t0)
    f1 = wa * np.cos(t1) + wb * np.sin(t1)
    crossing = f0 * f1 < 0
    g0, g1 = np.abs(f0), np.abs(f1)
    with np.errstate(invalid="ignore"):
        delta = np.arctan2(g0 * np.sin(span), g0 * np.cos(span) + g1)
    x1 = np.where(crossing, t0 + np.clip(delta, 0.0, span), t1)
    x2 = t1.copy()
    first = np.where(crossing, f0 > 0, f0 + f1 >= 0)
    second = np.where(crossing, f1 > 0, first)
    third = second.copy()
    curved = np.flatnonzero((p.kind[i] != LINE) | (p.kind[j] != LINE))
    if len(curved):
        ci, cj, c0, c1 = i[curved], j[curved], t0[curved], t1[curved]
        y1, y2 = _curved_crossings(p, ci, cj, c0, c1)
        x1[curved], x2[curved] = y1, y2
        for flags, lo, hi in ((first, c0, y1), (second, y1, y2), (third, y2, c1)):
            middle = 0.5 * (lo + hi)
            ri = radius(p.take(ci), middle)
            rj = radius(p.take(cj), middle)
            flags[curved] = ri <= rj
    return x1, x2, (first, second, third)


def _curved_crossings(p: Pieces, i: Ints, j: Ints, t0: Floats, t1: Floats) -> tuple[Floats, Floats]:
    """Bearings at which a circle meets a straight line or another circle; t1 where none."""
    span = t1 - t0
    found = [span.copy(), span.copy()]
    swap = p.kind[i] == LINE
    i, j = np.where(swap, j, i), np.where(swap, i, j)
    cx, cy, rho = p.a[i], p.b[i], p.c[i]
    straight = p.kind[j] == LINE
    size = np.hypot(p.a[j], p.b[j])
    with np.errstate(divide="ignore", invalid="ignore"):
        # Straight: unit normal and distance of the line. Circle: the chord both circles share.
        vx, vy = p.a[j] - cx, p.b[j] - cy
        apart = np.hypot(vx, vy)
        nx = np.where(straight, p.a[j] / size, vx / apart)
        ny = np.where(straight, p.b[j] / size, vy / apart)
        h = np.where(
            straight,
            1.0 / size - (nx * cx + ny * cy),
            0.5 * (apart + (rho - p.c[j]) * (rho + p.c[j]) / apart),
        )
        chord = np.sqrt(rho * rho - h * h)
        usable = np.isfinite(chord) & (p.kind[i] == ARC) & (straight | (p.kind[j] == ARC))
        for k, side in enumerate((-1.0, 1.0)):
            x, y = cx + h * nx - side * chord * ny, cy + h * ny + side * chord * nx
            delta = np.mod(np.arctan2(y, x) - t0, TURN)
            found[k] = np.where(usable & (delta > 0) & (delta < span), delta, span)
    low, high = np.minimum(found[0], found[1]), np.maximum(found[0], found[1])
    return np.minimum(t0 + low, t1), np.minimum(t0 + high, t1)


def fill_gaps(env: Pieces, owners: Ints, caps: Floats) -> Pieces:
    """Complete an envelope with the edge of the disc wherever nothing nearer stands.

    Parameters
    ----------
    env : Pieces
        As `lower_envelope` gives it.
    owners : ndarray of int64, ascending, without repetition
        Everyone to complete, those without any piece included.
    caps : ndarray, same shape
        Radius of the disc of each [m].

    Returns
    -------
    Pieces
        Sorted by owner and bearing, covering the whole turn of every owner.
    """
    rank = np.searchsorted(owners, env.owner)
    n = len(owners)
    # Ends and beginnings in order, with north at both ends, pair up into gaps.
    lo_owner = np.concatenate([np.arange(n), rank])
    lo = np.concatenate([np.zeros(n), env.t1])
    hi_owner = np.concatenate([rank, np.arange(n)])
    hi = np.concatenate([env.t0, np.full(n, TURN)])
    a, b = np.lexsort((lo, lo_owner)), np.lexsort((hi, hi_owner))
    g_owner, g0, g1 = lo_owner[a], lo[a], hi[b]
    keep = np.flatnonzero(g1 > g0)
    g_owner, g0, g1 = g_owner[keep], g0[keep], g1[keep]
    k = len(keep)
    zeros, ones = np.zeros(k), np.ones(k)
    gaps = Pieces(
        owners[g_owner], g0, g1, np.full(k, RIM, dtype=np.int8), zeros, zeros, zeros, ones, ones,
        caps[g_owner], np.full(k, -1, dtype=np.int64),
    )  # fmt: skip
    whole = concat([env, gaps])
    return whole.take(np.lexsort((whole.t0, whole.owner)))


def under(p: Pieces, env: Pieces) -> tuple[Pieces, Pieces]:
    """Keep the parts of pieces that lie this side of an envelope.

    Parameters
    ----------
    p : Pieces
        Any order; every owner occurs in `env`.
    env : Pieces
        Complete and sorted, from `fill_gaps`.

    Returns
    -------
    parts : Pieces
    beyond : Pieces
        The envelope over the same bearings, row by row.
    """
    if not len(p):
        return p, p
    owners = np.unique(env.owner)
    base = np.searchsorted(owners, env.owner) << _ROOM
    mine = np.searchsorted(owners, p.owner) << _ROOM
    key = base | _steps(env.t0)
    first = np.searchsorted(key, mine | _steps(p.t0), side="right") - 1
    last = np.searchsorted(key, mine | _steps(p.t1), side="left") - 1
    count = np.maximum(last - first + 1, 0)
    i = np.repeat(np.arange(len(p)), count)
    j = np.arange(len(i)) - np.repeat(np.cumsum(count) - count, count) + np.repeat(first, count)
    t0, t1 = np.maximum(p.t0[i], env.t0[j]), np.minimum(p.t1[i], env.t1[j])
    keep = np.flatnonzero((t1 > t0) & (env.owner[j] == p.owner[i]))
    i, j, t0, t1 = i[keep], j[keep], t0[keep], t1[keep]
    both = concat([p.take(i), env.take(j)])
    n = len(i)
    x1, x2, wins = nearer(both, np.arange(n), np.arange(n) + n, t0, t1)
    rows, s0, s1 = [], [], []
    for flag, lo, hi in zip(wins, (t0, x1, x2), (x1, x2, t1), strict=True):
        some = np.flatnonzero(flag & (hi > lo))
        rows.append(some)
        s0.append(lo[some])
        s1.append(hi[some])
    row, u0, u1 = np.concatenate(rows), np.concatenate(s0), np.concatenate(s1)
    return both.within(row, u0, u1), both.within(row + n, u0, u1)
