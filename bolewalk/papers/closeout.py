"""The close-out form: what was done, found, left and counted on the day."""

from typing import Any

from bolewalk.papers.front import cautions, common_data, front_rows
from bolewalk.papers.reading import DASH, Reading
from bolewalk.pricing.closeout import closeout_form

__all__ = ["closeout_data"]


def closeout_data(reading: Reading) -> dict[str, Any] | None:
    """Give the form as JSON values; None where no work is priced."""
    price = reading.findings.price
    if price is None:
        return None
    record = closeout_form(price, job=reading.findings.survey.name)
    if not record.lines:
        return None
    words, amounts = reading.labels("closeout"), reading.speaker.amounts
    names = {t.tree.id: reading.species(t.tree)["name"] for t in reading.findings.trees}
    return {
        **common_data(reading),
        "title": words["title"],
        "c": words,
        "cover": front_rows(reading, without=("walked", "method")),
        "rows": [
            {
                "id": x.tree or DASH,
                "name": names.get(x.tree, ""),
                "task": reading.word("task", x.task),
                "hours": amounts.hours(x.estimated_hours),
                "stump": x.task.startswith(("remove", "grind")),
            }
            for x in record.lines
        ],
        "loads": amounts.count(record.estimated_loads),
        "asks": [words[f"ask_{k}"] for k in ("found", "left", "damage", "aftercare", "next")],
        "cautions": cautions(reading),
    }
