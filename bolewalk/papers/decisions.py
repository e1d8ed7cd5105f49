"""The decision record: what was advised, what was chosen or refused, why, by whom and when."""

from typing import TYPE_CHECKING, Any

from bolewalk.papers.front import cautions, common_data, front_rows
from bolewalk.papers.plain import needs_line, tree_line
from bolewalk.papers.reading import Reading, plain_date
from bolewalk.papers.return_visit import choice_text, done_text

if TYPE_CHECKING:
    from bolewalk.survey import TreeFinding
    from bolewalk.visits.record import Done

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
    kept = reading.findings.choices
    made = [] if kept is None else [c for c in kept.choices if c.tree == t.tree.id]
    chosen = max(made, key=lambda c: c.date, default=None)
    return {
        "id": line["id"],
        "name": line["name"],
        "advice": [x for x in (line["advice"], line["found"], line["works"]) if x],
        "wait": line["wait"],
        "choice": "" if chosen is None else choice_text(reading, chosen),
        "done": [done_text(reading, d) for d in _done(reading, t.tree.id)],
        "said": [
            reading.say("decisions_says.said", moment_s=m.start, words=m.said) for m in moments
        ],
    }


def _done(reading: Reading, tree: str) -> "list[Done]":
    kept = reading.findings.choices
    return [] if kept is None else [d for d in kept.done if d.tree == tree]
