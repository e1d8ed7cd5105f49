"""survey.toml: what it must hold, what it may, and what it says when something is wrong."""

import tomllib
from datetime import date

import pytest

from bolewalk.intake.folder import SurveyUnreadableError, read_folder
from bolewalk.intake.survey_toml import HeadError, read_head
from bolewalk.model.survey import Person
from tests.intake.surveys import HEAD, TREES, read, write_survey

LEAST = '[survey]\nname = "A"\ndate = 2026-05-12\nunits = "metric"\npurpose = "opinion"\n'


def head(text):
    return read_head(tomllib.loads(text))


@pytest.mark.parametrize("day", ["0001-01-01", "1899-12-31", "2200-01-01", "9999-12-31"])
def test_a_day_no_survey_can_be_of_is_no_date(day):
    # Prices and seasons count days on from it: past the calendar's end there are none.
    with pytest.raises(HeadError) as e:
        head(LEAST.replace("2026-05-12", day))
    assert [(p.field, p.value) for p in e.value.problems] == [("survey.date", day)]
    for fine in ("1900-01-01", "2199-12-31"):
        assert head(LEAST.replace("2026-05-12", fine)).date.isoformat() == fine


def test_the_whole_of_it():
    h = head(
        LEAST
        + """
place = "Thistle Yard, Alder Ford"
[people]
assessor = {name = "Ada Fenn", credential = "consulting arborist", number = "77", \
expires = 2028-01-31}
client = "Bo Reed"
others = [{name = "Cy Moss", role = "architect", contact = "cy@example.org"}, "Di Marsh"]
[files]
walk = ["a.vtt", "b.srt"]
photos = "photos"
trees = "trees.csv"
works = "works.geojson"
rates = "rates.toml"
rules = ["rules.toml"]
planting = "planting.toml"
phases = "phases.toml"
futures = "futures.toml"
[[drawing]]
file = "plan.dxf"
title = "Site plan"
revision = "B"
author = "Moss"
date = "2026-04-30"
units = "feet"
at = [[[0, 0], [10, 10]], [[1, 0], [11, 10]]]
layers = {"S-PILE" = "pile"}
[method]
root_zone = "din18920"
growth_region = "Inland Empire"
cut_length = "12 ft"
cut_bearings = 16
[site]
slope_pct = 12
slope_bearing = 270
carry = 35
gate = "900 mm"
"""
    )
    assert h.problems == ()
    assert (h.name, h.date, h.units, h.purpose) == ("A", date(2026, 5, 12), "metric", "opinion")
    assert h.place == "Thistle Yard, Alder Ford"
    assert h.people.assessor == Person(
        "Ada Fenn", "assessor", "consulting arborist", "77", date(2028, 1, 31)
    )
    assert h.people.client == Person("Bo Reed", "client")
    assert [p.name for p in h.people.others] == ["Cy Moss", "Di Marsh"]
    assert h.files.walk == ("a.vtt", "b.srt")
    assert h.files.works == ("works.geojson",)
    (d,) = h.drawings
    assert (d.drawing.label, d.drawing.date, d.units) == (
        "Site plan, revision B", date(2026, 4, 30), "ft",
    )  # fmt: skip
    assert d.at == (((0, 0), (10, 10)), ((1, 0), (11, 10)))
    assert (h.method.root_zone, h.method.cut_bearings) == ("din18920", 16)
    assert h.method.cut_length_m == pytest.approx(3.6576)
    assert (h.site.slope_pct, h.site.slope_bearing_deg) == (12, 270)
    assert (h.site.carry_m, h.site.gate_m) == (35, 0.9)


def test_defaults():
    h = head(LEAST)
    assert h.problems == ()
    assert (h.method.root_zone, h.method.root_zone_defaulted) == ("as4970-2009", True)
    h = head(LEAST.replace("metric", "imperial"))
    assert h.method.root_zone == "inch-foot"
    assert (h.method.cut_length_m, h.method.cut_bearings) == (None, 8)


def test_purpose_left_out_is_told():
    h = head(LEAST.replace('purpose = "opinion"\n', ""))
    assert h.purpose == "opinion"
    assert [(p.field, p.level) for p in h.problems] == [("survey.purpose", "notice")]


def test_one_drawing_and_one_person_need_no_list():
    h = head(LEAST + "[drawing]\nfile = 'plan.dxf'\n[people]\nothers = 'Di Marsh'\n")
    assert h.problems == ()
    assert [d.drawing.file for d in h.drawings] == ["plan.dxf"]
    assert [p.name for p in h.people.others] == ["Di Marsh"]


