"""Many faults alike, ids that only look alike, a head that is a link."""

import json
import os

import pytest
from click.testing import CliRunner

from bolewalk.cli import main
from bolewalk.commands.talk import grouped_lines
from bolewalk.intake.folder import SurveyUnreadableError, read_folder
from bolewalk.model.problems import Problem
from tests.intake.surveys import read, write_survey


def test_a_long_table_with_one_fault_is_told_in_a_few_lines(tmp_path):
    rows = "".join(f"T{n},Quercus robur,tall\n" for n in range(3_000))
    folder = write_survey(tmp_path, trees=f"tree,species,height\n{rows}")
    told = CliRunner().invoke(main, ["check", str(folder)])
    lines = [line for line in told.stderr.splitlines() if "height" in line]
    assert len(lines) == 6
    assert "row 2, height" in lines[0]
    assert lines[-1] == (
        "fault: trees.csv, height: and 2,995 more like it (--json lists every one)"
    )
    assert "3000 faults, no notices" in told.stderr
    # Nothing is lost: every one of them is in the JSON.
    whole = json.loads(CliRunner().invoke(main, ["check", "--json", str(folder)]).stdout)
    assert sum(p["field"] == "height" for p in whole) == 3_000


@pytest.mark.parametrize(("n", "lines"), [(1, 1), (6, 6), (7, 6), (100, 6)])
def test_one_more_is_printed_and_not_counted(n, lines):
    alike = [Problem("a.csv", i, "x", str(i), f"a number below {i}") for i in range(n)]
    assert len(list(grouped_lines(alike))) == lines


def test_others_are_not_taken_together():
    apart = [
        Problem("a.csv", 1, "x", "v", "a number"), Problem("b.csv", 1, "x", "v", "a number"),
        Problem("a.csv", 1, "y", "v", "a number"), Problem("a.csv", 1, "x", "v", "a word"),
        Problem("a.csv", 1, "x", "v", "a number", "notice"),
    ]  # fmt: skip
    assert list(grouped_lines(apart)) == [p.line() for p in apart]


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("Bäume", "Ba\u0308ume"),  # composed and decomposed (Unicode NFC)
        ("T1", "T1\u200f"),  # a mark of writing direction
        ("T1", "\u202aT1\u202c"),
        ("T1", "T\u200b1"),  # a space of no width
    ],
)
def test_ids_that_look_the_same_are_one_id(tmp_path, one, other):
    job = read(tmp_path, trees=f"tree,species\n{one},oak\n{other},ash\nT9,elm\n")
    assert [t.id for t in job.survey.trees] == ["T9"]
    told = [p for p in job.problems if p.field == "tree"]
    assert [p.row for p in told] == [2, 3]
    assert all("used once, not 2 times" in p.expected for p in told)


def test_a_head_that_is_a_link_is_called_one(tmp_path):
    folder = write_survey(tmp_path / "survey")
    os.rename(folder / "survey.toml", tmp_path / "elsewhere.toml")
    (folder / "survey.toml").symlink_to(tmp_path / "elsewhere.toml")
    told = CliRunner().invoke(main, ["check", str(folder)])
    assert told.exit_code == 2
    assert "a link, which is not followed" in told.stderr
    with pytest.raises(SurveyUnreadableError, match="put the file itself"):
        read_folder(folder)
