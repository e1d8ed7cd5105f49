"""The proposal: what is offered, for how much, what is not in it, and where to sign."""

from typing import Any

from bolewalk.papers.front import cautions, common_data, front_rows
from bolewalk.papers.order_terms import firm_terms
from bolewalk.papers.price import price_data
from bolewalk.papers.reading import Reading
from bolewalk.papers.years import futures_data, phases_data

__all__ = ["proposal_data", "wanted_work"]


def proposal_data(reading: Reading) -> dict[str, Any]:
    """Give the proposal as JSON values for its template."""
    words = reading.labels("proposal")
    return {
        **common_data(reading),
        "title": words["title"],
        "s": words,
        "cover": front_rows(reading, without=("method",)),
        "price": price_data(reading),
        "wanted": wanted_work(reading),
        "phases": phases_data(reading),
        "futures": futures_data(reading),
        "terms": firm_terms(reading),
        "cautions": cautions(reading),
    }


def wanted_work(reading: Reading) -> list[dict[str, Any]]:
    """Give the trees whose decision asks for work, priced or not."""
    return [
        {
            "id": t.tree.id,
            **reading.species(t.tree),
            "decision": reading.word("decision", t.tree.decision),
            "notes": t.tree.notes,
        }
        for t in reading.findings.trees
        if t.tree.decision in ("prune", "remove")
    ]
