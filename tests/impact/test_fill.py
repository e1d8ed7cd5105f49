"""Fill over roots, sides lost and kept, and what stands there without a height."""

import math
from datetime import date
from typing import Any

import pytest

from bolewalk.impact.assess import assess_all
from bolewalk.impact.results import TreeImpact
from bolewalk.model.figures import Figure
from bolewalk.model.survey import Method, RootZoneMethod, Survey
from bolewalk.model.trees import Tree
from bolewalk.model.works import Part, Work
from bolewalk.papers.amounts import Amounts
from bolewalk.papers.language import Speaker, load_catalogue

from .hands import FT, box, crown, line, pile, tree

IN = 0.0254
YD3 = 0.9144**3


def judged(one: Tree, *works: Work, method: RootZoneMethod = "inch-foot") -> TreeImpact:
    s = Survey(
        "Thistle yard", date(2026, 5, 12), "imperial", "opinion", Method(method),
        trees=(one,), works=works,
    )  # fmt: skip
    return assess_all(s)[0]


def texts(impact: TreeImpact) -> str:
    assert impact.verdict is not None
    speaker = Speaker(load_catalogue(), Amounts("imperial"))
    return " ".join(speaker.texts((*impact.verdict.because, *impact.verdict.conditions)))


def wedge(share: float, radius: float, depth: float | None, **kw: Any) -> Work:
    """A sector of a share of the turn about the trunk, drawn past the zone's edge."""
    n = 360
    turns = [2 * math.pi * share * k / n for k in range(n + 1)]
    ring = ((0.0, 0.0), *((3 * radius * math.sin(b), 3 * radius * math.cos(b)) for b in turns))
    deep = None if depth is None else Figure(depth, "drawn")
    return Work("F1", "fill", (Part("polygon", ring),), depth_m=deep, **kw)


def test_fill_over_a_protected_oak() -> None:
    # By hand: 34 in, zone 34 ft, 3,632 sq ft; 35 % = 1,271 sq ft x 14 in = 55 cu yd in place,
    # about 69 loose (25 % swell), 7 ten-yard loads.
    oak = tree(cm=(34 * 2.54,))
    found = judged(oak, wedge(0.35, 34 * FT, 14 * IN, phase="existing"))
    assert found.zone is not None
    assert found.zone.area_m2 / FT**2 == pytest.approx(3632, abs=0.5)
    fill = found.fill
    assert fill is not None
    assert fill.area_m2 / FT**2 == pytest.approx(1271, abs=0.5)
    assert fill.in_place_m3 is not None
    assert fill.loose_m3 is not None
    assert fill.in_place_m3 / YD3 == pytest.approx(55, abs=0.5)
    assert fill.loose_m3 / YD3 == pytest.approx(69, abs=0.5)
    assert fill.loads == 7
    assert fill.at_trunk == ("F1",)
    text = texts(found)
    assert "54.9 cu yd in place" in text
    assert "7 truck loads" in text
    # Two harms, two sentences; and the near miss is asked.
    assert "lies against the trunk" in text
    assert "if the soil was ever lower here" in text


def test_fill_that_laps_counts_once_the_thicker_on_top() -> None:
    # By hand: half the disc 1 m thick, all of it 0.4 m: R^2 pi (0.5 x 1 + 0.5 x 0.4).
    one = tree(cm=(100.0,))
    radius = 12.0
    half = wedge(0.5, radius, 1.0)
    whole = box("F2", "fill", (-40, -40), (40, 40), depth_m=Figure(0.4, "drawn"))
    fill = judged(one, whole, half, method="as4970-2009").fill
    assert fill is not None
    assert fill.in_place_m3 == pytest.approx(math.pi * radius**2 * 0.7, rel=1e-4)
    untold = judged(one, wedge(0.5, radius, None), method="as4970-2009").fill
    assert untold is not None
    assert untold.in_place_m3 is None
    assert judged(one, method="as4970-2009").fill is None


def test_fill_over_a_zone_that_follows_the_crown() -> None:
    # By hand: a crown of 4 m all round, 1.5 m more (DIN 18920): 5.5 m, a polygon of 360 corners.
    one = tree(cm=(40.0,), crown=crown(4.0))
    over = box("F1", "fill", (-40, -40), (0, 40), depth_m=Figure(0.5, "drawn"))
    fill = judged(one, over, method="din18920").fill
    assert fill is not None
    half = 180 * 5.5**2 * math.sin(math.radians(1.0)) / 2
    assert fill.area_m2 == pytest.approx(half, rel=1e-6)
    assert fill.in_place_m3 == pytest.approx(half * 0.5, rel=1e-6)


def test_piles_a_trench_and_two_trenches_are_three_verdicts() -> None:
    # Trench faces at half the radius: one side 19.55 % (circle segment), two sides 39.1 %.
    one = tree(cm=(50.0,), tolerance="moderate")  # 6 m by AS 4970
    deep = Figure(1.0, "drawn")
    piles = [pile(f"P{k}", (3.2, -4.0 + 2 * k), made="hand") for k in range(5)]
    east = line("W1", "trench", (3.25, -40), (3.25, 40), width_m=0.5, depth_m=deep)
    west = line("W2", "trench", (-3.25, -40), (-3.25, 40), width_m=0.5, depth_m=deep)
    verdicts = [
        judged(one, *works, method="as4970-2009").verdict for works in (piles, [east], [east, west])
    ]
    assert [v.now for v in verdicts if v] == ["keep", "keep_if", "redesign"]
    # The half that must keep the tree alive is named and kept clear of anything later.
    conditions = texts(judged(one, east, method="as4970-2009"))
    assert "No later works are allowed on the side centred on W, 270°" in conditions


@pytest.mark.parametrize("kind", ["roof", "building", "wall", "wire"])
def test_what_stands_there_without_a_height_is_told(kind: Any) -> None:
    one = tree(
        cm=(50.0,), height_m=Figure(12, "measured"), crown_base_m=Figure(2, "measured"),
        crown=crown(5.0),
    )  # fmt: skip
    house = box("H", kind, (4, -3), (9, 3), phase="existing", founded="piles")
    told = [s.code for s in judged(one, house, method="as4970-2009").defaults]
    assert "default.existing_height" in told
    known = box("H", kind, (4, -3), (9, 3), phase="existing", founded="piles", high_m=5.0)
    told = [s.code for s in judged(one, known, method="as4970-2009").defaults]
    assert "default.existing_height" not in told
    far = box("H", kind, (6, -3), (9, 3), phase="existing", founded="piles")
    told = [s.code for s in judged(one, far, method="as4970-2009").defaults]
    assert "default.existing_height" not in told


def test_a_sliver_of_fill_is_not_told() -> None:
    # By hand: a strip 0.01 m deep into a zone of radius R has half a chord of sqrt(2 R x 0.01):
    # its area, 2/3 x chord x 0.01, is far below a square foot.
    oak = tree(cm=(34 * 2.54,))
    radius = 34 * FT
    far = radius - 0.01
    strip = Part("polygon", ((far, -20.0), (far + 5, -20.0), (far + 5, 20.0), (far, 20.0)))
    assert judged(oak, Work("F1", "fill", (strip,))).fill is None
    nearer = Part("polygon", ((far - 1, -20.0), (far + 5, -20.0), (far + 5, 20.0), (far - 1, 20.0)))
    assert judged(oak, Work("F1", "fill", (nearer,))).fill is not None
