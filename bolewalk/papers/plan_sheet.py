"""The site plan of a survey as the papers place it."""

from typing import Any

from bolewalk.papers.draw.sheet import Sheet, SheetText, plan_sheet
from bolewalk.papers.drawings import as_data
from bolewalk.papers.reading import DASH, Reading, plain_date

__all__ = ["site_plan", "site_sheet"]


def site_sheet(reading: Reading, *, title: str = "site_plan", fences: Any = ()) -> Sheet | None:
    """Draw the plan of the whole site on one sheet; None where nothing has a position."""
    s, words = reading.findings.survey, reading.labels("plan")
    words["north"] = reading.labels("plan")["north"]
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
        block.append((words["client"], client.name))
    block.append((words["by"], s.people.assessor.name if s.people.assessor else DASH))
    notes = [words["note_boundary"]]
    if any(not t.tree.located for t in reading.findings.trees):
        notes.append(words["note_unlocated"])
    return plan_sheet(
        reading.plan_trees,
        s.works,
        units=s.units,
        text=SheetText(words[title], s.name, tuple(block), words, tuple(notes)),
        names=reading.work_names(),
        fences=fences,
    )


def site_plan(reading: Reading) -> dict[str, Any] | None:
    """Give the site plan as JSON values; None where nothing has a position."""
    sheet = site_sheet(reading)
    return None if sheet is None else as_data(sheet.scene, alt=reading.say("plan_alt.site"))
