"""Ground to work from: where the rig path needs mats, and where to store and to wash out.

Storage and washing-out that no drawing shows get a place proposed here: ground clear of every
root zone, of what stands and of what is to be built, nearest to the rig path, or to the works
where no path is drawn. Where no such ground is left, that is said instead.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from bolewalk.model.units import UnitSystem
from bolewalk.model.works import Work
from bolewalk.papers.draw.plan import PlanTree, plan_extent
from bolewalk.papers.protection_lines import protection_settings
from bolewalk.papers.shapes import work_geometry, zone_outline

__all__ = ["WorkingGround", "working_ground"]

_UNBUILT = frozenset({"wire", "boundary", "access", "storage"})
_OVERHEAD = frozenset({"wire", "boundary", "roof"})
_SQRT_2 = 2**0.5


@dataclass(frozen=True, slots=True)
class WorkingGround:
    """What a site works from, on the survey's grid [m].

    Attributes
    ----------
    path : bool
        Whether a drawing shows a rig path.
    mats : geometry
        The part of it over root zones of trees that stay; empty where there is none.
    storage, washout : Polygon or None
        Proposed places; None where the drawing has its own storage, or no ground is clear.
    storage_drawn : bool
        Whether a drawing shows storage.
    """

    path: bool
    mats: BaseGeometry
    storage: Polygon | None
    washout: Polygon | None
    storage_drawn: bool


def working_ground(
    trees: Sequence[PlanTree], works: Sequence[Work], *, units: UnitSystem
) -> WorkingGround | None:
    """Lay out the ground to work from; None where nothing is to be built.

    Returns
    -------
    WorkingGround or None
        The same trees and works give the same places.
    """
    works = [w for w in works if w.present != "no" and w.phase != "possible later"]
    proposed = [w for w in works if w.phase == "proposed" and w.kind not in _UNBUILT]
    extent = plan_extent(trees, works)
    if not proposed or extent is None:
        return None
    s = protection_settings(units)
    zones: BaseGeometry = shapely.union_all([
        Polygon(o) for t in trees
        if t.tree.decision != "remove" and (o := zone_outline(t.tree, t.impact.zone))
    ])  # fmt: skip
    paths: BaseGeometry = shapely.union_all([work_geometry(w) for w in works if w.kind == "access"])
    stored = [w for w in works if w.kind == "storage"]
    taken: BaseGeometry = shapely.union_all([
        work_geometry(w).buffer(0.01) for w in works if w.kind not in _OVERHEAD
    ])  # fmt: skip
    free = _site(works, extent).difference(taken)
    target = (
        paths if not paths.is_empty else shapely.union_all([work_geometry(w) for w in proposed])
    )
    storage = None
    if not stored:
        half = s.storage_side_m / 2
        clear = free.difference(zones.buffer(s.clear_of_roots_m))
        at = _nearest(clear.buffer(-half * _SQRT_2), target)
        if at is not None:
            storage = shapely.box(at.x - half, at.y - half, at.x + half, at.y + half)
            free = free.difference(storage)
    half = s.washout_side_m / 2
    clear = free.difference(zones.buffer(s.washout_from_roots_m))
    at = _nearest(clear.buffer(-half * _SQRT_2), target)
    washout = (
        None if at is None else shapely.box(at.x - half, at.y - half, at.x + half, at.y + half)
    )
    return WorkingGround(
        path=not paths.is_empty,
        mats=paths.intersection(zones),
        storage=storage,
        washout=washout,
        storage_drawn=bool(stored),
    )


def _site(works: Sequence[Work], extent: tuple[float, float, float, float]) -> BaseGeometry:
    """Give the land inside the boundary that the sheet shows; without a closed boundary, all of
    what it shows."""
    lines: list[BaseGeometry] = []
    for w in works:
        if w.kind == "boundary":
            shape = work_geometry(w)
            lines.append(shape.boundary if isinstance(shape, Polygon) else shape)
    if lines:
        site = shapely.union_all(shapely.get_parts(shapely.polygonize([shapely.union_all(lines)])))
        if not site.is_empty:
            return shapely.intersection(site, shapely.box(*extent))
    return shapely.box(*extent)


def _nearest(ground: BaseGeometry, target: BaseGeometry) -> shapely.Point | None:
    if ground.is_empty:
        return None
    x, y = shapely.get_coordinates(shapely.shortest_line(ground, target))[0]
    return shapely.Point(float(x), float(y))
