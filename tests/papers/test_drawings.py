"""Drawings: true to scale, true to area, labels apart. Expected figures are by hand."""

import math
import runpy
import time
from dataclasses import replace
from pathlib import Path

import pytest
import shapely
from shapely.geometry import Polygon, box

from bolewalk.model.words import WORK_KINDS
from bolewalk.model.works import Part, Work
from bolewalk.papers.draw import type_metrics
from bolewalk.papers.draw.frame import Frame, choose_scale
from bolewalk.papers.draw.hatches import hatch_for, hatch_lines
from bolewalk.papers.draw.labels import Label, LabelBoard
from bolewalk.papers.draw.rose import draw_rose
from bolewalk.papers.draw.scene import Scene
from bolewalk.papers.draw.type_metrics import MM_PER_PT, printable, width_mm, wrapped
from bolewalk.papers.language import Catalogue
from bolewalk.papers.plan_sheet import site_sheet
from bolewalk.papers.protection_lines import fence_lines
from bolewalk.papers.reading import IssueStamp
from bolewalk.papers.write import reading_of
from tests.papers.invented import FT, ROWS, findings


@pytest.mark.parametrize(
    ("units", "width_m", "text", "ratio"),
    [
        # 340 mm of field: 1 in = 20 ft is 1:240 and holds 81.6 m; 1:250 holds 85 m.
        ("imperial", 81.0, "1 in = 20 ft", 240),
        ("imperial", 82.0, "1 in = 25 ft", 300),
        ("metric", 84.9, "1:250", 250),
        ("metric", 85.1, "1:500", 500),
        ("metric", 5000.0, "1:15,000", 15000),
    ],
)
def test_scale_is_the_largest_that_fits(units: str, width_m: float, text: str, ratio: int) -> None:
    scale = choose_scale(width_m, 1.0, (0, 0, 340, 250), units=units)  # type: ignore[arg-type]
    assert scale.text == text
    assert scale.ratio == pytest.approx(ratio)


def test_frame_puts_a_metre_where_the_scale_says() -> None:
    scale = choose_scale(80.0, 1.0, (0, 0, 340, 250), units="metric")  # 1:250, 4 mm to the metre
    frame = Frame((0, 0, 340, 250), (5_000_000.0, 100.0), scale)
    x, y = frame.point(5_000_010.0, 100.0)
    assert (x, y) == pytest.approx((170 + 40, 125))
    assert frame.point(5_000_000.0, 110.0) == pytest.approx((170, 125 - 40))  # north is up


def test_trunks_on_the_sheet_stand_as_far_apart_as_on_site(catalogue: Catalogue) -> None:
    f = findings(rows=ROWS[:3])
    sheet = site_sheet(reading_of(f, catalogue=catalogue))
    assert sheet is not None
    dots = [Polygon(s.points).centroid for s in sheet.scene.strokes
            if s.fill == "black" and s.pen == "line" and len(s.points) > 10][:3]  # fmt: skip
    site = math.dist(ROWS[0][3:5], ROWS[1][3:5]) * FT
    drawn = dots[0].distance(dots[1])
    assert drawn == pytest.approx(site * sheet.scale.mm_per_m, rel=1e-3)


def test_every_kind_of_works_is_drawn_in_its_own_way() -> None:
    lines = {"fence", "wire", "boundary", "beam"}
    hatches = [hatch_for(k) for k in WORK_KINDS if k not in lines]
    assert None not in hatches
    assert len(set(hatches)) == len(hatches)
    assert not any(hatch_for(k) for k in lines)


def test_hatch_stays_inside_and_keeps_its_spacing() -> None:
    area = box(0, 0, 20, 10).difference(box(5, 3, 8, 6))
    for kind in WORK_KINDS:
        hatch = hatch_for(kind)
        if hatch is None:
            continue
        lines = hatch_lines(area, hatch)
        assert lines, kind
        assert all(shapely.LineString(p).within(area.buffer(1e-6)) for p in lines), kind
    one = hatch_for("building")
    assert one is not None
    # A full ruling of spacing s covers an area A with about A / s of line.
    total = sum(shapely.LineString(p).length for p in hatch_lines(area, one))
    assert total == pytest.approx(area.area / one.spacing_mm, rel=0.05)
    wide = sum(shapely.LineString(p).length for p in hatch_lines(area, one, widen=2.0))
    assert wide == pytest.approx(total / 2, rel=0.1)


def test_rose_is_true_to_area() -> None:
    """A sector that loses 36 % is hatched from sqrt(1 - 0.36) = 0.8 R outwards."""
    scene = draw_rose({"E": 36.0, "S": 100.0}, size_mm=30, structural_share=0.3, north="N")
    washed = [Polygon(s.points) for s in scene.strokes if s.fill == "wash"]
    r = 30 / 2 - 5.2
    sector = math.pi * r * r / 8
    assert [p.area / sector for p in washed] == pytest.approx([0.36, 1.0], abs=0.005)
    assert washed[0].distance(shapely.Point(15, 15)) == pytest.approx(0.8 * r, rel=1e-3)


