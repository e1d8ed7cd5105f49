"""Fill over a root zone: how much lies there, and what hauling it off would come to."""

import math
from collections.abc import Sequence

import shapely
from shapely.geometry.base import BaseGeometry

from bolewalk.impact.near import NearWork, outline_of
from bolewalk.impact.results import FillOver, RootZone
from bolewalk.impact.thresholds import Thresholds
from bolewalk.model.statements import Statement, say

__all__ = ["fill_over", "fill_told"]


def fill_over(
    tree_xy: tuple[float, float],
    zone: RootZone,
    near: Sequence[NearWork],
    thresholds: Thresholds,
) -> FillOver | None:
    """Measure the fill that lies, or is to lie, over one root zone.

    Parameters
    ----------
    tree_xy : (east, north) [m]
    zone : RootZone
    near : sequence of NearWork
        Existing and proposed fill counts; where two overlap the thicker lies there once.
    thresholds : Thresholds
        "fill.swell", "fill.load" and "fill.least".

    Returns
    -------
    FillOver or None
        None where fill covers less than the least area of the zone. Volumes and loads are None
        where the thickness (the `depth` of the work) of any of it was not told.
    """
    fills = [n for n in near if n.work.kind == "fill" and n.work.phase != "possible later"]
    if not fills:
        return None
    ring = _ring(tree_xy, zone)
    thick = [None if n.work.depth_m is None else n.work.depth_m.value for n in fills]
    order = sorted(range(len(fills)), key=lambda i: -(thick[i] or 0.0))
    taken: BaseGeometry = shapely.Polygon()
    area, volume = 0.0, 0.0
    ids = []
    for i in order:
        here = shapely.intersection(outline_of(fills[i].work), ring)
        if here.area > 0:
            ids.append(fills[i].work.id)
            fresh = float(shapely.difference(here, taken).area)
            area, volume = area + fresh, volume + fresh * (thick[i] or 0.0)
            taken = shapely.union(taken, here)
    trunk_m = (zone.diameter_cm or 0.0) / 200.0
    at_trunk = tuple(n.work.id for n in fills if n.distance_m <= trunk_m)
    if area < thresholds.value("fill.least") and not at_trunk:
        return None
    told = all(t for i, t in enumerate(thick) if fills[i].work.id in ids)
    if not told:
        return FillOver(tuple(sorted(ids)), area, None, None, None, at_trunk)
    loose = volume * (1.0 + thresholds.value("fill.swell") / 100.0)
    loads = math.ceil(loose / thresholds.value("fill.load") - 1e-9)
    return FillOver(tuple(sorted(ids)), area, volume, loose, loads, at_trunk)


def _ring(tree_xy: tuple[float, float], zone: RootZone) -> shapely.Polygon:
    x, y = tree_xy
    if zone.outline_m is not None:
        b = [math.radians(k) for k in range(360)]
        at = zip(zone.outline_m, b, strict=True)
        return shapely.Polygon([(x + r * math.sin(a), y + r * math.cos(a)) for r, a in at])
    # 2,048 corners take less than 0.0002 % off the disc.
    return shapely.Point(x, y).buffer(zone.radius_m, quad_segs=512)


def fill_told(fill: FillOver | None, thresholds: Thresholds) -> tuple[Statement, ...]:
    """Say what the fill comes to, and apart from it that it lies against the trunk."""
    if fill is None:
        return ()
    said = []
    if fill.at_trunk:
        said.append(say("verdict.fill_at_trunk", works=", ".join(fill.at_trunk)))
    works = ", ".join(fill.works)
    if fill.in_place_m3 is None or fill.loose_m3 is None or fill.loads is None:
        said.append(say("verdict.fill_area", works=works, area_m2=fill.area_m2))
    else:
        said.append(
            say(
                "verdict.fill_volume",
                works=works,
                area_m2=fill.area_m2,
                in_place_m3=fill.in_place_m3,
                loose_m3=fill.loose_m3,
                swell_pct=thresholds.value("fill.swell"),
                loads_count=fill.loads,
                load_m3=thresholds.value("fill.load"),
            )
        )
    return tuple(said)
