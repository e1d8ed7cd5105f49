"""The plan of a site as plain values for the map canvas, in the survey's own coordinates."""

from collections.abc import Mapping
from typing import Any

from bolewalk.desk.drawer import Sheet, WorkItem
from bolewalk.desk.geometry import footprint_of, geometry_of, pair, rounded
from bolewalk.desk.views.site import CHOICES
from bolewalk.impact.results import COMPASS, TreeImpact
from bolewalk.model.trees import Tree
from bolewalk.model.units import length_unit
from bolewalk.papers.draw.hatches import hatch_for
from bolewalk.papers.draw.plan import PlanTree, met_by_works, plan_extent, shown_cuts
from bolewalk.papers.draw.svg import INKS
from bolewalk.papers.reading import Reading
from bolewalk.papers.shapes import cut_lines

__all__ = ["plan_data", "tree_data", "verdict_data", "work_data"]


_ROOM_M = 12.0
"""Ground shown about works that have no tree beside them yet."""


def plan_data(sheet: Sheet, reading: Reading) -> dict[str, Any]:
    """Give everything the canvas draws.

    Coordinates and lengths are in the survey's grid unit, east before north; trunks too. Hatches
    are those of the printed plan, in millimetres on the paper.
    """
    survey = sheet.job.survey
    unit_m = survey.m_per_grid_unit
    names = reading.work_names()
    works = sheet.works()
    extent = plan_extent(reading.plan_trees, [w.work for w in works])
    if extent is not None and not any(t.tree.located for t in reading.findings.trees):
        # Room for the trees that are to be placed about the works.
        west, south, east, north = extent
        extent = west - _ROOM_M, south - _ROOM_M, east + _ROOM_M, north + _ROOM_M
    kinds = sorted({w.kind for w in survey.works})
    return {
        "revision": sheet.stored.revision,
        "variant": sheet.variant,
        "unit": length_unit(survey.units) if survey.crs is None else "",
        "extent": None if extent is None else [rounded(v / unit_m) for v in extent],
        "trees": [tree_data(sheet, t.tree, t.impact, reading) for t in reading.findings.trees],
        "works": [work_data(w, names.get(w.work.id, ""), unit_m) for w in works],
        "hatches": {kind: _hatch(kind) for kind in kinds},
        "inks": dict(INKS),
        "choices": {name: list(words) for name, words in CHOICES.items()},
        "pending": len(sheet.reckoning.pending),
    }


def tree_data(sheet: Sheet, tree: Tree, impact: TreeImpact, reading: Reading) -> dict[str, Any]:
    """Give one tree: place, crown, root zone, nearest-cut lines, verdict."""
    unit_m = sheet.job.survey.m_per_grid_unit
    item = sheet.tree_item(tree.id)
    zone = impact.zone
    out: dict[str, Any] = {
        "id": tree.id,
        "version": 0 if item is None else item.version,
        "name": tree.species.label,
        "at": None
        if tree.x_m is None or tree.y_m is None
        else [rounded(tree.x_m / unit_m), rounded(tree.y_m / unit_m)],
        "trunk": rounded(max((s.value for s in tree.stems_cm), default=0.0) / 200 / unit_m),
        "crown": None if tree.crown is None else [rounded(r / unit_m) for r in tree.crown.radii_m],
        "zone": None if zone is None else rounded(zone.radius_m / unit_m),
        "structural": None if zone is None else rounded(zone.structural_radius_m / unit_m),
        "remove": tree.decision == "remove",
        "pending": not sheet.reckoning.tried(tree.id),
        **verdict_data(impact, reading),
    }
    if zone is not None and zone.outline_m is not None:
        out["outline"] = [rounded(r / unit_m) for r in zone.outline_m]
    if tree.decision != "remove":
        out["cuts"] = _cuts(tree, impact, unit_m)
        if out["cuts"]:
            out |= _cut_line(tree, impact, out["cuts"][0]["level"], unit_m)
    return out


def verdict_data(impact: TreeImpact, reading: Reading) -> dict[str, Any]:
    """Give one tree's verdict in marks and words, and what it rests on, as it is known now."""
    verdict, roots = impact.verdict, impact.roots
    return {
        "mark": "none" if verdict is None else verdict.now,
        "verdict": reading.word("verdict_short", None if verdict is None else verdict.now),
        "later": ""
        if verdict is None or verdict.with_later == verdict.now
        else reading.word("verdict_short", verdict.with_later),
        "severed": None if roots is None else round(roots.proposed.severed_pct, 2),
        "covered": None if roots is None else round(roots.proposed.covered_pct, 2),
        "sectors": None
        if roots is None
        else [round(roots.proposed.sectors_pct[c], 1) for c in COMPASS],
        "because": [] if verdict is None else reading.texts(verdict.because),
        "conditions": [] if verdict is None else reading.texts(verdict.conditions),
    }


def _cuts(tree: Tree, impact: TreeImpact, unit_m: float) -> list[dict[str, Any]]:
    if not met_by_works(impact):
        return []
    return [
        {
            "level": side.level,
            "bearing": side.bearing_deg,
            "from": [rounded(v / unit_m) for v in side.start],
            "to": [rounded(v / unit_m) for v in side.end],
        }
        for side in shown_cuts(PlanTree(tree, impact))
    ]


def _cut_line(tree: Tree, impact: TreeImpact, level: str, unit_m: float) -> dict[str, Any]:
    """Give the same line closed, with its error; nothing where the level is lost on a side."""
    for line in cut_lines(tree, impact.nearest_cut):
        if line.level == level:
            rings = {"ring": line.ring, "inner": line.inner, "outer": line.outer}
            return {
                "cut_line": {
                    name: None if ring is None else [pair(p, unit_m) for p in ring]
                    for name, ring in rings.items()
                }
            }
    return {}


def work_data(entry: WorkItem, name: str, unit_m: float) -> dict[str, Any]:
    """Give one work: its drawn geometry, its footprint, and whether it can be changed here."""
    work = entry.work
    return {
        "id": work.id,
        "key": None if entry.item is None else entry.item.key,
        "version": 0 if entry.item is None else entry.item.version,
        "kind": work.kind,
        "phase": work.phase,
        "name": name,
        "drawing": work.drawing,
        "unsure": work.present == "unknown",
        "properties": None
        if entry.item is None
        else (entry.item.body or {})["feature"].get("properties") or {},
        "geometry": geometry_of(work.parts, unit_m),
        "footprint": footprint_of(work, unit_m),
    }


def _hatch(kind: str) -> Mapping[str, Any] | None:
    hatch = hatch_for(kind)
    if hatch is None:
        return None
    return {
        "angles": hatch.angles_deg,
        "spacing": hatch.spacing_mm,
        "mark": hatch.mark,
        "dash": hatch.dash_mm,
    }
