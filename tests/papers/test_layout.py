"""Every page of every paper: nothing overlaps, nothing is cut, no heading is left alone.

Read back by PDFium. Margins and words a page are our own limits.
"""

import re
from pathlib import Path

import page
import pytest
import typst

from bolewalk.papers.write import write_papers
from tests.papers.cases import CASES, case
from tests.papers.conftest import invented_catalogue
from tests.papers.pages import pages_of, paths_of

_MARGIN_PT = 5 * 72 / 25.4
_FOOT_PT = 50.0
_HEADING_PT = {"normal": 10.4, "large": 14.9}
_LEAST_WORDS = 25


@pytest.fixture(scope="module", params=CASES)
def set_papers(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Path:
    out = tmp_path_factory.mktemp("large" if "large" in request.param else "case")
    write_papers(case(request.param), out, catalogue=invented_catalogue())
    return out


def test_every_page_is_set_cleanly(set_papers: Path) -> None:
    faults = []
    large = set_papers.name.startswith("large")
    heading_pt = _HEADING_PT["large" if large else "normal"]
    pdfs = sorted(set_papers.glob("*.pdf"))
    assert len(pdfs) >= 5
    for path in pdfs:
        for p in pages_of(path):
            where = f"{path.stem} page {p.number}"
            faults += [f"{where}: {a!r} over {b!r}" for a, b in p.overlapping()[:3]]
            if out := p.outside(_MARGIN_PT):
                faults.append(f"{where}: {out[:40]!r} leaves the page")
            if p.words < _LEAST_WORDS:
                faults.append(f"{where}: {p.words} words")
            columns = 2 if path.stem == "protection" and p.number > 1 and not large else 1
            for line in p.last_lines(columns, _FOOT_PT):
                if all(s.size_pt >= heading_pt and "old" in s.font for s in line):
                    faults.append(f"{where}: ends in {''.join(s.char for s in line)!r}")
    assert faults == []


def test_every_page_says_which_issue_it_is_of(set_papers: Path) -> None:
    for path in sorted(set_papers.glob("*.pdf")):
        silent = [p.number for p in pages_of(path) if "draft,notissued" not in p.said]
        assert (path.stem, silent) == (path.stem, [])


def test_large_type_has_14_points_and_nothing_small(set_papers: Path) -> None:
    # The question sheet has no drawing; its rows and its small print, by hand: 9.5 and 7.4, each
    # 4.5 more in large type.
    more = 4.5 if set_papers.name.startswith("large") else 0.0
    signs = [s for p in pages_of(set_papers / "questions.pdf") for s in p.signs]
    assert min(s.size_pt for s in signs) == pytest.approx(7.4 + more, abs=0.05)
    rows = [s for s in signs if s.size_pt == pytest.approx(9.5 + more, abs=0.05)]
    assert len(rows) > 100


def test_every_paper_meets_pdf_ua(set_papers: Path) -> None:
    """page-validation 0.11.0 checks 104 rules of PDF/UA-1 on our files, headings, tables,
    alternative texts, fonts and structure among them."""
    for path in sorted(set_papers.glob("*.pdf")):
        report = page.validate_pdf(path, profile="ua1")
        assert report.rules.total > 100
        assert [(path.stem, f.rule_id, f.message) for f in report.failures] == []


@pytest.mark.parametrize(
    ("taken", "rule"),
    [
        (b"/Alt", "FIGURE-ALTERNATIVE-TEXT"),
        (b"/Lang", "TEXT-LANGUAGE"),
        (b"/MarkInfo", "TAGGED-DOCUMENT"),
        (b"/ToUnicode", "FONT-UNICODE-MAPPING"),
        (b"pdfuaid:part", "ID-PART"),
    ],
)
def test_the_validator_sees_what_is_taken_away(papers: Path, taken: bytes, rule: str) -> None:
    raw = (papers / "report.pdf").read_bytes()
    assert taken in raw
    spoilt = raw.replace(taken, taken[:-1] + b"x")
    report = page.validate_pdf_bytes(spoilt, profile="ua1")
    assert any(rule in f.rule_id for f in report.failures)


def test_the_reader_of_pages_sees_faults(tmp_path: Path) -> None:
    source = """
    #set page(width: 100mm, height: 60mm, margin: 15mm)
    #place(dx: 10mm, dy: 0mm)[one label here]
    #place(dx: 14mm, dy: 1mm)[another there]
    #place(dx: 75mm, dy: 10mm)[runs out of the page]
    #v(25mm)
    #text(size: 13pt, weight: "bold")[A heading]
    """
    path = tmp_path / "faults.pdf"
    path.write_bytes(typst.compile(source.encode(), format="pdf"))
    (p,) = pages_of(path)
    assert p.overlapping()
    assert "page" in p.outside(_MARGIN_PT)
    ((*line,),) = p.last_lines(1, 10.0)
    assert "".join(s.char for s in line) == "Aheading"
    assert all(s.size_pt == 13 for s in line)
    assert paths_of(path, page=1) == []
    assert re.match("one", "".join(s.char for s in p.signs))
