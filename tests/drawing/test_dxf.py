"""DXF in: layers to kinds, blocks, outlines joined, units, and what is wrong with a file."""

import math

import numpy as np
import pyogrio
import pytest
import shapely

from bolewalk.drawing.details import Place
from bolewalk.drawing.dxf import read_dxf
from bolewalk.drawing.grid import local_grid, named_grid
from bolewalk.model.survey import Drawing
from tests.drawing.plans import new_plan, on, read_plan, small_text


@pytest.fixture
def read(tmp_path):
    def run(doc, layers, **more):
        path = tmp_path / "plan.dxf"
        doc.saveas(path)
        return read_plan(path, layers, **more)

    return run


def faults(plan):
    return [p for p in plan.problems if p.level == "fault"]


def area(work):
    (part,) = work.parts
    return shapely.Polygon(part.ring, part.holes).area


def test_lines_and_their_properties(read):
    doc = new_plan("S-TRENCH")
    doc.modelspace().add_line((0, 0), (10, 0), **on("S-TRENCH"))
    layers = {"S-TRENCH": {"kind": "trench", "depth": 0.9, "width": "450 mm",
                           "phase": "existing", "made": "air"}}  # fmt: skip
    plan = read(doc, layers)
    (w,) = plan.works
    assert plan.problems == ()
    assert (w.kind, w.parts[0].shape, w.parts[0].ring) == ("trench", "line", ((0, 0), (10, 0)))
    assert (w.depth_m.value, w.depth_m.basis) == (0.9, "drawn")
    assert w.depth_m.source == "Site plan, revision B, S-TRENCH"
    assert (w.width_m, w.phase, w.made) == (0.45, "existing", "air")
    assert (w.id, w.layer, w.file, w.drawing) == (
        "S-TRENCH-1", "S-TRENCH", "plan.dxf", "Site plan, revision B",
    )  # fmt: skip
    assert plan.unit == "m"


def test_piles_are_points(read):
    doc = new_plan("S-PILE")
    msp = doc.modelspace()
    msp.add_circle((1, 2), 0.15, **on("S-PILE"))
    msp.add_point((3, 4), **on("S-PILE"))
    block = doc.blocks.new("MARK")
    block.add_line((-1, 0), (1, 0))
    block.add_line((0, -1), (0, 1))
    msp.add_blockref("MARK", (5, 6), **on("S-PILE"))
    msp.add_lwpolyline([(8, 8), (8.3, 8), (8.3, 8.3), (8, 8.3)], close=True, **on("S-PILE"))
    plan = read(doc, {"S-PILE": {"kind": "pile", "diameter": 0.4}})
    circle, bare, mark, square = plan.works
    assert plan.problems == ()
    assert (circle.parts[0].ring, circle.diameter_m) == (((1, 2),), pytest.approx(0.3))
    assert (bare.parts[0].ring, bare.diameter_m) == (((3, 4),), 0.4)
    assert (mark.parts[0].ring, mark.diameter_m) == (((5, 6),), 0.4)
    assert square.parts[0].shape == "polygon"
    assert area(square) == pytest.approx(0.09)


def test_a_block_with_one_circle_gives_the_pile_its_diameter(read):
    doc = new_plan("S-PILE")
    block = doc.blocks.new("PILE")
    block.add_circle((0, 0), 0.1)
    ref = doc.modelspace().add_blockref("PILE", (5, 6), **on("S-PILE", xscale=3, yscale=3))
    ref.add_attrib("NO", "P-12", (5, 6))
    (w,) = read(doc, {"s-pile": "pile"}).works
    assert w.diameter_m == pytest.approx(0.6)
    assert w.label == "P-12"


def test_a_pile_without_diameter_is_told_and_an_open_line_left_out(read):
    doc = new_plan("S-PILE")
    doc.modelspace().add_point((0, 0), **on("S-PILE"))
    doc.modelspace().add_line((0, 0), (1, 1), **on("S-PILE"))
    plan = read(doc, {"S-PILE": "pile"})
    assert len(plan.works) == 1
    assert [(p.level, p.field) for p in plan.problems] == [
        ("fault", "S-PILE"), ("notice", "S-PILE"),
    ]  # fmt: skip


