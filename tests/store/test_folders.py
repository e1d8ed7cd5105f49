"""Survey folders in and out: nothing lost, and the same findings on either way."""

import csv
import io
import json
import shutil
from pathlib import Path

import pytest

from bolewalk.intake.folder import SurveyUnreadableError, read_folder
from bolewalk.papers.findings_json import findings_json
from bolewalk.papers.write import reading_of
from bolewalk.store.edits import (
    file_edits,
    new_tree,
    new_work,
    remove,
    set_cells,
    set_feature,
    set_head,
    set_table,
)
from bolewalk.store.items import Applied
from bolewalk.store.store import Store
from bolewalk.survey import assess
from tests.intake.surveys import HEAD, TREES, WORKS, feature, write_survey


def contents(folder: Path) -> dict[str, bytes]:
    return {
        p.relative_to(folder).as_posix(): p.read_bytes() for p in folder.rglob("*") if p.is_file()
    }


def findings(job) -> bytes:
    found = assess(job)
    return findings_json(found, reading_of(found).speaker)


def taken_in(store, folder, clock):
    return store.import_folder(folder, who="Ada", when=clock())


def test_the_demonstration_survey_comes_out_as_it_went_in(store, demo, tmp_path, clock):
    number = taken_in(store, demo, clock).survey_id
    store.export_folder(number, tmp_path / "out")
    assert contents(tmp_path / "out") == contents(demo)


def test_its_findings_are_the_same_bytes(store, demo, clock):
    number = taken_in(store, demo, clock).survey_id
    assert store.job(number) == read_folder(demo)
    assert findings(store.job(number)) == findings(read_folder(demo))


def test_it_can_be_carried_from_store_to_store(store, demo, tmp_path, clock):
    number = taken_in(store, demo, clock).survey_id
    seen = store.load(number)
    store.change(
        number,
        [
            set_cells(seen.tree("T7"), {"height": "71", "notes": 'Read again, "sure"\nof it'}),
            remove(seen.tree("T9")),
            new_tree({"tree": "T99", "species": "Quercus rubra", "x": "100", "y": "80"}),
            remove(seen.of("work")[0]),
            new_work(feature("W9", "trench", "LineString", [[90, 60], [120, 60]], depth=2)),
            set_head(seen, (("survey", "name"), "Teasel Court, east")),
            set_table(seen, "rates.toml", (("margin_pct",), 11)),
        ],
        who="Ada", when=clock(),
    )  # fmt: skip
    store.export_folder(number, tmp_path / "out", record=False)
    with Store.open(tmp_path / "elsewhere") as other:
        again = taken_in(other, tmp_path / "out", clock)
        assert other.job(again.survey_id) == store.job(number)
        assert findings(other.job(again.survey_id)) == findings(store.job(number))
    out = contents(tmp_path / "out")
    was = contents(demo)
    changed = {n for n in out if out[n] != was[n]}
    assert changed == {"survey.toml", "trees.csv", "works.geojson", "rates.toml"}
    # Comments of the person who wrote the file stay.
    assert out["survey.toml"].count(b"#") == was["survey.toml"].count(b"#")
    rows = {r["tree"]: r for r in csv.DictReader(io.StringIO(out["trees.csv"].decode()))}
    assert rows["T7"]["notes"] == 'Read again, "sure"\nof it'
    assert ("T9" in rows, rows["T99"]["species"]) == (False, "Quercus rubra")


def test_undoing_everything_gives_the_first_bytes_back(store, demo, tmp_path, clock):
    number = taken_in(store, demo, clock).survey_id
    tree = store.load(number).tree("T7")
    store.change(number, [set_cells(tree, {"height": "71"})], who="Ada", when=clock())
    store.undo(number, who="Ada", when=clock())
    store.export_folder(number, tmp_path / "out", record=False)
    assert contents(tmp_path / "out") == contents(demo)


