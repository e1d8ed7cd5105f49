"""The demonstration survey: rich enough, sound, and the same every time.

Expected values are counts of the files' own rows, and what the demonstration promises in
`bolewalk.demo`.
"""

import csv
import itertools
import json
import re
import subprocess
import sys
import tomllib

import ezdxf
import pytest

from bolewalk.demo import survey_folder
from bolewalk.demo.build import build_demo, write_site_plan
from bolewalk.demo.make_skeleton import new_folder
from bolewalk.intake.folder import read_folder
from bolewalk.intake.survey_toml import KEYS
from bolewalk.model.problems import has_faults
from bolewalk.model.units import parse_crown, parse_length, parse_stems
from bolewalk.model.words import DECISIONS, WORK_KINDS

NUMBER_WORDS = (
    "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven",
    "twelve", "thirteen", "fourteen", "fifteen", "sixteen", "seventeen", "eighteen", "nineteen",
    "twenty", "twenty-one", "twenty-two", "twenty-three", "twenty-four",
)  # fmt: skip

# Tree -> the name it goes by on the walk.
SPOKEN = {
    "T1": "valley oak", "T2": "southern magnolia", "T3": "western sycamore",
    "T4": "deodar cedar", "T5": "coast live oak", "T6": "Chinese pistache",
    "T7": "coast redwoods", "T8": "tall one", "T9": "redwood", "T10": "boxelder",
    "T11": "California buckeye", "T12": "arroyo willow", "T13": "white alder",
    "T14": "Fremont cottonwood", "T15": "Monterey pine", "T16": "Oregon ash or Modesto ash",
    "T17": "incense cedar", "T18": "ginkgo", "T19": "crape myrtle", "T20": "London plane",
    "T21": "Chinese elm", "T22": "Mexican fan palm", "T23": "black walnut", "T24": "cherry plum",
}  # fmt: skip


def tree_rows() -> list[dict[str, str]]:
    text = (survey_folder() / "trees.csv").read_text(encoding="utf-8")
    return list(csv.DictReader(text.splitlines()))


def cues() -> list[tuple[float, float, str, str]]:
    """Start [s], end [s], speaker, words; read here by hand, not by our own reader."""
    text = (survey_folder() / "walk.vtt").read_text(encoding="utf-8")
    found = re.findall(r"(\S+) --> (\S+)\n<v ([^>]+)>(.+)", text)

    def seconds(mark: str) -> float:
        hours, minutes, rest = mark.split(":")
        return int(hours) * 3600 + int(minutes) * 60 + float(rest)

    return [(seconds(a), seconds(b), who, words) for a, b, who, words in found]


def test_trees_are_many_and_varied():
    rows = tree_rows()
    assert [r["tree"] for r in rows] == [f"T{n}" for n in range(1, 25)]
    assert len({r["species"] for r in rows}) >= 15
    assert {r["decision"] for r in rows} == set(DECISIONS)
    assert {r["owner"] for r in rows} >= {"client", "shared", "public"}
    assert sum("+" in r["diameter"] for r in rows) == 4
    assert [r["tree"] for r in rows if not r["x"]] == ["T24"]
    assert any("8+6+5" in r["diameter"] for r in rows)
    conifers = ("Cedrus", "Sequoia", "Monterey pine", "incense cedar")
    assert sum(r["species"].startswith(conifers) for r in rows) == 6
    assert [r["species"] for r in rows if r["form"] == "palm"] == ["Washingtonia robusta"]


@pytest.mark.parametrize("row", tree_rows(), ids=lambda r: r["tree"])
def test_sizes_can_be_read_and_are_credible(row):
    # Slenderness (height / trunk) of open-grown trees mostly lies between 15 and 60; sprouts and
    # small multi-stems stand taller for their trunks. Common practice, no source.
    stems = [s.value_m for s in parse_stems(row["diameter"], default_unit="in")]
    height = parse_length(row["height"], default_unit="ft").value_m
    radii = [q.value_m for q in parse_crown(row["crown"], default_unit="ft")]
    base = parse_length(row["crown_base"], default_unit="ft").value_m
    assert 15 <= height / max(stems) <= 75
    assert 0 <= base < height
    assert max(radii) <= height
    if row["flare"]:
        assert parse_length(row["flare"], default_unit="in").value_m > max(stems)


def test_transcript_is_about_six_minutes_and_speakers_are_kept():
    said = cues()
    assert said[-1][1] == pytest.approx(360, abs=30)
    assert all(a < b for a, b, _, _ in said)
    assert all(later[0] >= earlier[1] for earlier, later in itertools.pairwise(said))
    speakers = [who for _, _, who, _ in said]
    turns = [b for a, b in itertools.pairwise(["", *speakers]) if a != b]
    assert turns.count("Mirela Ostrander") == 2
    words = sum(len(text.split()) for *_, text in said)
    assert 130 <= 60 * words / said[-1][1] <= 180  # words a minute; ordinary speech about 150


@pytest.mark.parametrize("row", tree_rows(), ids=lambda r: r["tree"])
def test_every_tree_is_named_and_numbered_on_the_walk(row):
    talk = " ".join(text for *_, text in cues())
    number = NUMBER_WORDS[int(row["tag"]) - 1]
    assert SPOKEN[row["tree"]].lower() in talk.lower()
    assert re.search(rf"\b{number}\b", talk, re.IGNORECASE)


