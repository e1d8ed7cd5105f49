"""The monitoring sheet: who attends which cut, when to look again, and the root-cut log."""

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from bolewalk.impact.near import near_works
from bolewalk.papers.front import cautions, common_data, front_rows
from bolewalk.papers.protection_lines import fenced_trees
from bolewalk.papers.reading import Reading, plain_date
from bolewalk.visits.assumptions import months_later

if TYPE_CHECKING:
    from bolewalk.survey import TreeFinding

__all__ = ["monitoring_data"]

_LOOK_YEARS = (1, 3, 5)
"""Root loss and fill often show only after three to five years: common practice, no source."""


def monitoring_data(reading: Reading) -> dict[str, Any] | None:
    """Give the sheet as JSON values; None where no cut is near and no tree is to be watched."""
    fenced = {p.tree.id for p in fenced_trees(reading.plan_trees)}
    kept = [t for t in reading.findings.trees if t.tree.id in fenced]
    cuts = _cuts(reading, kept)
    watched = [t for t in reading.findings.trees if t.tree.decision in ("monitor", "inspect")]
    if not cuts and not watched:
        return None
    words = reading.labels("monitoring")
    survey = reading.findings.survey
    return {
        **common_data(reading),
        "title": words["title"],
        "m": words,
        "cover": front_rows(reading, without=("method",)),
        "cuts": cuts,
        "visits": [words[f"visit_{k}"] for k in ("fence", "cuts", "moved", "end")] if cuts else [],
        "after": [
            reading.say("monitoring_says.after", years_count=n) for n in _LOOK_YEARS
        ] if cuts else [],
        "watched": [
            {
                "id": t.tree.id, **reading.species(t.tree), "notes": t.tree.notes,
                "looks": [plain_date(months_later(survey.date, 12 * n)) for n in _LOOK_YEARS],
            }
            for t in watched
        ],
        "years": [reading.say("monitoring_says.in_years", years_count=n) for n in _LOOK_YEARS],
        "cautions": cautions(reading),
    }  # fmt: skip


def _cuts(reading: Reading, kept: "Sequence[TreeFinding]") -> list[dict[str, Any]]:
    """List the works that cut within a root zone, nearest first at each, with who attends."""
    found: dict[str, dict[str, tuple[float, bool]]] = {}
    planned = [w for w in reading.findings.survey.works if w.phase == "proposed"]
    for t in kept:
        zone = t.impact.zone
        if zone is None or t.tree.x_m is None or t.tree.y_m is None:
            continue
        for near in near_works((t.tree.x_m, t.tree.y_m), zone.radius_m, planned):
            cuts = near.role in ("pile", "severs") and near.distance_m < zone.radius_m
            if not cuts:
                continue
            name = near.work.label or near.work.id
            at = found.setdefault(name, {})
            d, holding = near.distance_m, near.distance_m < zone.structural_radius_m
            before = at.get(t.tree.id, (d, holding))
            at[t.tree.id] = (min(before[0], d), before[1] or holding)
    words, amounts = reading.labels("monitoring"), reading.speaker.amounts
    return [
        {
            "works": name,
            "trees": [
                {"id": tree, "at": amounts.length(d)}
                for tree, (d, _) in sorted(at.items(), key=lambda kv: kv[1][0])
            ],
            "who": words["both" if any(h for _, h in at.values()) else "arborist"],
        }
        for name, at in found.items()
    ]
