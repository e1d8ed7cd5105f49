"""The head and title block every sheet of a survey carries."""

from dataclasses import dataclass

from bolewalk.desk.drawer import Sheet
from bolewalk.papers.reading import DASH, Reading, plain_date

__all__ = ["SHEETS", "SurveyHead", "survey_head"]

SHEETS: tuple[tuple[str, str], ...] = (
    ("walk", "Site walk"),
    ("site", "Site plan"),
    ("trees", "Tree table"),
    ("planting", "Planting"),
    ("price", "Price"),
    ("papers", "Papers"),
    ("files", "Files"),
)
"""The sheets of a survey, in order: address and title."""


@dataclass(frozen=True, slots=True)
class SurveyHead:
    """What stands on every sheet of one survey.

    `sheets` are (address, title, whether it is this one); `block` the rows of the title block;
    `faults` counts the entries of the survey that could not be used.
    """

    id: int
    name: str
    sheet: str
    title: str
    root: str
    variant: str
    variant_name: str
    suffix: str
    revision: int
    sheets: tuple[tuple[str, str, bool], ...]
    block: tuple[tuple[str, str], ...]
    faults: int


def survey_head(sheet: Sheet, reading: Reading, here: str) -> SurveyHead:
    """Give the head of one sheet.

    Parameters
    ----------
    sheet : Sheet
    reading : Reading
    here : str
        Address of the sheet, one of SHEETS.
    """
    survey = sheet.job.survey
    words = reading.labels("plan")
    root = f"/surveys/{sheet.stored.id}"
    suffix = f"?plan={sheet.variant}" if sheet.variant else ""
    names = dict(sheet.variants())
    block = []
    if survey.place:
        block.append((words["place"], survey.place))
    for d in survey.drawings[:3]:
        dated = d.label if d.date is None else f"{d.label}, {plain_date(d.date)}"
        block.append((words["drawing"], dated))
    if not survey.drawings:
        block.append((words["drawing"], words["no_drawing"]))
    if sheet.variant:
        block.append(("What if", names.get(sheet.variant, sheet.variant)))
    block.append((words["survey_date"], plain_date(survey.date)))
    block.append((words["method"], reading.word("method", survey.method.root_zone)))
    client = survey.people.client
    block.append((words["client"], client.name if client else DASH))
    block.append((words["by"], survey.people.assessor.name if survey.people.assessor else DASH))
    return SurveyHead(
        id=sheet.stored.id,
        name=survey.name,
        sheet=here,
        title=dict(SHEETS)[here],
        root=root,
        variant=sheet.variant,
        variant_name=names.get(sheet.variant, ""),
        suffix=suffix,
        revision=sheet.stored.revision,
        sheets=tuple((f"{root}/{a}{suffix}", t, a == here) for a, t in SHEETS),
        block=tuple(block),
        faults=sum(p.level == "fault" for p in sheet.job.problems),
    )
