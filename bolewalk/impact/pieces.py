"""Edges as seen from a trunk: each cut into pieces that meet every bearing at most once.

Everything here is flat: one row a piece, `owner` telling whose trunk it is seen from. Bearings
are radians from north, clockwise, and a piece never crosses north, so 0 <= t0 < t1 <= 2 pi.
"""

from collections.abc import Sequence
from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

__all__ = [
    "APEX",
    "ARC",
    "LINE",
    "RIM",
    "TOUCH_M",
    "TURN",
    "Pieces",
    "arc_pieces",
    "area",
    "concat",
    "empty",
    "radius",
    "segment_pieces",
    "split_north",
]  # fmt: skip

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

LINE, ARC, APEX, RIM = 0, 1, 2, 3
TURN = 2 * np.pi
TOUCH_M = 1e-7
"""A trunk centre nearer to an edge than this stands on it: grid coordinates of millions of
metres hold no finer distance."""


@dataclass(frozen=True, slots=True)
class Pieces:
    """Pieces of footprint edges about their trunks.

    Attributes
    ----------
    owner : ndarray of int64
        Trunk (or accounting case) the row belongs to.
    t0, t1 : ndarray of float64
        First and last bearing [rad].
    kind : ndarray of int8
        LINE: 1/r = a cos t + b sin t. ARC: circle about (a, b) of radius c, near side
        (branch -1) or far side (+1). APEX: r = 0, the trunk stands on the edge. RIM: r = cap.
    a, b, c, branch : ndarray of float64
    sign : ndarray of float64
        -1 where the footprint begins behind the edge as seen from the trunk, +1 where it ends.
    cap : ndarray of float64
        Largest distance [m] the piece may reach: the zone it was clipped to.
    source : ndarray of int64
        Row of the edge it came from.
    """

    owner: Ints
    t0: Floats
    t1: Floats
    kind: NDArray[np.int8]
    a: Floats
    b: Floats
    c: Floats
    branch: Floats
    sign: Floats
    cap: Floats
    source: Ints

    def __len__(self) -> int:
        return len(self.owner)

    def take(self, rows: NDArray[np.int64] | NDArray[np.bool_]) -> "Pieces":
        """Give some rows, by position or mask."""
        return Pieces(
            self.owner[rows], self.t0[rows], self.t1[rows], self.kind[rows], self.a[rows],
            self.b[rows], self.c[rows], self.branch[rows], self.sign[rows], self.cap[rows],
            self.source[rows],
        )  # fmt: skip

    def within(self, rows: Ints, t0: Floats, t1: Floats) -> "Pieces":
        """Give rows by position with other bearings."""
        return Pieces(
            self.owner[rows], t0, t1, self.kind[rows], self.a[rows], self.b[rows], self.c[rows],
            self.branch[rows], self.sign[rows], self.cap[rows], self.source[rows],
        )  # fmt: skip

    def owned(self, owner: Ints) -> "Pieces":
        """Give the same rows to other owners."""
        return Pieces(
            owner, self.t0, self.t1, self.kind, self.a, self.b, self.c, self.branch, self.sign,
            self.cap, self.source,
        )  # fmt: skip


def concat(parts: Sequence[Pieces]) -> Pieces:
    """Put pieces end to end; at least one part."""
    if len(parts) == 1:
        return parts[0]
    return Pieces(*(np.concatenate([getattr(p, f.name) for p in parts]) for f in fields(Pieces)))


def empty() -> Pieces:
    """Give no pieces."""
    f, i = np.zeros(0), np.zeros(0, dtype=np.int64)
    return Pieces(i, f, f, np.zeros(0, dtype=np.int8), f, f, f, f, f, f, i)


def radius(p: Pieces, t: Floats) -> Floats:
    """Distance [m] of each piece on the bearing t [rad], row by row."""
    cos, sin = np.cos(t), np.sin(t)
    # A nearly radial edge has a bearing span near rounding: its reach is held to the zone.
    r = 1.0 / np.maximum(p.a * cos + p.b * sin, 1.0 / p.cap)
    if not p.kind.any():
        return r
    arc = p.kind == ARC
    a, b, c = p.a[arc], p.b[arc], p.c[arc]
    along = a * cos[arc] + b * sin[arc]
    across = a * sin[arc] - b * cos[arc]
    r[arc] = along + p.branch[arc] * np.sqrt(np.maximum(c * c - across * across, 0.0))
    r[p.kind == APEX] = 0.0
    rim = p.kind == RIM
    r[rim] = p.cap[rim]
    return r