@pytest.mark.parametrize("line", ["drawing", "earlier"])
def test_a_table_given_as_a_value_is_told(line):
    h = head(f"{line} = 3\n" + LEAST)
    (p,) = h.problems
    assert (p.field, p.level) == (line, "fault")
    assert f"[[{line}]]" in p.expected
    assert (h.drawings, h.earlier) == ((), ())


def test_a_survey_without_a_name_is_read_and_the_name_asked_for():
    h = head(LEAST.replace('name = "A"\n', ""))
    assert [(p.field, p.level) for p in h.problems] == [("survey.name", "fault")]
    assert "what the survey is called" in h.problems[0].expected


def test_large_type_is_asked_for():
    assert head(LEAST + "[papers]\ntype = 'Large'\n").told == {"papers.type": "large"}
    assert head(LEAST).told == {}


@pytest.mark.parametrize(
    ("more", "field", "level", "words"),
    [
        ("colour = 1", "survey.colour", "notice", "one of name"),
        ("[[earlier]]\npapers = ''", "earlier.papers", "fault", "folder of earlier papers"),
        ("plase = 'x'", "survey.plase", "notice", "perhaps place"),
        ("[mehtod]", "mehtod", "notice", "perhaps method"),
        ("[method]\nroot_zone = 'as4970'", "method.root_zone", "fault", "perhaps as4970-2009"),
        ("[method]\ncut_bearings = 12", "method.cut_bearings", "fault", "8 or 16"),
        ("[method]\ncut_length = 'far'", "method.cut_length", "fault", "a length"),
        ("[method]\ncut_length = 0", "method.cut_length", "fault", "above 0"),
        ("[site]\nslope_pct = -3", "site.slope_pct", "fault", "at least 0"),
        ("[site]\nslope_bearing = 400", "site.slope_bearing", "fault", "at most 360"),
        ("[site]\ncarry = -1", "site.carry", "fault", "a length"),
        ("[site]\ncarry = nan", "site.carry", "fault", "a length"),
        ("[papers]\ntype = 'lage'", "papers.type", "fault", "normal, large; perhaps large"),
        ("[files]\nworks = 3", "files.works", "fault", "list of file names"),
        ("[files]\nworks = ['a.geojson', 3]", "files.works", "fault", "texts only"),
        ("[files]\ntrees = ['a']", "files.trees", "fault", "a text"),
        ("[people]\nassessor = {number = '3'}", "people.assessor.name", "fault", "a name"),
        ("[people]\nassessor = {name='A', expires = 'soon'}", "people.assessor.expires", "fault",
         "a date"),
        ("[people]\nassessor = 5", "people.assessor", "fault", "a table"),
        ("[[drawing]]\ntitle = 'x'", "drawing.file", "fault", "the file"),
        ("[[drawing]]\nfile = 'x.dxf'\nunits = 'cubits'", "drawing.units", "fault", "us-ft"),
        ("[[drawing]]\nfile = 'x.dxf'\nat = [[0, 0], [1, 1]]", "drawing.at", "fault", "two pairs"),
        ("[[drawing]]\nfile = 'x.dxf'\nlayers = 'pile'", "drawing.layers", "fault", "a table"),
        ("[[drawing]]\nfile = 'x.dxf'\nignore_header_units = true", "drawing.units", "fault",
         "its own is to be ignored"),
    ],
)  # fmt: skip
def test_what_is_wrong_is_named(more, field, level, words):
    h = head(LEAST + more + "\n")
    (p,) = h.problems
    assert (p.file, p.field, p.level) == ("survey.toml", field, level)
    assert words in p.expected


def test_the_four_points_may_stand_in_one_list():
    h = head(LEAST + "[[drawing]]\nfile = 'x.dxf'\nat = [[0, 0], [10, 10], [1, 0], [11, 10]]\n")
    assert h.drawings[0].at == (((0, 0), (10, 10)), ((1, 0), (11, 10)))