def test_blocks_are_taken_apart_on_the_layer_they_show_on(read):
    # A shelter of one slab on layer 0 and two piles on their own layer, turned a quarter, nested.
    doc = new_plan("S-PILE", "A-SHELTER")
    inner = doc.blocks.new("POST")
    inner.add_circle((0, 0), 0.1, **on("S-PILE"))
    outer = doc.blocks.new("SHELTER")
    outer.add_lwpolyline([(0, 0), (4, 0), (4, 2), (0, 2)], close=True)
    outer.add_blockref("POST", (1, 1))
    outer.add_blockref("POST", (3, 1))
    doc.modelspace().add_blockref("SHELTER", (10, 0), **on("A-SHELTER", rotation=90))
    plan = read(doc, {"S-PILE": "pile", "A-SHELTER": "slab"})
    piles = sorted(w.parts[0].ring[0] for w in plan.works if w.kind == "pile")
    # (x, y) turned a quarter counter-clockwise about the insertion point: (10 - y, x).
    assert piles == [pytest.approx((9, 1)), pytest.approx((9, 3))]
    (slab,) = (w for w in plan.works if w.kind == "slab")
    assert shapely.Polygon(slab.parts[0].ring).bounds == pytest.approx((8, 0, 10, 4))
    assert faults(plan) == []


def test_a_block_in_rows_and_columns(read):
    doc = new_plan("S-PILE")
    doc.blocks.new("P").add_circle((0, 0), 0.2)
    doc.modelspace().add_blockref(
        "P", (0, 0),
        **on("S-PILE", row_count=2, column_count=3, row_spacing=5, column_spacing=4),
    )  # fmt: skip
    plan = read(doc, {"S-PILE": "pile"})
    found = sorted(tuple(round(v, 9) for v in w.parts[0].ring[0]) for w in plan.works)
    assert found == [(x, y) for x in (0, 4, 8) for y in (0, 5)]
    assert len({w.id for w in plan.works}) == 6


def test_a_block_scaled_unevenly_turns_a_circle_into_an_ellipse(read):
    doc = new_plan("A-PAVE")
    doc.blocks.new("ROUND").add_circle((0, 0), 1)
    doc.modelspace().add_blockref("ROUND", (0, 0), **on("A-PAVE", xscale=5, yscale=2))
    (w,) = read(doc, {"A-PAVE": "paving"}).works
    assert area(w) == pytest.approx(math.pi * 5 * 2, rel=1e-3)


def test_blocks_within_blocks_without_end_are_one_fault(read):
    doc = new_plan("S-SLAB")
    doc.blocks.new("B0").add_line((0, 0), (1, 0))
    for i in range(1, 40):
        block = doc.blocks.new(f"B{i}")
        for _ in range(10):
            block.add_blockref(f"B{i - 1}", (0, 0))
    doc.modelspace().add_blockref("B39", (0, 0), **on("S-SLAB"))
    plan = read(doc, {"S-SLAB": "slab"})
    assert plan.works == ()
    assert "deep" in faults(plan)[0].expected


def test_a_block_that_is_not_in_the_file_is_told_once(read):
    doc = new_plan("S-PILE", "S-SLAB")
    doc.modelspace().add_circle((0, 0), 0.2, **on("S-PILE"))
    for x in (5, 10):
        doc.modelspace().add_blockref("GONE", (x, 0), **on("S-SLAB"))
    plan = read(doc, {"S-PILE": "pile", "S-SLAB": "slab"})
    assert [w.kind for w in plan.works] == ["pile"]
    told = [p for p in plan.problems if p.value == "GONE"]
    assert [(p.field, p.level) for p in told] == [("block", "notice")]
    assert "a block that is in the file" in told[0].expected


def test_an_outside_reference_is_to_be_bound_in(read):
    doc = new_plan("S-PILE", "S-SLAB")
    doc.modelspace().add_circle((0, 0), 0.2, **on("S-PILE"))
    doc.add_xref_def("neighbour.dxf", "NEIGHBOUR")
    doc.modelspace().add_blockref("NEIGHBOUR", (0, 0), **on("S-SLAB"))
    plan = read(doc, {"S-PILE": "pile", "S-SLAB": "slab"})
    assert [w.kind for w in plan.works] == ["pile"]
    (p,) = (p for p in plan.problems if p.value == "NEIGHBOUR")
    assert "bound into the file" in p.expected