def area(p: Pieces) -> Floats:
    """Area [m2] between the trunk and each piece: the integral of r**2 / 2 over its bearings.

    LINE: the triangle, r0 r1 sin(t1 - t0) / 2. ARC: by Green's theorem along the circle,
    (c**2 dalpha + centre x (x1 - x0)) / 2, alpha the angle at the circle's centre.
    """
    r0, r1 = radius(p, p.t0), radius(p, p.t1)
    out = 0.5 * r0 * r1 * np.sin(p.t1 - p.t0)
    if not p.kind.any():
        return out
    arc = p.kind == ARC
    r0, r1, t0, t1 = r0[arc], r1[arc], p.t0[arc], p.t1[arc]
    a, b, c, branch = p.a[arc], p.b[arc], p.c[arc], p.branch[arc]
    x0, y0, x1, y1 = r0 * np.cos(t0), r0 * np.sin(t0), r1 * np.cos(t1), r1 * np.sin(t1)
    ux, uy, vx, vy = x0 - a, y0 - b, x1 - a, y1 - b
    turn = np.arctan2(ux * vy - uy * vx, ux * vx + uy * vy)
    # Near side: backward, by less than half a turn. Far side: forward, by half a turn at most
    # (the trunk inside the circle), which rounding may read as half a turn backward.
    turn = np.where((branch > 0) & (turn < -1e-9), turn + TURN, turn)
    out[arc] = 0.5 * (c * c * turn + a * (y1 - y0) - b * (x1 - x0))
    out[p.kind == APEX] = 0.0
    rim = p.kind == RIM
    out[rim] = 0.5 * p.cap[rim] ** 2 * (p.t1[rim] - p.t0[rim])
    return out


def split_north(p: Pieces) -> Pieces:
    """Bring bearings into one turn and cut pieces that cross north in two."""
    turns = np.floor(p.t0 / TURN) * TURN
    t0 = p.t0 - turns
    t1 = p.t1 - turns
    over = np.flatnonzero(t1 > TURN)
    if not len(over):
        return p.within(np.arange(len(p)), t0, t1)
    rows = np.concatenate([np.arange(len(p)), over])
    s0 = np.concatenate([t0, np.zeros(len(over))])
    s1 = np.concatenate([np.minimum(t1, TURN), t1[over] - TURN])
    return p.within(rows, s0, s1)


def segment_pieces(seg: Floats, owner: Ints, cap: Floats, source: Ints) -> tuple[Pieces, Ints]:
    """Clip straight edges to the disc about their trunk and see them as pieces.

    Parameters
    ----------
    seg : ndarray, shape (n, 4)
        Edge from (ax, ay) to (bx, by) about the trunk, inside on its left [m].
    owner, source : ndarray of int64, shape (n,)
    cap : ndarray, shape (n,)
        Radius of the disc [m].

    Returns
    -------
    pieces : Pieces
    touching : ndarray of int64
        Rows of `seg` the trunk stands on; they give no piece here.
    """
    ax, ay, bx, by = seg.T
    dx, dy = bx - ax, by - ay
    length = np.hypot(dx, dy)
    cross = ax * by - ay * bx
    with np.errstate(divide="ignore", invalid="ignore"):
        d = np.abs(cross) / length
        sa = (ax * dx + ay * dy) / length
    sb = sa + length
    gap = np.maximum(np.maximum(sa, -sb), 0.0)
    touching = np.hypot(d, gap) < TOUCH_M
    half = np.sqrt(np.maximum(cap * cap - d * d, 0.0))
    low, high = np.maximum(sa, -half), np.minimum(sb, half)
    rows = np.flatnonzero((d < cap) & (low < high) & (cross != 0) & ~touching)
    ax, ay, bx, by, dx, dy = (v[rows] for v in (ax, ay, bx, by, dx, dy))
    length, cross, sa, sb, low, high = (v[rows] for v in (length, cross, sa, sb, low, high))
    # Whole corners keep their own coordinates, so that neighbours share the very same bearing.
    to_low, to_high = (low - sa) / length, (sb - high) / length
    ta = np.arctan2(ay + to_low * dy, ax + to_low * dx)
    tb = np.arctan2(by - to_high * dy, bx - to_high * dx)
    forward = cross > 0
    t0, t1 = np.where(forward, ta, tb), np.where(forward, tb, ta)
    span = t1 - t0
    span = np.where(span < -1e-9, span + TURN, np.maximum(span, 0.0))
    t0 = np.where(t0 < 0, t0 + TURN, t0)
    t1 = np.where(forward, tb, ta)
    t1 = np.where(t1 < 0, t1 + TURN, t1)
    t1 = np.where(np.abs(t1 - t0 - span) < 1.0, t1, t0 + span)
    n = len(rows)
    pieces = Pieces(
        owner[rows], t0, t1, np.zeros(n, dtype=np.int8), dy / cross, -dx / cross, np.zeros(n),
        np.ones(n), np.sign(cross), cap[rows], source[rows],
    )  # fmt: skip
    return split_north(pieces), np.flatnonzero(touching)


