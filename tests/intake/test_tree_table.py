"""The tree table: every column, every way to write a figure, every doubt."""

import csv
import io
import math

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from bolewalk.drawing.details import Place
from bolewalk.drawing.grid import local_grid, named_grid
from bolewalk.intake.species_names import name_species
from bolewalk.intake.tree_table import COLUMNS, read_tree_table
from bolewalk.model.words import DECISIONS, OWNERS


@pytest.fixture
def table(tmp_path):
    def run(data, *, units="imperial", grid=None):
        path = tmp_path / "trees.csv"
        path.write_bytes(data if isinstance(data, bytes) else data.encode())
        return read_tree_table(
            path, file="trees.csv", grid=grid or local_grid(units), units=units,
            name_species=name_species,
        )  # fmt: skip

    return run


@pytest.fixture
def cell(table):
    """Read one cell of one tree that has a species."""

    def run(column, text, **more):
        return pair((column, text), **more)

    def pair(*cells, **more):
        out = io.StringIO()
        csv.writer(out).writerows(
            [["tree", "species", *(c for c, _ in cells)],
             ["T1", "Quercus robur", *(t for _, t in cells)]]
        )  # fmt: skip
        (tree,), problems = table(out.getvalue(), **more)
        return tree, problems

    run.pair = pair
    return run


def test_headings_of_other_tables_are_read_and_told(table):
    (tree,), problems = table("Tree #,Species,DBH,Remarks\n7,Quercus robur,24,by the gate\n")
    assert (tree.id, tree.stems_cm[0].as_entered, tree.notes) == ("7", "24", "by the gate")
    told = [(p.field, p.level, p.expected) for p in problems]
    assert ("DBH", "notice", "the column diameter; read as that") in told
    assert {p.level for p in problems} == {"notice"}


def test_a_heading_with_a_unit_is_not_read_but_what_it_may_be_is_told(table):
    (tree,), problems = table("tree,species,DBH (cm)\n7,Quercus robur,24\n")
    assert tree.stems_cm == ()
    expected = next(p.expected for p in problems if p.field == "DBH (cm)")
    assert expected == "a known column; perhaps diameter; kept as a note"


def test_thousands_of_unknown_columns_are_told_in_a_few_lines(table):
    heads = ",".join(f"c{n}" for n in range(3000))
    (tree,), problems = table(f"tree,species,{heads}\n7,Quercus robur{',x' * 3000}\n")
    assert tree.id == "7"
    told = [p for p in problems if "known column" in str(p.expected)]
    assert len(told) == 21
    assert told[-1].value == "2,980 more columns"


def test_a_position_may_have_a_foot_mark(cell):
    tree, problems = cell.pair(("x", "20'"), ("y", "10"))
    assert (tree.x_m, tree.y_m) == pytest.approx((6.096, 3.048))
    assert problems == ()


FULL = {
    "tree": "T1", "species": "Quercus robur", "x": "12.5", "y": "-3", "offset": "1",
    "diameter": "24", "girth": "", "height": "45", "crown_base": "8", "crown": "12/15/10/14",
    "flare": "31",
    "age": "over-mature", "health": "dead", "structure": "poor", "owner": "shared",
    "decision": "inspect", "form": "half-spheroid", "tag": "0117", "photo": "", "measured_at": "3",
    "tolerance": "poor", "access": "over the wall", "failure": "probable", "impact": "high",
    "consequence": "severe", "notes": 'cavity, "old" wound',
}  # fmt: skip


def test_every_column(table):
    assert list(FULL) == list(COLUMNS)
    out = io.StringIO()
    writer = csv.DictWriter(out, list(FULL))
    writer.writeheader()
    writer.writerow(FULL)
    (t,), problems = table(out.getvalue())
    assert problems == ()
    assert (t.id, t.row, t.x_m, t.y_m) == ("T1", 2, pytest.approx(3.81), pytest.approx(-0.9144))
    assert t.stems_cm[0].value == pytest.approx(60.96)
    assert (t.height_m.value, t.crown_base_m.value) == pytest.approx((13.716, 2.4384))
    assert t.crown.radii_m == pytest.approx((3.6576, 4.572, 3.048, 4.2672))
    assert t.flare_cm.value == pytest.approx(78.74)
    assert (t.age, t.health, t.structure, t.owner) == ("over-mature", "dead", "poor", "shared")
    assert (t.decision, t.form, t.tolerance) == ("inspect", "half-spheroid", "poor")
    assert (t.tag, t.access, t.notes) == ("0117", "over the wall", 'cavity, "old" wound')
    assert (t.failure, t.impact, t.consequence) == ("probable", "high", "severe")
    assert t.measured_at_m == pytest.approx(0.9144)
    assert t.offset_m == pytest.approx(0.3048)
    assert t.entered == FULL


