"""Letters and forms beside the main papers: each only where it applies, with what its reader needs.

What each must hold is the trade's own list of papers; figures by hand.
"""

import re
from dataclasses import replace
from pathlib import Path
from typing import Any

import page
import pytest

from bolewalk.model.trees import Tree
from bolewalk.model.works import Part, Work
from bolewalk.papers.board import board_data
from bolewalk.papers.change_order import change_order_data
from bolewalk.papers.evidence import evidence_data
from bolewalk.papers.insurer import insurer_data
from bolewalk.papers.language import Catalogue
from bolewalk.papers.order_terms import firm_terms
from bolewalk.papers.reading import IssueStamp, Reading
from bolewalk.papers.risk_paper import risk_data
from bolewalk.papers.typeset import typeset
from bolewalk.papers.utility import utility_data
from bolewalk.papers.write import reading_of
from bolewalk.survey import Findings
from tests.papers.conftest import pdf_text
from tests.papers.hostile import HOSTILE
from tests.papers.invented import FT, findings
from tests.pricing.jobs import rich_price

INSURER = {
    "insurer.name": "Mutual of Wexcombe", "insurer.reference": "HO-1", "insurer.trees": "T8, T5",
    "insurer.asks": "Remove both trees.", "risk.years": "3", "risk.level": "basic",
}  # fmt: skip


def told(f: Findings, **more: Any) -> Findings:
    return replace(f, survey=replace(f.survey, told={**f.survey.told, **more}))


def with_tree(f: Findings, name: str, **more: Any) -> Findings:
    def changed(t: Tree) -> Tree:
        return replace(t, **more) if t.id == name else t

    trees = tuple(replace(t, tree=changed(t.tree)) for t in f.trees)
    return replace(f, trees=trees, survey=replace(f.survey, trees=tuple(t.tree for t in trees)))


def words(data: dict[str, Any] | None) -> str:
    """Every text of a form, in order."""
    assert data is not None

    def texts(value: Any) -> list[str]:
        if isinstance(value, str):
            return [value]
        if isinstance(value, dict):
            return [t for k, v in value.items() if k != "kind" for t in texts(v)]
        return [t for v in value for t in texts(v)] if isinstance(value, list) else []

    return " ".join(texts(data["sheets"]))


@pytest.fixture
def say(catalogue: Catalogue) -> Any:
    def reading(f: Findings, **more: Any) -> Reading:
        return reading_of(f, catalogue=catalogue, **more)

    return reading


# --- the insurer --------------------------------------------------------------------------------


def test_no_letter_to_an_insurer_unless_one_asked_or_trees_were_rated(say: Any) -> None:
    assert insurer_data(say(findings())) is None


def test_the_insurer_reads_who_how_what_and_why_not(say: Any) -> None:
    f = with_tree(told(findings(), **INSURER), "T5", failure="possible", impact="high",
                  consequence="severe")  # fmt: skip
    f = replace(f, discussion={"T5": {
        "part": "upper stem", "target": "path", "use": "frequent", "after": "limb shortened",
        "after_failure": "improbable",
    }})  # fmt: skip
    text = words(insurer_data(say(f)))
    for item in (
        "Mutual of Wexcombe", "HO-1", "Imre Valdengaard, Certified arborist, XX-0417",
        "2026-05-12", "The ratings hold for 3 years", "Level of look: basic", "upper stem, path",
        "possible / high / severe",
        # The published matrices: possible x high = somewhat likely; x severe = moderate.
        "moderate",
        # improbable x high = unlikely; x severe = low.
        "limb shortened: low",
        # T5 is to be inspected and T8 to be removed: only for T5 the demand goes further.
        "For T5 you asked for removal, and the advice is not to remove.",
    ):  # fmt: skip
        assert item in text, item


@pytest.mark.parametrize(("asks", "further"), [
    ("Fell both trees.", True), ("The trees must be taken down.", True),
    ("Do not remove the trees, but shorten the limbs.", False),
    ("Remove the deadwood over the roof.", False),
])  # fmt: skip
def test_the_insurer_is_answered_by_what_is_asked(say: Any, asks: str, further: bool) -> None:
    f = told(findings(), **{**INSURER, "insurer.asks": asks})
    assert ("you asked for removal" in words(insurer_data(say(f)))) == further


def test_no_rating_without_time_frame_level_or_the_matrices_words(say: Any) -> None:
    rated = with_tree(findings(), "T5", failure="possible", impact="high", consequence="severe")
    assert risk_data(say(rated))["rows"] == []
    assert "without a time frame" in risk_data(say(rated))["notes"][0]
    framed = told(rated, **{"risk.years": "3", "risk.level": "basic"})
    assert [r["rating"] for r in risk_data(say(framed))["rows"]] == ["moderate"]
    other = with_tree(framed, "T5", failure="quite likely")
    data = risk_data(say(other))
    assert data["rows"] == []
    assert "T5" in data["notes"][0]
    assert risk_data(say(findings()))["none"]


# --- the owner of a wire ------------------------------------------------------------------------


def wired(f: Findings, *, label: str = "Pole line", y_ft: float = 52.0) -> Findings:
    part = Part("line", ((150 * FT, y_ft * FT), (220 * FT, y_ft * FT)))
    wire = Work("W", "wire", (part,), phase="existing", label=label, low_m=6.0, high_m=7.0)
    return replace(f, survey=replace(f.survey, works=(*f.survey.works, wire)))


