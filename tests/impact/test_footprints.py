"""What works cut, cover and occupy."""

import math

import numpy as np
import pytest

from bolewalk.impact.footprints import covers, footprint, severs
from bolewalk.impact.outlines import outline_of
from bolewalk.impact.settings import depth_share
from bolewalk.model.figures import Figure
from bolewalk.model.words import WORK_KINDS
from bolewalk.model.works import Part, Work

LINE = Part("line", ((0.0, 0.0), (10.0, 0.0)))


def work(kind: str, part: Part = LINE, **kw: object) -> Work:
    return Work("W", kind, (part,), **kw)  # type: ignore[arg-type]


def deep(m: float) -> Figure:
    return Figure(m, "drawn")


# docs/roots.md, kind by kind.
CUTS = {"pile", "trench", "excavation", "strip footing", "building", "drain", "utility", "wall"}
COVERS = {"slab", "fill", "paving", "roof", "access", "storage"}


@pytest.mark.parametrize("kind", WORK_KINDS)
def test_kinds(kind: str) -> None:
    assert severs(work(kind)) == (kind in CUTS)
    assert covers(work(kind)) == (kind in COVERS)


@pytest.mark.parametrize(
    ("given", "cuts", "lies_over"),
    [
        (work("building", founded="slab"), False, True),
        (work("building", founded="piles"), False, False),
        (work("paving", depth_m=deep(0.3)), True, False),
        (work("slab", depth_m=deep(0.3)), True, False),
        (work("access", depth_m=deep(0.3)), True, False),
        (work("fill", depth_m=deep(0.3)), False, True),
        (work("utility", made="trenchless", depth_m=deep(0.6)), False, False),
        (work("utility", made="trenchless", depth_m=deep(0.59)), True, False),
        (work("drain", made="trenchless"), False, False),  # missing depth counts as deep
        (work("utility", made="hand"), True, False),
        (work("pile", made="trenchless"), True, False),
    ],
)
def test_how_it_is_made_and_founded(given: Work, cuts: bool, lies_over: bool) -> None:
    assert (severs(given), covers(given)) == (cuts, lies_over)


def test_share_of_roots_above_a_depth() -> None:
    # Gale and Grigal's form with beta 0.966 (Jackson et al. 1996), by arithmetic.
    assert depth_share(0.15) == pytest.approx(1 - 0.966**15)
    assert depth_share(0.0) == 0.0
    assert depth_share(None) == 1.0
    with pytest.raises(ValueError, match="depth must be >= 0"):
        depth_share(-1.0)


def area(given: Work) -> float:
    f = footprint(given, (0.0, 0.0))
    return sum(p.area for p in f.polygons)


@pytest.mark.parametrize(
    ("turn_deg", "extra"),
    # By hand, width 1: two legs of 10 overlap in a kite of h^2 tan(turn/2) on the inside; the mitre
    # outside gives the same back, until it would reach past 5 half widths.
    [(0.0, 0.0), (30.0, 0.0), (90.0, 0.0), (150.0, 0.0)],
)
def test_mitred_corners(turn_deg: float, extra: float) -> None:
    t = math.radians(turn_deg)
    bent = Part("line", ((0, 0), (10, 0), (10 + 10 * math.cos(t), 10 * math.sin(t))))
    assert area(work("trench", bent, width_m=1.0)) == pytest.approx(20.0 + extra)


def test_a_long_mitre_is_cut_off() -> None:
    # By hand: a turn of 170 degrees wants a mitre of 1 / cos(85) = 11.5 half widths; at 5 a
    # triangle of height h (11.47 - 5) and half base h (11.47 - 5) / tan(85) is missing.
    t = math.radians(170.0)
    bent = Part("line", ((0, 0), (40, 0), (40 + 40 * math.cos(t), 40 * math.sin(t))))
    h, half = 0.25, math.radians(85.0)
    over = h * (1 / math.cos(half) - 5)
    whole = 2 * 40 * 2 * h
    missing = over * over * math.cos(half) / math.sin(half)
    assert area(work("trench", bent, width_m=2 * h)) == pytest.approx(whole - missing)