TABLES = {
    "marks of order and line ends": b"\xef\xbb\xbf" + TREES.replace("\n", "\r\n").encode(),
    "empty rows": TREES.replace("\nT2", "\n\n,,,\nT2").encode(),
    "semicolons": TREES.replace(",", ";").encode(),
    "Latin-1": (TREES + "T4,Érable,1,2,9,,,,,,,,,\n").encode("latin-1"),
    "columns of one's own": TREES.replace("notes", "Soil pH").encode(),
    "a column twice": TREES.replace("notes", "tree").encode(),
    "a column without name": TREES.replace("notes", "").encode(),
    "other spellings": TREES.replace("crown_base", "Crown Base").encode(),
    "a row too long": (TREES + "T4,oak,1,2,9,,,,,,,,,yes,and,more\n").encode(),
    "a row too short": (TREES + "T4,oak\n").encode(),
    "ids twice": (TREES + "T1,oak,,,,,,,,,,,,\n").encode(),
    "no header": b"T1,oak,3\nT2,ash,4\n",
    "quotes left open": (TREES + 'T4,"oak,1,2\n').encode(),
    "nothing": b"",
    "a null": b"tree,notes\nT1,a\x00b\n",
}


@pytest.mark.parametrize("table", TABLES.values(), ids=TABLES)
def test_any_tree_table_comes_out_as_it_went_in(store, tmp_path, clock, table):
    folder = write_survey(tmp_path / "in", trees=table)
    took = taken_in(store, folder, clock)
    assert took.problems == read_folder(folder).problems
    assert store.job(took.survey_id).survey.trees == read_folder(folder).survey.trees or (
        # Rows are counted anew where empty ones stood between them.
        table == TABLES["empty rows"]
    )
    store.export_folder(took.survey_id, tmp_path / "out")
    assert contents(tmp_path / "out") == contents(folder)


@pytest.mark.parametrize(
    "name",
    ["semicolons", "Latin-1", "columns of one's own", "a column twice", "a column without name",
     "other spellings", "a row too long", "a row too short", "ids twice", "empty rows"],
)  # fmt: skip
def test_a_table_written_anew_says_the_same(store, tmp_path, clock, name):
    folder = write_survey(tmp_path / "in", trees=TABLES[name])
    number = taken_in(store, folder, clock).survey_id
    tree = store.load(number).tree("T2")
    done = store.change(number, [set_cells(tree, {"health": "good"})], who="Ada", when=clock())
    assert isinstance(done, Applied)
    store.export_folder(number, tmp_path / "out")
    ours, theirs = store.job(number), read_folder(tmp_path / "out")
    assert ours == theirs
    before = {t.id: t.entered for t in read_folder(folder).survey.trees}
    after = {t.id: dict(t.entered) for t in theirs.survey.trees}
    assert after.pop("T2")["health"] == "good"
    before.pop("T2")
    assert after == {k: dict(v) for k, v in before.items()}


WORKS_FILES = {
    "a reference system": {"crs": {"type": "name", "properties": {"name": "EPSG:2229"}}},
    "members of one's own": {"name": "works", "bbox": [0, 0, 1, 1]},
}


@pytest.mark.parametrize("top", WORKS_FILES.values(), ids=WORKS_FILES)
def test_works_written_anew_keep_what_stands_around_them(store, tmp_path, clock, top):
    head = HEAD.replace("[files]", "[files]").replace(
        'units = "imperial"', 'units = "imperial"\ncrs = "EPSG:2229"'
    )
    folder = write_survey(tmp_path / "in", head=head, plan=False)
    body = {"type": "FeatureCollection", **top, "features": [*WORKS, {"type": "Feature"}, 7]}
    (folder / "works.geojson").write_text(json.dumps(body))
    number = taken_in(store, folder, clock).survey_id
    work = store.load(number).works()[0]
    moved = {**work.body["feature"], "geometry": {"type": "Point", "coordinates": [1, 2]}}
    store.change(number, [set_feature(work, moved)], who="Ada", when=clock())
    store.export_folder(number, tmp_path / "out")
    written = json.loads((tmp_path / "out" / "works.geojson").read_text())
    assert written == {**body, "features": [moved, *body["features"][1:]]}
    assert store.job(number) == read_folder(tmp_path / "out")


@pytest.mark.parametrize("text", ["", "{", "[]", '{"type": "Feature"}', "\udc80"])
def test_broken_works_stay_as_they_came(store, tmp_path, clock, text):
    folder = write_survey(tmp_path / "in")
    (folder / "works.geojson").write_bytes(text.encode("utf-8", errors="surrogateescape"))
    number = taken_in(store, folder, clock).survey_id
    assert store.job(number) == read_folder(folder)
    store.export_folder(number, tmp_path / "out")
    assert contents(tmp_path / "out") == contents(folder)


