"""The site plan of a survey as the papers place it."""

from collections.abc import Sequence
from typing import Any

from shapely.geometry.base import BaseGeometry

from bolewalk.papers.draw.plan import PlanZone
from bolewalk.papers.draw.sheet import Sheet, SheetText, plan_sheet
from bolewalk.papers.drawings import as_data
from bolewalk.papers.reading import DASH, Reading, client_name, plain_date
from bolewalk.papers.working_ground import WorkingGround

__all__ = ["protection_sheet", "site_plan", "site_sheet"]


def site_sheet(reading: Reading) -> Sheet | None:
    """Give the plan of the whole site on one sheet; None where nothing has a position."""
    return _sheet(reading, "site_plan", ())


def protection_sheet(
    reading: Reading,
    fences: Sequence[BaseGeometry],
    ground: Sequence[BaseGeometry],
    working: WorkingGround | None,
) -> Sheet | None:
    """Give the same plan with its protection fences, the ground they close off, and the ground
    to work from."""
    return _sheet(reading, "protection_plan", fences, ground, working)


def _sheet(
    reading: Reading,
    title: str,
    fences: Sequence[BaseGeometry],
    ground: Sequence[BaseGeometry] = (),
    working: WorkingGround | None = None,
) -> Sheet | None:
    if title not in reading.sheets:
        reading.sheets[title] = _drawn(reading, title, fences, ground, working)
    return reading.sheets[title]


def _drawn(
    reading: Reading,
    title: str,
    fences: Sequence[BaseGeometry],
    ground: Sequence[BaseGeometry],
    working: WorkingGround | None,
) -> Sheet | None:
    s, words = reading.findings.survey, reading.labels("plan")
    block = []
    if s.place:
        block.append((words["place"], s.place))
    for d in s.drawings[:3]:
        dated = d.label if d.date is None else f"{d.label} · {plain_date(d.date)}"
        block.append((words["drawing"], dated))
    if not s.drawings:
        block.append((words["drawing"], words["no_drawing"]))
    block.append((words["survey_date"], plain_date(s.date)))
    block.append((words["method"], reading.word("method", s.method.root_zone)))
    client = s.people.client
    if client is not None:
        block.append((words["client"], client_name(reading)))
    block.append((words["by"], s.people.assessor.name if s.people.assessor else DASH))
    # A sheet has no running foot, and may be taken out of its set.
    block.append((reading.labels("issue")["issue"], reading.issue_text()))
    notes = [words["note_fenced"]] if ground else []
    if working is not None:
        notes += _working_notes(working, words)
    notes.append(words["note_boundary"])
    if any(not t.tree.located for t in reading.findings.trees):
        notes.append(words["note_unlocated"])
    return plan_sheet(
        reading.plan_trees,
        s.works,
        units=s.units,
        text=SheetText(words[title], s.name, tuple(block), words, tuple(notes)),
        names=reading.work_names(),
        fences=fences,
        ground=ground,
        zones=() if working is None else _zones(working, words),
    )


def _zones(working: WorkingGround, words: dict[str, str]) -> tuple[PlanZone, ...]:
    found = (("mats", working.mats), ("storage", working.storage), ("wash-out", working.washout))
    return tuple(
        PlanZone(hatch, shape, words[f"label_{name}"], words[f"zone_{name}"])
        for hatch, shape in found
        if shape is not None and not shape.is_empty
        for name in (hatch.replace("-", ""),)
    )


def _working_notes(working: WorkingGround, words: dict[str, str]) -> list[str]:
    notes = []
    if not working.path:
        notes.append(words["note_no_path"])
    if working.storage is None and not working.storage_drawn:
        notes.append(words["note_no_storage"])
    if working.washout is None:
        notes.append(words["note_no_washout"])
    return notes


def site_plan(reading: Reading) -> dict[str, Any] | None:
    """Give the site plan as JSON values; None where nothing has a position."""
    sheet = site_sheet(reading)
    return None if sheet is None else as_data(sheet.scene, alt=reading.say("plan_alt.site"))
