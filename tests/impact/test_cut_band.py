"""How far off the nearest allowed cut may be, and what a tape reads on a slope."""

import math
from dataclasses import replace
from datetime import date
from typing import Any

import pytest
import shapely

from bolewalk.impact.assess import assess_all
from bolewalk.impact.cut_band import position_error_m, tree_of_size
from bolewalk.impact.near import moved
from bolewalk.impact.results import NearestCut
from bolewalk.impact.roots import root_losses
from bolewalk.impact.slope import Slope, slope_of
from bolewalk.impact.subject import subject_of
from bolewalk.impact.thresholds import thresholds
from bolewalk.impact.zones import root_zone
from bolewalk.model.figures import Figure
from bolewalk.model.survey import Method, Site, Survey
from bolewalk.model.trees import Crown, Tree
from bolewalk.model.works import Work
from bolewalk.papers.amounts import Amounts
from bolewalk.papers.language import Speaker, load_catalogue
from bolewalk.papers.shapes import cut_lines

from .hands import line, tree
from .test_nearest import trench

METHOD = Method("as4970-2009")


def survey(*works: Work, **kw: Any) -> Survey:
    return Survey(
        "Thistle yard", date(2026, 5, 12), "metric", "opinion", METHOD,
        trees=(kw.pop("tree", tree(cm=(40.0,))),), works=works, **kw,
    )  # fmt: skip


def cut_of(s: Survey) -> NearestCut:
    cut = assess_all(s)[0].nearest_cut
    assert cut is not None
    return cut


def exact(**kw: Any) -> Tree:
    """A tree of 40 cm whose trunk is told to lie between 36 and 44 cm."""
    trunk = Figure(40.0, "measured", low=36.0, high=44.0)
    return replace(tree(cm=(40.0,)), stems_cm=(trunk,), **kw)


def test_on_open_ground_the_band_is_trunk_and_position_by_hand() -> None:
    # 12 x 0.40 m = 4.8 m; 10 % is reached at 0.6870 R (inverse of the circle segment).
    cut = cut_of(survey(tree=exact(offset_m=0.5)))
    assert cut.keep["E"] == pytest.approx(0.6870 * 4.8, abs=0.0005)
    inner, outer = cut.keep_span["E"]
    assert inner == pytest.approx(0.6870 * 4.32 - 0.5, abs=0.0005)
    assert outer == pytest.approx(0.6870 * 5.28 + 0.5, abs=0.0005)
    assert cut.band_m == pytest.approx(0.6870 * 0.48 + 0.5, abs=0.0005)


def test_a_zone_that_follows_the_crown_is_as_wide_as_the_crown_is_told() -> None:
    # By hand: 4 m told as 3.6 to 4.4 m, 1.5 m more (DIN 18920); 10 % at 0.6870 R.
    told = Crown(4.0, 4.0, 4.0, 4.0, Figure(4.0, "measured", low=3.6, high=4.4))
    cut = cut_of(replace(survey(tree=exact(crown=told, offset_m=0.5)), method=Method("din18920")))
    assert cut.keep["E"] == pytest.approx(0.6870 * 5.5, abs=0.001)
    inner, outer = cut.keep_span["E"]
    assert inner == pytest.approx(0.6870 * 5.1 - 0.5, abs=0.001)
    assert outer == pytest.approx(0.6870 * 5.9 + 0.5, abs=0.001)


def test_what_is_not_told_is_taken_and_said() -> None:
    told = cut_of(survey(tree=exact(offset_m=0.0)))
    taken = cut_of(survey(tree=exact()))
    more = thresholds().value("band.position")
    assert taken.keep_span["N"][1] == pytest.approx((told.keep_span["N"][1] or 0) + more)
    assert "nearest.band" in [s.code for s in told.notes]
    assert "nearest.band_position_taken" in [s.code for s in taken.notes]


def test_a_trunk_by_eye_is_wider_off_than_a_taped_one() -> None:
    # 2 % and 20 % of 40 cm: the packaged rows, ours.
    for basis, off in (("measured", 0.02), ("estimated", 0.20)):
        one = replace(tree(), stems_cm=(Figure(40.0, basis),))  # type: ignore[arg-type]
        subject = subject_of(one, METHOD)
        assert tree_of_size(subject, 1).stems_cm[0].value == pytest.approx(40 * (1 + off))
        assert tree_of_size(subject, -1).stems_cm[0].value == pytest.approx(40 * (1 - off))
        assert position_error_m(subject) == 0.3


@pytest.mark.parametrize("bearing", ["N", "E", "S", "W"])
def test_outer_fed_back_meets_its_limit_with_every_error_against_the_tree(bearing: str) -> None:
    # Independent of the search: the trunk as thick, the drain as near and the tree as far off
    # towards the trench as told; the trench at the outer distance is then just within the limit.
    drain = line("D", "drain", (4.6, -30.0), (4.6, 30.0), width_m=0.4, offset_m=0.3)
    s = survey(drain, tree=exact(offset_m=0.2))
    cut = cut_of(s)
    here, (inner, outer) = cut.keep[bearing], cut.keep_span[bearing]
    assert here is not None
    assert outer is not None
    assert inner is not None
    assert inner < here < outer
    thick = root_zone(replace(s.trees[0], stems_cm=(Figure(44.0, "measured"),)), "as4970-2009")
    assert thick is not None
    degrees = {"N": 0.0, "E": 90.0, "S": 180.0, "W": 270.0}[bearing]
    works = [moved(drain, -0.3, 0.0), trench(degrees, outer - 0.2, 40.0)]
    loss = root_losses((0.0, 0.0), thick, works).proposed
    at_rest = outer - 0.2 <= thick.structural_radius_m + 1e-9
    # East of the tree the drain itself stands nearer than the limit's line.
    assert loss.severed_pct == pytest.approx(10.0, abs=1e-3) or at_rest
    notes = [c.code for c in cut.notes]
    assert "nearest.works_loose" in notes
    assert "nearest.others_as_recorded" in notes


