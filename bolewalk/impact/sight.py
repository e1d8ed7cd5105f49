"""Which edges each trunk can see inside its zone, and how near the nearest one is."""

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
import shapely
from numpy.typing import NDArray

from bolewalk.impact.boxes import DENSE, box_index, boxes_near
from bolewalk.impact.footprints import Footprint
from bolewalk.impact.outlines import Outline, ring_segments
from bolewalk.impact.pieces import (
    APEX,
    TOUCH_M,
    TURN,
    Pieces,
    arc_pieces,
    concat,
    segment_pieces,
    split_north,
)  # fmt: skip

__all__ = ["Elements", "Seen", "elements_of_cuts", "elements_of_outlines", "nearest_m", "see"]

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True, eq=False)
class Elements:
    """Edges, arcs and the areas they bound, flat; `*_group` is the work or outline they are of.

    Segments as in `Outline`; `chain` numbers rings; `area_of` tells the polygons (of that
    `area_key`) a segment bounds, -1 for a line without area, which cuts from both sides.
    """

    segments: Floats
    segment_group: Ints
    chain: Ints
    area_of: Ints
    arcs: Floats
    arc_group: Ints
    polygons: tuple[shapely.Polygon, ...]
    polygon_group: Ints
    area_key: Ints
    circles: Floats
    circle_group: Ints
    indexes: dict[str, shapely.STRtree] = field(default_factory=dict)
    """Made when first asked for."""


@dataclass(frozen=True, slots=True)
class Seen:
    """Pieces by trunk (`owner`), the group and chain of each, and which groups hold a trunk."""

    pieces: Pieces
    group: Ints
    chain: Ints
    held_trunk: Ints
    held_group: Ints


def _pack(
    rings: list[tuple[Floats, int, int]],
    arcs: list[tuple[Floats, int]],
    polygons: list[tuple[shapely.Polygon, int, int]],
    circles: list[tuple[Floats, int]],
) -> Elements:
    size = [len(r) for r, _, _ in rings]
    return Elements(
        segments=np.vstack([*(r for r, _, _ in rings), np.zeros((0, 8))]),
        segment_group=np.repeat(np.array([g for _, g, _ in rings], dtype=np.int64), size),
        chain=np.repeat(np.arange(len(rings)), size),
        area_of=np.repeat(np.array([p for _, _, p in rings], dtype=np.int64), size),
        arcs=np.vstack([*(a for a, _ in arcs), np.zeros((0, 5))]),
        arc_group=np.repeat(np.array([g for _, g in arcs], np.int64), [len(a) for a, _ in arcs]),
        polygons=tuple(p for p, _, _ in polygons),
        polygon_group=np.array([g for _, g, _ in polygons], dtype=np.int64),
        area_key=np.array([k for _, _, k in polygons], dtype=np.int64),
        circles=np.vstack([*(c for c, _ in circles), np.zeros((0, 3))]),
        circle_group=np.repeat(
            np.array([g for _, g in circles], np.int64), [len(c) for c, _ in circles]
        ),
    )


def elements_of_cuts(footprints: Sequence[Footprint], groups: Sequence[int]) -> Elements:
    """Give the edges of footprints one by one, uncombined."""
    rings: list[tuple[Floats, int, int]] = []
    polygons: list[tuple[shapely.Polygon, int, int]] = []
    arcs: list[tuple[Floats, int]] = []
    circles: list[tuple[Floats, int]] = []
    for f, group in zip(footprints, groups, strict=True):
        for polygon in f.polygons:
            rings += [(r, group, len(polygons)) for r in ring_segments([polygon])]
            polygons.append((polygon, group, len(polygons)))
        for line in f.lines:
            a, b = line[:-1], line[1:]
            rings.append((np.hstack([a, b, np.full((len(a), 4), np.nan)]), group, -1))
        if len(f.circles):
            turn = np.tile([0.0, TURN], (len(f.circles), 1))
            arcs.append((np.hstack([f.circles, turn]), group))
            circles.append((f.circles, group))
    return _pack(rings, arcs, polygons, circles)


