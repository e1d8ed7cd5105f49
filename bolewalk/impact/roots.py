"""Root loss of trees from works: existing, with proposed, with possible later works.

Roots are taken to run straight out from the trunk: what lies beyond the first footprint met on
a bearing is lost. It is a cautious comparison, not a forecast.
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from bolewalk.impact.accounts import Zones
from bolewalk.impact.losses import LossTable, Stand, loss_tables
from bolewalk.impact.results import COMPASS, RootLoss, RootLosses, RootZone
from bolewalk.impact.scene import Scene
from bolewalk.model.works import Work

__all__ = [
    "Scene", "root_losses", "root_losses_cases", "root_losses_many", "root_losses_moved",
    "zones_table",
]  # fmt: skip

Floats = NDArray[np.float64]


def zones_table(zones: Sequence[RootZone]) -> Zones:
    """Put zones into one table.

    Raises
    ------
    ValueError
        A radius or an outline distance is not finite and > 0.
    """
    radius = np.array([z.radius_m for z in zones], dtype=np.float64)
    area = np.array([z.area_m2 for z in zones], dtype=np.float64)
    outlines = [z.outline_m for z in zones if z.outline_m is not None]
    outline = np.array(outlines, dtype=np.float64).reshape(-1, 360)
    if not (np.isfinite(radius) & (radius > 0)).all() or not (outline > 0).all():
        raise ValueError("every zone needs a radius (and outline distances) > 0 m.")
    has = np.array([z.outline_m is not None for z in zones], dtype=bool)
    row = np.where(has, np.cumsum(has) - 1, -1).astype(np.int64)
    return Zones(radius, area, outline, row)


def root_losses(
    tree_xy: tuple[float, float], zone: RootZone, works: Sequence[Work] | Scene
) -> RootLosses:
    """Work out the root loss of one tree.

    Parameters
    ----------
    tree_xy : (east, north) [m]
        Trunk centre; the trunk's own radius is ignored.
    zone : RootZone
    works : sequence of Work, or a Scene prepared from them

    Returns
    -------
    RootLosses
        Running totals over the phases.
    """
    return root_losses_many(np.array([tree_xy]), [zone], works)[0]


def root_losses_many(
    trees_xy: NDArray[np.float64], zones: Sequence[RootZone], works: Sequence[Work] | Scene
) -> list[RootLosses]:
    """Work out the root loss of many trees in one go.

    Parameters
    ----------
    trees_xy : ndarray, shape (n, 2)
        Trunk centres (east, north) [m], finite.
    zones : sequence of RootZone, length n
    works : sequence of Work, or a Scene prepared from them

    Raises
    ------
    ValueError
        Lengths differ, a position is not finite, a work cannot be laid out.
    """
    xy = _positions(trees_xy, len(zones))
    scene = works if isinstance(works, Scene) else Scene(works, origin=_origin(xy))
    table = loss_tables([Stand(scene, xy, zones_table(zones))])[0]
    return [_losses(table, i) for i in range(len(zones))]


def root_losses_moved(
    before: Sequence[RootLosses],
    trees_xy: NDArray[np.float64],
    zones: Sequence[RootZone],
    old: Scene,
    new: Scene,
) -> list[RootLosses]:
    """Work out root loss again after some works were moved, for the trees they can matter to.

    Parameters
    ----------
    before : sequence of RootLosses, length n
        From `old`, for the same trees and zones.
    trees_xy : ndarray, shape (n, 2)
    zones : sequence of RootZone, length n
    old, new : Scene
        `new` from `old.replaced` or `old.with_works`.

    Returns
    -------
    list of RootLosses
        As `root_losses_many(trees_xy, zones, new)` gives it.
    """
    xy = _positions(trees_xy, len(zones))
    reach = np.array([z.radius_m for z in zones])
    again = np.zeros(len(zones), dtype=bool)
    kept = {id(w) for w in old.works} & {id(w) for w in new.works}
    for scene in (old, new):
        tree, work = scene.near(scene.local(xy), reach * (1 + 1e-9))
        other = np.array([id(w) not in kept for w in scene.works], dtype=bool)
        again[tree[other[work]]] = True
    again |= [_nearest_is_outside(b, r) for b, r in zip(before, reach.tolist(), strict=True)]
    rows = np.flatnonzero(again).tolist()
    out = list(before)
    fresh = root_losses_many(xy[rows], [zones[i] for i in rows], new)
    for i, loss in zip(rows, fresh, strict=True):
        out[i] = loss
    return out


def _nearest_is_outside(loss: RootLosses, reach: float) -> bool:
    """Whether, in some phase, the nearest cut may be any work on the site."""
    return any(
        one.nearest_cut_m is None or one.nearest_cut_m > reach
        for one in (loss.existing, loss.proposed, loss.with_later)
    )


def root_losses_cases(
    tree_xy: tuple[float, float], zone: RootZone, cases: Sequence[Sequence[Work]]
) -> list[RootLosses]:
    """Work out the root loss of one tree under many sets of works.

    Works that occur in several cases (the same objects) are laid out once.
    """
    xy = _positions(np.array([tree_xy]), 1)
    table = zones_table([zone])
    scene = Scene((), origin=_origin(xy))
    stands = [Stand(scene.with_works(c), xy, table) for c in cases]
    return [_losses(t, 0) for t in loss_tables(stands)]


def _positions(trees_xy: NDArray[np.float64], n: int) -> Floats:
    xy = np.asarray(trees_xy, dtype=np.float64).reshape(-1, 2)
    if len(xy) != n:
        raise ValueError(f"{len(xy)} positions and {n} zones: give one zone a tree.")
    if not np.isfinite(xy).all():
        raise ValueError("every trunk position must be finite; leave out trees not located.")
    return xy


def _origin(xy: Floats) -> tuple[float, float]:
    return (float(xy[0, 0]), float(xy[0, 1])) if len(xy) else (0.0, 0.0)


def _losses(table: LossTable, i: int) -> RootLosses:
    existing, proposed, with_later = (_loss(table, i, k) for k in range(3))
    return RootLosses(existing=existing, proposed=proposed, with_later=with_later)


def _loss(table: LossTable, i: int, k: int) -> RootLoss:
    nearest = float(table.nearest_m[i, k])
    bearing = float(table.best_half_bearing[i, k])
    return RootLoss(
        overlap_pct=float(table.overlap_pct[i, k]),
        severed_pct=float(table.severed_pct[i, k]),
        severed_by_depth_pct=float(table.severed_by_depth_pct[i, k]),
        covered_pct=float(table.covered_pct[i, k]),
        nearest_cut_m=nearest if np.isfinite(nearest) else None,
        widest_clear_arc_deg=float(table.widest_clear_arc_deg[i, k]),
        best_half_severed_pct=float(table.best_half_severed_pct[i, k]),
        best_half_bearing=None if np.isnan(bearing) else bearing,
        severed_pct_range=(float(table.dodged_pct[i, k]), float(table.blind_pct[i, k])),
        sectors_pct=dict(zip(COMPASS, table.sectors_pct[i, k].tolist(), strict=True)),
    )
