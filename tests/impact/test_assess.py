"""Whole trees against whole surveys: worked scenarios, and what stays the same."""

import math
from dataclasses import replace
from datetime import date

import pytest

from bolewalk.impact.assess import assess_all, assess_tree, site_of, subject_of, verdicts_only
from bolewalk.model.figures import Figure
from bolewalk.model.survey import Method, Survey
from bolewalk.model.trees import Species
from bolewalk.trees.growth import project

from .hands import FT, box, crown, line, pile, segment_pct, tree

DEEP = Figure(1.0, "drawn")


def survey(trees, works=(), method="inch-foot", **kw) -> Survey:
    return Survey(
        "Orrel house", date(2026, 5, 12), "imperial", "opinion", Method(method, **kw),
        trees=tuple(trees), works=tuple(works),
    )  # fmt: skip


def patio(cut_ft: float, **kw):
    """A dig right across the zone, its near edge so many feet east of the trunk."""
    return box(
        "D1", "excavation", (cut_ft * FT, -60), (90, 60), depth_m=Figure(0.15, "drawn"), **kw
    )


@pytest.mark.parametrize(("inches", "pct"), [((14.0,), 28), ((9.75,), 19), ((8.2,), 14)])
def test_patio_at_five_feet(inches, pct) -> None:
    # Circle segments, to whole percents: 28, 19 and 14 % for zones of 14, 9.75 and 8.2 ft.
    one = tree(cm=tuple(v * 2.54 for v in inches))
    impact = assess_tree(one, survey([one], [patio(5.0)]))
    assert impact.zone is not None
    assert impact.roots is not None
    assert impact.zone.radius_m == pytest.approx(inches[0] * FT)
    assert impact.roots.proposed.severed_pct == pytest.approx(pct, abs=0.5)
    assert impact.roots.proposed.severed_pct == pytest.approx(
        segment_pct(5.0 / inches[0]), abs=1e-6
    )


def test_stems_leave_the_verdict_open_and_ask_which_rule_counts() -> None:
    # At 6.5 ft the equal-area stem (8.2 in) loses 5 %, the half rule (9.75 in) 11 %; under the sum
    # (14 in) the cut comes inside the structural radius of 7 ft (AS 4970 formula).
    one = tree(cm=tuple(v * 2.54 for v in (5.5, 4.5, 4.0)))
    impact = assess_tree(one, survey([one], [patio(6.5)]))
    assert impact.verdict is not None
    (q,) = impact.questions
    assert q.fact == "T1.diameter"
    assert [a.verdict for a in q.answers] == ["keep", "keep_if", "redesign"]
    assert impact.verdict.now == "undecided"
    # The patio's drain lies out of reach: it cannot flip the verdict and is not asked.
    drain = line("D2", "drain", (40, -60), (40, 60), present="unknown")
    again = assess_tree(one, survey([one], [patio(6.5), drain]))
    assert [q.fact for q in again.questions] == ["T1.diameter"]


def test_path_edge_inside_three_trunks() -> None:
    one = tree(cm=(26 * 2.54,))
    impact = assess_tree(one, survey([one], [patio(5.0)]))
    assert impact.verdict is not None
    told = {s.code: dict(s.values) for s in impact.verdict.because}
    assert told["verdict.inside_stability_floor"]["times"] == "2.3"
    assert impact.verdict.now == "redesign"


def test_fill_over_a_third_of_an_oak() -> None:
    # Zone 34 ft, 3,632 sq ft; fill over 35 % of it: the segment at distance k with share 0.35.
    one = tree(cm=(34 * 2.54,), species=Species("Quercus agrifolia", "coast live oak", "oak"))
    low, high = 0.0, 1.0
    for _ in range(60):
        k = (low + high) / 2
        low, high = (k, high) if segment_pct(k) > 35.0 else (low, k)
    radius = 34 * FT
    fill = box("F1", "fill", (low * radius, -60), (90, 60), phase="existing")
    impact = assess_tree(one, survey([one], [fill]))
    assert impact.zone is not None
    assert impact.roots is not None
    assert impact.verdict is not None
    assert impact.zone.area_m2 / FT**2 == pytest.approx(3632, abs=0.5)
    assert impact.roots.proposed.covered_pct == pytest.approx(35.0, abs=1e-6)
    assert impact.roots.proposed.severed_pct == 0.0
    assert impact.verdict.now == "keep_if"