def test_more_entities_than_a_plan_has_is_one_fault(read):
    # A thousand columns by a thousand rows of one post, ten times over.
    doc = new_plan("S-PILE")
    doc.blocks.new("P").add_circle((0, 0), 0.2)
    many = on("S-PILE", row_count=1000, column_count=1000, row_spacing=1, column_spacing=1)
    for x in range(10):
        doc.modelspace().add_blockref("P", (x, 0), **many)
    plan = read(doc, {"S-PILE": "pile"})
    assert plan.works == ()
    (p,) = faults(plan)
    assert "entities once blocks are taken apart" in p.expected


def test_lines_and_arcs_join_into_an_outline(read):
    # A stadium drawn in pieces, in any order and direction, ends 2 mm apart.
    doc = new_plan("S-SLAB")
    msp = doc.modelspace()
    msp.add_line((10, 4.002), (0, 4), **on("S-SLAB"))
    msp.add_arc((10, 2), 2, -90, 90, **on("S-SLAB"))
    msp.add_line((0, 0), (10, 0), **on("S-SLAB"))
    msp.add_arc((0, 2), 2, 90, 270, **on("S-SLAB"))
    plan = read(doc, {"S-SLAB": "slab"})
    (w,) = plan.works
    assert plan.problems == ()
    assert area(w) == pytest.approx(40 + math.pi * 4, rel=1e-3)


def test_two_rooms_with_a_wall_between_give_two_areas(read):
    doc = new_plan("B")
    for a, b in (
        ((0, 0), (4, 0)), ((4, 0), (8, 0)), ((8, 0), (8, 3)), ((8, 3), (4, 3)), ((4, 3), (0, 3)),
        ((0, 3), (0, 0)), ((4, 0), (4, 3)),
    ):  # fmt: skip
        doc.modelspace().add_line(a, b, **on("B"))
    plan = read(doc, {"B": "building"})
    assert sorted(area(w) for w in plan.works) == pytest.approx([12, 12])


def test_an_outline_left_open_is_told_with_its_ends(read):
    doc = new_plan("S-SLAB")
    doc.modelspace().add_lwpolyline([(0, 0), (5, 0), (5, 5)], **on("S-SLAB"))
    doc.modelspace().add_lwpolyline([(9, 9), (12, 9), (12, 12)], close=True, **on("S-SLAB"))
    plan = read(doc, {"S-SLAB": "slab"})
    assert [area(w) for w in plan.works] == [4.5]
    (p,) = faults(plan)
    assert p.row.startswith("LWPOLYLINE ")
    assert "0, 0 to 5, 5" in p.value


def test_a_width_makes_an_open_line_a_strip(read):
    doc = new_plan("ACCESS")
    doc.modelspace().add_lwpolyline([(0, 0), (5, 0), (5, 5)], **on("ACCESS"))
    (w,) = read(doc, {"ACCESS": {"kind": "access", "width": 3}}).works
    assert (w.parts[0].shape, w.width_m) == ("line", 3)


def test_a_closed_line_of_a_line_kind_stays_a_line(read):
    doc = new_plan("F")
    doc.modelspace().add_lwpolyline([(0, 0), (5, 0), (5, 5)], close=True, **on("F"))
    (w,) = read(doc, {"F": "fence"}).works
    assert w.parts[0].ring == ((0, 0), (5, 0), (5, 5), (0, 0))


def test_hatches_with_islands(read):
    doc = new_plan("PAVE")
    h = doc.modelspace().add_hatch(**on("PAVE"))
    h.paths.add_polyline_path([(0, 0), (10, 0), (10, 10), (0, 10)], is_closed=True)
    edges = h.paths.add_edge_path(flags=16)
    edges.add_arc((5, 5), 2, 0, 360)
    (w,) = read(doc, {"PAVE": "paving"}).works
    assert len(w.parts[0].holes) == 1
    assert area(w) == pytest.approx(100 - math.pi * 4, rel=1e-3)


