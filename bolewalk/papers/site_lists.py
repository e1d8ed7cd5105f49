"""Lists for whoever sets out the works: points to flag, and piles that must move."""

from typing import Any

from bolewalk.impact.site_tables import pile_table, stake_out_list
from bolewalk.papers.reading import Reading, stays

__all__ = ["site_lists_data"]


def site_lists_data(reading: Reading) -> dict[str, Any]:
    """Give both lists as JSON values; empty lists where there is nothing to set out.

    Points and piles near trees to be removed are left out: they need not keep clear.
    """
    f = reading.findings
    kept = {t.tree.id for t in f.trees if stays(t.tree)}
    impacts = [t.impact for t in f.trees if t.tree.id in kept]
    names = {w.id: w.label or w.id for w in f.survey.works}
    points: dict[str, list[dict[str, Any]]] = {}
    for p in stake_out_list(f.survey, impacts, limits=f.limits):
        points.setdefault(names.get(p.work, p.work), []).append({
            "what": reading.speaker.text(p.what),
            "tapes": reading.texts(t.say for t in p.tapes) + reading.texts(p.notes),
            "photo": reading.speaker.text(p.photo),
        })  # fmt: skip
    shifts = pile_table(f.survey, impacts, limits=f.limits)
    clear = sum(s.shift_m <= 0 for _, s in shifts)
    return {
        "stakes": [{"works": name, "points": rows} for name, rows in points.items()],
        "piles": [
            {"tree": tree, "says": reading.speaker.text(s.say)}
            for tree, s in shifts
            if s.shift_m > 0
        ],
        "piles_clear": reading.say("site_says.clear", pairs_count=clear) if clear else "",
    }
