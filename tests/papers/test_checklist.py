"""What public agencies ask of an arborist report, item by item, and where ours has it.

Items in our own words from published report rules (city and county pages of Murrieta, Santa Cruz
County, Menlo Park, Kirkland, Palos Heights, Portland, San Mateo, Petaluma).
"""

import re
from pathlib import Path

import pytest

from tests.papers.conftest import pdf_text

REPORT = {
    "assessor": "Imre Valdengaard",
    "contact of the assessor": "valdengaard@example.org",
    "credential and number": "Certified arborist, number XX-0417",
    "credential valid to": "valid to 2027-03-31",
    "client": "Tannery Row Commons Association",
    "address": "2 Tannery Row, Wexcombe",
    "purpose": "a consulting opinion",
    "date of site visit": "Date of site walk 2026-05-12",
    "plan title": "Court improvements",
    "plan author": "Bretherick & Low",
    "plan date": "2026-04-30",
    "number assessed": "24 trees were assessed.",
    "counts by decision": "Decision on the walk Trees Which",
    "counts by owner": "neighbour 2 T9, T24",
    "stems and combined trunk": "9.0 + 8.0 + 6.5",
    "height": "Height ft",
    "crown radius on four sides": "24/22/20/26",
    "health": "Health",
    "structure": "Structure",
    "root zone": "Root zone ft",
    "decision": "monitor",
    "defects noted": "Old topping point at 14 ft; two stems with included bark.",
    "scale": "1 in = 20 ft",
    "impact on each side": "Severed on each side, with proposed works",
    "distance from trunk": "Nearest cut",
    "why": "With the proposed works",
    "conditions": "Only if",
    "what would change it": "Would change if",
    "method": "Root zone radius of 23 trees: one foot of radius for each inch of trunk",
    "source of the method": "Table 3, invented",
    "level of look": "looked at from the ground",
    "what was not seen": "What could not be seen from there",
    "how long it holds": "at the latest after twelve months",
    "no tree is free of risk": "No tree is free of risk",
    "not a boundary survey": "Nothing here is a survey of a boundary",
    "signature": "Signed – Imre Valdengaard",
    "entries left out": "2 ft 3 hands",
    "values nobody gave": "No depth was given for Service; it counts as deep.",
}


@pytest.fixture(scope="module")
def text(papers: Path) -> str:
    return re.sub(r"\s+", " ", pdf_text(papers / "report.pdf"))


@pytest.mark.parametrize("item", list(REPORT))
def test_report_has(item: str, text: str) -> None:
    assert REPORT[item] in text


def test_report_has_both_names(text: str) -> None:
    assert "river birch" in text
    assert "Betula nigra" in text


PROTECTION = {
    "fence before works": "The fence stands before any machine",
    "who to call": "Whom to call: Imre Valdengaard, valdengaard@example.org",
    "thick roots": "A root 2.0 in thick or thicker is not cut",
    "storage, spoil, parking": "no storage, no spoil, no parking",
    "washing out": "washed out where the water cannot reach",
    "signs": "A sign on each side of the fence",
    "newer drawing": "A newer drawing than the one named here",
    "end of protection": "The fence comes down only after",
}


@pytest.mark.parametrize("item", list(PROTECTION))
def test_protection_sheet_has(item: str, papers: Path) -> None:
    assert PROTECTION[item] in re.sub(r"\s+", " ", pdf_text(papers / "protection.pdf"))
