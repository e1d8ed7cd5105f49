"""One tree against one set of works, each figure worked out only when it is asked for.

Joint combinations of open facts are judged by the thousand, and most are decided by the nearest
cut or by the share severed: the best half and the cover, which cost most, are then never needed.
"""

from functools import cached_property

import numpy as np

from bolewalk.impact.accounts import Ground, areas_by_owner
from bolewalk.impact.halves import best_halves
from bolewalk.impact.losses import Settling, reach_of
from bolewalk.impact.results import RootZone
from bolewalk.impact.roots import zones_table
from bolewalk.impact.scene import Scene
from bolewalk.impact.sight import Seen, nearest_m, see

__all__ = ["Glance"]


class Glance:
    """Root loss of one tree from all works of a scene, whatever their phase.

    Parameters
    ----------
    tree_xy : (east, north) [m]
    zone : RootZone
    scene : Scene
    cover_at_most_pct : float, optional
        A bound on the share covered that is known beforehand [%].
    cover_matters_over_pct : float
        Where the bound is no larger than this, `covered_pct` is the bound: the exact share could
        not change what is read from it.

    Notes
    -----
    The figures are those of `root_losses(...).with_later`, of the same accounts.
    """

    def __init__(
        self,
        tree_xy: tuple[float, float],
        zone: RootZone,
        scene: Scene,
        *,
        cover_at_most_pct: float | None = None,
        cover_matters_over_pct: float = 0.0,
    ) -> None:
        self._scene = scene
        self._cover_at_most = cover_at_most_pct
        self._cover_matters_over = cover_matters_over_pct
        self._zones = zones_table([zone])
        self._at = scene.local(np.array([tree_xy], dtype=np.float64))
        self._reach = reach_of(self._zones)

    @cached_property
    def _seen(self) -> Seen:
        return see(self._scene.cuts, self._at, self._reach)

    @cached_property
    def nearest_cut_m(self) -> float | None:
        """Distance to the nearest severing footprint [m], None without one."""
        groups = np.flatnonzero(self._scene.cutting)
        if not len(groups):
            return None
        if len(self._seen.held_trunk):
            return 0.0
        distance = float(nearest_m(self._scene.cuts, groups, self._at)[0])
        return distance if np.isfinite(distance) else None

    @cached_property
    def _near(self) -> np.ndarray:
        return self._scene.near(self._at, self._reach)[1]

    @cached_property
    def _cases(self) -> Settling:
        phase = np.array([int(self._scene.phase.max(initial=0))])
        return Settling(
            self._scene, self._at, self._reach, self._zones, self._seen, np.array([0]), phase
        )

    @cached_property
    def _ground(self) -> Ground:
        covered = bool(self._scene.covering[self._near].any())
        return self._cases.settle(piles="made", dodged=None, need_rim=covered)

    @cached_property
    def severed_pct(self) -> float:
        """Share of the zone severed [%]."""
        if not len(self._near):
            return 0.0
        if self._ground.taken[0]:
            return 100.0
        lost = areas_by_owner(self._ground.terms, self._ground.weight, 1)[0]
        return float(np.clip(100.0 * lost / self._zones.area[0], 0.0, 100.0))

    @cached_property
    def best_half_severed_pct(self) -> float:
        """Smallest share severed of any half of the zone [%]."""
        if not len(self._near):
            return 0.0
        return float(np.clip(best_halves(self._ground)[0][0], 0.0, 100.0))

    @cached_property
    def covered_pct(self) -> float:
        """Share of the zone covered and not severed [%]."""
        if not self._scene.covering[self._near].any():
            return 0.0
        if self._cover_at_most is not None and self._cover_at_most <= self._cover_matters_over:
            return self._cover_at_most
        covered = self._cases.covered_and_overlap(self._ground)[0][0]
        return float(np.clip(100.0 * covered / self._zones.area[0], 0.0, 100.0))