def test_a_line_that_closes_is_mitred_there() -> None:
    # By hand: a square ring of side 10 and width 1.
    ring = Part("line", ((0, 0), (10, 0), (10, 10), (0, 10), (0, 0)))
    assert area(work("strip footing", ring, width_m=1.0)) == pytest.approx(40.0)


def test_a_ring_that_crosses_itself_occupies_both_loops() -> None:
    bow = Part("polygon", ((0, 0), (4, 4), (4, 0), (0, 4)))
    assert area(work("excavation", bow)) == pytest.approx(8.0)


def test_holes_and_repeated_corners() -> None:
    ring = ((0, 0), (0, 0), (10, 0), (10, 10), (10, 10), (0, 10))
    hole = ((2, 2), (4, 2), (4, 4), (2, 4))
    assert area(work("excavation", Part("polygon", ring, (hole,)))) == pytest.approx(96.0)


def test_a_collapsed_polygon_is_a_line() -> None:
    f = footprint(work("excavation", Part("polygon", ((0, 0), (5, 0), (9, 0)))), (0.0, 0.0))
    assert f.polygons == ()
    assert len(f.lines) == 1


@pytest.mark.parametrize(
    ("given", "hint"),
    [
        (work("trench", width_m=-1.0), "must be finite and >= 0"),
        (work("pile", Part("point", ((0, 0),)), diameter_m=math.nan), "must be finite"),
        (work("trench", Part("line", ((0, 0), (math.nan, 1)))), "finite number"),
        (work("trench", Part("line", ())), "at least one point"),
    ],
)
def test_errors_say_what_to_do(given: Work, hint: str) -> None:
    with pytest.raises(ValueError, match=hint):
        footprint(given, (0.0, 0.0))


def outline_area(*works: Work) -> float:
    """Area inside an outline, by Green's theorem over its edges and arcs."""
    o = outline_of([footprint(w, (0.0, 0.0)) for w in works])
    ax, ay, bx, by = o.segments[:, :4].T
    x, y, r, a, b = o.arcs.T
    arcs = r * (x * (np.sin(b) - np.sin(a)) - y * (np.cos(b) - np.cos(a))) + r * r * (b - a)
    return float((ax * by - ay * bx).sum() + arcs.sum()) / 2


def disc(x: float, y: float, d: float) -> Work:
    return work("pile", Part("point", ((x, y),)), diameter_m=d)


def test_outlines_of_circles_and_polygons() -> None:
    box = work("excavation", Part("polygon", ((0, 0), (4, 0), (4, 4), (0, 4))))
    # By hand: apart, the same twice, half in, one in the other, wholly in the box.
    assert outline_area(box, disc(9, 9, 2)) == pytest.approx(16 + math.pi)
    assert outline_area(disc(9, 9, 2), disc(9, 9, 2)) == pytest.approx(math.pi)
    assert outline_area(box, disc(0, 2, 2)) == pytest.approx(16 + math.pi / 2)
    assert outline_area(box, disc(0, 0, 2)) == pytest.approx(16 + math.pi * 3 / 4)
    assert outline_area(disc(0, 0, 4), disc(0.5, 0, 1)) == pytest.approx(math.pi * 4)
    assert outline_area(box, disc(2, 2, 1)) == pytest.approx(16.0)
    # By hand: the lens of two unit circles a radius apart is 2 pi / 3 - sqrt(3) / 2.
    lens = 2 * math.pi / 3 - math.sqrt(3) / 2
    assert outline_area(disc(0, 0, 2), disc(1, 0, 2)) == pytest.approx(2 * math.pi - lens)


def test_margin_all_round() -> None:
    # By hand: a square pile of 1 m with 0.3 m: the square, four strips, one circle of corners.
    square = work("pile", Part("polygon", ((0, 0), (1, 0), (1, 1), (0, 1))))
    o = outline_of([footprint(square, (0.0, 0.0)).with_margin(0.3)])
    ax, ay, bx, by = o.segments[:, :4].T
    x, y, r, a, b = o.arcs.T
    arcs = r * (x * (np.sin(b) - np.sin(a)) - y * (np.cos(b) - np.cos(a))) + r * r * (b - a)
    whole = float((ax * by - ay * bx).sum() + arcs.sum()) / 2
    assert whole == pytest.approx(1 + 4 * 0.3 + math.pi * 0.09)
