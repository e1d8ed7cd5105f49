"""Crowns against roofs, buildings, walls, wires and the clearances about them."""

import itertools
import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from bolewalk.impact.crown import CrownSolid, outline_radius_m, profile, share_table
from bolewalk.impact.near import outline_of
from bolewalk.impact.results import COMPASS, CrownClash
from bolewalk.impact.thresholds import Thresholds
from bolewalk.model.words import Phase
from bolewalk.model.works import Work

__all__ = [
    "CROWN_KINDS",
    "Growth",
    "Obstacle",
    "crown_clash",
    "lowest_clash_m",
    "obstacles",
    "removed_m3",
]

Floats = NDArray[np.float64]

Growth = Callable[[int], CrownSolid | None]
"""The crown so many years from now; None where growth cannot be told."""

CROWN_KINDS = ("roof", "building", "wall", "wire")
_STEP_RAD = math.radians(0.25)
_INSIDE = 1.0 - 1e-9  # a crown that only touches a clearance does not clash


@dataclass(frozen=True, slots=True)
class Obstacle:
    """One work in the way of crowns: its footprint, and the heights it fills [m].

    `bare` is the footprint as drawn, `wide` the footprint widened by the clearance; `low_m` to
    `high_m` is as drawn too, `high_m` infinite where no limit was told.
    """

    work: Work
    bare: BaseGeometry
    wide: BaseGeometry
    low_m: float
    high_m: float

    @property
    def wide_low_m(self) -> float:
        """Where the clearance begins [m]."""
        return self.low_m - self.work.clearance_m

    @property
    def wide_high_m(self) -> float:
        """Where the clearance ends [m]."""
        return self.high_m + self.work.clearance_m


def obstacles(works: Iterable[Work], phases: Sequence[Phase]) -> tuple[Obstacle, ...]:
    """Pick the works that stand in the way of crowns.

    Parameters
    ----------
    works : iterable of Work
        Roofs, buildings, walls and wires count, and any other kind that gives `low` or `high`
        (the height a machine needs along an access). Low missing = from the ground, high missing
        = without limit. An existing work that tells neither is left out: the crown was measured
        beside it as it stands. Works present "no" are left out.
    phases : sequence of Phase

    Returns
    -------
    tuple of Obstacle
    """
    found = []
    for work in works:
        told = work.low_m is not None or work.high_m is not None
        if work.phase not in phases or work.present == "no" or not work.parts:
            continue
        if not told and (work.kind not in CROWN_KINDS or work.phase == "existing"):
            continue
        low = work.low_m if work.low_m is not None else 0.0
        high = work.high_m if work.high_m is not None else math.inf
        if high <= low and work.clearance_m <= 0:
            continue
        bare = outline_of(work)
        wide = bare.buffer(work.clearance_m, quad_segs=64) if work.clearance_m > 0 else bare
        found.append(Obstacle(work, bare, wide, low, max(high, low)))
    return tuple(found)


def _reached(solid: CrownSolid, found: Sequence[Obstacle]) -> list[Obstacle]:
    x, y = solid.centre
    north, east, south, west = solid.radii_m
    box = (x - west, y - south, x + east, y + north)
    near = []
    for o in found:
        w = o.wide.bounds
        apart = w[0] > box[2] or w[2] < box[0] or w[1] > box[3] or w[3] < box[1]
        if not apart and o.wide_low_m < solid.top_m and o.wide_high_m > solid.base_m:
            near.append(o)
    return near