def test_hatch_edges_of_every_kind(read):
    # A half disc over a half ellipse: two quarters of pi r^2 / 2 and pi a b / 2.
    doc = new_plan("PAVE")
    edges = doc.modelspace().add_hatch(**on("PAVE")).paths.add_edge_path()
    edges.add_arc((0, 0), 3, 0, 180)
    edges.add_ellipse((0, 0), (3, 0), 0.5, 180, 360)
    plan = read(doc, {"PAVE": "paving"})
    assert area(plan.works[0]) == pytest.approx(math.pi * 9 / 2 + math.pi * 3 * 1.5 / 2, rel=1e-3)


def test_a_fill_of_a_drawn_outline_counts_once(read):
    doc = new_plan("PAVE")
    square = [(0, 0), (10, 0), (10, 10), (0, 10)]
    doc.modelspace().add_lwpolyline(square, close=True, **on("PAVE"))
    h = doc.modelspace().add_hatch(**on("PAVE"))
    h.paths.add_polyline_path(square, is_closed=True)
    assert len(read(doc, {"PAVE": "paving"}).works) == 1


def test_what_crosses_itself_is_left_out(read):
    doc = new_plan("S-SLAB")
    bow = [(0, 0), (4, 4), (4, 0), (0, 4)]
    doc.modelspace().add_lwpolyline(bow, close=True, **on("S-SLAB"))
    doc.modelspace().add_lwpolyline([(9, 9), (12, 9), (12, 12)], close=True, **on("S-SLAB"))
    plan = read(doc, {"S-SLAB": "slab"})
    assert len(plan.works) == 1
    (p,) = faults(plan)
    assert "does not cross itself" in p.expected
    assert "2.00, 2.00" in p.value


def test_layers_not_mapped_are_told_once_with_counts(read):
    doc = new_plan("S-SLAB", "A-TEXT", "A-NOTE")
    msp = doc.modelspace()
    msp.add_circle((0, 0), 1, **on("S-SLAB"))
    msp.add_text("north", **on("A-TEXT"))
    msp.add_text("south", **on("A-TEXT"))
    msp.add_line((0, 0), (1, 1), **on("A-TEXT"))
    msp.add_line((0, 0), (1, 1), **on("A-NOTE"))
    plan = read(doc, {"S-SLAB": "slab", "A-NOTE": "ignore"})
    (p,) = plan.problems
    assert (p.field, p.value, p.level) == ("A-TEXT", "1 LINE, 2 TEXT", "notice")


def test_layers_mapped_but_missing_name_those_there(read):
    doc = new_plan("S-PILES", "S-EMPTY")
    doc.modelspace().add_circle((0, 0), 1, **on("S-PILES"))
    plan = read(doc, {"S-PILE": "pile", "S-EMPTY": "slab", "S-PILES": "pile"})
    assert len(plan.works) == 1
    (p,) = faults(plan)
    assert (p.file, p.row, p.field) == ("survey.toml", "drawing 1", "drawing.layers.S-PILE")
    assert "S-EMPTY, S-PILES" in p.expected
    assert "perhaps S-PILES" in p.expected
    assert [p.field for p in plan.problems if p.level == "notice"] == ["drawing.layers.S-EMPTY"]


@pytest.mark.parametrize(
    ("raw", "field", "words"),
    [
        ("pyle", "drawing.layers.L.kind", "perhaps pile"),
        ({"depth": 3}, "drawing.layers.L.kind", "one of pile"),
        ({"kind": "trench", "depth": -1}, "drawing.layers.L.depth", "0 or more"),
        ({"kind": "trench", "made": "spoon"}, "drawing.layers.L.made", "one of hand"),
        (5, "drawing.layers.L", "a kind"),
    ],
)
def test_faults_of_the_layer_table_name_their_key(read, raw, field, words):
    doc = new_plan("L")
    doc.modelspace().add_line((0, 0), (1, 0), **on("L"))
    p = next(p for p in read(doc, {"L": raw}).problems if p.level == "fault")
    assert (p.file, p.field) == ("survey.toml", field)
    assert words in p.expected


@pytest.mark.parametrize(
    ("code", "m"),
    # Metres in one unit: by definition.
    [(1, 0.0254), (2, 0.3048), (4, 0.001), (5, 0.01), (6, 1), (10, 0.9144), (14, 0.1),
     (21, 1200 / 3937)],
)  # fmt: skip
def test_units_of_the_drawing_are_honoured(read, code, m):
    doc = new_plan("F", insunits=code)
    doc.modelspace().add_line((0, 0), (100, 0), **on("F"))
    plan = read(doc, {"F": "fence"})
    assert plan.problems == ()
    assert plan.works[0].parts[0].ring[1][0] == pytest.approx(100 * m, rel=1e-14)