def test_heavy_arc_stands_over_the_half_that_must_keep_the_tree() -> None:
    """Lost to the south, so the half centred on north must stay: bearings 270 to 90."""
    scene = draw_rose({"S": 80.0, "SW": 40.0}, size_mm=33, structural_share=0.3, north="N",
                      best_half_bearing=0.0, must_keep="heavy arc: must stay whole")  # fmt: skip
    c, r = 33 / 2, 33 / 2 - 5.2
    (heavy,) = [s for s in scene.strokes if s.pen == "heavy"]
    bearings = [math.degrees(math.atan2(x - c, c - y)) for x, y in heavy.points]
    assert min(bearings) == pytest.approx(-90.0, abs=0.01)
    assert max(bearings) == pytest.approx(90.0, abs=0.01)
    reach = [math.dist((x, y), (c, c)) for x, y in heavy.points]
    assert min(reach) > r
    # Clear of the figures, whose middles stand 2.7 mm outside the ring and are 1.6 mm high.
    assert max(reach) + 0.25 < r + 2.7 - 0.8
    (key,) = [n for n in scene.notes if n.text == "heavy arc: must stay whole"]
    assert 33 < key.y < scene.height_mm
    whole = draw_rose({"S": 80.0}, size_mm=33, structural_share=0.3, north="N")
    assert not [s for s in whole.strokes if s.pen == "heavy"]


def test_a_lopsided_crown_is_drawn_lopsided(catalogue: Catalogue) -> None:
    """T1: 24 ft to the north, 22 east, 20 south, 26 west of its trunk."""
    f = findings(rows=ROWS[:1])
    sheet = site_sheet(reading_of(f, catalogue=catalogue))
    assert sheet is not None
    (crown,) = [s for s in sheet.scene.strokes if s.pen == "crown" and len(s.points) > 10]
    (dot,) = [s for s in sheet.scene.strokes
              if s.fill == "black" and s.pen == "line" and len(s.points) > 10
              and shapely.Polygon(crown.points).contains(shapely.Polygon(s.points))]  # fmt: skip
    trunk = Polygon(dot.points).centroid
    west, north, east, south = Polygon(crown.points).bounds
    k = sheet.scale.mm_per_m * FT
    assert (trunk.y - north, east - trunk.x, south - trunk.y, trunk.x - west) == pytest.approx(
        (24 * k, 22 * k, 20 * k, 26 * k), abs=0.02
    )


