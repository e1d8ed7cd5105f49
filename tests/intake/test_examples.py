"""Values of a new survey are told until each is changed."""

import tomllib
from importlib import resources
from pathlib import Path

import pytest

from bolewalk.demo.make_skeleton import new_folder
from bolewalk.intake.discussion import DISCUSSION_KEYS, read_discussion
from bolewalk.intake.folder import read_folder
from bolewalk.model.figures import Figure
from bolewalk.model.trees import Species, Tree
from bolewalk.papers.front import front_rows
from bolewalk.papers.write import reading_of
from bolewalk.survey import assess


def told(root: Path) -> set[str]:
    problems = [p for p in read_folder(root).problems if "example" in p.expected]
    assert all(p.level == "notice" for p in problems)
    return {str(p.field) for p in problems}


CHANGES = {
    "survey.name": ("survey.toml", "Name of the property", "Elm House"),
    "survey.date": ("survey.toml", "2026-01-31", "2026-03-02"),
    "tree": ("trees.csv", "Example row: put your own", "A row: put your own"),
}


def test_a_new_survey_is_all_examples(tmp_path: Path) -> None:
    new_folder(tmp_path / "s")
    assert told(tmp_path / "s") == {"survey.name", "survey.date", "tree", "crew"}


@pytest.mark.parametrize("field", list(CHANGES))
def test_each_is_told_until_it_is_changed(field: str, tmp_path: Path) -> None:
    new_folder(tmp_path / "s")
    name, old, new = CHANGES[field]
    path = tmp_path / "s" / name
    path.write_text(path.read_text("utf-8").replace(old, new), "utf-8")
    assert told(tmp_path / "s") == {"survey.name", "survey.date", "tree", "crew"} - {field}


def test_rates_are_told_table_by_table(tmp_path: Path) -> None:
    new_folder(tmp_path / "s")
    path = tmp_path / "s" / "rates.toml"
    path.write_text(path.read_text("utf-8").replace("climber = 52.00", "climber = 61.50"), "utf-8")
    (said,) = [s for s in read_folder(tmp_path / "s").examples if s.code == "example.rates"]
    assert "crew" not in str(dict(said.values)["tables"])
    assert "truck" in str(dict(said.values)["tables"])


def test_the_papers_say_so(tmp_path: Path) -> None:
    new_folder(tmp_path / "s")
    rows = dict(front_rows(reading_of(assess(read_folder(tmp_path / "s")))))  # type: ignore[arg-type]
    assert rows["Examples"].startswith(
        "The name is an example. The day, 2026-01-31, is the one a new survey begins with. "
        "Example rows, no trees of this site: T1. The prices rest on example rates"
    )


def test_the_list_of_rates_is_the_example_files_own() -> None:
    known = tomllib.loads(
        (resources.files("bolewalk.intake") / "data" / "examples.toml").read_text("utf-8")
    )
    shipped = tomllib.loads(
        (resources.files("bolewalk.pricing") / "data" / "example_rates.toml").read_text("utf-8")
    )
    assert set(known["rates"]) <= set(shipped)


# --- discussion.toml -------------------------------------------------------------------------

TREES = tuple(
    Tree(i, Species(None, None, "ash"), stems_cm=(Figure(30.0, "measured"),)) for i in ("T1", "T2")
)


def test_what_is_said_of_trees_is_read_and_every_fault_told() -> None:
    said, problems = read_discussion(
        {
            "tree": [
                {"tree": "T1", "reason": " dying ", "use": "rare"},
                {"tree": "T1", "reason": "again"},
                {"tree": "T9", "reason": "no such tree"},
                {"tree": "T2", "use": "often", "colour": "red"},
                {"reason": "whose?"},
            ],
            "trees": [],
        },
        file="d.toml",
        trees=TREES,
    )
    assert said == {"T1": {"reason": "dying", "use": "rare"}}
    assert {(p.row, p.field) for p in problems} == {
        (None, "trees"), ("T1", "tree.tree"), ("T9", "tree.tree"), ("T2", "tree.use"),
        ("T2", "tree.colour"), (5, "tree.tree"),
    }  # fmt: skip
    assert read_discussion({"tree": "no"}, file="d.toml", trees=TREES)[0] == {}


def test_every_key_is_told_of() -> None:
    page = (Path(__file__).parents[2] / "docs" / "survey-folder.md").read_text("utf-8")
    for key in DISCUSSION_KEYS:
        assert f"`{key.path}`" in page
