"""Rows of the tree table and of the root-loss table, as texts."""

from typing import TYPE_CHECKING, Any

from bolewalk.impact.results import COMPASS
from bolewalk.model.figures import Figure
from bolewalk.papers.amounts import compass_point
from bolewalk.papers.draw.type_metrics import printable, width_mm
from bolewalk.papers.reading import DASH, Reading, trunk_text

if TYPE_CHECKING:
    from bolewalk.survey import TreeFinding

__all__ = ["NOTHING", "id_width_mm", "loss_row", "share", "tree_row"]

NOTHING = "·"
"""Stands in a table for a share of nothing."""


def _figure(reading: Reading, figure: Figure | None) -> str:
    if figure is None:
        return DASH
    mark = "~" if figure.basis == "estimated" else ""
    return mark + reading.speaker.amounts.length_number(figure.value)


def share(value_pct: float) -> str:
    """Write a share for a table [percent], one decimal; `NOTHING` for nothing."""
    text = f"{value_pct:.1f}"
    return NOTHING if text == "0.0" else text


def id_width_mm(reading: Reading) -> float:
    """Give the width of the column of tree numbers: the widest, within what a table can spare."""
    ids = [printable(t.tree.id) for t in reading.findings.trees]
    return min(max((width_mm(i, 8.3, "bold") for i in ids), default=0.0) + 4.0, 26.0)


def tree_row(reading: Reading, t: "TreeFinding") -> dict[str, Any]:
    """Give one row of the tree table."""
    tree, zone, amounts = t.tree, t.impact.zone, reading.speaker.amounts
    crown = DASH
    if tree.crown is not None:
        # Four radii in one cell: a zero after the point would only widen the column.
        r = [amounts.length_number(v).removesuffix(".0") for v in tree.crown.radii_m]
        mark = "~" if tree.crown.basis.basis == "estimated" else ""
        crown = mark + (r[0] if len(set(r)) == 1 else "/".join(r))
    several = len(tree.stems_cm) > 1 and zone is not None and zone.diameter_cm is not None
    combined = zone.diameter_cm if zone is not None else None
    return {
        "id": tree.id,
        **reading.species(tree),
        "stems": trunk_text(reading, tree),
        "combined": amounts.trunk_number(combined) if several and combined is not None else "",
        "height": _figure(reading, tree.height_m),
        "base": _figure(reading, tree.crown_base_m),
        "crown": crown,
        "age": tree.age or DASH,
        "health": tree.health or DASH,
        "structure": tree.structure or DASH,
        "owner": tree.owner,
        "zone": DASH if zone is None else amounts.length_number(zone.radius_m),
        "structural": DASH if zone is None else amounts.length_number(zone.structural_radius_m),
        "decision": reading.word("decision", tree.decision),
        "remove": tree.decision == "remove",
        **reading.verdict_cell(t),
    }


def loss_row(reading: Reading, t: "TreeFinding") -> dict[str, Any] | None:
    """Give one row of the root-loss table; None where nothing was reckoned."""
    roots, zone, amounts = t.impact.roots, t.impact.zone, reading.speaker.amounts
    if roots is None or zone is None:
        return None
    now = roots.proposed
    low, high = now.severed_pct_range
    half = share(now.best_half_severed_pct)
    return {
        "id": t.tree.id,
        "mark": reading.verdict_cell(t)["mark"] or "remove",
        "zone": amounts.length_number(zone.radius_m),
        "structural": amounts.length_number(zone.structural_radius_m),
        "existing": share(roots.existing.severed_pct),
        "proposed": share(now.severed_pct),
        "later": share(roots.with_later.severed_pct),
        "range": NOTHING if low == high else f"{low:.1f}–{high:.1f}",
        "depth": share(now.severed_by_depth_pct),
        "overlap": share(now.overlap_pct),
        "covered": share(now.covered_pct),
        "nearest": DASH if now.nearest_cut_m is None else amounts.length_number(now.nearest_cut_m),
        "half": half,
        "toward": "" if now.best_half_bearing is None else compass_point(now.best_half_bearing),
        "arc": f"{now.widest_clear_arc_deg:.0f}°",
        "sectors": [share(now.sectors_pct[c]) for c in COMPASS],
    }
