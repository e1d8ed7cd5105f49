"""What stands about a tree and lengthens the work: wires in reach, things under the crown."""

from collections.abc import Sequence
from dataclasses import dataclass

from shapely.geometry import LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry

from bolewalk.model.survey import Survey
from bolewalk.model.trees import Tree
from bolewalk.model.works import Part, Work
from bolewalk.pricing.tasks import hours_table

__all__ = ["Surroundings", "surroundings"]


@dataclass(frozen=True, slots=True)
class Surroundings:
    """What stands about one tree. None = cannot be told: the tree is not located, its crown not
    measured, or nothing on the site was recorded. `clear_m` is the distance to the nearest thing
    that must not be hit (infinite where there is none)."""

    wires: bool | None
    targets: int | None
    clear_m: float | None


def _shape(part: Part) -> BaseGeometry:
    if part.shape == "point":
        return Point(part.ring[0])
    if part.shape == "line":
        return LineString(part.ring)
    return Polygon(part.ring, part.holes)


def _distance_m(work: Work, at: Point) -> float:
    return min((float(_shape(p).distance(at)) for p in work.parts), default=float("inf"))


def surroundings(tree: Tree, survey: Survey) -> Surroundings:
    """Tell what stands about a tree, from what was recorded as existing on the site.

    Only existing works count, as present unless known to be absent. A site without a single
    existing wire, building, roof, wall or fence recorded tells nothing.
    """
    hazard = hours_table()["hazard"]
    kinds: Sequence[str] = (*hazard["target_kinds"], "wire")
    about = [
        w for w in survey.works if w.phase == "existing" and w.present != "no" and w.kind in kinds
    ]
    if not about or tree.x_m is None or tree.y_m is None or tree.crown is None:
        return Surroundings(None, None, None)
    at = Point(tree.x_m, tree.y_m)
    reach = max(tree.crown.radii_m)
    away = [(w.kind, _distance_m(w, at)) for w in about]
    return Surroundings(
        wires=any(k == "wire" and d <= reach + hazard["wire_margin_m"] for k, d in away),
        targets=sum(k != "wire" and d <= reach + hazard["target_margin_m"] for k, d in away),
        clear_m=min(d for _, d in away),
    )
