"""The tree protection sheet: what goes on the drawings and on the site hut's wall."""

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from shapely.geometry import Polygon

from bolewalk.impact.results import COMPASS
from bolewalk.papers.conditions import WayOfWorking, decisive, ways_data, ways_of
from bolewalk.papers.cut_rows import cut_notes, loose_cut_notes, more_cut_rows
from bolewalk.papers.draw.sheet import SHEET_SIZES
from bolewalk.papers.drawings import as_data
from bolewalk.papers.front import cautions, common_data, front_rows
from bolewalk.papers.plan_sheet import protection_sheet
from bolewalk.papers.protection_lines import (
    fence_distances_m,
    fence_lines,
    fenced_ground,
    fenced_trees,
    protection_settings,
)
from bolewalk.papers.reading import DASH, Reading
from bolewalk.papers.section_drawings import sections_data
from bolewalk.papers.tables import id_width_mm
from bolewalk.papers.working_ground import working_ground

if TYPE_CHECKING:
    from bolewalk.survey import TreeFinding

__all__ = ["protection_data", "site_notes"]

_BEFORE = ("fence_first", "fence_kind", "fence_neighbour", "signs", "mulch", "meet")
_DURING = (
    "no_store", "no_wash", "no_dig", "root_call", "clean_cut", "no_open", "water", "no_attach",
)  # fmt: skip
_STOP = ("stop_root", "stop_fence", "stop_damage", "stop_drawing")
_AFTER = ("fence_down", "after_look")


def protection_data(reading: Reading) -> dict[str, Any]:
    """Give the protection sheet as JSON values for its template."""
    s = reading.findings.survey
    fences = fence_lines(reading.plan_trees, s.works, units=s.units)
    ground = fenced_ground(reading.plan_trees, s.works, units=s.units)
    working = working_ground(reading.plan_trees, s.works, units=s.units)
    sheet = protection_sheet(reading, fences, ground, working)
    kept = {t.tree.id for t in fenced_trees(reading.plan_trees)}
    fenced = [t for t in reading.findings.trees if t.tree.id in kept]
    words = reading.labels("protection")
    ways = ways_of(reading, fenced)
    return {
        **common_data(reading),
        "title": words["title"],
        "p": words,
        "cover": front_rows(reading),
        "plan": None
        if sheet is None
        else as_data(sheet.scene, alt=reading.say("plan_alt.protection")),
        "sheet": list(SHEET_SIZES[s.units]),
        "ways": ways_data(ways),
        "sections": sections_data(reading, width_mm=182.0),
        "id_mm": id_width_mm(reading),
        "rows": [_row(reading, t, ways, ground) for t in fenced],
        "removed": [t.tree.id for t in reading.findings.trees if t.tree.decision == "remove"],
        "open": [
            t.tree.id
            for t in reading.findings.trees
            if t.tree.decision != "remove" and t.tree.id not in kept
        ],
        "notes": [*_about_cuts(reading, fenced), *site_notes(reading)],
        "call": _call(reading),
        "cautions": cautions(reading),
    }  # fmt: skip


def _about_cuts(reading: Reading, fenced: "Sequence[TreeFinding]") -> list[dict[str, Any]]:
    words = reading.labels("nearest_rows")
    items = cut_notes(reading, [t.impact for t in fenced])
    cuts = [t.impact.nearest_cut for t in fenced]
    if any(c is not None and (c.tape_times or loose_cut_notes(c)) for c in cuts):
        items.append(words["second_line"])
    return [{"head": words["about"], "items": items}] if items else []


def site_notes(reading: Reading) -> list[dict[str, Any]]:
    """Give what holds for the site before, during and after the works, and when to stop."""
    words = reading.labels("protection")
    return [
        {"head": words[head], "items": [_note(reading, code) for code in codes]}
        for head, codes in (
            ("before", _BEFORE), ("during", _DURING), ("stop", _STOP), ("after", _AFTER),
        )
    ]  # fmt: skip


def _note(reading: Reading, code: str) -> str:
    s = protection_settings(reading.findings.survey.units)
    return reading.say(
        f"protection_says.{code}",
        root_cm=s.root_to_call_cm,
        fence_m=s.fence_height_m,
        mulch_cm=s.mulch_cm,
        room_m=s.working_room_m,
    )


def _call(reading: Reading) -> str:
    a = reading.findings.survey.people.assessor
    if a is None:
        return ""
    return reading.say("protection_says.call", name=a.name, contact=a.contact or DASH)


def _row(
    reading: Reading, t: "TreeFinding", ways: Sequence[WayOfWorking], ground: Sequence[Polygon]
) -> dict[str, Any]:
    zone, cut, amounts = t.impact.zone, t.impact.nearest_cut, reading.speaker.amounts
    v = t.impact.verdict

    def sides(level: str) -> list[str]:
        distances = {} if cut is None else (cut.keep if level == "keep" else cut.keep_if)
        cells = [DASH if (d := distances.get(c)) is None else amounts.length_number(d)
                 for c in COMPASS]  # fmt: skip
        rows = [] if cut is None else more_cut_rows(
            reading, cut, level, outer=bool(loose_cut_notes(cut))
        )  # fmt: skip
        return ["\n".join(cell) for cell in zip(cells, *(r["cells"] for r in rows), strict=True)]

    return {
        "id": t.tree.id,
        **reading.species(t.tree),
        "mark": v.now if v else "none",
        "verdict": reading.word("verdict_short", v.now if v else None),
        "zone": DASH if zone is None else amounts.length_number(zone.radius_m),
        "structural": DASH if zone is None else amounts.length_number(zone.structural_radius_m),
        "keep": sides("keep"),
        "keep_if": sides("keep_if"),
        "fence": [
            DASH if d is None else amounts.length_number(d)
            for d in fence_distances_m(t.tree, ground, [45.0 * i for i in range(len(COMPASS))])
        ],
        "conditions": reading.texts((*decisive(v), *loose_cut_notes(cut))),
        "ways": [w.letter for w in ways if t.tree.id in w.trees],
    }
