"""The report as a reader opens it: text, pages, tags, bytes."""

from pathlib import Path

import pypdfium2
import pytest

from bolewalk.papers.language import Catalogue
from bolewalk.papers.report import report_data
from bolewalk.papers.typeset import typeset
from bolewalk.papers.write import reading_of
from tests.papers.conftest import pdf_sizes, pdf_text
from tests.papers.invented import ROWS, findings

LETTER, TABLOID, A4, A3 = (612.0, 792.0), (1224.0, 792.0), (595.3, 841.9), (1190.6, 841.9)


def sizes(path: Path) -> set[tuple[int, int]]:
    return {(round(w), round(h)) for w, h in pdf_sizes(path)}


def whole(size: tuple[float, float]) -> tuple[int, int]:
    return round(size[0]), round(size[1])


def test_text_holds_every_tree_and_what_a_plan_checker_asks(papers: Path) -> None:
    text = pdf_text(papers / "report.pdf")
    for row in ROWS:
        assert row[0] in text.split(), row[0]
        assert row[1].split()[-1] in text
    for item in (
        "Imre Valdengaard", "XX-0417", "2027-03-31", "Tannery Row Commons Association",
        "2026-05-12", "2 Tannery Row, Wexcombe", "a consulting opinion",
        "Court improvements", "Bretherick & Low", "2026-04-30",
        "cannot be kept as drawn", "cannot be judged until", "can be kept as drawn",
        "No tree is free of risk", "licensed engineer", "1 in = 20 ft",
    ):  # fmt: skip
        assert item in text.replace("\r\n", " ").replace("\u00ad", ""), item


def test_summary_counts_equal_the_table(catalogue: Catalogue) -> None:
    data = report_data(reading_of(findings(), catalogue=catalogue))
    assert sum(c["n"] for c in data["verdict_counts"]) == len(ROWS)
    assert sum(c["n"] for c in data["decision_counts"]) == len(ROWS)
    for count in data["decision_counts"][:5]:
        assert count["n"] == sum(r["decision"] == count["label"] for r in data["tree_rows"])
    listed = [r["id"] for k in ("verdicts", "untouched", "to_remove") for r in data[k]]
    assert sorted(listed) == sorted(r[0] for r in ROWS)


def test_every_located_tree_stands_on_the_plan_and_the_other_way_round(
    catalogue: Catalogue,
) -> None:
    plan = report_data(reading_of(findings(), catalogue=catalogue))["plan"]
    bold = {n["text"] for n in plan["notes"] if n["weight"] == "bold"}
    assert bold >= {r[0] for r in ROWS}
    assert {b for b in bold if b.startswith("T") and b[1:].isdigit()} == {r[0] for r in ROWS}


@pytest.mark.parametrize(
    ("units", "page", "sheet"), [("imperial", LETTER, TABLOID), ("metric", A4, A3)]
)
def test_paper_follows_the_units(
    units: str, page: tuple[float, float], sheet: tuple[float, float], tmp_path: Path,
    catalogue: Catalogue,
) -> None:  # fmt: skip
    data = report_data(reading_of(findings(units=units), catalogue=catalogue))  # type: ignore[arg-type]
    path = tmp_path / "r.pdf"
    path.write_bytes(typeset("report", data))
    w, h = whole(page)
    assert sizes(path) == {(w, h), (h, w), whole(sheet)}


def test_no_page_is_empty(papers: Path) -> None:
    with pypdfium2.PdfDocument(papers / "report.pdf") as pdf:
        for i in range(len(pdf)):
            text = pdf[i].get_textpage().get_text_bounded()
            assert len(text.split()) > 30, f"page {i + 1}"


def test_pdf_is_tagged_and_names_itself(papers: Path) -> None:
    raw = (papers / "report.pdf").read_bytes()
    assert b"/MarkInfo" in raw
    assert b"pdfuaid:part" in raw  # the identifier ISO 14289-1 asks for in the metadata
    with pypdfium2.PdfDocument(raw) as pdf:
        assert pdf.is_tagged()
        meta = pdf.get_metadata_dict()
    assert meta["Title"] == "Arborist report – Tannery Row Commons"
    assert not meta["CreationDate"]
    assert not meta["ModDate"]


@pytest.mark.parametrize("n", [0, 1])
def test_few_trees(n: int, tmp_path: Path, catalogue: Catalogue) -> None:
    data = report_data(reading_of(findings(rows=ROWS[:n]), catalogue=catalogue))
    path = tmp_path / "r.pdf"
    path.write_bytes(typeset("report", data))
    text = pdf_text(path)
    assert ("One tree was assessed." if n else "0 trees were assessed.") in text
