"""The other papers: each for its reader, each whole, each with what every paper must carry."""

import re
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pypdfium2
import pytest

from bolewalk.papers.client_page import client_page
from bolewalk.papers.crew import crew_data
from bolewalk.papers.language import Catalogue
from bolewalk.papers.proposal import proposal_data
from bolewalk.papers.questions import questions_data
from bolewalk.papers.typeset import typeset
from bolewalk.papers.walk_index import walk_index
from bolewalk.papers.write import reading_of, write_papers
from bolewalk.survey import TreeFinding
from tests.papers.conftest import made_hostile, pdf_text
from tests.papers.hostile import HOSTILE
from tests.papers.invented import ROWS, findings
from tests.pricing.jobs import rich_price, rich_survey

ALWAYS = ("report", "proposal", "protection", "crew", "questions")
NAMES = (*ALWAYS, "letter", "neighbour", "monitoring", "decisions")


def flat(text: str) -> str:
    return re.sub(r"\s+", " ", text)


@pytest.mark.parametrize("name", NAMES)
def test_every_paper_is_tagged_and_has_no_empty_page(name: str, papers: Path) -> None:
    with pypdfium2.PdfDocument(papers / f"{name}.pdf") as pdf:
        assert pdf.is_tagged()
        for i in range(len(pdf)):
            assert len(pdf[i].get_textpage().get_text_bounded().split()) > 15, f"page {i + 1}"


@pytest.mark.parametrize("name", [*NAMES])
def test_every_paper_says_what_no_paper_may_leave_out(name: str, papers: Path) -> None:
    text = flat(pdf_text(papers / f"{name}.pdf"))
    assert "No tree is free of risk" in text
    assert "2026-05-12" in text
    assert "Court improvements, revision B" in text


def test_protection_sheet_has_every_retained_tree_and_its_sides(papers: Path) -> None:
    text = pdf_text(papers / "protection.pdf")
    for row in ROWS:
        assert row[0] in text.split()
    for item in ("protection fence", "Stop and call", "2.0 in", "6.0 ft", "1 in = 20 ft", "NW"):
        assert item in flat(text), item


def test_question_sheet_asks_each_fact_once_of_the_one_who_knows(catalogue: Catalogue) -> None:
    asked = questions_data(reading_of(findings(), catalogue=catalogue))
    assert [q["of"] for q in asked] == ["the designer", "the utility locator"]
    assert asked[0]["trees"] == ["T13", "T22"]
    assert asked[0]["answers"][0]["verdicts"] == [
        {"mark": "redesign", "word": "redesign", "ids": ["T13", "T22"]}
    ]


def test_question_sheet_gives_each_person_a_page(papers: Path) -> None:
    with pypdfium2.PdfDocument(papers / "questions.pdf") as pdf:
        pages = [flat(pdf[i].get_textpage().get_text_bounded()) for i in range(len(pdf))]
    assert [p for p in pages if "To the designer" in p] == [pages[0]]
    assert [p for p in pages if "To the utility locator" in p] == [pages[1]]
    assert "Points to flag on site" in pages[2]


@pytest.fixture(scope="module")
def priced(catalogue: Catalogue) -> Any:
    blank = findings(rows=ROWS[-1:]).trees[0].impact
    survey = rich_survey()
    f = replace(
        findings(rows=[]),
        survey=survey,
        price=rich_price(),
        trees=tuple(TreeFinding(t, None, blank) for t in survey.trees),
    )
    return reading_of(f, catalogue=catalogue)


def test_proposal_adds_up(priced: Any, tmp_path: Path) -> None:
    price = priced.findings.price
    money = priced.speaker.amounts.money
    path = tmp_path / "p.pdf"
    path.write_bytes(typeset("proposal", proposal_data(priced)))
    text = flat(pdf_text(path))
    assert money(price.total_minor) in text
    assert money(price.subtotal_minor) in text
    for line in price.of("base"):
        if line.money is not None:
            assert money(line.price_minor) in text
    base = sum(x.price_minor for x in price.of("base"))
    job = sum(x.price_minor for x in price.job_lines)
    assert base + job == price.subtotal_minor
    assert "Second owner" in text


def test_crew_sheet_has_no_money_and_names_what_to_leave(priced: Any, tmp_path: Path) -> None:
    path = tmp_path / "c.pdf"
    path.write_bytes(typeset("crew", crew_data(priced)))
    text = flat(pdf_text(path))
    assert "$" not in text
    assert "Do not touch" in text
    touched = {x["id"] for x in crew_data(priced)["do"]}
    left = {x["id"] for x in crew_data(priced)["leave"]}
    assert touched & {t.id for t in priced.findings.survey.trees} | left == {
        t.id for t in priced.findings.survey.trees
    }
    assert not touched & left


