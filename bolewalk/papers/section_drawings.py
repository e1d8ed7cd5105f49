"""Sections through the crowns that works stand in, for the report and the protection sheet."""

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

from bolewalk.impact.clashes import Obstacle, obstacles
from bolewalk.impact.crown import crown_solid
from bolewalk.papers.draw.scene import Scene
from bolewalk.papers.draw.section import section_through
from bolewalk.papers.drawings import as_data
from bolewalk.papers.reading import Reading, stays

if TYPE_CHECKING:
    from bolewalk.survey import TreeFinding

__all__ = ["LEAST_CROWN_PCT", "crown_texts", "section_drawings", "sections_data"]

LEAST_CROWN_PCT = 0.1
"""A smaller share of a crown is within any crown's measuring and is not spoken of."""
_HEIGHT_MM = 78.0


def sections_data(reading: Reading, *, width_mm: float) -> list[dict[str, Any]]:
    """Give one section for each tree that stays and has works in its crown, as JSON values."""
    return [
        {
            "id": t.tree.id,
            **reading.species(t.tree),
            "drawing": as_data(drawn, alt=reading.say("plan_alt.section")),
            "says": crown_texts(reading, t),
        }
        for t, drawn in section_drawings(reading, width_mm=width_mm)
    ]


def section_drawings(reading: Reading, *, width_mm: float) -> Iterator[tuple["TreeFinding", Scene]]:
    """Draw one section for each tree that stays and has works in its crown."""
    found = obstacles(reading.findings.survey.works, ("existing", "proposed"))
    names = reading.work_names()
    words = reading.labels("plan")
    for t in reading.findings.trees:
        near = _in_crown(t, found)
        solid = crown_solid(t.tree)
        if not near or solid is None:
            continue
        drawn = section_through(
            solid, near, trunk_m=max((s.value for s in t.tree.stems_cm), default=30.0) / 100,
            names=names, words=words, amounts=reading.speaker.amounts,
            width_mm=width_mm, height_mm=_HEIGHT_MM,
        )  # fmt: skip
        yield t, drawn.scene


def _in_crown(t: "TreeFinding", found: tuple[Obstacle, ...]) -> list[Obstacle]:
    c = t.impact.crown
    if not stays(t.tree) or not t.tree.located or c is None or not c.removed_pct:
        return []
    solid = crown_solid(t.tree)
    if c.removed_pct < LEAST_CROWN_PCT or solid is None:
        return []
    x, y = solid.centre
    north, east, south, west = solid.radii_m
    reach = (x - west, y - south, x + east, y + north)
    near = []
    for o in found:
        b = o.wide.bounds
        apart = b[0] > reach[2] or b[2] < reach[0] or b[1] > reach[3] or b[3] < reach[1]
        if not apart and o.wide_low_m < solid.top_m and o.wide_high_m > solid.base_m:
            near.append(o)
    return near


def crown_texts(reading: Reading, t: "TreeFinding") -> list[str]:
    """Say how much of a crown is in the way, where and how thick; or how long it stays clear."""
    c = t.impact.crown
    if c is None:
        return []
    out = []
    if c.removed_pct is not None and c.removed_pct >= LEAST_CROWN_PCT:
        out.append(reading.say("paper.crown_removed", removed_pct=c.removed_pct))
        v = t.impact.verdict
        out += reading.texts(
            s for s in (v.conditions if v else ())
            if s.code in ("condition.crown_where", "condition.crown_limb")
        )  # fmt: skip
        return out
    if c.clearance_m is None:
        return out
    if c.clearance_m <= 0:
        return [*out, reading.say("paper.crown_meets")]
    if c.clash_in_years is not None and c.clash_in_years < float("inf"):
        out.append(reading.say("paper.crown_clear", clearance_m=c.clearance_m))
        out.append(reading.say("paper.crown_years", years_count=max(1, round(c.clash_in_years))))
    return out