def test_a_drawing_without_unit_asks_for_it(read):
    doc = new_plan("F", insunits=0)
    doc.modelspace().add_line((0, 0), (100, 0), **on("F"))
    plan = read(doc, {"F": "fence"})
    assert plan.works == ()
    assert "give units in its [[drawing]]" in faults(plan)[0].expected
    plan = read(doc, {"F": "fence"}, unit="ft")
    assert plan.problems == ()
    assert plan.works[0].parts[0].ring[1][0] == pytest.approx(30.48)


def test_units_that_contradict_each_other(read):
    doc = new_plan("F", insunits=1)
    doc.modelspace().add_line((0, 0), (100, 0), **on("F"))
    plan = read(doc, {"F": "fence"}, unit="m")
    assert plan.works == ()
    assert faults(plan)[0].value == "in in the drawing, m in survey.toml"
    plan = read(doc, {"F": "fence"}, unit="m", ignore_header_unit=True)
    assert plan.problems == ()
    assert plan.works[0].parts[0].ring[1][0] == 100


def test_a_unit_no_plan_is_drawn_in(read):
    doc = new_plan("F", insunits=3)  # miles
    doc.modelspace().add_line((0, 0), (100, 0), **on("F"))
    assert faults(read(doc, {"F": "fence"}))[0].value == "$INSUNITS 3"


def test_feet_on_a_grid_in_survey_feet(read):
    # 6,480,000 ft and as many US survey ft lie 6,480,000 x 0.3048 x 2e-6 = 3.95 m apart.
    doc = new_plan("F", insunits=2)
    doc.modelspace().add_line((6_480_000, 1_840_000), (6_480_100, 1_840_000), **on("F"))
    grid = named_grid("EPSG:2229")
    plan = read(doc, {"F": "fence"}, grid=grid, units="imperial")
    assert plan.works[0].parts[0].ring[0][0] == pytest.approx(6_480_000 * 1200 / 3937, abs=1e-6)
    (p,) = plan.problems
    assert p.level == "notice"
    assert "3.95 m" in p.expected
    plan = read(doc, {"F": "fence"}, grid=grid, units="imperial", unit="ft")
    assert plan.works[0].parts[0].ring[0][0] == pytest.approx(6_480_000 * 0.3048, abs=1e-6)


def test_a_drawing_placed_by_two_points(read):
    # By hand: millimetres turned a quarter counter-clockwise, (0, 0) to (100, 200).
    doc = new_plan("F", insunits=4)
    doc.modelspace().add_circle((2000, 1000), 150, **on("F"))
    at = (((0, 0), (100, 200)), ((1000, 0), (100, 201)))
    plan = read(doc, {"F": "pile"}, at=at)
    (w,) = plan.works
    assert plan.problems == ()
    assert w.parts[0].ring[0] == pytest.approx((99, 202))
    assert w.diameter_m == pytest.approx(0.3)


def test_placing_points_that_disagree_with_the_unit_are_told(read):
    doc = new_plan("F", insunits=4)
    doc.modelspace().add_circle((2000, 1000), 150, **on("F"))
    plan = read(doc, {"F": "pile"}, at=(((0, 0), (0, 0)), ((1000, 0), (10, 0))))
    assert [(p.field, p.level) for p in plan.problems] == [("at", "notice")]
    assert plan.works[0].diameter_m == pytest.approx(3)


@pytest.mark.parametrize(
    "at",
    [
        (((0, 0), (0, 0)), ((0, 0), (10, 0))),
        (((0, 0), (5, 5)), ((10, 0), (5, 5))),
        (((0, 0), (5, 5)), ((10, 0), (5, 5.2))),
        (((0, 0), (0, 0)), ((math.nan, 0), (10, 0))),
    ],
)
def test_points_that_place_nothing(read, at):
    doc = new_plan("F")
    doc.modelspace().add_line((0, 0), (100, 0), **on("F"))
    plan = read(doc, {"F": "fence"}, at=at)
    assert plan.works == ()
    assert len(faults(plan)) == 1


