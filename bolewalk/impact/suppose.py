"""One tree under every combination of what its open facts may turn out to be."""

import math
from collections.abc import Callable, Sequence

import shapely

from bolewalk.impact.clashes import crown_clash, obstacles
from bolewalk.impact.crown import crown_solid
from bolewalk.impact.fact import Fact
from bolewalk.impact.footprints import covers
from bolewalk.impact.glance import Glance
from bolewalk.impact.near import outline_of
from bolewalk.impact.questions import Combination
from bolewalk.impact.results import CrownClash, RootZone
from bolewalk.impact.scene import Scene
from bolewalk.impact.thresholds import Thresholds
from bolewalk.impact.tolerance import tolerance_of
from bolewalk.impact.verdicts import judge_roots
from bolewalk.model.trees import Tree
from bolewalk.model.words import Verdict
from bolewalk.model.works import Work

__all__ = ["Suppositions"]

_WorkKey = tuple[int, Combination]
# Place of the work in the list, and the values of the facts that change it.


class Suppositions:
    """Judges one tree for combinations of fact values; what a fact does not touch is reused.

    Parameters
    ----------
    tree : Tree
        With position.
    works : sequence of Work
        All that come near it, as recorded.
    facts : sequence of Fact
    zone_of : callable
        The root zone of the tree as a combination would have it.
    thresholds : Thresholds
        Those of the tree.
    """

    def __init__(
        self,
        tree: Tree,
        works: Sequence[Work],
        facts: Sequence[Fact],
        zone_of: Callable[[Tree], RootZone | None],
        thresholds: Thresholds,
    ) -> None:
        self.tree = tree
        self.works = tuple(works)
        self.facts = tuple(facts)
        self.thresholds = thresholds
        self._zone_of = zone_of
        self._xy = (tree.x_m or 0.0, tree.y_m or 0.0)
        self._scene = Scene((), origin=self._xy)
        self._on_work = tuple(
            tuple(i for i, f in enumerate(self.facts) if w.id in f.works) for w in self.works
        )
        self._roots = tuple(i for i, f in enumerate(self.facts) if "roots" in f.touches)
        self._crown = tuple(i for i, f in enumerate(self.facts) if "crown" in f.touches)
        self._tree = tuple(i for i, f in enumerate(self.facts) if not f.works)
        self._works_known: dict[_WorkKey, Work | None] = {}
        self._trees_known: dict[Combination, tuple[Tree, RootZone | None]] = {}
        self._losses_known: dict[tuple[Combination, Combination], Glance] = {}
        self._cover_known: dict[tuple[int, float], float] = {}
        self._crowns_known: dict[Combination, CrownClash] = {}

    def tree_at(self, at: Combination) -> tuple[Tree, RootZone | None]:
        """Give the tree and its root zone under a combination."""
        key = tuple(at[i] for i in self._tree)
        if key not in self._trees_known:
            tree = self.tree
            for i in self._tree:
                tree = self.facts[i].values[at[i]].of_tree(tree)
            self._trees_known[key] = (tree, self._zone_of(tree))
        return self._trees_known[key]

    def _work_at(self, n: int, at: Combination) -> Work | None:
        key = (n, tuple(at[i] for i in self._on_work[n]))
        if key not in self._works_known:
            changed: Work | None = self.works[n]
            for i in self._on_work[n]:
                if changed is not None:
                    changed = self.facts[i].values[at[i]].change(changed)
            self._works_known[key] = changed
        return self._works_known[key]

    def works_at(self, at: Combination) -> tuple[Work, ...]:
        """Give the works under a combination, those that would not be there left out."""
        found = (self._work_at(n, at) for n in range(len(self.works)))
        return tuple(w for w in found if w is not None)

    def loss_at(self, at: Combination) -> Glance | None:
        """Give the root loss of all works that would be there; None without a root zone."""
        zone = self.tree_at(at)[1]
        if zone is None:
            return None
        key = (
            tuple(at[i] for i in self._roots),
            tuple(at[i] for i in self._tree if "roots" in self.facts[i].touches),
        )
        if key not in self._losses_known:
            works = self.works_at(at)
            scene = self._scene = self._scene.with_works(works)
            self._losses_known[key] = Glance(
                self._xy,
                zone,
                scene,
                cover_at_most_pct=sum(self._cover_bound_pct(w, zone) for w in works),
                cover_matters_over_pct=self.thresholds.covered_keep_pct,
            )
        return self._losses_known[key]

    def _cover_bound_pct(self, work: Work, zone: RootZone) -> float:
        """Give the share of the zone a covering work lies over, cuts or not [%]."""
        if not covers(work):
            return 0.0
        key = (id(work), zone.radius_m)
        if key not in self._cover_known:
            # Circumscribed, so that chords take nothing off the bound.
            wide = zone.radius_m / math.cos(math.pi / 256)
            disc = shapely.Point(self._xy).buffer(wide, quad_segs=64)
            area = float(shapely.intersection(outline_of(work), disc).area)
            self._cover_known[key] = 100.0 * area / zone.area_m2
        return self._cover_known[key]

    def crown_at(self, at: Combination) -> CrownClash:
        """Give the crown's volume and share to remove."""
        key = tuple(at[i] for i in self._crown)
        if key not in self._crowns_known:
            found = obstacles(self.works_at(at), ("existing", "proposed"))
            self._crowns_known[key] = crown_clash(
                crown_solid(self.tree), found, self.thresholds, detail=False
            )
        return self._crowns_known[key]

    def level_at(self, at: Combination) -> Verdict:
        """Judge one combination.

        Raises
        ------
        ValueError
            The tree has no root zone under it.
        """
        tree, zone = self.tree_at(at)
        loss = self.loss_at(at)
        if zone is None or loss is None:
            raise ValueError(f"tree {self.tree.id!r} has no root zone to judge.")
        level = tolerance_of(tree).level
        return judge_roots(loss, zone, level, self.crown_at(at), self.thresholds)

    def severity_at(self, at: Combination) -> float:
        """Give a figure that rises with harm: root loss, cuts at the trunk far above all."""
        zone, loss = self.tree_at(at)[1], self.loss_at(at)
        if zone is None or loss is None:
            return 0.0
        harm = loss.severed_pct + loss.covered_pct / 100 + loss.best_half_severed_pct / 10
        cut = loss.nearest_cut_m
        if cut is not None and cut < zone.structural_radius_m:
            harm += 1000.0 + zone.structural_radius_m - cut
        removed = self.crown_at(at).removed_pct
        return harm + (removed or 0.0) / 100