def removed_m3(solid: CrownSolid, found: Sequence[Obstacle]) -> tuple[float, dict[str, float]]:
    """Give the crown volume inside the obstacles' clearances, counted once where they overlap.

    Parameters
    ----------
    solid : CrownSolid
    found : sequence of Obstacle

    Returns
    -------
    total : float
        [m3], within 0.01 % of the crown's volume.
    by_side : dict of str to float
        The same by compass sector of 45 degrees, N to NW [m3].
    """
    by_side = dict.fromkeys(COMPASS, 0.0)
    near = _reached(solid, found)
    if not near:
        return 0.0, by_side
    depth = solid.top_m - solid.base_m
    levels = {0.0, 1.0}
    for o in near:
        for z in (o.wide_low_m, o.wide_high_m):
            t = (z - solid.base_m) / depth
            if 0.0 < t < 1.0:
                levels.add(t)
    steps = sorted(levels)
    sides = np.zeros(8)
    for low_t, high_t in itertools.pairwise(steps):
        middle = solid.base_m + (low_t + high_t) / 2 * depth
        active = [o.wide for o in near if o.wide_low_m < middle < o.wide_high_m]
        if active:
            sides += depth * _within(solid, shapely.union_all(active), low_t, high_t)
    # Sums of signed edges leave rounding dust where nothing was cut.
    sides = np.where(np.abs(sides) < 1e-9 * solid.volume_m3, 0.0, sides)
    return float(sides.sum()), dict(zip(COMPASS, (float(s) for s in sides), strict=True))


def _within(solid: CrownSolid, shape: BaseGeometry, low_t: float, high_t: float) -> Floats:
    """Integrate the crown over a footprint by its directed edges, by sector, per unit depth.

    By Green's theorem a region seen from the trunk is the signed sum, over its edges taken
    counter-clockwise, of what lies between the trunk and the edge: no sorting, no clipping.
    """
    starts, ends = [], []
    for polygon in shapely.get_parts(shapely.orient_polygons(shape)):
        if polygon.geom_type != "Polygon":
            continue
        for ring in (polygon.exterior, *polygon.interiors):
            xy = shapely.get_coordinates(ring) - solid.centre
            starts.append(xy[:-1])
            ends.append(xy[1:])
    sides = np.zeros(8)
    if not starts:
        return sides
    a, b = np.concatenate(starts), np.concatenate(ends)
    cross = a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]
    turn = np.arctan2(cross, (a * b).sum(axis=1))
    length = np.hypot(*(b - a).T)
    # An edge that points at the trunk sweeps nothing.
    sweeps = np.abs(cross) > 1e-12 * np.maximum(length, 1e-12)
    a, b, cross, turn, length = a[sweeps], b[sweeps], cross[sweeps], turn[sweeps], length[sweeps]
    count = np.maximum(np.ceil(np.abs(turn) / _STEP_RAD).astype(np.intp), 4)
    edge = np.repeat(np.arange(len(count)), count)
    place = np.arange(len(edge)) - np.repeat(np.cumsum(count) - count, count)
    step = (turn / count)[edge]
    angle = np.arctan2(a[:, 1], a[:, 0])[edge] + (place + 0.5) * step
    normal = (b - a)[edge]
    # Distance to the edge's line along the ray: cross(a, b - a) / cross(ray, b - a).
    ahead = np.cos(angle) * normal[:, 1] - np.sin(angle) * normal[:, 0]
    reach = cross[edge] / np.where(ahead == 0, 1.0, ahead)
    reach = np.where(ahead == 0, 0.0, np.abs(reach))
    bearing = np.pi / 2 - angle
    rim = outline_radius_m(solid.radii_m, bearing)
    q = np.minimum(reach / np.where(rim > 0, rim, 1.0), 1.0)
    table = share_table(solid.form, low_t, high_t)
    if shapely.distance(shape, shapely.Point(solid.centre)) > 1e-9 * max(solid.radii_m):
        # Seen from outside, what is alike near and far cancels: taken off here, it leaves no dust.
        table = table - table[-1]
    held = rim**2 * np.interp(q, np.linspace(0.0, 1.0, len(table)), table) * step
    sector = np.floor((np.degrees(bearing) + 22.5) / 45.0).astype(np.intp) % 8
    return np.bincount(sector, weights=held, minlength=8).astype(np.float64)