@pytest.mark.parametrize("share", [0.1, 0.3, 0.5, 0.8, 0.95, 0.999])
def test_a_drawing_cut_short_is_a_fault(tmp_path, share):
    doc = new_plan("F")
    for i in range(200):
        doc.modelspace().add_line((i, 0), (i, 10), **on("F"))
    whole = tmp_path / "whole.dxf"
    doc.saveas(whole)
    data = whole.read_bytes()
    path = tmp_path / "plan.dxf"
    path.write_bytes(data[: int(len(data) * share)])
    plan = read_plan(path, {"F": "fence"})
    assert plan.works == ()
    assert faults(plan)[-1].value == "a file that is cut short"


@pytest.mark.parametrize(
    ("data", "value"),
    [
        (b"", "an empty file"),
        (b"\r\n  \n", "an empty file"),
        (b"hello, this is a plan\n", "another kind of file"),
        (b"AC1027" + bytes(200), "a DWG file: save it as DXF"),
        (b"%PDF-1.7\n", "a PDF file: ask for the DXF"),
        (b"0\nSECTION\n2\nENTITIES\n0\nENDSEC\n0\nEOF\n", "no entities"),
        (small_text("").encode(), "no entities"),
        (b"0\nSECTION\nrubbish\nEOF\n", None),
        (bytes(range(256)) * 20, "another kind of file"),
    ],
)
def test_files_that_are_no_drawing(tmp_path, data, value):
    path = tmp_path / "plan.dxf"
    path.write_bytes(data)
    plan = read_plan(path, {"F": "fence"})
    assert plan.works == ()
    assert len(faults(plan)) == 1
    assert value is None or faults(plan)[0].value == value


def test_an_empty_drawing_with_a_full_sheet_says_so(read):
    doc = new_plan("F")
    doc.layout("Layout1").add_line((0, 0), (1, 1), **on("F"))
    (p,) = faults(read(doc, {"F": "fence"}))
    assert "stand on sheets" in p.expected


def test_text_written_by_hand(tmp_path):
    # The oldest kind: POLYLINE with VERTEX and a bulge, no unit in the header.
    entities = (
        "0\nPOLYLINE\n8\nWALL\n66\n1\n70\n1\n10\n0.0\n20\n0.0\n30\n0.0\n"
        "0\nVERTEX\n8\nWALL\n10\n0.0\n20\n0.0\n"
        "0\nVERTEX\n8\nWALL\n10\n4.0\n20\n0.0\n42\n1.0\n"
        "0\nVERTEX\n8\nWALL\n10\n4.0\n20\n4.0\n"
        "0\nVERTEX\n8\nWALL\n10\n0.0\n20\n4.0\n"
        "0\nSEQEND\n8\nWALL\n"
        "0\nCIRCLE\n8\nPILE\n10\n7.0\n20\n8.0\n40\n0.25\n"
    )
    path = tmp_path / "plan.dxf"
    path.write_bytes(small_text(entities).replace("\n", "\r\n").encode())
    assert "names none" in faults(read_plan(path, {"WALL": "slab"}))[0].expected
    plan = read_plan(path, {"WALL": "slab", "PILE": "pile"}, unit="m")
    assert faults(plan) == []
    slab, pile = sorted(plan.works, key=lambda w: w.kind, reverse=True)
    assert area(slab) == pytest.approx(16 + math.pi * 4 / 2, rel=1e-3)
    assert (pile.parts[0].ring[0], pile.diameter_m) == ((7, 8), 0.5)


def test_written_by_gdal(tmp_path):
    # GDAL's driver writes the unit of the reference system into the header, and inches for none.
    path = tmp_path / "plan.dxf"
    layers = {"S-TRENCH": "trench", "S-SLAB": "slab", "S-PILE": {"kind": "pile", "diameter": 1}}
    _write_gdal(path, "EPSG:32611")
    plan = read_plan(path, layers)
    assert faults(plan) == []
    by_kind = {w.kind: w for w in plan.works}
    assert by_kind["trench"].parts[0].ring == ((0, 0), (10, 0), (10, 5))
    assert area(by_kind["slab"]) == pytest.approx(6)
    assert by_kind["pile"].parts[0].ring == ((1, 2),)
    path = tmp_path / "no-system.dxf"
    with pytest.warns(UserWarning, match="crs"):
        _write_gdal(path, None)
    assert "contradict" in faults(read_plan(path, layers, unit="m"))[0].expected
    plan = read_plan(path, layers, unit="m", ignore_header_unit=True)
    assert (faults(plan), len(plan.works)) == ([], 3)