def test_walk_holds_what_a_draft_must_cope_with():
    talk = " ".join(text for *_, text in cues())
    for phrase in ("Sixty-eight, not seventy", "no wait", "nineteen hundred dollars",
                   "western redbud", "as wide as the magnolia", "bare wire", "yellowjackets",
                   "how deep", "not certain"):  # fmt: skip
        assert phrase in talk


def test_drawing_audits_clean_and_holds_every_mapped_layer():
    document = ezdxf.readfile(survey_folder() / "court.dxf")
    audit = document.audit()
    assert not audit.errors
    assert not audit.fixes
    assert document.header["$INSUNITS"] == 2  # feet, by the DXF reference
    settings = tomllib.loads((survey_folder() / "survey.toml").read_text(encoding="utf-8"))
    mapped = settings["drawing"][0]["layers"]
    drawn = {entity.dxf.layer for entity in document.modelspace()}
    assert set(mapped) == drawn
    kinds = {v if isinstance(v, str) else v["kind"] for v in mapped.values()}
    assert kinds >= {"pile", "trench", "fill", "building", "roof", "fence", "boundary", "access",
                     "storage"}  # fmt: skip
    piles = [e for e in document.modelspace() if e.dxftype() == "CIRCLE"]
    assert len(piles) == 12
    notes = [e.dxf.text for e in document.modelspace().query("TEXT")]
    assert any("REVISION B" in text for text in notes)


def test_drawing_is_the_same_bytes_in_another_process(tmp_path):
    # Another process has another hash seed: the order of sets must not reach the file.
    code = "import sys; from pathlib import Path; from bolewalk.demo.build import *; "
    code += "write_site_plan(Path(sys.argv[1]))"
    for name in ("a.dxf", "b.dxf"):
        subprocess.run([sys.executable, "-c", code, str(tmp_path / name)], check=True)
    write_site_plan(tmp_path / "c.dxf")
    kept = (survey_folder() / "court.dxf").read_bytes()
    assert {(tmp_path / f"{n}.dxf").read_bytes() for n in "abc"} == {kept}


def test_works_beside_the_drawing_leave_facts_open():
    collection = json.loads((survey_folder() / "works.geojson").read_text(encoding="utf-8"))
    works = {f["properties"]["id"]: f["properties"] for f in collection["features"]}
    assert {w["kind"] for w in works.values()} <= set(WORK_KINDS)
    assert [i for i, w in works.items() if w.get("present") == "unknown"] == ["W1", "W3"]
    assert [i for i, w in works.items() if "depth" not in w] == ["W1", "W3"]
    assert all(w["basis"] == "assumed" and w["offset"] > 0 for w in works.values())


def test_copy_for_changing_is_whole(tmp_path):
    (tmp_path / "court.dxf").write_text("old", encoding="utf-8")
    (tmp_path / "mine.txt").write_text("mine", encoding="utf-8")
    written = build_demo(tmp_path)
    assert {p.name for p in written} == {p.name for p in survey_folder().iterdir()}
    assert all(p.read_bytes() == (survey_folder() / p.name).read_bytes() for p in written)
    assert (tmp_path / "mine.txt").read_text(encoding="utf-8") == "mine"


def test_new_folder_writes_a_folder_that_names_its_own_files(tmp_path):
    written = new_folder(tmp_path / "deep" / "site")
    assert [p.name for p in written] == [
        "rates.toml", "rules.toml", "survey.toml", "trees.csv", "works.geojson",
    ]  # fmt: skip
    text = (tmp_path / "deep" / "site" / "survey.toml").read_text(encoding="utf-8")
    named = tomllib.loads(text)["files"]
    # Rules are never presumed: the empty table waits to be filled in and named.
    assert "rules" not in named
    assert '# rules = ["rules.toml"]' in text
    assert {named["trees"], named["rates"], *named["works"]} | {"survey.toml", "rules.toml"} == {
        p.name for p in written
    }


@pytest.mark.parametrize("table", sorted(KEYS))
def test_skeleton_shows_every_key_the_reader_knows(tmp_path, table):
    new_folder(tmp_path)
    text = (tmp_path / "survey.toml").read_text(encoding="utf-8")
    for key in KEYS[table]:
        assert re.search(rf"\b{key}\b( =|\]|\.)", text), key


def test_new_folder_reads_without_faults_as_it_is(tmp_path):
    new_folder(tmp_path)
    job = read_folder(tmp_path)
    assert not has_faults(job.problems), [p.line() for p in job.problems]
    assert [t.species.botanical for t in job.survey.trees] == ["Quercus agrifolia"]
    assert job.rates is not None


def test_new_folder_never_overwrites(tmp_path):
    (tmp_path / "note.txt").write_text("keep", encoding="utf-8")
    with pytest.raises(FileExistsError, match="not empty"):
        new_folder(tmp_path)
    with pytest.raises(FileExistsError, match="not empty"):
        new_folder(tmp_path / "note.txt")
    assert [p.name for p in tmp_path.iterdir()] == ["note.txt"]


def test_commented_skeleton_keys_are_valid_once_uncommented(tmp_path):
    new_folder(tmp_path)
    lines = (tmp_path / "survey.toml").read_text(encoding="utf-8").splitlines()
    key = re.compile(r'# (\[|[a-z_]+ = |"[A-Z]-)')
    opened = [line[2:] if key.match(line) else line for line in lines]
    settings = tomllib.loads("\n".join(opened))
    assert settings["drawing"][0]["layers"]["L-LATER"]["phase"] == "possible later"
    assert set(settings) == {
        "survey", "people", "files", "drawing", "method", "site", "earlier", "firm", "papers",
        "protection", "risk", "insurer",
    }  # fmt: skip