def elements_of_outlines(outlines: Sequence[Outline]) -> Elements:
    """Give the edges of outlines that do not meet one another, all as group 0."""
    rings: list[tuple[Floats, int, int]] = []
    polygons: list[tuple[shapely.Polygon, int, int]] = []
    for k, outline in enumerate(outlines):
        # Polygons of one outline do not overlap: on the edge of one is outside of all.
        rings.append((outline.segments, 0, k))
        polygons += [(p, 0, k) for p in outline.polygons]
    arcs = [(o.arcs, 0) for o in outlines]
    circles = [(o.circles, 0) for o in outlines]
    return _pack(rings, arcs, polygons, circles)


def _pairs(
    elements: Elements, name: str, low: Floats, high: Floats, at: Floats, reach: Floats
) -> tuple[Ints, Ints]:
    """Trunks (n, 2) with their reach, and boxes (m, 2): which pairs may meet."""
    box = np.hstack([low, high])

    def index() -> shapely.STRtree:
        if name not in elements.indexes:
            elements.indexes[name] = box_index(box)
        return elements.indexes[name]

    return boxes_near(at, reach, box, index)


def see(elements: Elements, at: Floats, reach: Floats) -> Seen:
    """Look at elements from every trunk, as far as its zone reaches.

    Parameters
    ----------
    elements : Elements
    at : ndarray, shape (n, 2)
        Trunk centres (north, east) [m] in the elements' frame.
    reach : ndarray, shape (n,)
        Zone radius [m], > 0.
    """
    seg = elements.segments
    low = np.minimum(seg[:, 0:2], seg[:, 2:4])
    high = np.maximum(seg[:, 0:2], seg[:, 2:4])
    i, j = _pairs(elements, "segments", low, high, at, reach)
    about = seg[j] - np.tile(at[i], 4)
    lines, touching = segment_pieces(about[:, :4], i, reach[i], j)
    flat = elements.area_of[j[touching]] < 0
    touching = touching[~flat]
    apexes = _apexes(about[touching], i[touching], reach[i[touching]], j[touching])
    x, y, r = elements.arcs[:, 0], elements.arcs[:, 1], elements.arcs[:, 2:3]
    middle = np.stack([x, y], axis=1)
    ci, cj = _pairs(elements, "arcs", middle - r, middle + r, at, reach)
    arc = elements.arcs[cj].copy()
    arc[:, :2] -= at[ci]
    arcs = arc_pieces(arc, ci, reach[ci], cj + len(seg))
    pieces = concat([lines, apexes, arcs])
    group = np.concatenate([elements.segment_group, elements.arc_group])[pieces.source]
    ring = np.concatenate([elements.chain, np.arange(len(elements.arcs)) + len(seg)])
    held_trunk, held_group = _holding(elements, at, i[touching], elements.area_of[j[touching]])
    return Seen(pieces, group, ring[pieces.source], held_trunk, held_group)


def _apexes(about: Floats, owner: Ints, cap: Floats, source: Ints) -> Pieces:
    """What a footprint takes of the bearings about a trunk that stands on its edge: all on the
    inner side of the edge or corner, from the trunk outward."""
    a, b, before, after = (about[:, 2 * k : 2 * k + 2] for k in range(4))
    at_a = np.hypot(*a.T) < TOUCH_M
    at_b = np.hypot(*b.T) < TOUCH_M
    before = np.where(np.isnan(before), -b, before)
    after = np.where(np.isnan(after), -a, after)
    first = np.where(at_b[:, None] & ~at_a[:, None], after, b)
    last = np.where(at_a[:, None], before, a)
    t0 = np.arctan2(first[:, 1], first[:, 0])
    span = np.mod(np.arctan2(last[:, 1], last[:, 0]) - t0, TURN)
    # A corner belongs to two edges and counts once.
    once = np.flatnonzero(~at_b | at_a)
    n = len(once)
    t0 = np.mod(t0[once], TURN)
    zeros = np.zeros(n)
    return split_north(
        Pieces(
            owner[once],
            t0,
            t0 + span[once],
            np.full(n, APEX, dtype=np.int8),
            zeros,
            zeros,
            zeros,
            np.ones(n),
            np.full(n, -1.0),
            cap[once],
            source[once],
        )
    )