def _write_gdal(path, crs):
    shapes = [
        shapely.LineString([(0, 0), (10, 0), (10, 5)]),
        shapely.Polygon([(20, 0), (24, 0), (24, 3)]),
        shapely.Point(1, 2),
    ]
    pyogrio.raw.write(
        path,
        geometry=np.array([shapely.to_wkb(s, flavor="iso") for s in shapes], dtype=object),
        field_data=[np.array(["S-TRENCH", "S-SLAB", "S-PILE"], dtype=object)],
        fields=["Layer"],
        geometry_type="Unknown",
        crs=crs,
        driver="DXF",
    )


def test_binary_drawings(tmp_path):
    doc = new_plan("F")
    doc.modelspace().add_line((0, 0), (100, 0), **on("F"))
    path = tmp_path / "plan.dxf"
    doc.saveas(path, fmt="bin")
    assert read_plan(path, {"F": "fence"}).works[0].parts[0].ring == ((0, 0), (100, 0))
    path.write_bytes(path.read_bytes()[:-500])
    assert read_plan(path, {"F": "fence"}).works == ()


def test_far_from_the_origin_without_complaint(read):
    doc = new_plan("S-SLAB")
    x, y = 5_000_000.0, 10_000.0
    doc.modelspace().add_lwpolyline(
        [(x, y), (x + 4, y, 0, 0, 1), (x + 4, y + 4), (x, y + 4)], close=True, **on("S-SLAB")
    )
    plan = read(doc, {"S-SLAB": "slab"})
    assert plan.problems == ()
    assert area(plan.works[0]) == pytest.approx(16 + math.pi * 2, rel=1e-3)
    assert plan.extent_m == pytest.approx((x, y, x + 6, y + 4), abs=0.2)


def test_coordinates_that_are_no_numbers_are_told(tmp_path):
    entities = (
        "0\nLINE\n8\nF\n10\nnan\n20\n0.0\n11\n1.0\n21\n1.0\n"
        "0\nLINE\n8\nF\n10\n0.0\n20\n0.0\n11\n1.0\n21\n1.0\n"
        "0\nCIRCLE\n8\nF\n10\n0.0\n20\n0.0\n40\n1e300\n"
    )
    path = tmp_path / "plan.dxf"
    path.write_text(small_text(entities))
    plan = read_plan(path, {"F": "fence"}, unit="m")
    assert len(plan.works) == 1
    assert len(faults(plan)) == 2


def test_same_drawing_same_answer(tmp_path):
    doc = new_plan("B")
    for i in range(5):
        for a, b in (((0, 0), (4, 0)), ((4, 0), (4, 4)), ((4, 4), (0, 4)), ((0, 4), (0, 0))):
            doc.modelspace().add_line((a[0] + 9 * i, a[1]), (b[0] + 9 * i, b[1]), **on("B"))
    path = tmp_path / "plan.dxf"
    doc.saveas(path)
    first, second = (read_plan(path, {"B": "building"}) for _ in range(2))
    assert first == second
    assert [w.parts[0].ring[0][0] // 9 for w in first.works] == [0, 1, 2, 3, 4]


def test_survey_feet_of_layer_table(tmp_path):
    # Plain numbers of the layer table are in the survey's unit, whatever the drawing is in.
    doc = new_plan("T", insunits=4)
    doc.modelspace().add_line((0, 0), (10_000, 0), **on("T"))
    path = tmp_path / "plan.dxf"
    doc.saveas(path)
    plan = read_dxf(
        path, drawing=Drawing("plan.dxf"), layers={"T": {"kind": "trench", "depth": 3}},
        grid=local_grid("imperial"), units="imperial", listed=Place("survey.toml", "drawing 1"),
    )  # fmt: skip
    assert plan.works[0].depth_m.value == 0.9144
    assert plan.works[0].parts[0].ring[1] == (10, 0)
