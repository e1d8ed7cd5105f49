"""Letters and forms made of a few kinds of parts: heads, sentences, rows, tables, lines to fill."""

from collections.abc import Sequence
from typing import Any

from bolewalk.papers.front import cautions, common_data
from bolewalk.papers.reading import DASH, Reading, client_name

__all__ = [
    "bullets", "fill", "form_data", "front", "group", "head", "par", "rows", "sheet", "sign",
    "table",
]  # fmt: skip

Part = dict[str, Any]


def form_data(reading: Reading, title: str, sheets: Sequence[Part]) -> dict[str, Any]:
    """Give a form as JSON values for `form.typ`, one page or more a sheet.

    Each sheet begins with what somebody must be called about at once: they go to several people.
    """
    return {
        **common_data(reading),
        "title": title,
        "urgent": reading.urgent(),
        "sheets": list(sheets),
        "cautions": cautions(reading),
    }


def sheet(front_rows: Sequence[list[str]], *groups: Part) -> Part:
    """Give one sheet: rows at its head, then groups of parts."""
    return {"front": list(front_rows), "parts": list(groups)}


def front(reading: Reading, *more: list[str]) -> list[list[str]]:
    """Give the rows every letter begins with: to whom, from whom, for whom, where, which issue."""
    words, survey = reading.labels("report"), reading.findings.survey
    a = survey.people.assessor
    who = DASH if a is None else ", ".join(x for x in (a.name, a.credential, a.number) if x)
    made = [*more, [words["assessor"], who]]
    if a is not None and a.contact:
        made.append([words["contact"], a.contact])
    made.append([words["client"], client_name(reading) or DASH])
    if survey.place:
        made.append([words["place"], survey.place])
    made.append([words["walked"], survey.date.isoformat()])
    made.append([reading.labels("issue")["issue"], reading.issue_text()])
    return made


def group(*blocks: Part, loose: bool = False) -> Part:
    """Give parts that stay on one page; `loose` lets them run over."""
    return {"blocks": list(blocks), "loose": loose}


def head(text: str) -> Part:
    """Give a heading."""
    return {"kind": "head", "text": text}


def par(text: str, *, bold: bool = False) -> Part:
    """Give a paragraph."""
    return {"kind": "par", "text": text, "bold": bold}


def bullets(items: Sequence[str], *, tick: bool = False) -> Part:
    """Give a list, with boxes to tick if asked."""
    return {"kind": "checks" if tick else "bullets", "items": list(items)}


def rows(pairs: Sequence[list[str]]) -> Part:
    """Give rows of a name and what it says."""
    return {"kind": "form", "rows": list(pairs)}


def fill(items: Sequence[str], *, columns: int = 1) -> Part:
    """Give lines to be written on, each after its name; large type sets them under one another."""
    return {"kind": "fill", "items": list(items), "columns": columns}


def table(
    heads: Sequence[str], lines: Sequence[Sequence[str]], widths: Sequence[float], *, open_: int = 0
) -> Part:
    """Give a table, `open_` empty rows after its own; `widths` are shares of the page."""
    return {
        "kind": "table", "heads": list(heads), "rows": [list(x) for x in lines],
        "widths": list(widths), "open": open_,
    }  # fmt: skip


def sign(items: Sequence[str]) -> Part:
    """Give lines to sign on."""
    return {"kind": "sign", "items": list(items)}