def _nearest_share(solid: CrownSolid, shape: BaseGeometry) -> float:
    """Give the least q of a footprint: 0 at the trunk, 1 on the outline, beyond it more."""
    if shapely.covers(shape, shapely.Point(solid.centre)):
        return 0.0
    starts, ends = [], []
    for part in shapely.get_parts(shape):
        rings = [part.exterior, *part.interiors] if part.geom_type == "Polygon" else [part]
        for ring in rings:
            xy = shapely.get_coordinates(ring) - solid.centre
            starts.append(xy[:-1] if len(xy) > 1 else xy)
            ends.append(xy[1:] if len(xy) > 1 else xy)
    a, b = np.concatenate(starts), np.concatenate(ends)

    def share(s: Floats) -> Floats:
        xy = a + s[:, None] * (b - a)
        rim = outline_radius_m(solid.radii_m, np.arctan2(xy[:, 0], xy[:, 1]))
        distance = np.hypot(xy[:, 0], xy[:, 1])
        return np.where(rim > 0, distance / np.where(rim > 0, rim, 1.0), np.inf)

    # The outline is convex, so q has one valley along each edge: thirds close in on it.
    low, high = np.zeros(len(a)), np.ones(len(a))
    for _ in range(60):
        left, right = low + (high - low) / 3, high - (high - low) / 3
        nearer = share(left) <= share(right)
        high = np.where(nearer, right, high)
        low = np.where(nearer, low, left)
    return float(min(share((low + high) / 2).min(), share(np.zeros(len(a))).min()))


def lowest_clash_m(solid: CrownSolid, found: Sequence[Obstacle]) -> tuple[float, float] | None:
    """Find the lowest height at which the crown stands in a clearance.

    Returns
    -------
    (height_m, q) or None
        The height above ground [m], within 0.001 of the crown's depth, and the least share of
        the outline's distance that any clash reaches (0 at the trunk). None = no clash.
    """
    depth = solid.top_m - solid.base_m
    lowest: float | None = None
    deepest = 1.0
    for o in _reached(solid, found):
        q = _nearest_share(solid, o.wide)
        low_t = max((o.wide_low_m - solid.base_m) / depth, 0.0)
        high_t = min((o.wide_high_m - solid.base_m) / depth, 1.0)
        if q >= _INSIDE or low_t >= high_t:
            continue
        t = np.linspace(low_t, high_t, 4097)
        wide = np.flatnonzero(profile(solid.form, t) > q)
        if not len(wide):
            continue
        height = solid.base_m + float(t[wide[0]]) * depth
        lowest = height if lowest is None else min(lowest, height)
        deepest = min(deepest, q)
    return None if lowest is None else (lowest, deepest)


def _gap_m(solid: CrownSolid, found: Sequence[Obstacle]) -> float | None:
    """Give the least distance from the crown to any obstacle as drawn [m].

    At one height the crown's section is a plane figure, so the distance to a prism is the
    least, over heights, of the plane distance and the height between.
    """
    if not found:
        return None
    x, y = solid.centre
    north, east, south, west = solid.radii_m
    box = shapely.box(x - west, y - south, x + east, y + north)
    rough = [
        math.hypot(
            float(shapely.distance(box, shapely.box(*o.bare.bounds))),
            max(o.low_m - solid.top_m, solid.base_m - o.high_m, 0.0),
        )
        for o in found
    ]
    least = math.inf
    for i in sorted(range(len(found)), key=lambda k: rough[k]):
        if rough[i] >= least:
            break
        least = min(least, _gap_to(solid, found[i], least))
    return least


