"""Exchange files opened again with the libraries other programs are built on."""

import csv
import io
import json
import sqlite3
from pathlib import Path

import ezdxf
import openpyxl
import pyogrio
import pyogrio.raw
import pytest
import shapely

from bolewalk.papers.geopackage import write_geopackage
from bolewalk.papers.language import Catalogue
from bolewalk.papers.layers import survey_layers
from bolewalk.papers.tree_table import COLUMNS
from bolewalk.papers.write import write_papers
from tests.papers.invented import FT, ROWS, findings

LAYERS = ["trees", "crowns", "root_zones", "nearest_cut", "works"]


def test_written_twice_gives_the_same_bytes(
    papers: Path, tmp_path: Path, catalogue: Catalogue
) -> None:
    again = write_papers(findings(), tmp_path / "elsewhere", catalogue=catalogue)
    assert {p.name for p in again} == {p.name for p in papers.rglob("*") if p.is_file()}
    for path in again:
        first = papers / path.relative_to(tmp_path / "elsewhere")
        assert path.read_bytes() == first.read_bytes(), path.name


def test_geopackage_layers_types_and_places(papers: Path) -> None:
    path = papers / "survey.gpkg"
    found = pyogrio.list_layers(path)
    assert [n for n in found[:, 0] if n != "fence"] == LAYERS
    assert found[0].tolist() == ["trees", "Point"]
    info = pyogrio.read_info(path, layer="trees")
    types = dict(zip(info["fields"], info["ogr_types"], strict=True))
    assert types["tree"] == "OFTString"
    assert types["height_ft"] == types["severed_pct"] == "OFTReal"
    meta, _, geometry, fields = pyogrio.raw.read(path, layer="trees")
    trees = dict(zip(meta["fields"], fields, strict=True))
    for row, wkb, tid, height in zip(
        ROWS, geometry, trees["tree"], trees["height_ft"], strict=True
    ):
        p = shapely.from_wkb(wkb)
        assert (tid, round(p.x, 9), round(p.y, 9)) == (row[0], row[3], row[4])
        if row[6] is not None:
            assert height == pytest.approx(row[6], abs=1e-9)


def test_geopackage_without_a_crs_is_undefined_cartesian(papers: Path) -> None:
    with sqlite3.connect(papers / "survey.gpkg") as db:
        ids = {i for (i,) in db.execute("select srs_id from gpkg_contents")}
    db.close()
    assert ids == {-1}  # OGC GeoPackage 1.3, requirement 11: -1 undefined Cartesian


def test_geopackage_keeps_the_crs(tmp_path: Path) -> None:
    f = findings()
    path = tmp_path / "s.gpkg"
    write_geopackage(path, survey_layers(f), crs="EPSG:2229", dated=f.survey.date)
    assert pyogrio.read_info(path, layer="trees")["crs"] == "EPSG:2229"


def test_crown_and_zone_areas(papers: Path) -> None:
    """An ellipse quarter has area pi a b / 4; T1's radii are 24/22/20/26 ft."""
    import math

    _, _, geometry, _ = pyogrio.raw.read(papers / "survey.gpkg", layer="crowns")
    expected = math.pi / 4 * (24 * 22 + 22 * 20 + 20 * 26 + 26 * 24)
    # 120 chords fall short of the curve by less than 0.1 %.
    assert shapely.from_wkb(geometry[0]).area == pytest.approx(expected, rel=1e-3)
    _, _, geometry, _ = pyogrio.raw.read(papers / "survey.gpkg", layer="root_zones")
    assert shapely.from_wkb(geometry[0]).area == pytest.approx(math.pi * 24.5**2, rel=1e-3)


def test_nearest_cut_is_one_closed_line_a_tree_and_level_with_its_error(papers: Path) -> None:
    path = papers / "survey.gpkg"
    meta, _, geometry, fields = pyogrio.raw.read(path, layer="nearest_cut")
    table = dict(zip(meta["fields"], fields, strict=True))
    at = {r[0]: shapely.Point(r[3], r[4]) for r in ROWS}
    rows = list(zip(table["tree"], table["level"], table["line"], strict=True))
    assert len(set(rows)) == len(rows) > 20
    assert {line for _, _, line in rows} == {"line", "inner", "outer"}
    rings = {}
    for i, (tree, level, line) in enumerate(rows):
        ring = rings[tree, level, line] = shapely.from_wkb(geometry[i])
        assert ring.is_closed
        assert ring.distance(at[tree]) == pytest.approx(table["least_ft"][i], abs=1e-6)
        # A trench square to east at its distance just touches the line.
        east = at[tree].x + table["e_ft"][i]
        middle = shapely.Point(east, at[tree].y)
        assert ring.distance(middle) == pytest.approx(0.0, abs=1e-6)
    for (tree, level, line), ring in rings.items():
        if line == "outer":
            inner = rings[tree, level, "line"]
            # The steps between bearings lie on each other.
            assert shapely.Polygon(ring).buffer(1e-6).contains(shapely.Polygon(inner))


def test_dxf_audits_clean_and_names_its_unit(papers: Path) -> None:
    doc = ezdxf.filemanagement.readfile(papers / "survey.dxf")
    audit = doc.audit()
    assert not audit.errors
    assert not audit.fixes
    assert doc.header["$INSUNITS"] == 2  # feet
    space = doc.modelspace()
    assert {e.dxf.layer for e in space} - {"fence"} == set(LAYERS)
    texts = {e.dxf.text for e in space.query('TEXT[layer=="trees"]')}
    assert texts == {r[0] for r in ROWS}
    points = {(round(e.dxf.location.x, 6), round(e.dxf.location.y, 6))
              for e in space.query('POINT[layer=="trees"]')}  # fmt: skip
    assert points == {(r[3], r[4]) for r in ROWS}


