"""What public agencies ask of an arborist report, item by item, found in the papers themselves.

The items and their sources stand in tests/data/report_checklist.toml; the survey is the
demonstration one with everything a report can be told.
"""

import re
import tomllib
from pathlib import Path
from typing import Any

import pytest

from bolewalk.intake.folder import read_folder
from bolewalk.papers.monitoring import monitoring_data
from bolewalk.papers.planting_paper import planting_data
from bolewalk.papers.protection import protection_data
from bolewalk.papers.reading import Reading
from bolewalk.papers.report import report_data
from bolewalk.papers.typeset import typeset
from bolewalk.papers.write import files_in, reading_of
from bolewalk.survey import assess
from tests.papers.complete import complete_survey
from tests.papers.conftest import pdf_text

DATA = Path(__file__).parents[1] / "data" / "report_checklist.toml"
ITEMS: list[dict[str, Any]] = tomllib.loads(DATA.read_text("utf-8"))["item"]
MADE = {
    "report": report_data, "protection": protection_data, "monitoring": monitoring_data,
    "planting": planting_data,
}  # fmt: skip


@pytest.fixture(scope="module")
def reading(tmp_path_factory: pytest.TempPathFactory) -> Reading:
    root = complete_survey(tmp_path_factory.mktemp("complete") / "survey")
    return reading_of(assess(read_folder(root)), files=files_in(root))


@pytest.fixture(scope="module")
def printed(reading: Reading, tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    out = tmp_path_factory.mktemp("printed")
    for name, data in MADE.items():
        values = data(reading)
        assert values is not None
        (out / f"{name}.pdf").write_bytes(typeset(name, values, pictures=reading.pictures))
    return {name: out / f"{name}.pdf" for name in MADE}


@pytest.fixture(scope="module")
def texts(printed: dict[str, Path]) -> dict[str, str]:
    return {
        name: re.sub(r"\s+", " ", pdf_text(path).replace("\u200b", ""))
        for name, path in printed.items()
    }


@pytest.mark.parametrize("item", ITEMS, ids=[f"{i['part']}: {i['asks']}" for i in ITEMS])
def test_the_papers_have(item: dict[str, Any], texts: dict[str, str]) -> None:
    text = texts[item.get("paper", "report")]
    assert [f for f in item["find"] if f not in text] == []


def test_the_list_is_whole_and_names_who_asks() -> None:
    # Eleven parts of front matter to closing, each item with the agencies or "practice".
    parts = {i["part"].split()[0] for i in ITEMS}
    assert parts == {str(n) for n in range(1, 12)}
    assert len(ITEMS) >= 70
    for item in ITEMS:
        assert re.search(r"\((\d+|practice)[^)]*\)$", item["asks"]), item
        assert item["find"]


# --- checks a reader may run on the finished report (Kirkland WA, Murrieta CA, ...) -------------


def test_tree_numbers_on_the_plan_are_those_of_the_table(reading: Reading) -> None:
    data = report_data(reading)
    table = {r["id"] for r in data["tree_rows"]}
    drawn = {n["text"] for n in data["plan"]["notes"] if n["weight"] == "bold"}
    located = {t.tree.id for t in reading.findings.trees if t.tree.located}
    assert drawn & table == located
    assert {d for d in drawn if re.fullmatch(r"T\d+", d)} == located


def test_summary_counts_are_those_of_the_table(reading: Reading) -> None:
    data = report_data(reading)
    for name in ("verdict_counts", "decision_counts", "owner_counts", "rule_counts"):
        assert sum(c["n"] for c in data[name]) == len(data["tree_rows"]), name
        assert sorted(i for c in data[name] for i in c["ids"]) == sorted(
            r["id"] for r in data["tree_rows"]
        )


def test_no_kept_tree_lacks_a_root_zone_without_a_word(reading: Reading) -> None:
    data = report_data(reading)
    kept = {r["id"]: r["zone"] for r in data["tree_rows"] if not r["remove"]}
    assert [i for i, zone in kept.items() if zone == "–"] == []


def test_each_protected_tree_to_be_removed_has_its_finding(reading: Reading) -> None:
    data = report_data(reading)
    rules = reading.findings.rules
    assert rules is not None
    gone = [t.tree.id for t in reading.findings.trees if t.tree.decision == "remove"]
    held = [i for i in gone if (r := rules.of(i)) and r.protection.may_be_protected]
    assert "T9" in held
    rows = {r["id"]: r for r in data["rules"]["rows"]}
    for tree in held:
        assert rows[tree]["why"], tree


def test_replacements_meet_the_ratio(reading: Reading) -> None:
    """T9 under rules of 3 to 1 and 1 to 1: the card plants at least three."""
    planting = reading.findings.planting
    assert planting is not None
    assert len(planting.plants) >= 3


def test_the_revision_named_is_the_one_read(texts: dict[str, str]) -> None:
    assert "Court and creek improvements, site plan, revision B" in texts["report"]


def test_the_removal_day_is_held_against_the_nesting_season(reading: Reading) -> None:
    rules = reading.findings.rules
    assert rules is not None
    found = rules.of("T9")
    assert found is not None
    removal = next(d for d in found.dates if d.act == "remove")
    # Asked on 11 Nov 2026, 21 days: 2 Dec; the season begins on 15 Feb.
    assert removal.earliest is not None
    assert removal.earliest.isoformat() == "2026-12-02"


# --- photographs ------------------------------------------------------------------------------


def test_photographs_are_printed_without_what_the_camera_wrote(
    reading: Reading, texts: dict[str, str], printed: dict[str, Path]
) -> None:
    text = texts["report"]
    assert "T15, Monterey pine. The file does not say when it was taken, file T15_top.jpg." in text
    assert "Named, and not readable as pictures: T14.jpg." in text
    assert "One photograph names no tree: gate.jpg." in text
    assert len(reading.pictures) == 2
    for picture in (*reading.pictures.values(), printed["report"].read_bytes()):
        assert b"SECRET-CAMERA-OWNER" not in picture


PROTECTION = {
    "fence before works": "The fence stands before any machine",
    "who to call": "Whom to call: Tobin Hale, 555-0147",
    "thick roots": "A root 2.0 in thick or thicker is not cut",
    "storage, spoil, parking": "no storage, no spoil, no parking",
    "washing out": "washed out where the water cannot reach",
    "signs": "A sign on each side of the fence",
    "newer drawing": "A newer drawing than the one named here",
    "end of protection": "The fence comes down only after",
}


@pytest.mark.parametrize("item", list(PROTECTION))
def test_protection_sheet_has(item: str, texts: dict[str, str]) -> None:
    assert PROTECTION[item] in texts["protection"]