class _Page(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.attributes: list[tuple[str, str | None]] = []
        self.text: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.attributes += attrs

    def handle_data(self, data: str) -> None:
        self.text.append(data)


def parsed(html: bytes) -> _Page:
    page = _Page()
    page.feed(html.decode("utf-8"))
    return page


def test_client_page_stands_alone(papers: Path) -> None:
    page = parsed((papers / "client" / "index.html").read_bytes())
    assert not {"script", "link", "img", "iframe", "form", "object", "a"} & set(page.tags)
    assert not [a for a, _ in page.attributes if a in ("src", "href") or a.startswith("on")]
    text = flat(" ".join(page.text))
    for row in ROWS:
        assert row[0] in text
    for item in ("It cannot stay unless the plan changes.", "Your reply", "No tree is free of"):
        assert item in text


def test_client_page_shows_markup_as_words(catalogue: Catalogue) -> None:
    page = parsed(client_page(reading_of(made_hostile(HOSTILE), catalogue=catalogue)))
    assert "script" not in page.tags
    assert page.tags.count("svg") >= 1
    assert not [a for a, _ in page.attributes if a.startswith("on") or a in ("src", "href")]
    text = "".join(page.text)
    assert "<script>alert(1)</script>" in text
    assert "\u202e" not in text


def test_price_stands_on_the_client_page(priced: Any) -> None:
    text = flat("".join(parsed(client_page(priced)).text))
    assert priced.speaker.amounts.money(priced.findings.price.total_minor) in text


def said(name: str, start: float, end: float) -> Any:
    moment = SimpleNamespace(start=start, end=end, said="")
    return SimpleNamespace(id=name, species=SimpleNamespace(label=f"oak {name}"), moments=(moment,))


def test_walk_index_has_one_lasting_cue_a_tree_in_order() -> None:
    f = findings(rows=ROWS[:1])
    trees = (said("w1", 61.0, 70.0), said("w2", 5.25, 9.0), said("w3", 61.0, 66.0))
    draft: Any = SimpleNamespace(trees=trees, duration_s=3725.5, hazards=())
    raw = walk_index(replace(f, draft=draft, trees=(replace(f.trees[0], said=trees[0]),)))
    assert raw is not None
    assert raw.decode().split("\n\n") == [
        "WEBVTT",
        "w2\n00:00:05.250 --> 00:01:01.000\nw2: oak w2",
        "T1\n00:01:01.000 --> 00:01:01.001\nT1: oak w1",
        "w3\n00:01:01.000 --> 01:02:05.500\nw3: oak w3\n",
    ]


def test_walk_index_escapes_cue_markup() -> None:
    f = findings(rows=[])
    tree = said("w1", 0.0, 1.0)
    tree.species.label = "<b>oak</b> & x --> y\nz"
    draft: Any = SimpleNamespace(trees=(tree,), duration_s=2.0, hazards=())
    raw = walk_index(replace(f, draft=draft))
    assert raw is not None
    assert "w1: &lt;b&gt;oak&lt;/b&gt; &amp; x ––&gt; y z" in raw.decode()
    assert raw.decode().count("-->") == 1


def test_urgent_dangers_come_first_on_the_client_page(catalogue: Catalogue) -> None:
    f = findings()
    hazard = SimpleNamespace(kind="gas smell", urgent=True, moments=())
    draft: Any = SimpleNamespace(trees=(), duration_s=1.0, hazards=(hazard,))
    f = replace(f, draft=draft)
    text = flat("".join(parsed(client_page(reading_of(f, catalogue=catalogue))).text))
    assert text.index("a smell of gas") < text.index("Assessor")


@pytest.mark.parametrize("units", ["imperial", "metric"])
def test_sixty_trees_with_long_names(units: str, tmp_path: Path, catalogue: Catalogue) -> None:
    rows = [
        (f"T{i + 1:02d}", "a very long common name of a cultivated hybrid with a story",
         "Magnolia × soulangeana var. longissima", None if r[3] is None else r[3] + i // 24 * 230,
         *r[4:])
        for i, r in enumerate((ROWS * 3)[:60])
    ]  # fmt: skip
    paths = write_papers(findings(rows=rows, units=units), tmp_path, catalogue=catalogue)  # type: ignore[arg-type]
    text = pdf_text(next(p for p in paths if p.name == "report.pdf")).split()
    assert {r[0] for r in rows} <= set(text)


def test_nothing_at_all_still_makes_papers(tmp_path: Path, catalogue: Catalogue) -> None:
    f = findings(rows=[])
    bare = replace(f.survey, works=(), drawings=(), place="")
    f = replace(f, survey=bare, problems=(), defaults=())
    names = {p.name for p in write_papers(f, tmp_path, catalogue=catalogue)}
    assert {n for n in names if n.endswith(".pdf")} == {f"{n}.pdf" for n in ALWAYS}
    assert "survey.gpkg" not in names
    assert "No drawing was reviewed" in flat(pdf_text(tmp_path / "report.pdf"))