def arc_pieces(arc: Floats, owner: Ints, cap: Floats, source: Ints) -> Pieces:
    """Clip circles or their arcs to the disc about their trunk and see them as pieces.

    Parameters
    ----------
    arc : ndarray, shape (n, 5)
        Centre (x, y) about the trunk [m], radius [m], first and last angle at the centre [rad]
        in rising order; the inside of the circle is the inside of the footprint.
    owner, source : ndarray of int64, shape (n,)
    cap : ndarray, shape (n,)
        Radius of the disc [m].
    """
    x, y, rho, first, last = arc.T
    far = np.hypot(x, y)
    # A trunk on the circle counts as just outside it.
    touch = (np.abs(far - rho) < TOUCH_M) & (far > 0)
    if touch.any():
        out_of_it = np.where(touch, (rho + TOUCH_M) / np.where(touch, far, 1.0), 1.0)
        x, y, far = x * out_of_it, y * out_of_it, far * out_of_it
    phi = np.arctan2(y, x)
    rows = np.flatnonzero((rho > 0) & (far - rho < cap) & (rho - far < cap))
    x, y, rho, first, last = (v[rows] for v in (x, y, rho, first, last))
    far, phi, reach = far[rows], phi[rows], cap[rows]
    outside = far > rho
    # Angles at the circle's centre, from the line trunk to centre: the near side lies about pi.
    with np.errstate(divide="ignore", invalid="ignore"):
        eta = np.where(outside, np.arccos(np.clip(rho / far, -1.0, 1.0)), 0.0)
        kappa = (reach * reach - far * far - rho * rho) / (2.0 * far * rho)
    omega = np.arccos(np.clip(np.where(far > 0, kappa, 1.0), -1.0, 1.0))
    near = np.minimum(eta, np.pi - omega)
    spans = (
        (-1.0, np.pi - near, np.pi + near),
        (+1.0, omega, np.pi - eta),
        (+1.0, np.pi + eta, TURN - omega),
    )
    # Only the fractions of a turn that the arc itself holds.
    start = np.mod(first - phi, TURN)
    stop = start + (last - first)
    out = []
    for branch, low, high in spans:
        for shift in (0.0, TURN):
            s0, s1 = np.maximum(low + shift, start), np.minimum(high + shift, stop)
            keep = np.flatnonzero(s1 - s0 > 1e-13)
            if not len(keep):
                continue
            alpha0, alpha1 = (s0 + phi)[keep], (s1 + phi)[keep]
            if branch < 0:
                alpha0, alpha1 = alpha1, alpha0
            cx, cy, cr = x[keep], y[keep], rho[keep]
            ta = np.arctan2(cy + cr * np.sin(alpha0), cx + cr * np.cos(alpha0))
            tb = np.arctan2(cy + cr * np.sin(alpha1), cx + cr * np.cos(alpha1))
            span = tb - ta
            span = np.where(span < -1e-9, span + TURN, np.maximum(span, 0.0))
            ta = np.where(ta < 0, ta + TURN, ta)
            n = len(keep)
            out.append(
                Pieces(
                    owner[rows][keep],
                    ta,
                    ta + span,
                    np.full(n, ARC, dtype=np.int8),
                    cx,
                    cy,
                    cr,
                    np.full(n, branch),
                    np.full(n, branch),
                    reach[keep],
                    source[rows][keep],
                )
            )
    return split_north(concat(out)) if out else empty()
