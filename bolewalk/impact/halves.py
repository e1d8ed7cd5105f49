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
from bolewalk.impact.pieces import TURN, Pieces, area, concat, radius

__all__ = ["best_halves"]

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

_EQUAL = 1e-9  # of the half-zone's area: two half-discs closer than this lose the same
# Between two bearings at which an edge begins or ends, where no closed form holds: steps of at
# most two degrees, at least four, then halvings of each bracket.
_STEP = np.pi / 90
_LEAST_STEPS = 4
_HALVINGS = 40


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


class _Running:
    """A loss, or a zone, of one trunk as a function of the bearing it is counted up to."""

    def __init__(self, p: Pieces, weight: Floats) -> None:
        order = np.argsort(p.t1, kind="stable")
        self.p, self.weight = p.take(order), weight[order]
        self.passed = np.concatenate([[0.0], np.cumsum(self.weight * area(self.p))])

    def _active(self, t: Floats) -> tuple[Ints, Ints]:
        i, j = np.nonzero((self.p.t0 < t[:, None]) & (t[:, None] < self.p.t1))
        return i, j

    def before(self, t: Floats) -> Floats:
        """Area from north to each bearing of [0, 2 pi] [m2]."""
        i, j = self._active(t)
        begun = self.weight[j] * area(self.p.within(j, self.p.t0[j], t[i]))
        whole = self.passed[np.searchsorted(self.p.t1, t, side="right")]
        return whole + np.bincount(i, weights=begun, minlength=len(t))

    def density(self, t: Floats) -> Floats:
        """Area per radian at each bearing [m2]."""
        i, j = self._active(t)
        here = self.weight[j] * radius(self.p.take(j), t[i]) ** 2 / 2
        return np.bincount(i, weights=here, minlength=len(t)).astype(np.float64)


class _Halves:
    """Shares lost of the halves of one trunk, by the bearing at which a half begins."""

    def __init__(self, ground: Ground, owner: int) -> None:
        mine = ground.terms.owner == owner
        terms = ground.terms.take(mine)
        self.marks = np.concatenate([terms.t0, terms.t1])
        self.loss = _Running(terms, ground.weight[mine])
        self.full = float(ground.zones.area[owner])
        self.total = float(self.loss.passed[-1])
        self.zone: _Running | None = None
        if ground.zones.outline_row[owner] >= 0:
            edges = ground.zones.edges(np.array([owner]))
            self.zone = _Running(edges, np.ones(len(edges)))

    def _areas(self, b: Floats) -> tuple[Floats, Floats]:
        """Lost area and area of the half that begins at b, 0 <= b < 2 pi."""
        first = np.mod(b, np.pi)
        back = b >= np.pi
        lost = self.loss.before(first + np.pi) - self.loss.before(first)
        if self.zone is None:
            size = np.full(len(b), self.full / 2)
        else:
            size = self.zone.before(first + np.pi) - self.zone.before(first)
        return (
            np.where(back, self.total - lost, lost),
            np.where(back, self.full - size, size),
        )

    def share(self, b: Floats) -> Floats:
        """Share lost, 0..1."""
        lost, size = self._areas(b)
        return lost / size

    def rising(self, b: Floats) -> NDArray[np.bool_]:
        """Whether the share rises with b."""
        far = np.mod(b + np.pi, TURN)
        slope = self.loss.density(far) - self.loss.density(b)
        if self.zone is not None:
            lost, size = self._areas(b)
            slope = slope * size - lost * (self.zone.density(far) - self.zone.density(b))
        return slope > 0


def _searched(ground: Ground, owner: int) -> tuple[float, float]:
    """One trunk whose loss has no closed-form critical bearings: bracketed between the bearings
    at which an edge begins or ends, then halved to rounding."""
    halves = _Halves(ground, owner)
    marks = np.unique(np.round(np.mod(np.append(halves.marks, 0.0), np.pi), 13))
    marks = np.append(marks[marks < np.pi - 1e-12], np.pi)
    gap = np.diff(marks)
    steps = np.clip(np.ceil(gap / _STEP), _LEAST_STEPS, None).astype(np.int64)
    at = np.repeat(np.arange(len(gap)), steps)
    k = np.arange(len(at)) - np.repeat(np.cumsum(steps) - steps, steps)
    b = marks[at] + gap[at] * k / steps[at]
    b = np.concatenate([b, b + np.pi])
    value = halves.share(b)
    low = np.flatnonzero((value <= np.roll(value, 1)) & (value <= np.roll(value, -1)))
    # Half-discs change by no more than the zone's own share per radian: only brackets that
    # could still hold the least are halved.
    low = low[value[low] <= value.min() + 0.05]
    lo = np.roll(b, 1)[low] - np.where(low == 0, TURN, 0.0)
    hi = np.roll(b, -1)[low] + np.where(low == len(b) - 1, TURN, 0.0)
    for _ in range(_HALVINGS):
        middle = 0.5 * (lo + hi)
        up = halves.rising(np.mod(middle, TURN))
        lo, hi = np.where(up, lo, middle), np.where(up, middle, hi)
    b = np.concatenate([b, np.mod(hi, TURN)])
    value = np.concatenate([value, halves.share(np.mod(hi, TURN))])
    order = np.argsort(b, kind="stable")
    b, value = b[order], value[order]
    after = np.append(value[1:], value[0])
    b1 = np.append(b[1:], b[0] + TURN)
    least, middle = _widest_least(
        np.zeros(2 * len(b), dtype=np.int64),
        np.concatenate([b, b + TURN]),
        np.concatenate([b1, b1 + TURN]),
        np.tile(value, 2),
        np.tile(after, 2),
        np.ones(1),
    )
    return 100.0 * float(least[0]), float(middle[0])
