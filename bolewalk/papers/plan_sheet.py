"""The site plan of a survey as the papers place it."""

from collections.abc import Sequence
from typing import Any

from shapely.geometry.base import BaseGeometry

from bolewalk.papers.draw.sheet import Sheet, SheetText, plan_sheet
from bolewalk.papers.drawings import as_data
from bolewalk.papers.reading import DASH, Reading, client_name, plain_date

__all__ = ["protection_sheet", "site_plan", "site_sheet"]


def site_sheet(reading: Reading) -> Sheet | None:
    """Give the plan of the whole site on one sheet; None where nothing has a position."""
    return _sheet(reading, "site_plan", ())


def protection_sheet(
    reading: Reading, fences: Sequence[BaseGeometry], ground: Sequence[BaseGeometry]
) -> Sheet | None:
    """Give the same plan with its protection fences and the ground they close off."""
    return _sheet(reading, "protection_plan", fences, ground)


def _sheet(
    reading: Reading,
    title: str,
    fences: Sequence[BaseGeometry],
    ground: Sequence[BaseGeometry] = (),
) -> Sheet | None:
    if title not in reading.sheets:
        reading.sheets[title] = _drawn(reading, title, fences, ground)
    return reading.sheets[title]


def _drawn(
    reading: Reading,
    title: str,
    fences: Sequence[BaseGeometry],
    ground: Sequence[BaseGeometry],
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
    notes = [words["note_fenced"]] if ground else []
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
    )


def site_plan(reading: Reading) -> dict[str, Any] | None:
    """Give the site plan as JSON values; None where nothing has a position."""
    sheet = site_sheet(reading)
    return None if sheet is None else as_data(sheet.scene, alt=reading.say("plan_alt.site"))
