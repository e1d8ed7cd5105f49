"""Sixteen faults planted in small surveys: each read names all of its own and keeps the rest."""

import codecs

import pytest

from bolewalk.intake.folder import read_folder
from tests.intake.surveys import HEAD, TREES, WORKS, feature, read, write_plan, write_survey

BOW = [[[0, 0], [40, 40], [40, 0], [0, 40], [0, 0]]]


def found(job):
    """Give (file, row, field) of every problem, with its level."""
    return {(p.file, p.row, p.field): p.level for p in job.problems}


def problem(job, file, field, row=None):
    (p,) = (p for p in job.problems if (p.file, p.field) == (file, field)
            and (row is None or p.row == row))  # fmt: skip
    return p


def ids(job):
    return [t.id for t in job.survey.trees], [w.id for w in job.survey.works]


ALL_WORKS = ["W1", "W2", "S-PILE-1", "S-PILE-2", "S-PILE-3", "S-SLAB-1"]


def test_the_sound_survey_has_no_problem(tmp_path):
    job = read(tmp_path)
    assert job.problems == ()
    assert ids(job) == (["T1", "T2", "T3"], ALL_WORKS)


def test_table_wrong_unit_duplicate_nan_outside_girth_species(tmp_path):
    # Six in one table: wrong unit, duplicate id, NaN, tree outside the drawing, girth given as
    # diameter, unknown species.
    trees = (
        "tree,species,x,y,diameter,height,crown\n"
        "T1,Quercus agrifolia,20,30,24,40 kg,12\n"
        "T2,northern red oak,60,30,14,38,12\n"
        "T2,northern red oak,61,31,14,38,12\n"
        "T3,northern red oak,NaN,30,14,38,12\n"
        "T4,northern red oak,900,30,14,38,12\n"
        "T5,northern red oak,30,30,75,45,12\n"
        "T6,purple whatsit,35,30,14,38,12\n"
        "T7,northern red oak,40,30,14,38,12\n"
    )
    job = read(tmp_path, trees=trees)
    assert found(job) == {
        ("trees.csv", 2, "height"): "fault",
        ("trees.csv", 3, "tree"): "fault",
        ("trees.csv", 4, "tree"): "fault",
        ("trees.csv", 5, "x"): "fault",
        ("trees.csv", 6, "x, y"): "notice",
        ("trees.csv", 7, "diameter"): "notice",
        ("trees.csv", 8, "species"): "notice",
    }
    assert ids(job) == (["T1", "T3", "T4", "T5", "T6", "T7"], ALL_WORKS)
    assert problem(job, "trees.csv", "height").value == "40 kg"
    assert "girth given as diameter?" in problem(job, "trees.csv", "diameter").expected
    by_id = {t.id: t for t in job.survey.trees}
    assert by_id["T1"].height_m is None
    assert by_id["T1"].stems_cm[0].value == pytest.approx(60.96)
    assert not by_id["T3"].located
    assert by_id["T4"].located
    assert by_id["T6"].species.as_heard == "purple whatsit"
    assert by_id["T6"].species.botanical is None


