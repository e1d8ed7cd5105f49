"""Distances from a trunk to what is drawn about it."""

from collections.abc import Collection, Sequence

from shapely.geometry import LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry

from bolewalk.model.trees import Tree
from bolewalk.model.works import Part, Work

__all__ = ["distance_m", "nearest"]


def distance_m(tree: Tree, work: Work) -> float | None:
    """Give the distance from a trunk's middle to a work [m], 0 inside it.

    A line's or point's width counts. None where the tree is not located.
    """
    if tree.x_m is None or tree.y_m is None or not work.parts:
        return None
    at = Point(tree.x_m, tree.y_m)
    half = (work.width_m if work.parts[0].shape == "line" else work.diameter_m or 0.0) / 2
    away = min(float(_shape(p).distance(at)) for p in work.parts)
    return max(0.0, away - half)


def nearest(tree: Tree, works: Sequence[Work], kinds: Collection[str]) -> tuple[Work, float] | None:
    """Give the nearest work of some kinds that stands or may stand there, and its distance [m]."""
    found = [
        (away, n, w)
        for n, w in enumerate(works)
        if w.kind in kinds and w.present != "no" and (away := distance_m(tree, w)) is not None
    ]
    if not found:
        return None
    away, _, work = min(found, key=lambda f: f[:2])
    return work, away


def _shape(part: Part) -> BaseGeometry:
    if part.shape == "point":
        return Point(part.ring[0])
    if part.shape == "line":
        return LineString(part.ring)
    return Polygon(part.ring, part.holes)
