"""The check values on the pages of the methods, worked out by the program.

A row of a page's table "Check values" gives the numbers (and after a colon the verdict) that the
program must find, to half a unit of the last digit printed; or it names the test or benchmark
that holds it. Where the values come from is in the row.
"""

import re
from pathlib import Path

import pytest

from tests.acceptance.check_values import money, planting, trees, walk, works

DOCS = Path(__file__).parents[2] / "docs"

CHECKS = {
    "region": {}, "missing-facts": {},
    **works.CHECKS, **trees.CHECKS, **money.CHECKS, **planting.CHECKS, **walk.CHECKS,
}  # fmt: skip

# Figures that were rounded before they were published, or drawn: what may differ, as the row says.
ROUNDED = {
    ("value", "three Chinese"): {"abs": 4.0}, ("value", "their appraised"): {"abs": 3.0},
    ("measuring", "two alike"): {"abs": 0.2},
    ("planting", "three trees"): {"rel": 0.015}, ("planting", "the same, 90 %"): {"rel": 0.015},
}  # fmt: skip


def rows(page: str) -> list[tuple[str, str, str]]:
    """Give the rows of a page's table of check values: case, value, basis."""
    text = (DOCS / f"{page}.md").read_text("utf-8").split("\n## Check values\n")[1]
    table = re.split(r"^## ", text, flags=re.MULTILINE)[0]
    cells = re.findall(r"^\| (.+?) \| (.+?) \| (.+?) \|$", table, re.MULTILINE)
    return [(a, b, c) for a, b, c in cells if a != "case"]


def numbers(cell: str) -> list[tuple[float, float]]:
    """Give each number of a cell with half a unit of its last digit."""
    found = re.findall(r"(?<![\w.])\d[\d,]*(?:\.\d+)?", cell)
    return [
        (float(n.replace(",", "")), 0.5 * 10.0 ** -len(n.partition(".")[2]) + 1e-9) for n in found
    ]


@pytest.mark.parametrize(
    ("page", "case"), [(p, case) for p, checks in CHECKS.items() for case in checks]
)
def test_the_program_finds_what_the_page_says(page: str, case: str) -> None:
    ((_, value, _),) = (r for r in rows(page) if r[0].startswith(case))
    found = CHECKS[page][case]()
    printed = numbers(value)
    worked_out = [f for f in found if not isinstance(f, str)]
    assert len(printed) == len(worked_out)
    for (number, half_a_digit), got in zip(printed, worked_out, strict=True):
        within = ROUNDED.get((page, case), {"rel": 0.0, "abs": half_a_digit})
        assert got == pytest.approx(number, **within)
    for word in (f for f in found if isinstance(f, str)):
        assert re.search(rf": {word}$", value)


@pytest.mark.parametrize("page", sorted(CHECKS))
def test_every_row_is_worked_out_here_or_names_what_holds_it(page: str) -> None:
    held = re.compile(r"`(?:tests|bench)/[\w/]+\.py`")
    left = [
        case
        for case, *cells in rows(page)
        if not any(case.startswith(c) for c in CHECKS[page])
        and not any(held.search(cell) for cell in cells)
    ]
    assert left == []


@pytest.mark.parametrize("page", sorted(CHECKS))
def test_every_method_tells_its_range(page: str) -> None:
    assert re.search(r"^## (?:Range|Limits)$", (DOCS / f"{page}.md").read_text("utf-8"), re.M)


def test_every_method_of_the_index_is_looked_at() -> None:
    index = (DOCS / "README.md").read_text("utf-8")
    table = index.split("**Methods**")[1].split("**What comes out**")[0]
    named = set(re.findall(r"\]\((.+?)\.md\)", table))
    assert named - {"plant-names", "visits"} == set(CHECKS)
