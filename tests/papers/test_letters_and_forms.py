"""Letter, notices, forms and cards: each only where it applies, each with what its reader needs."""

import re
from collections.abc import Callable
from dataclasses import replace
from datetime import date
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pypdfium2
import pytest
import textstat

from bolewalk.intake.job import WalkPart
from bolewalk.papers.bid import bid_data
from bolewalk.papers.board import board_data
from bolewalk.papers.change_order import change_order_data
from bolewalk.papers.client_page import client_page
from bolewalk.papers.closeout import closeout_data
from bolewalk.papers.decisions import decisions_data
from bolewalk.papers.evidence import evidence_data
from bolewalk.papers.insurer import insurer_data
from bolewalk.papers.language import Catalogue
from bolewalk.papers.letter import letter_data
from bolewalk.papers.monitoring import monitoring_data
from bolewalk.papers.neighbour import neighbour_data
from bolewalk.papers.plain import needs_line, tree_line, ways_to_go
from bolewalk.papers.reading import Reading
from bolewalk.papers.return_visit import return_data
from bolewalk.papers.site_lists import site_lists_data
from bolewalk.papers.typeset import typeset
from bolewalk.papers.utility import utility_data
from bolewalk.papers.write import files_in, reading_of, write_papers
from bolewalk.survey import Findings, TreeFinding
from bolewalk.visits.assumptions import months_later
from tests.papers.conftest import made_hostile, pdf_text
from tests.papers.hostile import HOSTILE
from tests.papers.invented import ROWS, findings
from tests.pricing.jobs import rich_price, rich_survey

_WITH_FIGURES = re.compile(r"\S*\d\S*")


def grade(text: str) -> float:
    """The worse of two published grades that need no dictionary: the Automated Readability Index
    and the Coleman-Liau index. A figure or a tree's number counts as one short word."""
    text = _WITH_FIGURES.sub("five", text)
    return max(textstat.automated_readability_index(text), textstat.coleman_liau_index(text))


def test_grades_tell_hard_from_easy() -> None:
    # Published example of the Automated Readability Index's own scale: grade school below 6.
    assert grade("The dog ran to the door. It was a good dog. We let it in.") < 3
    hard = "Comprehensive arboricultural investigation necessitates considerable deliberation."
    assert grade(hard) > 12


def flat(path: Path) -> str:
    return re.sub(r"\s+", " ", pdf_text(path))


@pytest.fixture(scope="module")
def reading(catalogue: Catalogue) -> Reading:
    return reading_of(findings(), catalogue=catalogue)


@pytest.fixture(scope="module")
def priced(catalogue: Catalogue) -> Reading:
    blank = findings(rows=ROWS[-1:]).trees[0].impact
    survey = rich_survey()
    f = replace(
        findings(rows=[]), survey=survey, price=rich_price(),
        trees=tuple(TreeFinding(t, None, replace(blank, tree=t.id)) for t in survey.trees),
    )  # fmt: skip
    return reading_of(f, catalogue=catalogue)


def body_of(data: dict[str, Any]) -> list[str]:
    """The letter's own sentences, without notes, names and quotes from the walk."""
    w = data["w"]
    lines = [x for r in data["lines"] for x in (r["advice"], r["works"], r["why"], r["wait"])]
    ways = [s for x in data["ways"] for s in x["says"]]
    slip = [w[k] for k in ("reply_lead", "reply_all", "reply_some", "reply_none", "quiet")]
    return [x for x in [*data["short"], *lines, *ways, *data["limits"], *data["aside"], *slip] if x]


@pytest.mark.parametrize("which", ["reading", "priced"])
def test_letter_is_in_plain_words(which: str, request: pytest.FixtureRequest) -> None:
    data = letter_data(request.getfixturevalue(which))
    assert data is not None
    body = body_of(data)
    assert grade(" ".join(body)) <= 8
    for sentence in body:
        assert textstat.automated_readability_index(_WITH_FIGURES.sub("five", sentence)) <= 9


def test_letter_has_what_the_client_asks(papers: Path) -> None:
    with pypdfium2.PdfDocument(papers / "letter.pdf") as pdf:
        assert len(pdf) <= 2
    text = flat(papers / "letter.pdf")
    for item in (
        "Dear Tannery Row Commons Association,", "Three ways to go", "Your reply", "Second owner",
        "What we did not look at", "Only a surveyor can say", "Things we saw",
        "T8 green ash Take it down.", "no cost now",
    ):  # fmt: skip
        assert item in text, item


