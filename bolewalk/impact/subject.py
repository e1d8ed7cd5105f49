"""What of one tree does not change when works do."""

from dataclasses import dataclass

from bolewalk.impact.crown import CrownSolid, crown_solid
from bolewalk.impact.results import RootZone
from bolewalk.impact.thresholds import Thresholds, thresholds
from bolewalk.impact.tolerance import ToleranceFound, tolerance_of
from bolewalk.impact.zones import root_zone
from bolewalk.model.survey import Method
from bolewalk.model.trees import Tree

__all__ = ["Subject", "subject_of"]


@dataclass(frozen=True, slots=True)
class Subject:
    """What of one tree does not change when works do. `zone` None = no trunk or crown to draw
    it from; `limits` are those of the method and the tree's age."""

    tree: Tree
    zone: RootZone | None
    solid: CrownSolid | None
    tolerance: ToleranceFound
    limits: Thresholds

    @property
    def xy(self) -> tuple[float, float] | None:
        """Trunk centre (east, north) [m], None where not located."""
        if self.tree.x_m is None or self.tree.y_m is None:
            return None
        return self.tree.x_m, self.tree.y_m

    @property
    def judged(self) -> bool:
        """Whether works can be set against the tree."""
        return self.zone is not None and self.xy is not None


def subject_of(tree: Tree, method: Method, *, limits: Thresholds | None = None) -> Subject:
    """Work out what of one tree does not change when works do.

    Parameters
    ----------
    tree : Tree
    method : Method
    limits : Thresholds, optional
        The packaged ones where left out.
    """
    return Subject(
        tree,
        root_zone(tree, method.root_zone),
        crown_solid(tree),
        tolerance_of(tree),
        (limits or thresholds()).for_tree(method=method.root_zone, age=tree.age),
    )