def test_faces_at_half_the_radius_piles_one_side_both_sides() -> None:
    one = tree(cm=(60.0,))
    r = 12 * 0.6
    east = line("W1", "trench", (r / 2, -60), (r / 2, 60), depth_m=DEEP)
    west = line("W2", "trench", (-r / 2, -60), (-r / 2, 60), depth_m=DEEP)
    row = [pile(f"P{i}", (r / 2 + 0.2, -2.0 + 4 * i), made="bored") for i in range(2)]
    verdicts = []
    for works in (row, [east], [east, west]):
        impact = assess_tree(one, survey([one], works, "as4970-2009"))
        assert impact.verdict is not None
        verdicts.append(impact.verdict.now)
    assert verdicts == ["keep", "keep_if", "redesign"]


def test_trees_come_in_file_order_and_those_not_located_say_what_is_missing() -> None:
    trees = [
        tree("T9"),
        tree("T1", x_m=None, y_m=None),
        tree("T5", cm=(), x_m=3.0, y_m=3.0),
    ]
    found = assess_all(survey(trees, [patio(5.0)]))
    assert [i.tree for i in found] == ["T9", "T1", "T5"]
    assert found[0].verdict is not None
    for i, code in ((1, "missing.position"), (2, "missing.trunk")):
        assert found[i].roots is None
        assert found[i].verdict is None
        assert code in [s.code for s in found[i].missing]
    assert found[1].zone is not None


def test_only_what_is_missing_of_a_crown_is_named() -> None:
    known = {"height_m": Figure(12.0, "measured"), "crown": crown(4.0)}
    for more, codes in (
        ({}, ["missing.crown_base"]),
        ({"crown_base_m": Figure(2.0, "measured")}, []),
        ({"crown_base_m": Figure(13.0, "measured")}, ["missing.crown_fits"]),
    ):
        (impact,) = assess_all(survey([tree(**known, **more)]))
        assert [s.code for s in impact.missing] == codes


def test_no_works_at_all() -> None:
    (impact,) = assess_all(survey([tree()]))
    assert impact.verdict is not None
    assert (impact.verdict.now, impact.verdict.with_later) == ("keep", "keep")
    assert impact.questions == impact.not_needed == impact.defaults == ()


def _court() -> Survey:
    trees = [
        tree(
            f"T{i}", cm=(40.0 + i,), x_m=7.0 * i, y_m=(i % 3) * 4.0,
            height_m=Figure(12.0, "measured"), crown_base_m=Figure(2.0, "measured"),
            crown=crown(4.0),
        )
        for i in range(6)
    ]  # fmt: skip
    works = [
        line("W1", "trench", (-9, 2.7), (60, 2.9), width_m=0.5, depth_m=DEEP, drawing="Plan, B"),
        *[pile(f"P{i}", (3.0 * i, 6.0), made="hand") for i in range(5)],
        box("R1", "roof", (0, 7), (12, 12), low_m=3.0, high_m=4.0),
        box("B2", "building", (20, -9), (30, -1), phase="possible later", depth_m=DEEP, high_m=5.0),
    ]
    return survey(trees, works, "as4970-2009")


def test_one_tree_reads_as_in_the_whole_and_the_same_every_time() -> None:
    s = _court()
    whole = assess_all(s)
    assert assess_all(s) == whole
    assert [assess_tree(t, s) for t in s.trees] == list(whole)


def test_fast_verdicts_are_those_of_the_facts_as_recorded() -> None:
    s = _court()
    fast = verdicts_only([subject_of(t, s.method) for t in s.trees], site_of(s))
    for impact, found in zip(assess_all(s), fast, strict=True):
        assert found is not None
        assert impact.verdict is not None
        assert found[0] == impact.roots
        assert found[1].now == impact.verdict.now
        assert found[1].because == impact.verdict.because


