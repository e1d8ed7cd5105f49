"""Where the protection fence stands: about the root zones of retained trees, clear of the works."""

import math
import tomllib
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from importlib import resources

import shapely
from shapely.geometry import LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry

from bolewalk.model.trees import Tree
from bolewalk.model.units import UnitSystem
from bolewalk.model.works import Work
from bolewalk.papers.draw.plan import PlanTree
from bolewalk.papers.shapes import work_geometry, zone_outline

__all__ = [
    "ProtectionSettings",
    "fence_distances_m",
    "fence_lines",
    "fenced_ground",
    "fenced_trees",
    "protection_settings",
]

_OVERHEAD = frozenset({"wire", "boundary", "fence"})
_ON_THE_GROUND = frozenset({"building", "wall", "paving", "slab", "access", "storage"})
"""What stands there now and takes the place of a fence; a pipe in the ground does not."""
_WALLS = frozenset({"building", "wall"})
_TOUCH_M = 0.05


@dataclass(frozen=True, slots=True)
class ProtectionSettings:
    """Settings of the protection sheet, `data/protection.toml`."""

    working_room_m: float
    least_fenced_m2: float
    root_to_call_cm: float
    fence_height_m: float
    mulch_cm: float
    storage_side_m: float
    washout_side_m: float
    clear_of_roots_m: float
    washout_from_roots_m: float


@lru_cache(maxsize=2)
def protection_settings(units: UnitSystem) -> ProtectionSettings:
    """Read the settings in round figures of one system of units."""
    text = (resources.files(__package__) / "data" / "protection.toml").read_text(encoding="utf-8")
    return ProtectionSettings(**tomllib.loads(text)[units])


def fenced_trees(trees: Sequence[PlanTree]) -> tuple[PlanTree, ...]:
    """Give the trees that get a fence: those not to be removed, with a place and a root zone."""
    return tuple(
        t
        for t in trees
        if t.tree.located and t.impact.zone is not None and t.tree.decision != "remove"
    )


def fenced_ground(
    trees: Sequence[PlanTree], works: Sequence[Work], *, units: UnitSystem
) -> tuple[Polygon, ...]:
    """Give the ground to be fenced: nothing is dug, stored or driven there.

    The root zones of all retained trees together, less what is built on already and less the
    proposed works with their working room. Pieces without a trunk in them, and pieces too small
    to fence, are left out.

    Returns
    -------
    tuple of Polygon
        On the survey's grid [m].
    """
    s = protection_settings(units)
    kept = fenced_trees(trees)
    zones = [Polygon(o) for t in kept if (o := zone_outline(t.tree, t.impact.zone))]
    if not zones:
        return ()
    ground: BaseGeometry = shapely.union_all(zones)
    works = [w for w in works if w.kind not in _OVERHEAD and w.present != "no"]
    standing = [
        work_geometry(w) for w in works if w.phase == "existing" and w.kind in _ON_THE_GROUND
    ]
    proposed = [work_geometry(w) for w in works if w.phase == "proposed"]
    if standing:
        ground = ground.difference(shapely.union_all(standing))
    if proposed:
        ground = ground.difference(
            shapely.union_all(proposed).buffer(s.working_room_m, join_style="mitre")
        )
    trunks = shapely.union_all([Point(t.tree.x_m or 0.0, t.tree.y_m or 0.0) for t in kept])
    return tuple(
        p
        for p in shapely.get_parts(ground)
        if isinstance(p, Polygon) and p.area >= s.least_fenced_m2 and p.intersects(trunks)
    )


def fence_lines(
    trees: Sequence[PlanTree], works: Sequence[Work], *, units: UnitSystem
) -> tuple[LineString, ...]:
    """Lay out the protection fence about the fenced ground.

    Along a standing building the wall is the fence.

    Returns
    -------
    tuple of LineString
        On the survey's grid [m], longest first, ties by place.
    """
    pieces = fenced_ground(trees, works, units=units)
    walls = [
        work_geometry(w)
        for w in works
        if w.phase == "existing" and w.kind in _WALLS and w.present != "no"
    ]
    edge: BaseGeometry = shapely.union_all([p.exterior for p in pieces]) if pieces else Point()
    if walls and not edge.is_empty:
        edge = edge.difference(shapely.union_all(walls).buffer(_TOUCH_M))
    lines = [
        g
        for g in shapely.get_parts(shapely.line_merge(edge))
        if isinstance(g, LineString) and g.length > 4 * _TOUCH_M
    ]
    return tuple(sorted(lines, key=lambda g: (-round(g.length, 6), g.bounds)))


def fence_distances_m(
    tree: Tree, ground: Sequence[Polygon], bearings_deg: Sequence[float]
) -> tuple[float | None, ...]:
    """Measure from the trunk centre to the edge of the fenced ground, bearing by bearing.

    Returns
    -------
    tuple of float or None
        [m], one a bearing; None where the trunk stands in no fenced ground.
    """
    if tree.x_m is None or tree.y_m is None:
        return (None,) * len(bearings_deg)
    x, y = tree.x_m, tree.y_m
    trunk = Point(x, y)
    piece = next((p for p in ground if p.intersects(trunk)), None)
    if piece is None:
        return (None,) * len(bearings_deg)
    edge = piece.boundary
    reach = edge.hausdorff_distance(trunk) + 1.0
    out = []
    for bearing in bearings_deg:
        b = math.radians(bearing)
        ray = LineString([(x, y), (x + reach * math.sin(b), y + reach * math.cos(b))])
        out.append(float(ray.intersection(edge).distance(trunk)))
    return tuple(out)