def test_tree_table_csv_and_xlsx_agree(papers: Path) -> None:
    rows = list(csv.reader(io.StringIO((papers / "tree-table.csv").read_text("utf-8"))))
    assert tuple(rows[0]) == COLUMNS
    assert COLUMNS[-4:] == ("zone_radius", "severed_pct", "overlap_pct", "verdict")
    assert [r[0] for r in rows[1:]] == [r[0] for r in ROWS]
    first = dict(zip(rows[0], rows[1], strict=True))
    assert first["diameter"] == "24.5"
    assert first["height"] == "~58"  # estimated by eye, as the survey's own table marks it
    assert first["crown"] == "24/22/20/26"
    assert float(first["zone_radius"]) == pytest.approx(24.5)
    assert dict(zip(rows[0], rows[4], strict=True))["diameter"] == "9+8+6.5"
    sheet = openpyxl.load_workbook(papers / "tree-table.xlsx").active
    assert sheet is not None
    cells = [["" if c.value is None else c.value for c in row] for row in sheet.iter_rows()]
    assert len(cells) == len(rows)
    for a, b in zip(rows, cells, strict=True):
        for x, y in zip(a, b, strict=True):
            assert x == (f"{float(y):.10g}" if isinstance(y, int | float) else y)


def test_tree_table_reads_back_as_a_survey_table(papers: Path) -> None:
    """Numbers are in the survey's units and forms the survey's own reader takes."""
    from bolewalk.model.units import parse_crown, parse_length, parse_stems

    text = (papers / "tree-table.csv").read_text("utf-8")
    rows = {r["tree"]: r for r in csv.DictReader(io.StringIO(text))}
    read = 0
    for tree in (t.tree for t in findings().trees):
        row = rows[tree.id]
        if not row["diameter"]:
            assert tree.stems_cm == ()
            continue
        read += 1
        trunks = [s.value_m * 100 for s in parse_stems(row["diameter"], default_unit="in")]
        assert trunks == pytest.approx([s.value for s in tree.stems_cm], rel=1e-3)
        height = parse_length(row["height"], default_unit="ft")
        assert tree.height_m is not None
        assert height.value_m == pytest.approx(tree.height_m.value, rel=1e-3)
        assert height.by_eye == (tree.height_m.basis == "estimated")
        radii = [q.value_m for q in parse_crown(row["crown"], default_unit="ft")]
        assert tree.crown is not None
        assert radii == pytest.approx(tree.crown.radii_m, rel=1e-3)
    assert read > 20


def test_findings_json(papers: Path) -> None:
    raw = (papers / "findings.json").read_text("utf-8")
    data = json.loads(raw)
    assert set(data) == {
        "survey", "trees", "works", "price", "planting", "phases", "futures", "problems",
        "defaults", "cautions", "earlier",
    }  # fmt: skip
    assert json.dumps(data, ensure_ascii=False, sort_keys=True, indent=1) + "\n" == raw
    assert [t["tree"] for t in data["trees"]] == [r[0] for r in ROWS]
    source = findings()
    t1, f1 = data["trees"][3], source.trees[3]
    assert t1["zone"]["radius"] == f1.impact.zone.radius_m / FT
    assert t1["diameter"]["readings"]["sum"] == pytest.approx(9 + 8 + 6.5)
    assert set(t1["diameter"]["readings"]) == {
        "equal_area", "sum", "largest_plus_half_of_rest", "largest_plus_mean_of_rest",
        "two_largest",
    }  # fmt: skip
    assert set(t1["roots"]) == {"existing", "proposed", "with_later"}
    assert t1["roots"]["proposed"]["severed_pct"] == f1.impact.roots.proposed.severed_pct
    assert set(t1["roots"]["proposed"]) == {
        "overlap_pct", "severed_pct", "severed_by_depth_pct", "covered_pct", "nearest_cut",
        "widest_clear_arc_deg", "best_half_severed_pct", "best_half_bearing",
        "severed_pct_range", "sectors_pct",
    }  # fmt: skip
    assert set(t1["nearest_allowed_cut"]) >= {"keep", "keep_if", "limit"}
    assert set(t1["crown"]) >= {"volume", "removed_pct", "clearance", "clash_in_years"}
    assert set(t1["verdict"]) >= {"now", "with_later", "because", "flips_if", "conditions"}
    asked = next(t for t in data["trees"] if t["questions"])["questions"][0]
    assert set(asked) >= {"ask", "of", "if", "flips"}
    assert asked["if"][0] == {"answer": "Yes, as drawn", "verdict": "redesign"}
    lost = data["trees"][-1]  # its trunk was not measured
    assert lost["roots"] is None
    assert lost["verdict"] is None
    assert lost["missing"]
    assert data["price"] is None
    assert data["problems"][0]["row"] == 26


def test_a_geopackage_that_cannot_be_written_is_an_os_error(tmp_path: Path) -> None:
    f = findings(rows=ROWS[:1])
    with pytest.raises(OSError, match="nowhere"):
        write_geopackage(
            tmp_path / "nowhere" / "s.gpkg", survey_layers(f), crs=None, dated=f.survey.date
        )


def test_files_of_an_earlier_survey_do_not_stay(tmp_path: Path, catalogue: Catalogue) -> None:
    from dataclasses import replace

    write_papers(findings(rows=ROWS[:1]), tmp_path, catalogue=catalogue)
    assert (tmp_path / "survey.gpkg").exists()
    bare = findings(rows=[])
    bare = replace(bare, survey=replace(bare.survey, works=()))
    write_papers(bare, tmp_path, catalogue=catalogue)
    assert not (tmp_path / "survey.gpkg").exists()
