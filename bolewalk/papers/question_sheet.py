"""The question sheet: one page for each person who can answer."""

from typing import Any

from bolewalk.papers.front import cautions, common_data, front_rows
from bolewalk.papers.questions import questions_data
from bolewalk.papers.reading import Reading
from bolewalk.papers.site_lists import site_lists_data

__all__ = ["question_sheet_data"]


def question_sheet_data(reading: Reading) -> dict[str, Any]:
    """Give the question sheet as JSON values for its template."""
    words = reading.labels("question_sheet")
    questions = questions_data(reading)
    people = list(dict.fromkeys(q["of"] for q in questions))
    drawings = reading.drawings_named()
    front = front_rows(reading)
    if drawings:
        front.append([reading.labels("plan")["drawing"], drawings])
    return {
        **common_data(reading),
        "title": words["title"],
        "s": words,
        "cover": front,
        "sheets": [{"of": who, "questions": [q for q in questions if q["of"] == who]}
                   for who in people],
        "k": reading.labels("site_lists"),
        **site_lists_data(reading),
        "cautions": cautions(reading),
    }  # fmt: skip