def test_labels_keep_apart_and_inside() -> None:
    scene, board = Scene(100, 100), LabelBoard(0, 0, 100, 100)
    at = [(50 + i % 6 * 8, 50 + i // 6 * 5) for i in range(30)]
    for x, y in at:
        board.block(x - 1, y - 1, x + 1, y + 1)  # the trunks, as a plan blocks them
    for i, (x, y) in enumerate(at):
        assert board.place(scene, Label(x, y, f"T{i}", 7.5, "bold", clear_mm=1))
    assert len(scene.notes) == 30
    boxes = [box(n.x, n.y - n.size_pt * MM_PER_PT * 0.7, n.x + width_mm(n.text, 7.5, "bold"), n.y)
             for n in scene.notes]  # fmt: skip
    for i, a in enumerate(boxes):
        assert a.within(box(0, 0, 100, 100))
        assert not any(a.intersects(b) for b in boxes[:i])


def test_labels_without_room_are_left_out_and_told() -> None:
    """900 numbers of about 7 mm by 1.9 mm need 12,000 mm2 and a gap; there are 2,500."""
    scene, board = Scene(50, 50), LabelBoard(0, 0, 50, 50)
    for i in range(30):
        for j in range(30):
            board.place(scene, Label(1 + i * 1.6, 1 + j * 1.6, f"T{i:02d}{j:02d}", 7.5, "bold"))
    assert len(scene.notes) + len(board.left_out) == 900
    assert 60 < len(scene.notes) < 250
    boxes = [box(n.x, n.y - n.size_pt * MM_PER_PT * 0.7, n.x + width_mm(n.text, 7.5, "bold"), n.y)
             for n in scene.notes]  # fmt: skip
    a, b = shapely.STRtree(boxes).query(boxes, predicate="intersects")
    assert (a == b).all()
    # A leader crosses no label but the one it leads to.
    for stroke in scene.strokes:
        if stroke.pen == "leader":
            line = shapely.LineString(stroke.points)
            assert sum(line.intersects(x) for x in boxes) <= 1


def test_a_crowded_plan_tells_what_it_left_out() -> None:
    f = findings(rows=ROWS[:3])
    works = tuple(
        Work(f"W{i}", "pile", (Part("point", ((i % 20 * 0.5, 30 + i // 20 * 0.5),)),),
             label=f"pile number {i}", diameter_m=0.2)
        for i in range(400)
    )  # fmt: skip
    sheet = site_sheet(reading_of(replace(f, survey=replace(f.survey, works=works))))
    assert sheet is not None
    said = " ".join(n.text for n in sheet.scene.notes)
    assert "Left out for want of room: numbers of 0 trees, names of" in said
    assert {r[0] for r in ROWS[:3]} <= {n.text for n in sheet.scene.notes}


def test_no_label_of_the_plan_covers_another_or_a_trunk(catalogue: Catalogue) -> None:
    sheet = site_sheet(reading_of(findings(), catalogue=catalogue))
    assert sheet is not None
    field = box(9, 9, 431.8 - 79, 279.4 - 9)
    notes = [n for n in sheet.scene.notes if field.contains(shapely.Point(n.x, n.y))]
    boxes = {
        n.text: box(
            n.x,
            n.y - n.size_pt * MM_PER_PT * 0.7,
            n.x + width_mm(n.text, n.size_pt, n.weight),
            n.y,
        )
        for n in notes
    }
    assert set(boxes) >= {r[0] for r in ROWS}
    crossed = [(a, b) for a in boxes for b in boxes if a < b and boxes[a].intersects(boxes[b])]
    assert not crossed


def test_type_metrics_are_those_of_the_fonts() -> None:
    script = Path(type_metrics.__file__).parents[3] / "scripts" / "type_metrics.py"
    read = runpy.run_path(str(script))["metrics"]()
    assert read == type_metrics._metrics()
    # By hand from the font's own table: three digits of 497/1000 em at 10 pt.
    digit = read["advances"]["regular"]["1"]
    assert width_mm("111", 10) == pytest.approx(3 * digit / 1000 * 10 * 25.4 / 72)
    digits = {read["advances"]["regular"][str(d)] for d in range(10)}
    assert len(digits) == 1  # figures stand in columns


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("a\nb\tc", "a b c"),
        ("\x00", "[U+0000]"),
        ("\u202eabc", "[U+202E]abc"),
        ("\u200b", "[U+200B]"),
        ("ไ", "[U+0E44]"),
        ("Ωж槭", "Ωж槭"),
        ("°′″×≤–…", "°′″×≤–…"),
    ],
)
def test_printable_loses_nothing(text: str, shown: str) -> None:
    assert printable(text) == shown


def test_wrapped_lines_fit_and_end_in_an_ellipsis() -> None:
    lines = wrapped("one two three four five " + "x" * 200, 20.0, 8.0, lines=3)
    assert len(lines) == 3
    assert lines[-1].endswith("…")
    assert all(width_mm(line, 8.0) <= 20.0 for line in lines)


def test_a_word_of_thousands_of_letters_is_wrapped_at_once() -> None:
    began = time.process_time()
    lines = wrapped("n" * 50_000, 60.0, 12.0, "bold", lines=3)
    assert time.process_time() - began < 2
    assert [len(line) for line in lines[:2]] == [len(lines[0])] * 2
    assert width_mm(lines[0], 12.0, "bold") <= 60.0 < width_mm(lines[0] + "n", 12.0, "bold")


def test_fence_goes_round_retained_trees_and_clear_of_the_works() -> None:
    f = findings()
    plan = reading_of(f).plan_trees
    fences = fence_lines(plan, f.survey.works, units="imperial")
    ground = shapely.union_all(shapely.get_parts(shapely.polygonize(fences)))
    corners = [(100 * FT, 104 * FT), (136 * FT, 108 * FT), (172 * FT, 98 * FT)]
    trench = shapely.LineString(corners).buffer(2 * FT, cap_style="flat")  # 4 ft wide
    for fence in fences:
        assert fence.distance(trench) >= 3 * FT - 1e-6  # working room of data/protection.toml
    at = {t.tree.id: shapely.Point(t.tree.x_m, t.tree.y_m) for t in plan}
    assert ground.contains(at["T1"])
    assert not ground.contains(at["T8"])  # to be removed
    assert fence_lines(plan, f.survey.works, units="imperial") == fences


def test_fence_of_one_tree_alone_is_its_root_zone() -> None:
    f = findings(rows=ROWS[:1])
    (fence,) = fence_lines(reading_of(f).plan_trees, (), units="metric")
    assert fence.length == pytest.approx(2 * math.pi * 24.5 * FT, rel=1e-3)


def test_the_title_block_names_number_day_and_hash(catalogue: Catalogue) -> None:
    stamp = IssueStamp("7", "2026-05-13", "0123456789abcdef" * 4)
    sheet = site_sheet(reading_of(findings(), catalogue=catalogue, issue=stamp))
    draft = site_sheet(reading_of(findings(), catalogue=catalogue))
    assert sheet is not None
    assert draft is not None
    said = [n.text for n in sheet.scene.notes]
    at = said.index("Issue")
    assert " ".join(said[at + 1 : at + 3]) == "issue 7 of 2026-05-13, inputs 0123456789abcdef"
    assert "draft, not issued" in [n.text for n in draft.scene.notes]
    assert sheet.scale == draft.scale
