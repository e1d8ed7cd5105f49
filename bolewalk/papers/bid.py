"""The bid-compare sheet: the same work, written so that another bidder prices the same job."""

from typing import TYPE_CHECKING, Any

from bolewalk.papers.front import cautions, common_data
from bolewalk.papers.reading import DASH, Reading
from bolewalk.pricing.bid_compare import bid_sheet

if TYPE_CHECKING:
    from bolewalk.pricing.bid_compare import BidRow

__all__ = ["bid_data"]


def bid_data(reading: Reading) -> dict[str, Any] | None:
    """Give the sheet as JSON values; None where nothing is priced. No figure of ours is on it."""
    price = reading.findings.price
    if price is None or not price.lines:
        return None
    sheet, words = bid_sheet(price), reading.labels("bid_paper")
    return {
        **common_data(reading),
        "title": words["title"],
        "b": words,
        "place": reading.findings.survey.place,
        "rows": [_row(reading, r) for r in sheet.rows if not r.blocked],
        "blocked": list(dict.fromkeys(r.tree or r.label for r in sheet.rows if r.blocked)),
        "exclusions": reading.texts(sheet.exclusions),
        "answers": [words[f"answer_{a}"] for a in sheet.answers],
        "cautions": cautions(reading),
    }


def _row(reading: Reading, r: "BidRow") -> dict[str, Any]:
    names = reading.labels("bid_paper")
    tree = next((t for t in reading.findings.trees if t.tree.id == r.tree), None)
    size = []
    if r.diameter_cm:
        size.append(reading.say("bid_says.trunk", trunk_cm=r.diameter_cm))
    if r.height_m:
        size.append(reading.say("bid_says.height", height_m=r.height_m))
    return {
        "id": r.tree or DASH,
        "name": reading.species(tree.tree)["name"] if tree is not None else r.label,
        "size": size,
        "wanted": reading.texts((r.objective, r.parts)),
        "limits": reading.texts((*r.limits, *r.method)),
        "scope": [reading.speaker.text(s) for _, _, s in r.scope],
        "option": names["option"] if r.option else "",
    }
