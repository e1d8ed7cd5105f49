"""What is not known about the trees and works of one cell, as cases to be worked out."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import product
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from bolewalk.impact.plausible import plausible_values
from bolewalk.impact.results import RootZone
from bolewalk.impact.scene import Scene
from bolewalk.model.figures import Figure
from bolewalk.model.works import Work
from bolewalk.region.geofiles import points_at
from bolewalk.region.job import Site
from bolewalk.region.kinds import Kind

__all__ = ["Cases", "cases_of", "doubtful", "suppositions"]

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Cases:
    """Trees where they may stand with the zones they may have, one row a case.

    Attributes
    ----------
    tree : ndarray of int64
        Row of the tree; all cases of one tree follow one another, the recorded one first.
    zone : ndarray of int64
        Zone within the tree's kind.
    place : ndarray of int64
        0 as recorded, 1 nearer to the nearest work, 2 farther.
    xy : ndarray, shape (n, 2)
        East and north [m].
    zones : tuple of RootZone
    reach : ndarray, shape (n,)
        How far off a work may matter [m].
    """

    tree: Ints
    zone: Ints
    place: Ints
    xy: Floats
    zones: tuple[RootZone, ...]
    reach: Floats

    @property
    def recorded(self) -> NDArray[np.bool_]:
        """Which cases are the facts as recorded, one a tree, in the order of trees."""
        first: NDArray[np.bool_] = (self.zone == 0) & (self.place == 0)
        return first


def cases_of(xy: Floats, kinds: Sequence[Kind], error: Floats, site: Site, works: Ints) -> Cases:
    """Lay out the cases of trees.

    Parameters
    ----------
    xy : ndarray, shape (n, 2)
        Trunk centres [m].
    kinds : sequence of Kind, length n
    error : ndarray, shape (n,)
        How far each tree may be off [m].
    site : Site
    works : ndarray of int64
        Those near the cell, at least one.

    Notes
    -----
    A tree that may be off, or whose nearest work may be, is also set nearer to that work and
    farther from it by both errors together.
    """
    n = len(xy)
    points, outlines = points_at(xy), site.outlines[works]
    i, j = shapely.STRtree(outlines).query_nearest(points, all_matches=False)
    off = error.copy()
    off[i] += site.offset[works[j]]
    towards = np.zeros((n, 2))
    towards[:, 1] = 1.0  # a tree within a work may leave on any bearing: north
    ends = shapely.get_coordinates(shapely.shortest_line(points[i], outlines[j]))[1::2] - xy[i]
    far = np.hypot(*ends.T)
    some = far > 0
    towards[i[some]] = ends[some] / far[some, None]
    zones = np.array([len(k.zones) for k in kinds])
    places = np.where(off > 0, 3, 1)
    count = zones * places
    tree = np.repeat(np.arange(n), count)
    step = np.arange(len(tree)) - np.repeat(np.cumsum(count) - count, count)
    zone, place = np.divmod(step, places[tree])
    times = np.array([0.0, 1.0, -1.0])[place]
    at = xy[tree] + (times * off[tree])[:, None] * towards[tree]
    found = tuple(kinds[t].zones[z] for t, z in zip(tree.tolist(), zone.tolist(), strict=True))
    reach = np.array([max(z.radius_m, z.structural_radius_m) for z in found])
    return Cases(tree, zone, place, at, found, reach)


def doubtful(works: Sequence[Work]) -> list[int]:
    """Give the positions of works of which something is not told that roots depend on."""
    return [k for k, w in enumerate(works) if any(_lacks(w))]


def _lacks(w: Work) -> tuple[bool, bool, bool]:
    return (
        w.kind == "pile" and w.made is None,
        w.present == "unknown",
        w.kind != "pile" and w.made == "trenchless" and w.depth_m is None,
    )


def suppositions(works: Sequence[Work], scene: Scene) -> Iterator[Scene]:
    """Give the works as they may turn out, all that lack the same alike.

    Parameters
    ----------
    works : sequence of Work
    scene : Scene
        In whose frame the others are laid.
    """
    table = plausible_values()
    depths = [Figure(d, "default", "plausible depth") for d in table.trenchless_m]
    values: tuple[list[dict[str, Any]], ...] = (
        [{"made": m} for m in table.made],
        [{"present": p} for p in ("yes", "no")],
        [{"depth_m": d} for d in depths],
    )
    lacking = [_lacks(w) for w in works]
    options: list[list[dict[str, Any]]] = [
        v if any(row[k] for row in lacking) else [{}] for k, v in enumerate(values)
    ]
    for changes in product(*options):
        changed = []
        for w, row in zip(works, lacking, strict=True):
            for lacks, change in zip(row, changes, strict=True):
                w = replace(w, **change) if lacks and change else w
            changed.append(w)
        yield scene.with_works(changed)
