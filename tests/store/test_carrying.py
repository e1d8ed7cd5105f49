"""Surveys carried from one store to another in open formats: what comes out again is the same."""

import json
import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner

from bolewalk.cli import main
from bolewalk.store.checking import verify
from bolewalk.store.edits import set_cells
from bolewalk.store.issues import seal
from bolewalk.store.store import Store

OPEN = {".toml", ".csv", ".geojson", ".json", ".vtt", ".dxf", ".pdf", ".txt"}


def options(place) -> list[str]:
    told = ["--data", str(place["where"])]
    return told + (["--media", str(place["media"])] if "media" in place else [])


def files(folder: Path) -> dict[str, bytes]:
    return {
        p.relative_to(folder).as_posix(): p.read_bytes() for p in folder.rglob("*") if p.is_file()
    }


@pytest.fixture
def worked_in(store, demo, tmp_path, clock):
    """Two surveys, one edited and undone by two people, with a sealed issue."""
    number = store.import_folder(demo, who="Ada", when=clock()).survey_id
    for height, who in (("71", "Ada"), ("72", "Ben")):
        tree = store.load(number).tree("T7")
        store.change(number, [set_cells(tree, {"height": height})], who=who, when=clock())
    store.undo(number, who="Ben", when=clock())
    (tmp_path / "papers").mkdir()
    (tmp_path / "papers" / "report.pdf").write_bytes(b"%PDF as issued")
    revision = store.load(number).revision
    seal(
        store, number, tmp_path / "papers", revision=revision, title="R", who="Ada", when=clock(),
        number="../1",
    )  # fmt: skip
    other = tmp_path / "other"
    shutil.copytree(demo, other)
    (other / "notes é.txt").write_text("kept as it is")
    store.import_folder(other, who="Ada", when=clock())
    return store


@pytest.mark.usefixtures("worked_in")
def test_exported_and_brought_into_another_store_it_is_equal(store, place, tmp_path):
    run = CliRunner()
    done = run.invoke(main, ["export", *options(place), "--out", str(tmp_path / "out")])
    assert done.exit_code == 0, done.output
    first = files(tmp_path / "out")
    # Older files lie in record/ under their SHA-256, without an ending.
    assert {Path(n).suffix for n in first if "/record/" not in n} <= OPEN
    assert first["1/issues/1/papers/report.pdf"] == b"%PDF as issued"
    assert json.loads(first["1/issues/1/sealed.json"])["number"] == "../1"
    new = ["--data", str(tmp_path / "new")]
    done = run.invoke(
        main, ["bring", str(tmp_path / "out" / "1"), str(tmp_path / "out" / "2"), *new]
    )
    assert done.exit_code == 0, done.output
    done = run.invoke(main, ["export", *new, "--out", str(tmp_path / "again")])
    assert done.exit_code == 0, done.output
    # Byte for byte, the sealed issue too; but that the edited table came as a file of its own,
    # which is one step more of the history.
    again = files(tmp_path / "again")
    record = "1/survey/record.json"
    told, before = (json.loads(f.pop(record)) for f in (again, first))
    assert {n: again.get(n) for n in first} == first
    assert told["groups"][:-1] == before["groups"]
    (step,) = told["groups"][-1]["steps"]
    assert (step["kind"], step["key"]) == ("file", "trees.csv")
    with Store.open(tmp_path / "new") as other:
        assert verify(other) == ()
        for number in (1, 2):
            assert other.job(number).survey == store.job(number).survey
            # Everything a person entered, but for where the bytes of a file lie.
            entered = [
                [(i.kind, i.key, i.place, i.body) for i in s.load(number).items if i.kind != "file"]
                for s in (store, other)
            ]
            assert entered[0] == entered[1]


def test_misuse(store, place, demo, tmp_path):
    run = CliRunner()
    (tmp_path / "full").mkdir()
    (tmp_path / "full" / "x").touch()
    for arguments, code, says in (
        (["export", "--data", str(tmp_path / "none"), "--out", str(tmp_path / "o")], 2, "no store"),
        (["export", *options(place), "--out", str(tmp_path / "full")], 2, "is not empty"),
        (
            ["export", *options(place), "--out", str(tmp_path / "o"), "--survey", "7"],
            2,
            "no survey 7",
        ),
        (["bring", str(tmp_path / "full"), str(demo), *options(place)], 1, "survey.toml cannot be"),
    ):
        done = run.invoke(main, arguments)
        assert done.exit_code == code, done.output
        assert says in done.output
    # One that cannot be read does not keep the next from being taken in.
    assert len(store.surveys()) == 1
