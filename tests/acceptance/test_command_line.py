"""The command line as a shell sees it: exit codes, streams, same bytes."""

import json
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner

from bolewalk import __version__
from bolewalk.cli import main
from tests.folders import feature, write_survey

TREES = "tree,species,x,y,diameter\nT1,Quercus robur,0,0,50\n"
TRENCH = feature("trench", "LineString", [[3, -20], [3, 20]], width=0.4, depth=0.9)


def bolewalk(*args: str, cwd: Path | None = None) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "bolewalk", *args],
        check=False,
        capture_output=True,
        text=True,
        cwd=cwd,
    )


def test_version_names_the_program() -> None:
    done = bolewalk("--version")
    assert done.returncode == 0
    assert done.stdout == f"bolewalk, version {__version__}\n"


def test_a_sound_survey_exits_0_with_data_on_stdout_only(tmp_path: Path) -> None:
    folder = write_survey(tmp_path / "s", trees=TREES, works=[TRENCH])
    done = bolewalk("make", str(folder), "--out", str(tmp_path / "o"), "--json")
    assert done.returncode == 0, done.stderr
    assert json.loads(done.stdout) == []
    assert "setting the works against the trees" in done.stderr


def test_a_fault_exits_1_names_itself_and_still_writes(tmp_path: Path) -> None:
    folder = write_survey(tmp_path / "s", trees=TREES + "T2,oak,nan,3,20\n", works=[TRENCH])
    out = tmp_path / "o"
    done = bolewalk("make", str(folder), "--out", str(out), "--json")
    assert done.returncode == 1
    (fault,) = (p for p in json.loads(done.stdout) if p["level"] == "fault")
    assert set(fault) == {"file", "row", "field", "value", "expected", "level"}
    assert (fault["file"], fault["row"], fault["field"]) == ("trees.csv", 3, "x")
    assert [t["tree"] for t in json.loads((out / "findings.json").read_text("utf-8"))["trees"]] == [
        "T1",
        "T2",
    ]
    assert bolewalk("make", str(folder), "--out", str(out), "--lenient").returncode == 0
    assert bolewalk("check", str(folder)).returncode == 1


@pytest.mark.parametrize("toml", [None, "not [toml", '[survey]\nname = "no date"\n'])
def test_an_unreadable_survey_exits_2(tmp_path: Path, toml: str | None) -> None:
    if toml is not None:
        (tmp_path / "survey.toml").write_text(toml, encoding="utf-8")
    for command in (["check", str(tmp_path)], ["make", str(tmp_path), "--out", str(tmp_path)]):
        done = bolewalk(*command)
        assert done.returncode == 2
        assert "survey.toml" in done.stderr


def test_an_unreadable_survey_is_told_as_data_too(tmp_path: Path) -> None:
    (tmp_path / "survey.toml").write_text('[survey]\nname = "no date"\n', encoding="utf-8")
    done = CliRunner().invoke(main, ["check", str(tmp_path), "--json"])
    assert done.exit_code == 2
    assert {p["field"] for p in json.loads(done.stdout)} == {"survey.date", "survey.units"}
    assert str(tmp_path) in done.stderr


@pytest.mark.parametrize("name", ["x" * 5000, "round", "s/survey.toml", "gone"])
def test_a_survey_that_is_no_folder_exits_2(tmp_path: Path, name: str) -> None:
    write_survey(tmp_path / "s", trees=TREES)
    (tmp_path / "round").symlink_to(tmp_path / "round")
    done = CliRunner().invoke(main, ["check", str(tmp_path / name)])
    assert done.exit_code == 2
    assert "a survey is a folder with a survey.toml in it" in done.stderr


def test_papers_do_not_go_among_the_survey_s_own_files(tmp_path: Path) -> None:
    folder = write_survey(tmp_path / "s", trees=TREES)
    (folder / "survey.dxf").write_text("the designer's drawing", encoding="utf-8")
    done = CliRunner().invoke(main, ["make", str(folder), "--out", f"{folder}/../s"])
    assert done.exit_code == 2
    assert "another folder" in done.stderr
    assert (folder / "survey.dxf").read_text("utf-8") == "the designer's drawing"


def test_a_draft_does_not_replace_the_walk_it_is_made_from(tmp_path: Path) -> None:
    walk = tmp_path / "walk.txt"
    walk.write_text("[0:01] a red oak, forty feet\n", encoding="utf-8")
    done = CliRunner().invoke(main, ["draft", str(walk), "--out", str(tmp_path / "." / "walk.txt")])
    assert done.exit_code == 2
    assert walk.read_text("utf-8").startswith("[0:01]")


def test_misuse_exits_2() -> None:
    assert bolewalk("make").returncode == 2
    assert bolewalk("draft", "no-such-walk.vtt").returncode == 2


def test_same_input_same_bytes_wherever_it_lies(tmp_path: Path) -> None:
    outs = []
    for place in ("here", "over/there"):
        folder = write_survey(tmp_path / place / "survey", trees=TREES, works=[TRENCH])
        out = tmp_path / place / "papers"
        assert CliRunner().invoke(main, ["make", str(folder), "--out", str(out)]).exit_code == 0
        outs.append(
            {p.relative_to(out).as_posix(): p.read_bytes() for p in out.rglob("*") if p.is_file()}
        )
    assert outs[0].keys() == outs[1].keys()
    assert {"findings.json", "report.pdf", "survey.gpkg", "survey.dxf"} <= outs[0].keys()
    assert {"tree-table.csv", "tree-table.xlsx"} <= outs[0].keys()
    different = [name for name in outs[0] if outs[0][name] != outs[1][name]]
    assert different == []


def test_a_draft_is_a_tree_table_where_it_is_called_one(tmp_path: Path) -> None:
    walk, table = tmp_path / "walk.txt", tmp_path / "heard.csv"
    walk.write_text("[0:01] This is a coast live oak, thirty inches. Keep it.\n", "utf-8")
    assert bolewalk("draft", str(walk), "--out", str(table)).returncode == 0
    folder = write_survey(tmp_path / "s", trees=table.read_text("utf-8"), works=[TRENCH])
    assert bolewalk("check", str(folder)).returncode == 0
    again = bolewalk("draft", str(walk), "--out", str(table))
    assert again.returncode == 2
    assert "may hold corrections" in again.stderr


def test_draft_goes_to_stdout_or_a_file(tmp_path: Path) -> None:
    walk = tmp_path / "walk.txt"
    walk.write_text("[0:00] this is a red oak, forty feet tall, leave it\n", encoding="utf-8")
    printed = json.loads(bolewalk("draft", str(walk)).stdout)
    bolewalk("draft", str(walk), "--out", str(tmp_path / "draft.json"))
    assert printed == json.loads((tmp_path / "draft.json").read_text("utf-8"))
    assert printed["trees"][0]["species"]["botanical"] == "Quercus rubra"


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_completion(shell: str) -> None:
    done = bolewalk("completion", shell)
    assert done.returncode == 0
    assert "_BOLEWALK_COMPLETE" in done.stdout


def test_species_prints_facts_with_their_source() -> None:
    done = bolewalk("species", "coast", "live", "oak")
    assert done.returncode == 0
    assert done.stdout.startswith("Quercus agrifolia")
    assert "[" in done.stdout.splitlines()[1]
    assert bolewalk("species", "no such plant").returncode == 1
    misspelled = bolewalk("species", "dogwod")
    assert misspelled.returncode == 1
    assert "perhaps dogwood" in misspelled.stderr
