"""The rose of one tree as papers and desk both show it."""

from bolewalk.impact.results import TreeImpact
from bolewalk.papers.draw.rose import draw_rose
from bolewalk.papers.draw.scene import Scene
from bolewalk.papers.reading import Reading

__all__ = ["tree_rose"]


def tree_rose(reading: Reading, impact: TreeImpact, *, size_mm: float) -> Scene | None:
    """Draw what each side loses to the proposed works, else to what may come later.

    None where nothing is lost, or a tree has no root zone.
    """
    if impact.roots is None or impact.zone is None:
        return None
    now = impact.roots.proposed
    shown = now if any(now.sectors_pct.values()) else impact.roots.with_later
    if not any(shown.sectors_pct.values()):
        return None
    words, radius = reading.labels("plan"), impact.zone.radius_m
    return draw_rose(
        shown.sectors_pct,
        size_mm=size_mm,
        structural_share=impact.zone.structural_radius_m / radius if radius > 0 else None,
        north=words["north"],
        best_half_bearing=shown.best_half_bearing,
        must_keep=words["rose_keeps"],
    )
