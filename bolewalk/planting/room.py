"""Room to plant: where each kind may stand, and what keeps it out elsewhere.

Distances in plan: setbacks, crowns and root zones are drawn on the plan, spacing is along the
ground.
"""

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LineString, MultiPoint, Point, Polygon
from shapely.geometry.base import BaseGeometry

from bolewalk.model.survey import Survey
from bolewalk.model.units import M_PER_FT
from bolewalk.model.works import Part, Work
from bolewalk.planting.crowns import Grower
from bolewalk.planting.fire import bare_zone_m
from bolewalk.planting.palette import PaletteTaxon
from bolewalk.planting.plan import Place, PlantingPlan
from bolewalk.planting.practice import size_class
from bolewalk.planting.tables import read_csv, rules

__all__ = ["Blocked", "Room", "find_room", "near_kinds", "setback_m", "spots_in"]

Floats = NDArray[np.float64]
_NOT_BUILT = frozenset({"storage", "fill", "excavation", "roof", "beam"})
_LATER = "possible later"
_Take = Callable[[str, BaseGeometry, str], None]
"""Records a shape, the reason it keeps plants out, and its source."""


@dataclass(frozen=True, slots=True)
class Blocked:
    """What keeps a kind out of part of the site.

    `why` is structures, services, boundary, wires, crowns, root_zones, keep_out or bare_zone;
    `area_m2` what it takes of the site, `alone_m2` what would be free without it alone, `shape`
    where it lies in plan.
    """

    why: str
    area_m2: float
    alone_m2: float
    source: str
    shape: BaseGeometry


@dataclass(frozen=True, slots=True)
class Room:
    """Room for one kind: the free ground in plan, and what takes the rest."""

    free: BaseGeometry
    site_m2: float
    blocked: tuple[Blocked, ...]

    @property
    def free_m2(self) -> float:
        """Free ground [m2]."""
        return float(self.free.area)


def setback_m(thing: str, height_m: float) -> tuple[float, str] | None:
    """Give how far a tree of a grown height is planted from a thing [m], and the source.

    None where no setback is held for it.
    """
    for row in read_csv("setbacks"):
        if row["thing"] == thing:
            return float(row[f"{size_class(height_m)}_ft"]) * M_PER_FT, row["source"]
    return None


def _geometry(part: Part, work: Work) -> BaseGeometry:
    if part.shape == "point":
        return Point(part.ring[0]).buffer((work.diameter_m or 0) / 2)
    if part.shape == "line":
        line = LineString(part.ring)
        return line.buffer(work.width_m / 2, cap_style="flat") if work.width_m else line
    return Polygon(part.ring, part.holes).buffer(0)


def _site(survey: Survey, plan: PlantingPlan) -> BaseGeometry:
    if plan.beds:
        return shapely.union_all([Polygon(b.outline).buffer(0) for b in plan.beds])
    lines = [
        LineString([*p.ring, p.ring[0]] if p.shape == "polygon" else p.ring)
        for w in survey.works
        if w.kind == "boundary" and w.present != "no"
        for p in w.parts
        if len(p.ring) > 1
    ]
    closed = shapely.polygonize([shapely.union_all(lines)]) if lines else None
    if closed is not None and not closed.is_empty:
        return shapely.union_all(list(closed.geoms))
    # No closed boundary: the ground spanned by what was placed, and nothing beyond it.
    places = [(t.x_m, t.y_m) for t in survey.trees if t.x_m is not None and t.y_m is not None]
    places += [xy for w in survey.works for p in w.parts for xy in p.ring]
    return MultiPoint(places).convex_hull if places else Polygon()


def near_kinds(survey: Survey, plan: PlantingPlan) -> frozenset[str]:
    """Give the kinds of works within a small tree's reach of where planting is wanted.

    Reach: the distance from wires within which only small trees are planted.
    """
    reach = float(rules("planting_rules")["wires"]["near_ft"]) * M_PER_FT
    where = shapely.union_all(
        [_site(survey, plan), *(Point(p.place) for p in plan.plants if p.place is not None)]
    )
    return frozenset(
        w.kind
        for w in survey.works
        if w.phase != _LATER and w.present != "no"
        and any(_geometry(p, w).distance(where) <= reach for p in w.parts)
    )  # fmt: skip


