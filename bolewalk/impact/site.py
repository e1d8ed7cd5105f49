"""The works of one site, prepared once for every question asked of them."""

import math
from collections.abc import Sequence

from shapely.geometry.base import BaseGeometry

from bolewalk.impact.clashes import Obstacle, obstacles
from bolewalk.impact.near import NearWork, near_works, outline_of
from bolewalk.impact.roots import Scene
from bolewalk.model.words import Phase
from bolewalk.model.works import LeftOut, Work

__all__ = ["SiteWorks"]

_NOW: tuple[Phase, ...] = ("existing", "proposed")
_LATER: tuple[Phase, ...] = ("existing", "proposed", "possible later")


class SiteWorks:
    """Works laid out for root loss, for crowns, and for what is near a tree.

    Parameters
    ----------
    works : sequence of Work
    origin : (east, north) [m], optional
        Of the frame root loss is worked out in.
    left_out : sequence of LeftOut
        Works whose records could not be used: in no figure, but not forgotten.

    Raises
    ------
    ValueError
        A work has no finite footprint.
    """

    def __init__(
        self,
        works: Sequence[Work],
        *,
        origin: tuple[float, float] | None = None,
        left_out: Sequence[LeftOut] = (),
    ) -> None:
        self.works: tuple[Work, ...] = tuple(works)
        self.left_out: tuple[LeftOut, ...] = tuple(left_out)
        self.scene = Scene(self.works, origin=origin)
        self.shapes: tuple[BaseGeometry, ...] = tuple(outline_of(w) for w in self.works)
        self._stand_in_crowns()

    def _stand_in_crowns(self) -> None:
        self.now: tuple[Obstacle, ...] = obstacles(self.works, _NOW)
        self.later: tuple[Obstacle, ...] = obstacles(self.works, _LATER)
        self.widest_clearance_m = max((w.clearance_m for w in self.works), default=0.0)

    def replaced(self, position: int, work: Work) -> "SiteWorks":
        """Give the site with one work changed; what did not change is not laid out again."""
        site = object.__new__(SiteWorks)
        site.works = (*self.works[:position], work, *self.works[position + 1 :])
        site.left_out = self.left_out
        site.scene = self.scene.replaced(position, work)
        site.shapes = (*self.shapes[:position], outline_of(work), *self.shapes[position + 1 :])
        site._stand_in_crowns()
        return site

    def near(self, tree_xy: tuple[float, float], radius_m: float) -> tuple[NearWork, ...]:
        """Give the works near a tree (`near_works`)."""
        return near_works(tree_xy, radius_m, self.works, shapes=self.shapes)

    def unread(
        self, tree_xy: tuple[float, float], radius_m: float
    ) -> tuple[tuple[LeftOut, ...], tuple[LeftOut, ...]]:
        """Give the works left out that lie within a radius of a tree, and those that may lie
        anywhere."""
        x, y = tree_xy
        near = [
            one
            for one in self.left_out
            if one.extent_m is not None
            and math.hypot(
                max(one.extent_m[0] - x, x - one.extent_m[2], 0.0),
                max(one.extent_m[1] - y, y - one.extent_m[3], 0.0),
            )
            <= radius_m
        ]
        return tuple(near), tuple(one for one in self.left_out if one.extent_m is None)