def test_part_of_the_work_costs_its_lines_and_what_the_job_needs(priced: Reading) -> None:
    price = priced.findings.price
    assert price is not None
    first = {t.id for t in priced.findings.survey.trees if t.decision in ("remove", "inspect")}
    lines = sum(x.price_minor for x in price.of("base") if x.item.tree in first)
    jobs = sum(j.price_minor for j in price.job_lines if not j.trees or first & set(j.trees))
    every, part, none = ways_to_go(priced)
    assert every.price == priced.speaker.amounts.money(price.total_minor)
    assert part.price == f"about {priced.speaker.amounts.about(lines + jobs)}"
    assert none.price == "no cost now"


def test_neighbours_are_asked_only_where_something_touches_their_trees(reading: Reading) -> None:
    data = neighbour_data(reading)
    assert data is not None
    asked = {t["id"] for x in data["letters"] for t in x["trees"]}
    owners = {r[0]: r[12] for r in ROWS}
    assert {owners[i] for i in asked} <= {"neighbour", "shared", "public"}
    alone = replace(
        reading.findings,
        trees=tuple(t for t in reading.findings.trees if t.tree.owner == "client"),
    )
    assert neighbour_data(Reading(alone, reading.speaker)) is None


def test_monitoring_names_the_engineer_where_a_cut_comes_inside_the_structural_roots(
    reading: Reading,
) -> None:
    data = monitoring_data(reading)
    assert data is not None
    zones = {t.tree.id: t.impact.zone for t in reading.findings.trees}
    for cut in data["cuts"]:
        inside = [
            t["id"] for t in cut["trees"]
            if (z := zones[t["id"]]) is not None
            and float(t["at"].split()[0]) * (0.3048 if "ft" in t["at"] else 0.0254)
            < z.structural_radius_m - 0.02
        ]  # fmt: skip
        assert ("engineer" in cut["who"]) >= bool(inside)
    assert [w["id"] for w in data["watched"]] == ["T5", "T6", "T22", "T23"]
    assert data["watched"][0]["looks"] == ["2027-05-12", "2029-05-12", "2031-05-12"]


def test_a_leap_day_is_followed_by_the_last_of_february() -> None:
    assert months_later(date(2028, 2, 29), 12) == date(2029, 2, 28)
    assert months_later(date(2028, 2, 29), 48) == date(2032, 2, 29)


def test_stake_out_leaves_out_what_stands_already(reading: Reading) -> None:
    works = {x["works"] for x in site_lists_data(reading)["stakes"]}
    assert "Rain garden trench" in works
    assert not works & {"House A", "House C", "Lane", "Boundary"}


def test_bid_sheet_holds_no_figure_of_ours(priced: Reading, tmp_path: Path) -> None:
    data = bid_data(priced)
    assert data is not None
    (tmp_path / "bid.pdf").write_bytes(typeset("bid", data))
    text = flat(tmp_path / "bid.pdf")
    assert "$" not in text
    price = priced.findings.price
    assert price is not None
    listed = [r["id"] for r in data["rows"]]
    free = [x.item.tree or "–" for x in price.lines if x.item.standing != "blocked"]
    assert listed == free


def test_closeout_asks_for_each_line_of_the_order(priced: Reading) -> None:
    data, price = closeout_data(priced), priced.findings.price
    assert data is not None
    assert price is not None
    assert len(data["rows"]) == sum(x.hours is not None for x in price.of("base"))


def test_decision_record_has_every_advice_once(reading: Reading) -> None:
    data = decisions_data(reading)
    assert data is not None
    ids = [r["id"] for r in data["rows"]]
    assert len(ids) == len(set(ids))
    worked = {r[0] for r in ROWS if r[13] not in ("retain", None)}
    assert worked <= set(ids)


def test_papers_that_do_not_apply_are_not_written(tmp_path: Path, catalogue: Catalogue) -> None:
    (tmp_path / "bid.pdf").write_bytes(b"left from an earlier survey")
    quiet = [r for r in ROWS if r[0] == "T24"]
    names = {p.name for p in write_papers(findings(rows=quiet), tmp_path, catalogue=catalogue)}
    assert not {"bid.pdf", "closeout.pdf", "planting.pdf", "monitoring.pdf"} & names
    assert not (tmp_path / "bid.pdf").exists()
    assert "letter.pdf" in names


def test_recording_is_copied_beside_the_page_and_jumped_into(
    tmp_path: Path, catalogue: Catalogue
) -> None:
    f = with_walk(findings())
    (tmp_path / "some walk.MP4").write_bytes(b"not really a film")
    f = replace(f, parts=(WalkPart("walk.vtt", "some walk.MP4", 0.0, 60.0),))
    write_papers(f, tmp_path / "out", catalogue=catalogue, files=files_in(tmp_path))
    assert (tmp_path / "out" / "client" / "walk.mp4").read_bytes() == b"not really a film"
    page = (tmp_path / "out" / "client" / "index.html").read_text(encoding="utf-8")
    assert '<video id="walk1" controls preload="metadata"' in page
    assert 'src="walk.mp4"' in page
    assert page.count("<script>") == 1
    assert 'data-at="12.0"' in page
    assert "&lt;b&gt;low&lt;/b&gt; limbs" in page