def find_room(
    survey: Survey, plan: PlantingPlan, taxon: PaletteTaxon, *, kept: Sequence[Grower],
    zone_radius_m: Mapping[str, float], fixed: Sequence[tuple[Place, PaletteTaxon]] = (),
) -> Room:  # fmt: skip
    """Find the room for one kind.

    Parameters
    ----------
    survey : Survey
        Works of every phase but possible later count.
    plan : PlantingPlan
        Beds, ground kept free, fire.
    taxon : PaletteTaxon
        Its grown height sets the setbacks, its grown width the distance from crowns that stay.
    kept : sequence of Grower
        Trees that stay; their crowns in the plan's year count.
    zone_radius_m : mapping
        Tree id -> radius of its root zone.
    fixed : sequence of (place, taxon)
        Plants already chosen by hand; crowns do not meet when grown.

    Returns
    -------
    Room
    """
    site = _site(survey, plan)
    radius = taxon.spread_m.value / 2
    tall = taxon.height_m.high or taxon.height_m.value
    takes: dict[str, list[BaseGeometry]] = {}
    sources: dict[str, dict[str, None]] = {}

    def take(why: str, shape: BaseGeometry, source: str) -> None:
        if not shape.is_empty:
            takes.setdefault(why, []).append(shape)
            sources.setdefault(why, {})[source] = None

    for work in survey.works:
        if work.phase == _LATER or work.present == "no" or work.kind in _NOT_BUILT:
            continue
        for part in work.parts:
            _take_work(work, _geometry(part, work), tall, plan, take)
    under_crowns = (
        taxon.kind in ("shrub", "ground cover")
        and plan.site.light != "sun"
        and ("shade" in taxon.light)
    )
    ahead = plan.year
    for g in kept:
        zone = zone_radius_m.get(g.id)
        if zone is not None:
            share = float(rules("planting_rules")["room"]["retained_zone_share"])
            take("root_zones", Point(g.x_m, g.y_m).buffer(zone * share),
                 str(rules("planting_rules")["room"]["source"]))  # fmt: skip
        if not under_crowns:
            take("crowns", g.outline(ahead).buffer(radius), g.source or "crown as measured")
    for (x, y), other in fixed:
        take("fixed", Point(x, y).buffer(radius + other.spread_m.value / 2), "planting.toml")
    for k in plan.keep_outs:
        shape = (
            Polygon(k.outline).buffer(0)
            if k.outline
            else Point(k.place or (0, 0)).buffer(k.radius_m)
        )
        take("keep_out", shape, "planting.toml")
    areas = {why: shapely.union_all(shapes) for why, shapes in takes.items()}
    free = shapely.difference(site, shapely.union_all(list(areas.values())))
    blocked = []
    for why in sorted(areas):
        if not areas[why].intersects(site):
            continue
        others = shapely.union_all([a for k, a in areas.items() if k != why])
        blocked.append(
            Blocked(
                why, float(shapely.intersection(areas[why], site).area),
                float(shapely.difference(site, others).area), "; ".join(sources[why]),
                areas[why],
            )
        )  # fmt: skip
    return Room(free, float(site.area), tuple(blocked))


_WHY = {
    "utility": "services", "drain": "services", "trench": "services", "boundary": "boundary",
    "fence": "boundary",
}  # fmt: skip


def _take_work(
    work: Work, shape: BaseGeometry, tall_m: float, plan: PlantingPlan, take: _Take
) -> None:
    if work.kind == "wire":
        _take_wire(shape, tall_m, take)
        return
    back = setback_m(work.kind, tall_m)
    distance, source = back if back is not None else (0.0, "the thing itself")
    if work.kind == "building" and plan.site.fire:
        zone = bare_zone_m()
        take("bare_zone", shape.buffer(zone),
             str(rules("fire_spacing")["bare_zone"]["source"]))  # fmt: skip
    if work.kind == "boundary":
        # The line itself is nobody's: the site's outline already ends there.
        take("boundary", shape.buffer(distance) if distance else Polygon(), source)
        return
    take(_WHY.get(work.kind, "structures"), shape.buffer(distance), source)


def _take_wire(shape: BaseGeometry, tall_m: float, take: _Take) -> None:
    row = next(r for r in read_csv("setbacks") if r["thing"] == "wire_height")
    wires = rules("planting_rules")["wires"]
    for limit, away in (("small_ft", "near_ft"), ("medium_ft", "far_ft")):
        if tall_m > float(row[limit]) * M_PER_FT:
            take("wires", shape.buffer(float(wires[away]) * M_PER_FT), row["source"])


def spots_in(free: BaseGeometry, *, step_m: float, most: int) -> tuple[Floats, float]:
    """Lay a grid of spots over free ground.

    Parameters
    ----------
    free : geometry
        May be empty.
    step_m : float
        Distance between neighbours, > 0; widened until no more than `most` spots remain.
    most : int

    Returns
    -------
    spots : float array, shape (n, 2)
        Each three neighbours form a triangle of equal sides; rows from south to north.
    step_m : float
        The distance used.
    """
    if free.is_empty or free.area == 0:
        return np.empty((0, 2)), step_m
    least = math.sqrt(free.area / most / (math.sqrt(3) / 2))
    step = max(step_m, least * 0.9)
    while True:
        spots = _grid(free, step)
        if len(spots) <= most:
            return spots, step
        step *= 1.1


def _grid(free: BaseGeometry, step: float) -> Floats:
    west, south, east, north = free.bounds
    rise = step * math.sqrt(3) / 2
    rows = np.arange(south + rise / 2, north, rise)
    spots = []
    for n, y in enumerate(rows):
        x = np.arange(west + step / 2 + (n % 2) * step / 2, east, step)
        spots.append(np.stack([x, np.full(len(x), y)], axis=1))
    every = np.concatenate(spots) if spots else np.empty((0, 2))
    if len(every):
        found: Floats = every[shapely.contains_xy(free, every[:, 0], every[:, 1])]
        if len(found):
            return found
    # A strip narrower than the grid still holds a plant.
    point = free.representative_point()
    return np.array([[point.x, point.y]])
