"""The reference pages name every column, key, property, word and unit the code knows."""

import re
from pathlib import Path

import pytest

from bolewalk.drawing.details import AREA_KINDS, PROPERTIES
from bolewalk.drawing.dxf import IGNORED
from bolewalk.drawing.dxf_shapes import READ_TYPES
from bolewalk.drawing.settings import DRAWING_UNITS, reading_settings
from bolewalk.intake.folder import read_folder
from bolewalk.intake.plausible import plausible
from bolewalk.intake.survey_toml import KEYS
from bolewalk.intake.tree_table import COLUMNS
from bolewalk.model.survey import ROOT_ZONE_METHODS
from bolewalk.model.words import (
    AGES,
    CROWN_FORMS,
    DECISIONS,
    FOUNDATIONS,
    GRADES,
    MAKINGS,
    OWNERS,
    PHASES,
    POSITION_BASES,
    PRESENCES,
    PURPOSES,
    TOLERANCES,
    WORK_KINDS,
)  # fmt: skip

DOCS = Path(__file__).parents[2] / "docs"
FOLDER = (DOCS / "survey-folder.md").read_text(encoding="utf-8")
DRAWINGS = (DOCS / "drawings.md").read_text(encoding="utf-8")


def section(heading):
    """Give the text under one heading, up to the next heading of its level."""
    level = heading.split(" ")[0]
    start = FOLDER.index(heading + "\n") if heading + "\n" in FOLDER else FOLDER.index(heading)
    rest = FOLDER[start + len(heading) :]
    end = re.search(rf"^#{{1,{len(level)}}} ", rest, re.MULTILINE)
    return rest[: end.start()] if end else rest


def first_cells(text):
    """Give the names in the first column of the tables of a text."""
    rows = re.findall(r"^\| (`[^|]*`) \|", text, re.MULTILINE)
    return [name for row in rows for name in re.findall(r"`([^`]+)`", row)]


def test_every_column_and_no_other():
    assert first_cells(section("## The tree table")) == list(COLUMNS)


def test_every_property_and_no_other():
    assert first_cells(section("## works.geojson")) == list(PROPERTIES)


@pytest.mark.parametrize("table", [t for t in KEYS if t and t != "person"])
def test_every_key_and_no_other(table):
    heading = f"### [[{table}]]" if table in ("drawing", "earlier") else f"### [{table}]"
    expected = list(KEYS[table])
    if table == "people":
        expected += list(KEYS["person"])
    assert sorted(first_cells(section(heading))) == sorted(expected)


def test_every_table_has_its_section():
    for table in KEYS[""]:
        assert f"### [[{table}]]" in FOLDER or f"### [{table}]" in FOLDER


@pytest.mark.parametrize(
    "words",
    [AGES, CROWN_FORMS, DECISIONS, FOUNDATIONS, GRADES, MAKINGS, OWNERS, PHASES, POSITION_BASES,
     PRESENCES, PURPOSES, TOLERANCES, WORK_KINDS, ROOT_ZONE_METHODS, tuple(DRAWING_UNITS)],
)  # fmt: skip
def test_every_word(words):
    for word in words:
        assert f"`{word}`" in FOLDER


def test_kinds_that_cover_ground_are_those_listed():
    listed = FOLDER[FOLDER.index("Kinds that cover ground") :]
    listed = listed[: listed.index(";")]
    assert set(re.findall(r"`([^`]+)`", listed)) == AREA_KINDS


def test_every_entity_type_and_unit_code():
    for kind in READ_TYPES | {"INSERT"}:
        assert kind in DRAWINGS
    for code in reading_settings().insunits:
        assert re.search(rf"\b{code} ", DRAWINGS[DRAWINGS.index("## Units") :])
    assert f'"{IGNORED}"' in DRAWINGS


def test_limits_are_those_of_the_data():
    p, r = plausible(), reading_settings()
    assert f"{p.toml_bytes // 10**6} MB" in FOLDER
    assert f"{p.table_bytes // 10**6} MB" in FOLDER
    assert f"{p.rows:,} rows" in FOLDER
    assert FOLDER.count(f"{p.id_characters} characters") == 2
    assert f"labels {r.characters['label']}, dates from {p.first_year} to {p.last_year}" in FOLDER
    assert f"GeoJSON {r.geojson_bytes // 10**6} MB" in FOLDER
    assert f"drawings {r.dxf_bytes // 10**6} MB and {r.entities:,} entities" in FOLDER
    assert f"below {p.slender_low:.0f} or above {p.slender_high:.0f} trunk diameters" in FOLDER
    assert f"wider than {p.trunk_doubt_cm / 100:.0f} m" in FOLDER
    assert f"at least {p.beyond_drawing_m:.0f} m; {p.beyond_works_m:.0f} m" in FOLDER
    assert f"more than {p.never_beyond_m / 1000:.0f} km outside" in FOLDER
    assert f"`diameter` is {p.trunk_never_cm / 100:.0f} m" in FOLDER
    assert f"heights {p.height_never_m:.0f} m" in FOLDER
    assert f"up to {r.collection_depth} deep" in FOLDER
    assert f"up to {r.block_depth} blocks deep" in DRAWINGS
    assert f"within {r.join_m * 1000:.0f} mm" in DRAWINGS
    assert f"**{r.sagitta_m * 1000:.0f} mm**" in DRAWINGS
    assert f"{r.chords:,} chords" in DRAWINGS
    assert f"at least {r.least_apart_m:.0f} m apart" in DRAWINGS


def test_the_works_shown_on_the_page_are_read_without_a_problem(tmp_path: Path) -> None:
    (shown,) = re.findall(r"```json\n(.*?)```", FOLDER, re.DOTALL)
    (tmp_path / "survey.toml").write_text(
        '[survey]\nname = "Nye"\ndate = 2026-05-01\nunits = "imperial"\npurpose = "opinion"\n'
        '[files]\ntrees = "trees.csv"\nworks = ["works.geojson"]\n',
        "utf-8",
    )
    (tmp_path / "trees.csv").write_text(
        "tree,species,x,y,diameter,height,crown,crown_base\nT1,Quercus robur,20,15,31,45,20,8\n",
        "utf-8",
    )
    (tmp_path / "works.geojson").write_text(shown, "utf-8")
    job = read_folder(tmp_path)
    assert job.problems == ()
    assert [(w.id, w.kind) for w in job.survey.works] == [("W1", "trench"), ("W2", "building")]