def test_the_wire_owner_reads_which_wire_which_trees_and_hold(say: Any) -> None:
    assert utility_data(say(findings())) is None
    text = words(utility_data(say(wired(findings()))))
    for item in (
        "Pole line", "19.7 ft to 23.0 ft", "The work is on hold.",
        # T8 stands at y 66 ft: 14 ft from a wire at 52, under its crown of up to 18 ft.
        "T8: under its crown, 14.0 ft from the trunk",
        # T10 (prune) stands at 42: 10 ft from it, its crown reaches 11.
        "T10: under its crown, 10.0 ft from the trunk",
        "Pole numbers", "Voltage", "Photograph",
    ):  # fmt: skip
        assert item in text, item
    # T9 is nearer than others but nothing is to be done to it.
    assert "T9" not in text


def test_a_wire_beyond_ten_feet_of_every_crown_is_not_asked_about(say: Any) -> None:
    assert utility_data(say(wired(findings(), y_ft=400.0))) is None


# --- change order, evidence, board ----------------------------------------------------------------


def test_a_change_order_hangs_on_the_order(say: Any) -> None:
    assert change_order_data(say(findings())) is None
    text = words(change_order_data(say(replace(findings(), price=rich_price()))))
    for item in ("Total as ordered", "What was found", "Price effect", "Agreed before the work",
                 "Spoken consent", "Second owner"):  # fmt: skip
        assert item in text, item


def test_evidence_is_for_visits_about_a_hazard(say: Any) -> None:
    assert evidence_data(say(findings())) is None
    f = replace(findings(), survey=replace(findings().survey, purpose="hazard visit"))
    data = evidence_data(say(f))
    assert data is not None
    assert len(data["sheets"]) == 2  # T8 and T16 are to be removed
    text = words(data)
    for item in ("Stump or root plate", "Break", "Decay", "What was hit", "Chain of pictures",
                 "Pieces kept by", "green ash"):  # fmt: skip
        assert item in text, item


def test_the_board_reads_a_ranked_list_who_decides_and_costs_by_year(say: Any) -> None:
    assert board_data(say(findings())) is None
    f = findings()
    client = f.survey.people.client
    assert client is not None
    people = replace(f.survey.people, client=replace(client, role="Residents' Association"))
    f = replace(f, survey=replace(f.survey, people=people))
    text = words(board_data(say(f)))
    # What must be looked at first, then what should come down.
    assert text.index("T5 American sycamore") < text.index("T8 green ash") < text.index("T10 ")
    for item in ("the town", "the board and the neighbour", "Costs by year", "In short"):
        assert item.lower() in text.lower(), item


# --- what they share -----------------------------------------------------------------------------


def test_licence_and_cover_are_held_against_the_days_of_the_work(say: Any) -> None:
    days = {
        "firm.licence_until": "2026-06-30", "firm.insurance_until": "2026-07-05",
        "firm.start": "2026-07-01", "firm.end": "2026-07-05",
    }  # fmt: skip
    f = told(findings(), **days)
    (short,) = firm_terms(say(f))["short"]
    # A cover that ends on the last day of the work still covers it.
    assert short == (
        "The licence runs out on 2026-06-30, before the work is done (2026-07-05): renew it first."
    )


def test_the_issue_stands_on_every_form(say: Any) -> None:
    stamp = IssueStamp("4", "2026-06-01", "ab" * 32)
    f = told(findings(), **INSURER)
    assert "issue 4 of 2026-06-01, inputs abababababababab" in words(
        insurer_data(say(f, issue=stamp))
    )
    assert "draft, not issued" in words(insurer_data(say(f)))


@pytest.fixture(scope="module")
def printed(catalogue: Catalogue, tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """The forms with hostile strings wherever a person can write."""
    f = wired(findings(), label=HOSTILE[10])
    f = told(f, **{k: HOSTILE[i] for i, k in enumerate(INSURER) if not k.startswith("risk")})
    f = replace(f, price=rich_price(), survey=replace(f.survey, purpose="hazard visit"))
    reading = reading_of(f, catalogue=catalogue)
    out = tmp_path_factory.mktemp("forms")
    made = {"utility": utility_data, "change": change_order_data, "evidence": evidence_data,
            "insurer": insurer_data}  # fmt: skip
    for name, data in made.items():
        values = data(reading)
        assert values is not None
        (out / f"{name}.pdf").write_bytes(typeset("form", values))
    return {name: out / f"{name}.pdf" for name in made}


@pytest.mark.parametrize("name", ["utility", "change", "evidence", "insurer"])
def test_an_independent_checker_finds_no_fault_of_access(
    name: str, printed: dict[str, Path]
) -> None:
    """page-validation 0.11.0, 104 rules of PDF/UA-1."""
    report = page.validate_pdf(printed[name], profile="ua1")
    assert report.rules.total > 100
    assert report.failures == []


def test_a_hostile_wire_is_a_name(printed: dict[str, Path]) -> None:
    text = re.sub(r"\s+", "", pdf_text(printed["utility"]).replace("\u200b", ""))
    assert '#panic(1)#read("main.typ")*bold*_it_' in text
