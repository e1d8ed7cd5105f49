"""Works as GeoJSON in the survey's own coordinates."""

import math
from collections.abc import Sequence
from typing import Any

import shapely
from shapely.geometry.base import BaseGeometry

from bolewalk.model.works import Part, Work
from bolewalk.papers.shapes import work_geometry

__all__ = ["footprint_of", "geometry_of", "pair", "rounded"]

_DIGITS = 3


def footprint_of(work: Work, unit_m: float) -> list[list[list[list[float]]]]:
    """Give the ground a work takes as polygons of rings; empty where it has no width."""
    shape: BaseGeometry = work_geometry(work)
    return [
        [[pair(p, unit_m) for p in ring.coords] for ring in (part.exterior, *part.interiors)]
        for part in shapely.get_parts(shape)
        if part.geom_type == "Polygon"
    ]


def geometry_of(parts: Sequence[Part], unit_m: float) -> dict[str, Any]:
    """Give parts as GeoJSON in the survey's coordinates."""
    one = [_one(p, unit_m) for p in parts]
    if len(one) == 1:
        return one[0]
    kinds = {g["type"] for g in one}
    if len(kinds) == 1:
        return {"type": f"Multi{kinds.pop()}", "coordinates": [g["coordinates"] for g in one]}
    return {"type": "GeometryCollection", "geometries": one}


def _one(part: Part, unit_m: float) -> dict[str, Any]:
    ring = [pair(p, unit_m) for p in part.ring]
    if part.shape == "point":
        return {"type": "Point", "coordinates": ring[0]}
    if part.shape == "line":
        return {"type": "LineString", "coordinates": ring}
    holes = [[pair(p, unit_m) for p in hole] for hole in part.holes]
    return {"type": "Polygon", "coordinates": [r + r[:1] for r in (ring, *holes)]}


def pair(point: Sequence[float], unit_m: float) -> list[float]:
    """Give a point of the grid [m] in the survey's unit."""
    return [rounded(point[0] / unit_m), rounded(point[1] / unit_m)]


def rounded(value: float) -> float:
    """Give a length as plans are sent. Raises ValueError where it is not finite."""
    if not math.isfinite(value):
        raise ValueError("a plan cannot hold an infinite place")
    return round(value, _DIGITS)