def _holding(
    elements: Elements, at: Floats, touch_trunk: Ints, touch_area: Ints
) -> tuple[Ints, Ints]:
    """Trunks strictly inside a polygon or circle, and its group; unique, sorted by trunk."""
    trunk, group = [np.zeros(0, dtype=np.int64)], [np.zeros(0, dtype=np.int64)]
    if elements.polygons:
        box = shapely.bounds(np.array(elements.polygons, dtype=object))
        i, j = _pairs(elements, "polygons", box[:, :2], box[:, 2:], at, np.zeros(len(at)))
        shape = np.array(elements.polygons, dtype=object)[j]
        shapely.prepare(shape)
        inside = shapely.contains_xy(shape, at[i, 0], at[i, 1])
        # An edge within a hair of the trunk makes it outside of that polygon, whatever rounding
        # of the coordinates says.
        keys = int(elements.area_key.max()) + 1
        edge = np.zeros(0, dtype=np.int64)
        if len(touch_trunk):
            edge = touch_trunk * keys + touch_area
        inside &= ~np.isin(i * keys + elements.area_key[j], edge)
        trunk.append(i[inside])
        group.append(elements.polygon_group[j[inside]])
    if len(elements.circles):
        c = elements.circles
        i, j = _pairs(
            elements, "circles", c[:, :2] - c[:, 2:], c[:, :2] + c[:, 2:], at, np.zeros(len(at))
        )
        inside = np.hypot(*(c[j, :2] - at[i]).T) < c[j, 2] - TOUCH_M
        trunk.append(i[inside])
        group.append(elements.circle_group[j[inside]])
    both = np.unique(np.stack([np.concatenate(trunk), np.concatenate(group)]), axis=1)
    return both[0], both[1]


def nearest_m(elements: Elements, groups: Ints, at: Floats) -> Floats:
    """Distance [m] from each trunk to the nearest edge of some groups, inf where there is none.

    A trunk inside a footprint is not told apart here.
    """
    out = np.full(len(at), np.inf)
    seg = elements.segments[np.isin(elements.segment_group, groups)]
    arcs = elements.arcs[np.isin(elements.arc_group, groups)]
    if len(seg):
        if len(at) * len(seg) <= DENSE:
            out = _to_segments(at, seg).min(axis=1)
        else:
            name = "nearest " + ",".join(map(str, groups.tolist()))
            if name not in elements.indexes:
                elements.indexes[name] = box_index(seg[:, :4])
            tree = elements.indexes[name]
            (i, j) = tree.query_nearest(shapely.points(at), all_matches=False)
            about = seg[j, :4] - np.tile(at[i], 2)
            out[i] = _distance(about)
    for r in np.unique(arcs[:, 2]):
        centres = arcs[arcs[:, 2] == r, :2]
        if len(at) * len(centres) <= DENSE:
            apart = np.hypot(*(at[:, None, :] - centres).transpose(2, 0, 1)).min(axis=1)
        else:
            middles = shapely.STRtree([shapely.Point(x, y) for x, y in centres.tolist()])
            i, j = middles.query_nearest(shapely.points(at), all_matches=False)
            apart = np.empty(len(at))
            apart[i] = np.hypot(*(at[i] - centres[j]).T)
        out = np.minimum(out, np.abs(apart - r))
    return out


def _to_segments(at: Floats, seg: Floats) -> Floats:
    about = seg[None, :, :4] - np.tile(at, 2)[:, None, :]
    return _distance(about.reshape(-1, 4)).reshape(len(at), len(seg))


def _distance(about: Floats) -> Floats:
    ax, ay, bx, by = about.T
    dx, dy = bx - ax, by - ay
    length2 = dx * dx + dy * dy
    with np.errstate(divide="ignore", invalid="ignore"):
        s = np.clip(np.where(length2 > 0, -(ax * dx + ay * dy) / length2, 0.0), 0.0, 1.0)
        across = np.abs(ax * by - ay * bx) / np.sqrt(length2)
    ends = np.hypot(ax + s * dx, ay + s * dy)
    nearest: Floats = np.where((s > 0) & (s < 1), across, ends)
    return nearest