def test_files_the_survey_does_not_name_are_kept_too(store, tmp_path, clock):
    folder = write_survey(tmp_path / "in")
    (folder / "photos").mkdir()
    (folder / "photos" / "Eiche größer.jpg").write_bytes(b"\xff\xd8not really")
    (folder / "README").write_text("bring the long tape")
    (folder / "link").symlink_to("/etc/hostname")
    took = taken_in(store, folder, clock)
    assert ("link", "a link") in {(p.file, p.value) for p in took.problems}
    store.export_folder(took.survey_id, tmp_path / "out")
    assert contents(tmp_path / "out") == {n: c for n, c in contents(folder).items() if n != "link"}


def test_a_folder_without_head_is_refused_whole(store, tmp_path, clock):
    (tmp_path / "in").mkdir()
    with pytest.raises(SurveyUnreadableError):
        taken_in(store, tmp_path / "in", clock)
    assert store.surveys() == ()


def test_a_newer_table_keeps_the_history_of_its_rows(store, tmp_path, clock):
    folder = write_survey(tmp_path / "in")
    number = taken_in(store, folder, clock).survey_id
    seen = store.load(number)
    newer = TREES.replace("24,45", "25,46").replace("T3,Pinus", "T4,Pinus")
    path = tmp_path / "newer.csv"
    path.write_text(newer)
    with path.open("rb") as stream:
        medium = store.put_media(stream, when=clock())
    edits = file_edits(seen, "trees.csv", path, medium, role="columns")
    assert isinstance(store.change(number, edits, who="Ben", when=clock()), Applied)
    now = store.load(number)
    assert [t.body["cells"]["tree"] for t in now.of("tree")] == ["T1", "T2", "T4"]
    assert now.tree("T1").key == seen.tree("T1").key
    assert store.history(number, "tree", now.tree("T1").key)[0].who == "Ada"
    assert store.history(number, "tree", now.tree("T1").key)[-1].after["cells"]["height"] == "46"
    shutil.copytree(folder, tmp_path / "expected")
    (tmp_path / "expected" / "trees.csv").write_text(newer)
    assert store.job(number) == read_folder(tmp_path / "expected")
    store.export_folder(number, tmp_path / "out", record=False)
    assert contents(tmp_path / "out") == contents(tmp_path / "expected")


def test_a_drawing_dropped_on_a_survey_is_read(store, tmp_path, clock):
    from tests.intake.surveys import write_plan

    folder = write_survey(tmp_path / "in", plan=False, head=HEAD[: HEAD.index("[[drawing]]")])
    number = taken_in(store, folder, clock).survey_id
    write_plan(tmp_path / "dropped.dxf")
    with (tmp_path / "dropped.dxf").open("rb") as stream:
        medium = store.put_media(stream, when=clock())
    seen = store.load(number)
    drawing = {"file": "plan.dxf", "title": "Site plan", "layers": {"S-PILE": "pile"}}
    edits = [
        *file_edits(seen, "plan.dxf", tmp_path / "dropped.dxf", medium),
        set_head(seen, (("drawing", 0), drawing)),
    ]
    assert isinstance(store.change(number, edits, who="Ada", when=clock()), Applied)
    job = store.job(number)
    assert [d.title for d in job.survey.drawings] == ["Site plan"]
    assert sum(w.kind == "pile" for w in job.survey.works) == 3
    # A pile of the drawing is moved: it counts once, where it is now.
    moved = feature("S-PILE-2", "pile", "Point", [30, 24], diameter=1, replaces="S-PILE-2")
    store.change(number, [new_work(moved)], who="Ada", when=clock())
    piles = {w.id: w for w in store.job(number).survey.works if w.kind == "pile"}
    assert sorted(piles) == ["S-PILE-1", "S-PILE-2", "S-PILE-3"]
    assert piles["S-PILE-2"].parts[0].ring[0] == pytest.approx((30 * 0.3048, 24 * 0.3048))


def test_export_writes_over_nothing(store, demo, tmp_path, clock):
    number = taken_in(store, demo, clock).survey_id
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "mine").write_text("mine")
    with pytest.raises(Exception, match="is not empty"):
        store.export_folder(number, tmp_path / "out")
    assert contents(tmp_path / "out") == {"mine": b"mine"}