@pytest.mark.parametrize(
    ("text", "units", "cm", "basis"),
    [
        ("24", "imperial", [60.96], "measured"),
        ("61", "metric", [61], "measured"),
        ("61cm", "imperial", [61], "measured"),
        ("24in", "metric", [60.96], "measured"),
        ("~24", "imperial", [60.96], "estimated"),
        ("8+6+5", "imperial", [20.32, 15.24, 12.7], "measured"),
        ("~8+6 in", "metric", [20.32, 15.24], "estimated"),
        ("2 ft", "imperial", [60.96], "measured"),
    ],
)
def test_trunks(cell, text, units, cm, basis):
    tree, problems = cell("diameter", text, units=units)
    assert problems == ()
    assert [s.value for s in tree.stems_cm] == pytest.approx(cm)
    assert {s.basis for s in tree.stems_cm} == {basis}
    assert {s.as_entered for s in tree.stems_cm} == {text}


def test_girth_becomes_diameter(cell):
    tree, problems = cell("girth", "190", units="metric")
    assert problems == ()
    assert tree.by_girth
    assert tree.stems_cm[0].value == pytest.approx(190 / math.pi)
    assert tree.stems_cm[0].as_entered == "190"


def test_girth_and_diameter_that_disagree_are_told(cell):
    tree, problems = cell.pair(("diameter", "60"), ("girth", "190"), units="metric")
    assert (problems, tree.by_girth) == ((), False)  # 60 pi = 188.5
    tree, problems = cell.pair(("diameter", "60"), ("girth", "150"), units="metric")
    assert [(p.field, p.level) for p in problems] == [("girth", "notice")]
    assert tree.stems_cm[0].value == 60


@pytest.mark.parametrize(
    ("column", "text", "height", "told"),
    [
        # Height over trunk: 24 in at 45 ft is 22.5, 75 in at 45 ft 7.2, 28 in at 12 ft 5.1.
        ("diameter", "24", "45", False),
        ("diameter", "75", "45", True),
        ("diameter", "28", "12", True),
        ("diameter", "24ft", "45", True),
        ("diameter", "130", "", True),
        ("diameter", "20", "5", False),  # a stump with sprouts
        ("girth", "75", "45", False),
        ("girth", "14", "45", True),  # 45 x 12 / (14 / pi) = 121
        ("diameter", "10+9+9", "40", False),
    ],
)
def test_doubtful_trunks_are_told_and_kept(cell, column, text, height, told):
    tree, problems = cell.pair((column, text), ("height", height))
    assert [(p.field, p.level) for p in problems] == ([(column, "notice")] if told else [])
    assert tree.stems_cm


def test_a_palm_may_be_stout(table):
    (tree,), problems = table("tree,species,diameter,height\nT1,Phoenix canariensis,36,26\n")
    assert (problems, tree.species.botanical) == ((), "Phoenix canariensis")


@pytest.mark.parametrize(
    ("column", "text", "words"),
    [
        ("height", "40 kg", "a length"),
        ("height", "-40", "a length"),
        ("height", "12,5", "a length"),
        ("height", "NaN", "a length"),
        ("height", "inf", "a length"),
        ("height", "400", "at most 394 ft"),
        ("diameter", "0", "trunk sizes"),
        ("diameter", "8++5", "trunk sizes"),
        ("diameter", "70 ft", "at most 591 in"),
        ("crown", "12/15/10", "north/east/south/west"),
        ("crown_base", "low", "a length"),
        ("flare", "30+20", "one diameter"),
        ("measured_at", "breast", "a length"),
        ("age", "ancient", "one of young"),
        ("health", "so so", "one of good"),
        ("structure", "dead", "one of good, fair, poor"),
        ("owner", "the council", "one of client"),
        ("decision", "keep", "one of retain"),
        ("form", "round", "one of spheroid"),
        ("tolerance", "bad", "one of good"),
    ],
)
def test_a_bad_cell_is_left_out_of_its_tree(cell, column, text, words):
    tree, problems = cell(column, text)
    (p,) = problems
    assert (p.file, p.row, p.field, p.value, p.level) == ("trees.csv", 2, column, text, "fault")
    assert words in p.expected
    assert tree.id == "T1"


