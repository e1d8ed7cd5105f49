"""Text from outside is never code: a hostile set of strings in every field, every file."""

import csv
import io
import json
import re
import xml.etree.ElementTree as ET
from pathlib import Path

import ezdxf
import openpyxl
import pyogrio.raw
import pytest

from bolewalk.papers.draw.scene import Note, Scene
from bolewalk.papers.draw.svg import svg
from bolewalk.papers.draw.type_metrics import printable
from bolewalk.papers.language import Catalogue
from bolewalk.papers.plain_text import cell_text
from bolewalk.papers.plan_sheet import site_sheet
from bolewalk.papers.write import reading_of, write_papers
from tests.papers.conftest import made_hostile, pdf_text
from tests.papers.hostile import HOSTILE

FORMULA = re.compile(r"^\s*[=+\-@|%]")


@pytest.fixture(scope="module")
def out(tmp_path_factory: pytest.TempPathFactory, catalogue: Catalogue) -> Path:
    folder = tmp_path_factory.mktemp("hostile")
    write_papers(made_hostile(HOSTILE), folder, catalogue=catalogue)
    return folder


def test_pdf_prints_commands_as_text(out: Path) -> None:
    text = pdf_text(out / "report.pdf").replace("\u200b", "")
    for shown in (
        '#panic(1) #read("main.typ") *bold* _it_ $x^2$ = heading @ref <label>',
        "<script>alert(1)</script>",
        "[U+202E]right to left[U+202C]",
        "[U+0000][U+0007][U+001B]",
        "槭樹 カエデ 단풍나무",
        "Ελιά Дуб",
    ):
        assert shown in re.sub(r"\s+", " ", text), shown


PAPERS = (
    "report", "proposal", "protection", "crew", "questions", "letter", "neighbour", "monitoring",
    "decisions", "return", "insurer", "evidence", "board",
)  # fmt: skip


@pytest.mark.parametrize("name", PAPERS)
def test_pdf_holds_no_action(name: str, out: Path) -> None:
    raw = (out / f"{name}.pdf").read_bytes()
    # Objects stand readable in the file: an action would be seen.
    assert b"/Catalog" in raw
    assert b"/ObjStm" not in raw
    for action in (b"/JavaScript", b"/Launch", b"/OpenAction", b"/EmbeddedFile", b"/URI"):
        assert action not in raw


@pytest.mark.parametrize("name", ["return", "insurer", "decisions", "evidence", "board"])
def test_every_new_paper_prints_commands_as_text(name: str, out: Path) -> None:
    text = re.sub(r"\s+", "", pdf_text(out / f"{name}.pdf").replace("\u200b", ""))
    assert re.sub(r"\s+", "", '#panic(1) #read("main.typ") *bold* _it_') in text
    assert "<script>alert(1)</script>" in text


def test_a_hostile_file_name_of_a_photograph_is_a_name(out: Path) -> None:
    text = re.sub(r"\s+", "", pdf_text(out / "report.pdf").replace("\u200b", ""))
    assert "photographsnamenotree" in text


def test_no_cell_can_be_a_formula(out: Path) -> None:
    numbers = {"x", "y", "diameter", "height", "crown_base", "measured_at", "zone_radius",
               "severed_pct", "overlap_pct"}  # fmt: skip
    rows = list(
        csv.DictReader(io.StringIO((out / "tree-table.csv").read_text("utf-8"), newline=""))
    )
    assert len(rows) == len(HOSTILE)
    for row in rows:
        for name, value in row.items():
            if name not in numbers:
                assert not FORMULA.match(value), (name, value)
    sheet = openpyxl.load_workbook(out / "tree-table.xlsx").active
    assert sheet is not None
    for cells in sheet.iter_rows():
        for cell in cells:
            assert cell.data_type != "f"
            if isinstance(cell.value, str):
                assert not FORMULA.match(cell.value)


@pytest.mark.parametrize("text", ["=1", "+1", "-1", "@a", "\t=1", " =1", "\u00a0=1", "|x", "＝1"])
def test_cell_text_marks_what_could_be_a_formula(text: str) -> None:
    assert cell_text(text) == f"'{text}"


@pytest.mark.parametrize("text", ["oak", "T-1", "a=b", "'x", "", "5 m"])
def test_cell_text_leaves_the_rest(text: str) -> None:
    assert cell_text(text) == text


def test_svg_stays_one_drawing(catalogue: Catalogue) -> None:
    reading = reading_of(made_hostile(HOSTILE), catalogue=catalogue)
    sheet = site_sheet(reading)
    assert sheet is not None
    root = ET.fromstring(svg(sheet.scene, words=True, title=HOSTILE[9]))
    tags = {e.tag.split("}")[1] for e in root.iter()}
    assert tags == {"svg", "title", "path", "text"}
    for element in root.iter():
        assert not [a for a in element.attrib if a.startswith("on") or "href" in a]
    linework = svg(sheet.scene, words=False)
    assert "<text" not in linework
    assert "alert" not in linework


def test_svg_words_come_back_as_written() -> None:
    for text in HOSTILE:
        scene = Scene(10, 10)
        scene.note(Note(1, 1, text))
        root = ET.fromstring(svg(scene, words=True))
        assert root[0].text == printable(text)


def test_dxf_holds_no_broken_tag(out: Path) -> None:
    doc = ezdxf.filemanagement.readfile(out / "survey.dxf")
    audit = doc.audit()
    assert not audit.errors
    assert not audit.fixes
    texts = [e.dxf.text for e in doc.modelspace().query("TEXT")]
    assert len(texts) > len(HOSTILE)
    assert not [t for t in texts if "\n" in t or "%%" in t or "\x00" in t]


def test_geopackage_keeps_strings_whole(out: Path) -> None:
    meta, _, _, fields = pyogrio.raw.read(out / "survey.gpkg", layer="trees")
    notes = dict(zip(meta["fields"], fields, strict=True))["notes"]
    assert "'; DROP TABLE trees; --" in notes
    assert "Ελιά Дуб 槭樹 カエデ 단풍나무 עץ شجرة ไม้ पेड़ 🌳" in notes


def test_json_keeps_every_string_as_it_was(out: Path) -> None:
    data = json.loads((out / "findings.json").read_text("utf-8"))
    assert [t["notes"] for t in data["trees"]] == list(HOSTILE)
