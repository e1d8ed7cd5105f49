"""What every paper has: running heads, rows at its front, limits it may not leave out."""

from collections.abc import Collection
from dataclasses import asdict
from typing import Any

from bolewalk.impact.results import COMPASS
from bolewalk.papers.drawings import mark_svgs
from bolewalk.papers.reading import DASH, Reading, client_name, plain_date
from bolewalk.papers.type_size import type_of

__all__ = ["cautions", "common_data", "front_rows"]

_CAUTIONS = (
    "paper.no_risk_free", "paper.level", "paper.seen", "paper.cautious_roots", "paper.whose",
    "paper.permits",
)  # fmt: skip


def common_data(reading: Reading) -> dict[str, Any]:
    """Give what every paper's template reads: labels, marks, page, running heads."""
    s = reading.findings.survey
    return {
        "lang": reading.speaker.catalogue.language,
        "paper": "us-letter" if s.units == "imperial" else "a4",
        "paper_broad": "us-tabloid" if s.units == "imperial" else "a3",
        "type": asdict(type_of(reading)),
        "project": s.name,
        "place": s.place,
        "date": plain_date(s.date),
        "author": s.people.assessor.name if s.people.assessor else "",
        "issue": reading.issue_text(),
        "l": reading.labels("report"),
        "marks": mark_svgs(),
        "compass": list(COMPASS),
        "unit": reading.speaker.amounts.length_unit,
        "trunk_unit": reading.speaker.amounts.trunk_unit,
    }


def front_rows(reading: Reading, *, without: Collection[str] = ()) -> list[list[str]]:
    """Give the rows of a paper's front: who, for whom, where, when, for what, which issue.

    `without` leaves out "walked" or "method".
    """
    s, words = reading.findings.survey, reading.labels("report")
    rows = []
    if s.place:
        rows.append([words["place"], s.place])
    a = s.people.assessor
    if a is not None:
        rows.append([words["assessor"], a.name])
        if a.credential:
            code = "credential_until" if a.expires and a.number else "credential"
            if not a.number:
                code = "credential_plain"
            rows.append([
                words["credential"],
                reading.say(f"paper.{code}", credential=a.credential, number=a.number,
                            expires=plain_date(a.expires)),
            ])  # fmt: skip
        if a.contact:
            rows.append([words["contact"], a.contact])
    else:
        rows.append([words["assessor"], DASH])
    told, named = s.told, reading.labels("told_firm")
    rows += [[named[k], told[f"firm.{k}"]] for k in ("name", "address") if f"firm.{k}" in told]
    client = s.people.client
    rows.append([words["client"], client_name(reading) if client else DASH])
    rows += [
        [_role(reading, p.role), ", ".join(x for x in (p.name, p.contact) if x)]
        for p in s.people.others
    ]
    rows.append([words["purpose"], reading.word("purpose", s.purpose)])
    if "walked" not in without:
        rows.append([words["walked"], plain_date(s.date)])
    if "method" not in without:
        rows.append([words["method"], reading.word("method", s.method.root_zone)])
    rows.append([reading.labels("issue")["issue"], _issue_cell(reading)])
    if reading.findings.examples:
        said = " ".join(reading.texts(reading.findings.examples))
        rows.append([reading.labels("issue")["example"], said])
    return rows


def _issue_cell(reading: Reading) -> str:
    stamp = reading.issue
    if stamp is None:
        return reading.labels("issue")["draft"]
    return reading.say(
        "issue_says.cover", number=stamp.number, day=stamp.day, sha256=stamp.inputs_sha256
    )


def _role(reading: Reading, role: str) -> str:
    word = reading.word("role", role)
    return word[:1].upper() + word[1:]


def cautions(reading: Reading) -> list[str]:
    """Give the sentences that every paper carries."""
    s = reading.findings.survey
    tie = (
        reading.say("paper.drawing_tie", drawings=reading.drawings_named())
        if s.drawings
        else reading.say("paper.no_drawing_tie")
    )
    return [
        reading.say("paper.no_risk_free"),
        reading.say("paper.holds_months", date=plain_date(s.date)),
        tie,
        *(reading.say(code) for code in _CAUTIONS[1:]),
        reading.say("paper.purpose", purpose=reading.word("purpose", s.purpose)),
    ]