def test_without_a_recording_the_words_are_there_and_no_script(catalogue: Catalogue) -> None:
    page = client_page(reading_of(with_walk(findings()), catalogue=catalogue)).decode()
    assert "<script" not in page
    assert "<details open>" in page
    assert "0:12 “&lt;b&gt;low&lt;/b&gt; limbs”" in page


def with_walk(f: Findings) -> Findings:
    moment = SimpleNamespace(start=12.0, end=20.0, said="<b>low</b> limbs")
    said: Any = SimpleNamespace(
        id="w1", moments=(moment, moment), decision_moments=(moment,),
        reasons=(), species=SimpleNamespace(label="ash"),
    )  # fmt: skip
    trees = tuple(replace(t, said=said) if t.tree.id == "T8" else t for t in f.trees)
    return replace(f, trees=trees)


@pytest.mark.parametrize("name", ["bid", "closeout", "neighbour", "monitoring", "decisions"])
def test_nothing_from_outside_is_read_as_markup(
    name: str, catalogue: Catalogue, tmp_path: Path
) -> None:
    price = rich_price()
    lines = tuple(
        replace(
            x,
            item=replace(
                x.item, tree=HOSTILE[i % len(HOSTILE)], label=HOSTILE[(i + 7) % len(HOSTILE)]
            ),
        )
        for i, x in enumerate(price.lines)
    )
    f = replace(made_hostile(HOSTILE), price=replace(price, lines=lines))
    r = reading_of(f, catalogue=catalogue)
    makers: dict[str, Any] = {
        "bid": bid_data, "closeout": closeout_data, "neighbour": neighbour_data,
        "monitoring": monitoring_data, "decisions": decisions_data,
    }  # fmt: skip
    data = makers[name](r)
    assert data is not None
    (tmp_path / "x.pdf").write_bytes(typeset(name, data))
    text = pdf_text(tmp_path / "x.pdf").replace("\u200b", "")
    assert "Traceback" not in text
    if name in ("decisions", "monitoring"):
        assert "#panic(1)" in text
        assert "U+202E" in text


def test_a_tree_to_be_removed_carries_no_verdict(reading: Reading) -> None:
    data = letter_data(reading)
    assert data is not None
    gone = {r[0] for r in ROWS if r[13] == "remove"}
    for line in data["lines"]:
        if line["id"] in gone:
            assert line["works"] == ""
            assert line["advice"] == "Take it down."


def test_a_danger_heard_heads_letter_and_crew_sheet(catalogue: Catalogue) -> None:
    moment = SimpleNamespace(start=5.0, said="a bit of a gas smell")
    hazard = SimpleNamespace(kind="gas smell", urgent=True, moments=(moment,))
    draft: Any = SimpleNamespace(trees=(), duration_s=9.0, hazards=(hazard,))
    r = reading_of(replace(findings(), draft=draft), catalogue=catalogue)
    data = letter_data(r)
    assert data is not None
    assert data["urgent"][0].startswith("First: a smell of gas")


_FOR_ACTING = (
    insurer_data, utility_data, change_order_data, evidence_data, board_data, return_data,
)  # fmt: skip


@pytest.mark.parametrize("data", _FOR_ACTING)
def test_a_danger_heard_heads_what_leaves_the_house(
    data: Callable[[Reading], dict[str, Any] | None], catalogue: Catalogue
) -> None:
    moment = SimpleNamespace(start=5.0, said="a bit of a gas smell")
    hazard = SimpleNamespace(kind="gas smell", urgent=True, moments=(moment,))
    draft: Any = SimpleNamespace(trees=(), duration_s=9.0, hazards=(hazard,))
    f = made_hostile(HOSTILE)
    wire = replace(f.survey.works[0], kind="wire", present="yes")
    trees = tuple(replace(t, tree=replace(t.tree, decision="remove")) for t in f.trees)
    survey = replace(f.survey, purpose="hazard visit", works=(wire, *f.survey.works[1:]))
    f = replace(f, draft=draft, rules=None, survey=survey, trees=trees, price=rich_price())
    made = data(reading_of(f, catalogue=catalogue))
    assert made is not None
    assert made["urgent"][0].startswith("First: a smell of gas")


def test_a_tree_without_a_decision_is_not_said_to_need_nothing(reading: Reading) -> None:
    entry = reading.findings.trees[0]
    open_ = replace(entry, tree=replace(entry.tree, decision=None, notes="by the gate"))
    assert needs_line(open_)
    line = tree_line(reading, open_)
    assert line["advice"] == "Nothing is settled for it yet."
    # What follows the note in the same cell must not be read into it.
    assert line["found"] == "by the gate."