@pytest.mark.parametrize(
    ("column", "text", "word"),
    [
        ("owner", "Neighbor", "neighbour"),
        ("age", "Semi mature", "semi-mature"),
        ("age", "over_mature", "over-mature"),
        ("health", " GOOD ", "good"),
        ("form", "half spheroid", "half-spheroid"),
    ],
)
def test_spellings_of_one_word(cell, column, text, word):
    tree, problems = cell(column, text)
    assert (getattr(tree, column), problems) == (word, ())


@pytest.mark.parametrize(
    ("x", "y", "field"),
    [
        ("NaN", "3", "x"), ("3", "inf", "y"), ("3", "", "y"), ("", "3", "x"), ("1,234", "3", "x"),
        ("6.48E+06", "3", "x"), ("east", "3", "x"), ("3 kg", "3", "x"),
    ],
)  # fmt: skip
def test_a_bad_position_leaves_the_tree_not_located(cell, x, y, field):
    tree, problems = cell.pair(("x", x), ("y", y))
    assert [(p.field, p.level) for p in problems] == [(field, "fault")]
    assert not tree.located


def test_no_position_is_no_problem(cell):
    tree, problems = cell.pair(("x", ""), ("y", ""))
    assert (tree.located, problems) == (False, ())


def test_positions_in_the_grids_unit(cell):
    grid = named_grid("EPSG:2229")
    tree, problems = cell.pair(("x", "6480000"), ("y", "1840000.25"), grid=grid)
    assert problems == ()
    assert tree.x_m == pytest.approx(6_480_000 * 1200 / 3937, abs=1e-6)
    tree, _ = cell.pair(("x", "100 m"), ("y", "200m"), grid=grid)
    assert (tree.x_m, tree.y_m) == (100, 200)


def test_pairs_that_cannot_be(cell):
    tree, problems = cell.pair(("height", "20"), ("crown_base", "30"))
    assert [(p.field, p.level) for p in problems] == [("crown_base", "fault")]
    assert (tree.height_m, tree.crown_base_m) == (None, None)
    tree, problems = cell.pair(("height", "20"), ("measured_at", "24"))
    assert [p.field for p in problems] == ["measured_at"]
    assert (tree.height_m.value, tree.measured_at_m) == (pytest.approx(6.096), None)
    tree, problems = cell.pair(("diameter", "20"), ("flare", "15"))
    assert [(p.field, p.level) for p in problems] == [("flare", "notice")]
    assert tree.flare_cm is not None


def test_duplicate_ids_are_both_left_out_and_read_all_the_same(table):
    trees, problems = table(
        "tree,species,height\nT1,Quercus robur,40 kg\nT2,Quercus robur,40\nT1,Quercus robur,40\n"
    )
    assert [t.id for t in trees] == ["T2"]
    assert [(p.row, p.field) for p in problems] == [(2, "tree"), (2, "height"), (4, "tree")]


def test_rows_that_do_not_fit_the_header(table):
    trees, problems = table(
        "tree,species,height\nT1,Quercus robur,40,extra\nT2,Quercus robur\n\n,Quercus robur,40\n"
        "T4,Quercus robur,40,,\n"
    )
    assert [(t.id, t.row) for t in trees] == [("T2", 3), ("T4", 6)]
    assert [(p.row, p.level) for p in problems] == [(2, "fault"), (3, "notice"), (5, "fault")]


def test_unknown_columns_are_told_and_kept(table):
    (tree,), problems = table("tree,species,hieght,Colour of bark\nT1,Quercus robur,40,grey\n")
    assert [(p.row, p.field, p.level) for p in problems] == [
        (1, "hieght", "notice"), (1, "Colour of bark", "notice"),
    ]  # fmt: skip
    assert "perhaps height" in problems[0].expected
    assert tree.entered["Colour of bark"] == "grey"


def test_columns_in_any_order_and_case(table):
    (tree,), problems = table("Height,TREE,Species,Crown base\n40,T1,Quercus robur,8\n")
    assert problems == ()
    assert tree.crown_base_m.value == pytest.approx(2.4384)


@pytest.mark.parametrize(
    ("data", "words", "level"),
    [
        (b"", "header row", "fault"),
        (b"\n\n", "header row", "fault"),
        (b"species,height\nQuercus robur,40\n", "column tree", "fault"),
        (b"tree,species\n", "a row for each tree", "notice"),
        (b"PK\x03\x04\x00\x00", "another kind of file", "fault"),
        (b'tree,species\n"T1,Quercus robur\nT2,Quercus robur\n', "quotes in pairs", "fault"),
        (b"tree,species\nT1," + b"x" * 200_000 + b"\n", "ordinary length", "fault"),
    ],
)
def test_tables_that_cannot_be_read(table, data, words, level):
    trees, problems = table(data)
    assert trees == ()
    assert any(words in p.expected and p.level == level for p in problems)