def _gap_to(solid: CrownSolid, o: Obstacle, enough: float) -> float:
    """Search heights, closing in on the best; stops where nothing under `enough` is in sight."""
    low_t, high_t = 0.0, 1.0
    best = math.inf
    for turn in range(4):
        t = np.linspace(low_t, high_t, 17)
        z = solid.base_m + t * (solid.top_m - solid.base_m)
        level = np.maximum(np.maximum(o.low_m - z, z - o.high_m), 0.0)
        apart = np.hypot(shapely.distance(_sections(solid, t), o.bare), level)
        i = int(apart.argmin())
        best = min(best, float(apart[i]))
        if best == 0.0:
            return 0.0
        step = float(t[1] - t[0])
        # Between two heights of the grid the distance falls by no more than the step in height
        # and in radius together.
        reach = step * (solid.top_m - solid.base_m + max(solid.radii_m))
        if turn > 0 and best - reach > enough:
            return best
        low_t, high_t = max(t[i] - step, 0.0), min(t[i] + step, 1.0)
    return best


def _sections(solid: CrownSolid, t: Floats) -> NDArray[np.object_]:
    b = np.arange(0.0, 2 * math.pi, math.radians(3.0))
    rim = outline_radius_m(solid.radii_m, b)
    at = np.column_stack([rim * np.sin(b), rim * np.cos(b)])
    wide = np.maximum(profile(solid.form, t), 1e-6)
    rings = np.asarray(solid.centre) + wide[:, None, None] * at[None, :, :]
    closed = np.concatenate([rings, rings[:, :1]], axis=1)
    return np.asarray(shapely.polygons(closed), dtype=object)


def crown_clash(
    solid: CrownSolid | None,
    found: Sequence[Obstacle],
    thresholds: Thresholds,
    *,
    diameter_cm: float | None = None,
    growth: Growth | None = None,
    detail: bool = True,
) -> CrownClash:
    """Set one crown against the works in its way.

    Parameters
    ----------
    solid : CrownSolid or None
        None = not recorded: every figure is then None.
    found : sequence of Obstacle
        From `obstacles`, of the phases asked about.
    thresholds : Thresholds
    diameter_cm : float, optional
        Trunk [cm], for the estimate of the thickest limb.
    growth : callable, optional
        The crown so many years from now.
    detail : bool
        False gives volume and share alone, as a verdict needs them.

    Returns
    -------
    CrownClash
        `clearance_m` is the least gap between the crown and any obstacle as drawn, 0 where they
        meet, None without obstacles. `clash_in_years` is the first whole year in which the crown
        stands in a clearance: 0 now, None not within the horizon or not to be told.
        `thickest_limb_cm` is an estimate: half the trunk at the trunk, thinning to nothing at
        the crown's edge, taken where a clash comes nearest to the trunk (no source).
    """
    if solid is None:
        return CrownClash(None, None, None, None)
    volume = solid.volume_m3
    total, by_side = removed_m3(solid, found)
    removed = min(max(100.0 * total / volume, 0.0), 100.0)
    if not detail:
        return CrownClash(volume, removed, None, None)
    clash = lowest_clash_m(solid, found)
    least = thresholds.value("crown.side_share") / 100.0 * volume
    limb = None
    if clash is not None and diameter_cm is not None:
        limb = thresholds.value("crown.limb_ratio") * diameter_cm * (1.0 - clash[1])
    return CrownClash(
        volume_m3=volume,
        removed_pct=removed,
        clearance_m=_gap_m(solid, found),
        clash_in_years=_clash_year(clash is not None, found, growth, thresholds),
        lowest_clash_m=None if clash is None else clash[0],
        sides=tuple(side for side in COMPASS if by_side[side] > least),
        thickest_limb_cm=limb,
    )


def _clash_year(
    now: bool, found: Sequence[Obstacle], growth: Growth | None, thresholds: Thresholds
) -> float | None:
    if now:
        return 0.0
    if growth is None or not found:
        return None

    def clashes(year: int) -> bool:
        grown = growth(year)
        return grown is not None and lowest_clash_m(grown, found) is not None

    # Crowns never shrink in a projection: the first year of a clash is found by halving.
    clear, met = 0, int(thresholds.value("crown.horizon"))
    if not clashes(met):
        return None
    while met - clear > 1:
        middle = (clear + met) // 2
        if clashes(middle):
            met = middle
        else:
            clear = middle
    return float(met)
