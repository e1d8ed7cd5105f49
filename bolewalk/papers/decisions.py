"""The decision record: what was advised, what was chosen or refused, why, by whom and when."""

from typing import TYPE_CHECKING, Any

from bolewalk.papers.front import cautions, common_data, front_rows
from bolewalk.papers.plain import needs_line, tree_line
from bolewalk.papers.reading import Reading, plain_date

if TYPE_CHECKING:
    from bolewalk.survey import TreeFinding

__all__ = ["decisions_data"]


def decisions_data(reading: Reading) -> dict[str, Any] | None:
    """Give the record as JSON values; None where nothing was advised."""
    advised = [t for t in reading.findings.trees if needs_line(t)]
    if not advised:
        return None
    words = reading.labels("decisions")
    return {
        **common_data(reading),
        "title": words["title"],
        "r": words,
        "cover": front_rows(reading, without=("walked", "method")),
        "given": plain_date(reading.findings.survey.date),
        "rows": [_row(reading, t) for t in advised],
        "cautions": cautions(reading),
    }


def _row(reading: Reading, t: "TreeFinding") -> dict[str, Any]:
    line = tree_line(reading, t)
    said = t.said
    moments = () if said is None else said.decision_moments[:1]
    return {
        "id": line["id"],
        "name": line["name"],
        "advice": [x for x in (line["advice"], line["found"], line["works"]) if x],
        "wait": line["wait"],
        "said": [
            reading.say("decisions_says.said", moment_s=m.start, words=m.said) for m in moments
        ],
    }