@pytest.mark.parametrize(("sign", "name"), [(";", "semicolons"), ("\t", "tabs")])
def test_other_signs_between_cells(table, sign, name):
    trees, problems = table("tree,species,height\nT1,Quercus robur,40\n".replace(",", sign))
    assert [t.height_m.value for t in trees] == pytest.approx([12.192])
    assert [(p.value, p.level) for p in problems] == [(name, "notice")]


def test_utf_16_is_told_and_read(table):
    trees, problems = table("tree,species,notes\nT1,Quercus robur,près\n".encode("utf-16"))
    assert trees[0].notes == "près"
    assert [p.value for p in problems] == ["UTF-16"]


@pytest.mark.parametrize(
    ("words", "botanical"),
    # Published names of the International Plant Names Index, from memory.
    [
        ("Quercus robur", "Quercus robur"),
        ("quercus ROBUR", "Quercus robur"),
        ("English oak", "Quercus robur"),
        ("Quercus robur (English oak)", "Quercus robur"),
        ("English oak / Quercus robur", "Quercus robur"),
        ("coast live oak", "Quercus agrifolia"),
    ],
)
def test_names_that_are_known(words, botanical):
    place = Place("trees.csv", 2)
    species = name_species(words, place)
    assert (species.botanical, species.as_heard) == (botanical, words)
    assert place.problems == []


@pytest.mark.parametrize(
    ("words", "hint"),
    [
        ("Qercus robor", "Quercus robur"),
        ("cedar", "Cedrus"),
        ("purple whatsit", None),
        ("", None),
        ("Quercus robur / Acer rubrum", "Acer rubrum"),
    ],
)
def test_names_that_are_not_are_kept_as_heard(words, hint):
    place = Place("trees.csv", 2)
    species = name_species(words, place)
    assert (species.botanical, species.as_heard) == (None, words)
    (p,) = place.problems
    assert (p.field, p.level) == ("species", "notice")
    if hint:
        assert hint in p.expected
        assert any(a.startswith(hint) for a in species.alternatives)


length = st.floats(0.1, 24).map(lambda v: f"{v:.2f}")
ident = st.text("ABCDEFGHIJK0123456789-", min_size=1, max_size=6).filter(lambda s: s.strip())
note = st.text(st.characters(codec="utf-8", exclude_categories=["Cs", "Cc"]), max_size=30)


@settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    st.lists(
        st.fixed_dictionaries(
            {
                "tree": ident,
                "x": st.floats(-1e6, 1e6).map(lambda v: f"{v:.3f}"),
                "y": st.floats(-1e6, 1e6).map(lambda v: f"{v:.3f}"),
                "crown": length,
                "owner": st.sampled_from(OWNERS),
                "decision": st.sampled_from(["", *DECISIONS]),
                "notes": note,
            }
        ),
        min_size=1,
        max_size=6,
        unique_by=lambda row: row["tree"],
    ),
    st.sampled_from(["\n", "\r\n"]),
)
def test_write_then_read(table, rows, ends):
    out = io.StringIO()
    writer = csv.DictWriter(out, ["species", *rows[0]], lineterminator=ends)
    writer.writeheader()
    writer.writerows([{"species": "Quercus robur", **r} for r in rows])
    trees, problems = table(out.getvalue(), units="metric")
    assert problems == ()
    for tree, row in zip(trees, rows, strict=True):
        assert tree.id == row["tree"]
        assert (tree.x_m, tree.y_m) == (float(row["x"]), float(row["y"]))
        assert tree.crown.mean_m == pytest.approx(float(row["crown"]))
        assert (tree.owner, tree.decision) == (row["owner"], row["decision"] or None)
        assert tree.notes == row["notes"].strip()


def test_an_id_too_long_for_a_plan_is_told(table):
    trees, problems = table(f"tree,species\n{'T' * 61},oak\n{'T' * 60},Quercus robur\n")
    assert [t.id for t in trees] == ["T" * 60]
    (fault,) = (p for p in problems if p.level == "fault")
    assert (fault.row, fault.field) == (2, "tree")
    assert "at most 60 characters" in fault.expected