def test_a_level_that_nearer_works_would_lose_has_no_outer_line() -> None:
    # 10 % at 0.687 R = 3.30 m: the trench at 3.35 m is within it, 0.3 m nearer it is not.
    wide = line("D", "trench", (3.35, -30.0), (3.35, 30.0), offset_m=0.3)
    one = replace(tree(cm=(40.0,)), offset_m=0.0)
    cut = cut_of(survey(wide, tree=one))
    assert cut.keep["W"] is not None
    assert {span[1] for span in cut.keep_span.values()} == {None}
    assert "nearest.lost_if_nearer_keep" in [s.code for s in cut.notes]
    speaker = Speaker(load_catalogue(), Amounts("metric"))
    text = " ".join(speaker.texts(cut.notes))
    assert "D: placed within an error only" in text
    assert "exactly as recorded" in text
    (keep, _) = cut_lines(one, cut)
    assert keep.level == "keep"
    assert keep.outer is None
    assert keep.inner is not None


def test_the_line_is_closed_and_stands_at_its_distances() -> None:
    one = exact(offset_m=0.1)
    cut = cut_of(survey(tree=one))
    keep, keep_if = cut_lines(one, cut)
    trunk = shapely.Point(0, 0)
    for ring in (keep, keep_if):
        assert ring.inner is not None
        assert ring.outer is not None
        inner, middle, outer = (shapely.Polygon(r) for r in (ring.inner, ring.ring, ring.outer))
        assert inner.is_valid
        assert middle.is_valid
        assert outer.is_valid
        assert outer.contains(middle)
        assert middle.contains(inner)
        assert inner.contains(trunk)
        assert middle.exterior.distance(trunk) == pytest.approx(ring.least_m)
    # A regular octagon about a circle of radius d has an area of 8 (sqrt 2 - 1) d^2.
    area = shapely.Polygon(keep.ring).area
    assert area == pytest.approx(8 * (math.sqrt(2) - 1) * (cut.keep["N"] or 0) ** 2, rel=1e-4)


# --- slopes ------------------------------------------------------------------------------------


def test_tape_on_a_slope_by_hand() -> None:
    # By hand, as in docs/nearest-cut.md: 20 ft in plan on 38 % = 21.4 ft on the tape; 70 ft on
    # 35 % = 66.07 ft in plan. Along the contour the tape reads the plan distance.
    assert 20 * Slope(38.0, 180.0).times(0.0) == pytest.approx(21.4, abs=0.05)
    assert 66.07 * Slope(35.0, 90.0).times(270.0) == pytest.approx(70.0, abs=0.005)
    assert Slope(38.0, 180.0).times(90.0) == pytest.approx(1.0)
    # plan / cos(a) on a line at 60 degrees to the fall: tan a = 0.38 x cos 60 = 0.19.
    assert Slope(38.0, 0.0).times(60.0) == pytest.approx(1 / math.cos(math.atan(0.19)))
    assert Slope(38.0).times(90.0) == pytest.approx(Slope(38.0).steepest)


@pytest.mark.parametrize(("pct", "told"), [(None, False), (4.9, False), (5.0, True), (38.0, True)])
def test_a_slope_is_told_from_its_threshold_up(pct: float | None, told: bool) -> None:
    assert (slope_of(Site(pct, 180.0), thresholds()) is not None) == told


def test_tape_distances_follow_the_plane_of_the_ground() -> None:
    # Independent: the ground as a plane in space, z = -0.38 y, straight distances over it.
    cut = cut_of(survey(site=Site(slope_pct=38.0, slope_bearing_deg=0.0)))
    for k, name in enumerate(("N", "NE", "E", "SE", "S", "SW", "W", "NW")):
        b = math.radians(45.0 * k)
        plan = cut.keep[name]
        assert plan is not None
        x, y = plan * math.sin(b), plan * math.cos(b)
        assert plan * cut.tape_times[name] == pytest.approx(math.dist((0, 0, 0), (x, y, -0.38 * y)))
    flat = cut_of(survey())
    assert flat.tape_times == {}
    assert flat.keep == pytest.approx(cut.keep)  # zones and distances stay in plan


def test_the_zone_says_that_it_is_drawn_in_plan() -> None:
    impact = assess_all(survey(site=Site(slope_pct=38.0)))[0]
    assert impact.zone is not None
    speaker = Speaker(load_catalogue(), Amounts("metric"))
    (said,) = [speaker.text(s) for s in impact.zone.notes if s.code == "zone.on_slope"]
    # 4.8 m x sqrt(1 + 0.38^2) = 5.13 m.
    assert "4.80 m" in said
    assert "5.13 m" in said
    assert "drawn in plan" in said