@pytest.mark.parametrize(
    ("text", "fields"),
    [
        ("", {"survey.date", "survey.units"}),
        ("[survey]\nname = 'A'\n", {"survey.date", "survey.units"}),
        ("[survey]\ndate = 2026-05-12\nunits = 'furlongs'\n", {"survey.units"}),
        ("[survey]\ndate = 'soon'\nunits = 'metric'\n", {"survey.date"}),
        ("survey = 3\n", {"survey", "survey.date", "survey.units"}),
    ],
)
def test_without_date_or_units_nothing_can_be_read(text, fields):
    with pytest.raises(HeadError) as e:
        head(text)
    assert {p.field for p in e.value.problems} == fields


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"[survey\n", "line 1"),
        (b"[survey]\nname = 'caf\xe9'\n", "not UTF-8"),
        (b"\x00\x01", "cannot be read"),
        (b"a = " + b"[" * 50_000, "cannot be read"),
        (b"[survey]\nname = 'A'\nname = 'B'\n", "cannot be read"),
        (LEAST.replace("metric", "cubits").encode(), "imperial, metric"),
        (b"# " + b"x" * 3_000_000, "larger than"),
    ],
)
def test_unreadable(tmp_path, data, words):
    (tmp_path / "survey.toml").write_bytes(data)
    with pytest.raises(SurveyUnreadableError, match=words) as e:
        read_folder(tmp_path)
    assert e.value.problems


def test_no_folder(tmp_path):
    for path in (tmp_path, tmp_path / "gone"):
        with pytest.raises(SurveyUnreadableError, match="a folder with a survey"):
            read_folder(path)


def test_a_system_in_degrees_names_the_zone_of_the_trees(tmp_path):
    text = HEAD.replace('units = "imperial"', 'units = "imperial"\ncrs = "EPSG:4326"')
    trees = TREES.replace("20,30", "-118.25,34.05")
    job = read(tmp_path, head=text, trees=trees)
    (p,) = job.problems
    # Longitude 118 W lies in zone 11: zones are 6 degrees wide from 180 W.
    assert (p.field, p.level) == ("survey.crs", "fault")
    assert "EPSG:32611" in p.expected
    assert [t.located for t in job.survey.trees] == [False] * 3
    assert job.survey.works == ()
    assert job.survey.crs is None


def test_positions_in_degrees_are_one_fault(tmp_path):
    trees = (
        "tree,species,x,y\nT1,Quercus robur,-118.25371,34.05213\n"
        "T2,Quercus robur,-118.25362,34.05220\n"
    )
    text = HEAD[: HEAD.index("[[drawing]]")].replace('works = ["works.geojson"]\n', "")
    job = read(tmp_path, head=text, trees=trees, plan=False)
    assert [(p.field, p.level) for p in job.problems] == [("x, y", "fault")]
    assert not any(t.located for t in job.survey.trees)


def test_a_system_that_stretches_lengths_is_told(tmp_path):
    # Web Mercator stretches by 1 / cos(latitude): at 34 degrees north 1.206.
    text = HEAD[: HEAD.index("[[drawing]]")].replace('works = ["works.geojson"]\n', "")
    text = text.replace('units = "imperial"', 'units = "imperial"\ncrs = "EPSG:3857"')
    trees = "tree,species,x,y\nT1,Quercus robur,-13163000,4028800\n"
    job = read(tmp_path, head=text, trees=trees, plan=False)
    (p,) = job.problems
    assert (p.field, p.level) == ("survey.crs", "fault")
    assert "1.206" in p.expected


def test_a_state_plane_survey_has_no_problem(tmp_path):
    text = HEAD[: HEAD.index("[[drawing]]")].replace('works = ["works.geojson"]\n', "")
    text = text.replace('units = "imperial"', 'units = "imperial"\ncrs = "EPSG:2229"')
    trees = "tree,species,x,y\nT1,Quercus robur,6480000,1840000\n"
    job = read(tmp_path, head=text, trees=trees, plan=False)
    assert job.problems == ()
    assert job.survey.m_per_grid_unit == pytest.approx(1200 / 3937, rel=1e-14)
    assert job.survey.crs == "EPSG:2229"


def test_a_survey_read_twice_is_the_same_wherever_it_lies(tmp_path):
    a, b = (read_folder(write_survey(tmp_path / n)) for n in ("a", "b"))
    assert a == b


def test_an_unknown_growth_region_is_told_with_those_there_are():
    h = head(LEAST + '[method]\ngrowth_region = "Middle Earth"\n')
    (problem,) = h.problems
    assert (problem.field, problem.value) == ("method.growth_region", "Middle Earth")
    assert "Inland Empire" in problem.expected
    assert h.method.growth_region is None
