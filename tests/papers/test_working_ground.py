"""Ground to work from. Places are checked against the clearances of `data/protection.toml`."""

from dataclasses import replace

import pytest
import shapely
from shapely.geometry import Point, box

from bolewalk.model.works import Part, Work
from bolewalk.papers.plan_sheet import protection_sheet
from bolewalk.papers.protection_lines import fence_distances_m
from bolewalk.papers.working_ground import working_ground
from bolewalk.papers.write import reading_of
from tests.papers.invented import FT, ROWS, findings


def area(kind: str, x0: float, y0: float, x1: float, y1: float, phase: str = "proposed") -> Work:
    ring = ((x0, y0), (x1, y0), (x1, y1), (x0, y1))
    return Work(kind, kind, (Part("polygon", ring),), phase=phase)  # type: ignore[arg-type]


def boundary(side_m: float) -> Work:
    ring = ((0.0, 0.0), (side_m, 0.0), (side_m, side_m), (0.0, side_m), (0.0, 0.0))
    return Work("lot", "boundary", (Part("line", ring),), phase="existing")


def one_tree() -> tuple:  # type: ignore[type-arg]
    """T1 stands at 22 ft, 118 ft with a root zone of 24.5 ft: a foot for each inch."""
    return reading_of(findings(rows=ROWS[:1])).plan_trees


def test_places_keep_their_distance_from_roots_works_and_lot_line() -> None:
    trees = one_tree()
    works = [boundary(60.0), area("building", 20, 20, 30, 30), area("access", 0, 31, 60, 34)]
    ground = working_ground(trees, works, units="metric")
    assert ground is not None
    assert ground.storage is not None
    assert ground.washout is not None
    trunk, radius = Point(22 * FT, 118 * FT), 24.5 * FT
    # Metric settings: 1 m and 3 m from root zones; squares of 4 m and 2 m.
    assert ground.storage.distance(trunk) >= radius + 1.0 - 0.01
    assert ground.washout.distance(trunk) >= radius + 3.0 - 0.01
    assert ground.storage.area == pytest.approx(16.0)
    assert ground.washout.area == pytest.approx(4.0)
    for place in (ground.storage, ground.washout):
        assert place.within(box(0, 0, 60, 60))
        assert place.disjoint(box(20, 20, 30, 30))
        assert place.disjoint(box(0, 31, 60, 34))
        # As near to the rig path as its square can lie: half a side, turned as it may be.
        assert place.distance(box(0, 31, 60, 34)) < 1.0
    assert ground.storage.disjoint(ground.washout)
    assert working_ground(trees, works, units="metric") == ground


def test_mats_lie_where_the_rig_path_crosses_a_root_zone() -> None:
    trunk, radius = Point(22 * FT, 118 * FT), 24.5 * FT
    works = [area("pile", 40, 40, 41, 41), area("access", 0, 31, 60, 34)]
    ground = working_ground(one_tree(), works, units="metric")
    assert ground is not None
    expected = trunk.buffer(radius, quad_segs=64).intersection(box(0, 31, 60, 34))
    assert ground.mats.area == pytest.approx(expected.area, rel=2e-3)


def test_no_place_is_proposed_where_there_is_none_and_none_where_one_is_drawn() -> None:
    # A lot of 16 m square round the tree is all root zone: radius 7.47 m.
    trees = tuple(replace(t, tree=replace(t.tree, x_m=8.0, y_m=8.0)) for t in one_tree())
    ground = working_ground(trees, [boundary(16.0), area("pile", 8, 1, 9, 2)], units="metric")
    assert ground is not None
    assert (ground.storage, ground.washout, ground.path) == (None, None, False)
    drawn = [boundary(60.0), area("pile", 40, 1, 41, 2), area("storage", 50, 50, 55, 55)]
    ground = working_ground(trees, drawn, units="metric")
    assert ground is not None
    assert ground.storage is None
    assert ground.storage_drawn
    assert working_ground(trees, [boundary(60.0)], units="metric") is None


def test_the_sheet_says_what_it_lacks() -> None:
    f = findings(rows=ROWS[:1])
    works = (boundary(16.0), area("pile", 8, 1, 9, 2))
    trees = tuple(replace(t, tree=replace(t.tree, x_m=8.0, y_m=8.0)) for t in f.trees)
    reading = reading_of(replace(f, survey=replace(f.survey, works=works), trees=trees))
    ground = working_ground(reading.plan_trees, works, units="imperial")
    sheet = protection_sheet(reading, (), (), ground)
    assert sheet is not None
    said = " ".join(n.text for n in sheet.scene.notes)
    assert "No rig path is drawn" in said
    assert "storage and spoil stay off the site" in said


def test_the_sheet_draws_mats_storage_and_wash_out() -> None:
    f = findings(rows=ROWS[:1])
    works = (boundary(60.0), area("pile", 40, 40, 41, 41), area("access", 0, 31, 60, 34))
    reading = reading_of(replace(f, survey=replace(f.survey, works=works)))
    ground = working_ground(reading.plan_trees, works, units="imperial")
    sheet = protection_sheet(reading, (), (), ground)
    assert sheet is not None
    said = [n.text for n in sheet.scene.notes]
    assert {"Mats", "Storage", "Wash-out"} <= set(said)
    assert "access (rig path), proposed" in said
    assert shapely.get_parts(ground.mats).size  # type: ignore[union-attr]


def test_fence_is_measured_from_the_trunk_on_every_side() -> None:
    """Ground 20 m by 10 m, trunk 4 m from its west and 3 m from its south edge: by hand."""
    (t,) = one_tree()
    tree = replace(t.tree, x_m=104.0, y_m=203.0)
    ground = (box(0, 0, 5, 5), box(100, 200, 120, 210))
    found = fence_distances_m(tree, ground, [0.0, 45.0, 90.0, 180.0, 225.0, 270.0])
    assert found == pytest.approx((7.0, 7.0 * 2**0.5, 16.0, 3.0, 3.0 * 2**0.5, 4.0))
    assert fence_distances_m(tree, ground[:1], [0.0, 90.0]) == (None, None)
    assert fence_distances_m(replace(tree, x_m=None, y_m=None), ground, [0.0]) == (None,)