def test_a_drawing_cut_at_80_percent(tmp_path):
    write_survey(tmp_path)
    plan = tmp_path / "plan.dxf"
    data = plan.read_bytes()
    plan.write_bytes(data[: len(data) * 8 // 10])
    job = read_folder(tmp_path)
    assert ids(job) == (["T1", "T2", "T3"], ["W1", "W2"])
    assert problem(job, "plan.dxf", None).value == "a file that is cut short"
    assert job.survey.drawings == ()


def test_an_empty_drawing_and_a_table_of_no_bytes(tmp_path):
    write_survey(tmp_path, trees=b"")
    (tmp_path / "plan.dxf").write_bytes(b"")
    job = read_folder(tmp_path)
    assert ids(job) == ([], ["W1", "W2"])
    assert problem(job, "plan.dxf", None).value == "an empty file"
    assert problem(job, "trees.csv", None).value == "an empty file"
    assert len(job.problems) == 2


def test_latin_1_missing_file_and_a_path_outside(tmp_path):
    folder = tmp_path / "survey"
    (tmp_path / "rates.toml").write_text('currency = "USD"\n')
    head = HEAD.replace(
        'works = ["works.geojson"]',
        'works = ["works.geojson", "works2.geojson"]\nrates = "../rates.toml"',
    )
    trees = TREES.replace("by the gate", "près de la grille").encode("latin-1")
    job = read(folder, head=head, trees=trees)
    assert [p.level for p in job.problems] == ["fault"] * 3
    assert ids(job) == (["T1", "T2", "T3"], ALL_WORKS)
    assert job.survey.trees[0].notes == "près de la grille"
    assert "UTF-8" in problem(job, "trees.csv", None).expected
    missing = problem(job, "survey.toml", "files.works")
    assert (missing.value, "perhaps works.geojson" in missing.expected) == ("works2.geojson", True)
    outside = problem(job, "survey.toml", "files.rates")
    assert (outside.value, "inside the survey folder" in outside.expected) == (
        "../rates.toml", True,
    )  # fmt: skip
    assert job.rates_table is None


def test_self_crossing_unknown_layer_and_negative_depth(tmp_path):
    head = HEAD + '"S-RAMP" = "fill"\n'
    works = [
        feature("W1", "slab", "Polygon", BOW),
        feature("W2", "trench", "LineString", [[0, 10], [80, 10]], depth=-3),
        feature("W3", "trench", "LineString", [[0, 20], [80, 20]], depth=3),
    ]
    job = read(tmp_path, head=head, works=works)
    assert found(job) == {
        ("works.geojson", "W1", "geometry"): "fault",
        ("works.geojson", "W2", "depth"): "fault",
        ("survey.toml", "drawing 1", "drawing.layers.S-RAMP"): "fault",
    }
    # A trench of unknown depth still stands, and counts as deep.
    assert ids(job)[1] == ["W2", "W3", *ALL_WORKS[2:]]
    assert {w.id: w.depth_m for w in job.survey.works}["W2"] is None
    layer = problem(job, "survey.toml", "drawing.layers.S-RAMP")
    assert "S-PILE, S-SLAB" in layer.expected


def test_two_drawings_with_different_units(tmp_path):
    # The same plan in feet and in metres: each is read in its own, so they lie on each other.
    head = HEAD + '[[drawing]]\nfile = "roof.dxf"\n[drawing.layers]\n"S-PILE" = "pile"\n'
    head += '"S-SLAB" = "ignore"\n'
    write_survey(tmp_path, head=head)
    write_plan(tmp_path / "roof.dxf", insunits=6, scale=0.3048)
    job = read_folder(tmp_path)
    assert found(job) == {("survey.toml", None, "drawing.units"): "notice"}
    assert ids(job)[1] == [*ALL_WORKS, *(f"S-PILE-{n} (roof)" for n in (1, 2, 3))]
    assert problem(job, "survey.toml", "drawing.units").value == "plan.dxf: ft; roof.dxf: m"
    feet, metres = (
        [w.parts[0].ring[0] for w in job.survey.works if w.file == f and w.kind == "pile"]
        for f in ("plan.dxf", "roof.dxf")
    )
    assert feet == [pytest.approx(p) for p in metres]


def test_two_drawings_one_contradicting_the_survey(tmp_path):
    head = HEAD + '[[drawing]]\nfile = "roof.dxf"\nunits = "ft"\n'
    head += '[drawing.layers]\n"S-PILE" = "pile"\n'
    write_survey(tmp_path, head=head)
    write_plan(tmp_path / "roof.dxf", insunits=6, scale=0.3048)
    job = read_folder(tmp_path)
    assert problem(job, "roof.dxf", None).value == "m in the drawing, ft in survey.toml"
    assert ids(job)[1] == ALL_WORKS


def test_everything_at_once(tmp_path):
    head = (
        HEAD.replace('trees = "trees.csv"', 'trees = "trees.csv"\nphases = "gone.toml"')
        .replace('"S-SLAB" = "slab"', '"S-SLAB" = "slab"\n"S-NONE" = "pile"')
        .replace('purpose = "opinion"', 'purpose = "opinion"\ncolour = "red"')
    )
    trees = TREES.replace("45", "45 kg").replace("T3", "T2").encode("latin-1")
    works = [*WORKS, feature("W3", "slab", "Polygon", BOW)]
    job = read(tmp_path, head=head, trees=trees, works=works)
    assert {(p.file, p.row, p.field) for p in job.problems} == {
        ("survey.toml", None, "survey.colour"),
        ("trees.csv", 2, "height"),
        ("trees.csv", 3, "tree"),
        ("trees.csv", 4, "tree"),
        ("works.geojson", "W3", "geometry"),
        ("survey.toml", "drawing 1", "drawing.layers.S-NONE"),
        ("survey.toml", None, "files.phases"),
    }
    assert ids(job) == (["T1"], ALL_WORKS)


@pytest.mark.parametrize("ends", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("mark", [b"", codecs.BOM_UTF8])
def test_line_ends_and_byte_order_marks_without_complaint(tmp_path, ends, mark):
    trees = mark + TREES.replace("\n", ends).encode()
    job = read(tmp_path, trees=trees)
    assert job.problems == ()
    assert [t.id for t in job.survey.trees] == ["T1", "T2", "T3"]
    head = tmp_path / "survey.toml"
    head.write_bytes(mark + HEAD.replace("\n", "\r\n").encode())
    assert read_folder(tmp_path).problems == ()


def test_ten_kilometres_from_the_origin_without_complaint(tmp_path):
    far = 33_000
    trees = "tree,species,x,y,diameter,height\nT1,Quercus agrifolia,33020,33030,24,45\n"
    works = [feature("W1", "trench", "LineString", [[far, far], [far + 80, far]], depth=3)]
    head = HEAD[: HEAD.index("[[drawing]]")]
    job = read(tmp_path, head=head, trees=trees, works=works, plan=False)
    assert job.problems == ()
    assert job.survey.trees[0].x_m == pytest.approx(33_020 * 0.3048)


def test_beyond_any_property_a_tree_is_not_located(tmp_path):
    trees = TREES.replace("T1,Quercus agrifolia,20,30", "T1,Quercus agrifolia,20,3000000")
    job = read(tmp_path, trees=trees)
    assert found(job) == {("trees.csv", 2, "x, y"): "fault"}
    assert not job.survey.trees[0].located