def test_dragging_a_pile_is_as_drawing_it_anew() -> None:
    s = _court()
    moved = pile("P0", (0.4, 1.0), made="bored")
    before = site_of(s)
    site = before.replaced(1, moved)
    afresh = replace(s, works=(s.works[0], moved, *s.works[2:]))
    subjects = [subject_of(t, s.method) for t in s.trees]
    whole = verdicts_only(subjects, site_of(afresh))
    assert verdicts_only(subjects, site) == whole
    # Judged anew only where the pile was or is in reach.
    last = verdicts_only(subjects, before)
    quick = verdicts_only(subjects, site, last=last, moved=(s.works[1], moved))
    changed = [i for i, (a, b) in enumerate(zip(last, quick, strict=True)) if a is not b]
    assert 0 < len(changed) < len(subjects)
    for a, b, subject in zip(quick, whole, subjects, strict=True):
        assert a is not None
        assert b is not None
        assert subject.zone is not None
        assert a[1] == b[1]
        for x, y in ((a[0].proposed, b[0].proposed), (a[0].with_later, b[0].with_later)):
            assert x.severed_pct == y.severed_pct
            assert x.nearest_cut_m is not None
            assert x.nearest_cut_m == y.nearest_cut_m or x.nearest_cut_m > subject.zone.radius_m


def test_drawing_is_named_and_defaults_are_listed() -> None:
    one = tree()
    works = [
        line("W1", "trench", (4.0, -9), (4.0, 9), drawing="Site plan, revision B"),
        *[pile(f"P{i}", (-3.0, float(i))) for i in range(3)],
    ]
    impact = assess_tree(one, survey([one], works, "as4970-2009"))
    assert impact.verdict is not None
    assert impact.verdict.drawings == ("Site plan, revision B",)
    told = {s.code: dict(s.values) for s in impact.defaults}
    assert told["default.depth_deep"]["works"] == "W1"
    assert told["default.pile_bored"]["works"] == "P0 to P2"
    assert "default.tolerance_unknown" in told


def test_crown_in_a_roof_keeps_on_conditions_and_growth_closes_a_gap() -> None:
    one = tree(
        species=Species("Quercus agrifolia", "coast live oak", "live oak"),
        height_m=Figure(9.0, "measured"), crown_base_m=Figure(2.0, "measured"), crown=crown(3.0),
    )  # fmt: skip
    half = box("R1", "roof", (0, -20), (20, 20), low_m=0.0, high_m=30.0)
    impact = assess_tree(one, survey([one], [half], "as4970-2009"))
    assert impact.crown is not None
    assert impact.verdict is not None
    assert impact.crown.removed_pct == pytest.approx(50.0, abs=1e-3)
    assert impact.crown.volume_m3 == pytest.approx(math.pi * 9 * 7 * 2 / 3)
    assert impact.verdict.now == "keep_if"
    near = box("R1", "roof", (3.5, -20), (20, 20), low_m=0.0, high_m=30.0)
    grown = assess_tree(one, survey([one], [near], "as4970-2009", growth_region="Inland Empire"))
    assert grown.crown is not None
    assert grown.crown.clearance_m == pytest.approx(0.5, abs=5e-3)
    # The published crown, scaled to 3 m today, first passes 3.5 m in that year.
    path = project(
        "Quercus agrifolia", "Inland Empire", years=40, trunk_cm=50.0, height_m=9.0,
        crown_radius_m=3.0,
    )  # fmt: skip
    assert path is not None
    passed = [k for k, r in enumerate(path.crown_radius_m) if r > 3.5]
    assert grown.crown.clash_in_years == passed[0] > 1


def test_a_cut_past_a_palm_s_root_zone_but_inside_its_structural_radius_is_judged() -> None:
    # By hand: crown 5 ft + 1 m = 8.28 ft of root zone; AS 4970 formula at 45 in, 1.143 m:
    # 0.64 x (1.143 x 50)^0.42 = 3.50 m = 11.5 ft. A trench at 9 ft takes no share of the zone.
    palm = tree(cm=(45 * 2.54,), form="palm", crown=crown(5 * FT))
    trench = line("D1", "trench", (9 * FT, -60), (9 * FT, 60), depth_m=DEEP)
    site = survey([palm], [trench])
    impact = assess_tree(palm, site)
    assert impact.zone is not None
    assert impact.zone.radius_m < 9 * FT < impact.zone.structural_radius_m
    assert impact.verdict is not None
    assert impact.verdict.now == "redesign"
    away = replace(trench, parts=line("D1", "trench", (40, -60), (40, 60)).parts)
    subject = subject_of(palm, site.method)
    before = verdicts_only([subject], site_of(survey([palm], [away])))
    (moved,) = verdicts_only([subject], site_of(site), last=before, moved=[away, trench])
    assert moved is not None
    assert moved[1].now == "redesign"
