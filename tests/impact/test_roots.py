"""Root loss against published geometry, counted rays, polygon overlay and 50-digit arithmetic."""

import json
import math
from dataclasses import fields, replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bench.roots import exact_severed_pct
from bolewalk.impact.results import COMPASS, RootLoss
from bolewalk.impact.roots import (
    Scene,
    root_losses,
    root_losses_cases,
    root_losses_many,
    root_losses_moved,
)  # fmt: skip
from bolewalk.model.figures import Figure
from bolewalk.model.works import Part, Work

from .slow import by_polygons, disc_zone, half_shares, lobed_zone, random_work

CASES = json.loads(
    (Path(__file__).parents[1] / "data" / "impact" / "roots_cases.json").read_text("utf-8")
)["cases"]
# The tolerances the file states: 0.01 overlap and severed, 0.05 sectors and best half, 0.1 by
# depth, 0.01 lengths, 0.1 degrees.
WITHIN = {
    "overlap_pct": 0.01, "severed_pct": 0.01, "severed_by_depth_pct": 0.1, "nearest_cut": 0.01,
    "widest_clear_arc_deg": 0.1, "best_half_severed_pct": 0.05, "best_half_bearing": 0.1,
}  # fmt: skip


def trench_at(x: float, half: float = 40.0, **kw: object) -> Work:
    part = Part("line", ((x, -half), (x, half)))
    return Work("T", "trench", (part,), **kw)  # type: ignore[arg-type]


def given_work(name: str, w: dict) -> Work:
    if "line" in w:
        part = Part("line", tuple(map(tuple, w["line"])))
    elif "at" in w:
        part = Part("point", (tuple(w["at"]),))
    else:
        part = Part("polygon", tuple(map(tuple, w["polygon"])))
    return Work(
        name, w["kind"], (part,), Figure(w["depth"], "drawn"), width_m=w.get("width", 0.0),
        diameter_m=w.get("diameter"),
    )  # fmt: skip


@pytest.mark.parametrize("case", CASES, ids=[c["name"] for c in CASES])
def test_counted_rays(case: dict) -> None:
    # Independent: 720,000 rays, overlay and a polar grid (the file's own note).
    works = [given_work(f"W{i}", w) for i, w in enumerate(case["works"])]
    got = root_losses(tuple(case["centre"]), disc_zone(case["radius"]), works).proposed
    for key, expected in case["expect"].items():
        if key == "sectors_pct":
            assert got.sectors_pct == pytest.approx(expected, abs=0.05)
        else:
            name = "nearest_cut_m" if key == "nearest_cut" else key
            assert getattr(got, name) == pytest.approx(expected, abs=WITHIN[key]), key


@pytest.mark.parametrize(
    ("k", "pct"),
    # Circle segment (acos k - k sqrt(1 - k^2)) / pi, to 0.01.
    [(0.25, 34.25), (1 / 3, 29.18), (0.5, 19.55), (0.6, 14.24), (0.75, 7.21), (0.9, 1.87),
     # Its inverse to four digits of k.
     (0.8054, 5.0), (0.6870, 10.0), (0.5851, 15.0), (0.4919, 20.0), (0.4040, 25.0), (0.3197, 30.0)],
)  # fmt: skip
def test_straight_cut_across(k: float, pct: float) -> None:
    zone = disc_zone(7.0)
    one = root_losses((0.0, 0.0), zone, [trench_at(7 * k)]).proposed
    assert one.severed_pct == pytest.approx(pct, abs=0.006)
    # By hand: the segment itself.
    exact = 100 * (math.acos(k) - k * math.sqrt(1 - k * k)) / math.pi
    assert one.severed_pct == pytest.approx(exact, abs=1e-11)
    # The same cut on both sides takes twice as much.
    both = [trench_at(7 * k), trench_at(-7 * k)]
    assert root_losses((0.0, 0.0), zone, both).proposed.severed_pct == pytest.approx(2 * exact)
    # By hand: the half turned away loses nothing; with both, no half is better than another.
    assert one.best_half_severed_pct == 0.0
    assert one.best_half_bearing == pytest.approx(270.0)
    assert root_losses((0.0, 0.0), zone, both).proposed.best_half_bearing is None


def sums(loss: RootLoss) -> dict[str, float]:
    return {
        "overlap": loss.overlap_pct, "severed": loss.severed_pct,
        "by_depth": loss.severed_by_depth_pct, "covered": loss.covered_pct,
        "dodged": loss.severed_pct_range[0], "blind": loss.severed_pct_range[1],
    }  # fmt: skip


@pytest.mark.parametrize("block", range(10))
def test_overlay_of_polygons_on_500_scenes(block: int) -> None:
    # Independent: shadows as polygons, 1,024-gons for circles, so good to about 0.005.
    for seed in range(50 * block, 50 * block + 50):
        rng = np.random.default_rng(seed)
        radius = float(rng.uniform(3, 9))
        zone = lobed_zone(radius) if seed % 5 == 4 else disc_zone(radius)
        works = [random_work(rng, f"W{i}") for i in range(int(rng.integers(1, 8)))]
        got = root_losses((0.0, 0.0), zone, works).with_later
        want = by_polygons(works, zone)
        sectors = want.pop("sectors")
        assert sums(got) == pytest.approx(want, abs=0.01), seed
        assert list(got.sectors_pct.values()) == pytest.approx(sectors, abs=0.02), seed


@pytest.mark.parametrize("seed", range(25))
def test_best_half_against_halves_counted_round(seed: int) -> None:
    # Independent: every half-disc in steps of 0.1 degrees, from overlay.
    rng = np.random.default_rng(1000 + seed)
    zone = lobed_zone(6.0) if seed % 3 == 2 else disc_zone(6.0)
    works = [random_work(rng, f"W{i}") for i in range(int(rng.integers(3, 9)))]
    got = root_losses((0.0, 0.0), zone, works).with_later
    shares = half_shares(works, zone)
    assert got.best_half_severed_pct == pytest.approx(shares.min(), abs=0.03)
    if got.best_half_bearing is None:
        assert shares.max() - shares.min() < 0.02
    else:
        first = round((got.best_half_bearing - 90.0) * 10) % 3600
        assert shares[first] == pytest.approx(shares.min(), abs=0.1)


@pytest.mark.parametrize("seed", range(12))
def test_50_digit_arithmetic(seed: int) -> None:
    # Independent: bench/roots.py integrates the nearest edge in 50 digits with other formulas.
    rng = np.random.default_rng(seed)
    works = [
        replace(random_work(rng, f"W{i}"), made=None, phase="proposed")
        for i in range(int(rng.integers(2, 6)))
    ]
    works = [w for w in works if w.kind != "paving" and (w.width_m > 0 or w.kind != "trench")]
    scene = Scene(works, origin=(0.0, 0.0))
    got = root_losses((0.0, 0.0), disc_zone(6.0), scene).proposed.severed_pct
    exact = float(exact_severed_pct((0.0, 0.0), 6.0, scene.footprints)) if works else 0.0
    assert got == 100.0 or got == pytest.approx(exact, abs=1e-9)


scenes = st.integers(0, 2**32 - 1).map(np.random.default_rng)


@given(scenes)
@settings(max_examples=60, deadline=None)
def test_bounds_and_order(rng: np.random.Generator) -> None:
    zone = disc_zone(float(rng.uniform(3, 9)))
    works = [random_work(rng, f"W{i}") for i in range(int(rng.integers(1, 7)))]
    three = root_losses((0.0, 0.0), zone, works)
    for one in (three.existing, three.proposed, three.with_later):
        assert -1e-9 <= one.overlap_pct <= one.severed_pct + 1e-9 <= 100 + 2e-9
        assert one.severed_by_depth_pct <= one.severed_pct + 1e-9
        if not any(w.kind == "pile" for w in works):
            assert one.severed_pct_range == (one.severed_pct, one.severed_pct)
        assert one.best_half_severed_pct <= one.severed_pct + 1e-9
        assert one.covered_pct + one.severed_pct <= 100 + 1e-9
        # Sectors of a disc are equal: their mean is the whole.
        mean = sum(one.sectors_pct.values()) / 8
        assert mean == pytest.approx(one.severed_pct, abs=1e-9)
    assert three.existing.severed_pct <= three.proposed.severed_pct + 1e-9
    assert three.proposed.severed_pct <= three.with_later.severed_pct + 1e-9
    # Adding works never gives roots back.
    fewer = root_losses((0.0, 0.0), zone, works[:-1]).with_later
    assert fewer.severed_pct <= three.with_later.severed_pct + 1e-9
    assert fewer.severed_by_depth_pct <= three.with_later.severed_by_depth_pct + 1e-9
    assert fewer.best_half_severed_pct <= three.with_later.best_half_severed_pct + 1e-9


def turned(work: Work, degrees: float, shift: tuple[float, float]) -> Work:
    """A work turned clockwise about (0, 0), then shifted."""
    c, s = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
    parts = tuple(
        Part(
            p.shape, tuple((c * x + s * y + shift[0], c * y - s * x + shift[1]) for x, y in p.ring)
        )
        for p in work.parts
    )
    return replace(work, parts=parts)


@given(scenes)
@settings(max_examples=40, deadline=None)
def test_large_coordinates_change_nothing(rng: np.random.Generator) -> None:
    zone = disc_zone(float(rng.uniform(3, 9)))
    works = [random_work(rng, f"W{i}") for i in range(int(rng.integers(1, 6)))]
    far = (5_000_000.0, 4_000_000.0)
    # Rounded to what such coordinates can hold, so that both sides have the very same site.
    works = [turned(w, 0.0, far) for w in works]
    near = [turned(w, 0.0, (-far[0], -far[1])) for w in works]
    here = root_losses((0.0, 0.0), zone, near).with_later
    there = root_losses(far, zone, works).with_later
    assert sums(there) == pytest.approx(sums(here), abs=1e-6)
    assert there.sectors_pct == pytest.approx(here.sectors_pct, abs=1e-6)
    assert there.best_half_severed_pct == pytest.approx(here.best_half_severed_pct, abs=1e-6)


@given(scenes, st.integers(1, 7))
@settings(max_examples=40, deadline=None)
def test_turning_the_site_turns_the_sectors(rng: np.random.Generator, eighths: int) -> None:
    zone = disc_zone(float(rng.uniform(3, 9)))
    works = [random_work(rng, f"W{i}") for i in range(int(rng.integers(1, 6)))]
    still = root_losses((0.0, 0.0), zone, works).with_later
    spun = [turned(w, 45.0 * eighths, (0.0, 0.0)) for w in works]
    moved = root_losses((0.0, 0.0), zone, spun).with_later
    assert sums(moved) == pytest.approx(sums(still), abs=1e-6)
    for k, name in enumerate(COMPASS):
        there = moved.sectors_pct[COMPASS[(k + eighths) % 8]]
        assert there == pytest.approx(still.sectors_pct[name], abs=1e-6)
    assert moved.best_half_severed_pct == pytest.approx(still.best_half_severed_pct, abs=1e-6)
    assert moved.widest_clear_arc_deg == pytest.approx(still.widest_clear_arc_deg, abs=1e-6)


def pile(x: float, y: float = 0.0, **kw: object) -> Work:
    given_ = {"diameter_m": 0.4, **kw}
    return Work("P", "pile", (Part("point", ((x, y),)),), **given_)  # type: ignore[arg-type]


def test_dodged_pile_by_hand() -> None:
    zone = disc_zone(6.0)
    dodged = root_losses((0.0, 0.0), zone, [pile(3.0, made="hand")]).proposed
    # By hand: a patch of radius 0.2 + 0.3 m out of 36 pi; the bare pile for overlap and distance.
    assert dodged.severed_pct == pytest.approx(100 * 0.25 / 36)
    assert dodged.overlap_pct == pytest.approx(100 * 0.04 / 36)
    assert dodged.nearest_cut_m == pytest.approx(2.8)
    assert dodged.widest_clear_arc_deg == 360.0
    # By hand: the shadow of a circle of radius q at D: tangents at asin(q / D), of length
    # T = sqrt(D^2 - q^2); sector less kite plus the circle's far part.
    q, d = 0.2, 3.0
    beta = math.asin(q / d)
    near = d * d * math.sin(beta) * math.cos(beta) - q * q * (math.pi / 2 - beta)
    shadow = 100 * (36 * beta - near) / (36 * math.pi)
    assert dodged.severed_pct_range == pytest.approx((100 * 0.25 / 36, shadow), abs=1e-10)
    bored = root_losses((0.0, 0.0), zone, [pile(3.0, made="bored")]).proposed
    assert bored.severed_pct == pytest.approx(shadow, abs=1e-10)
    assert bored.severed_pct_range == pytest.approx(dodged.severed_pct_range)
    # A pile without `made` counts as blind.
    assert root_losses((0.0, 0.0), zone, [pile(3.0)]).proposed == bored


def test_patches_count_once() -> None:
    zone = disc_zone(6.0)
    trench = trench_at(3.0)
    alone = root_losses((0.0, 0.0), zone, [trench]).proposed.severed_pct
    # Behind the trench all is lost already.
    behind = root_losses((0.0, 0.0), zone, [trench, pile(4.5, made="air")]).proposed
    assert behind.severed_pct == pytest.approx(alone, abs=1e-10)
    # Half behind, by hand: a half disc of radius 0.5 m more.
    astride = root_losses((0.0, 0.0), zone, [trench, pile(3.0, made="air")]).proposed
    assert astride.severed_pct == pytest.approx(alone + 100 * 0.125 / 36, abs=1e-10)
    # The same pile drawn twice is one pile.
    twice = root_losses((0.0, 0.0), zone, [pile(-3.0, made="air")] * 2).proposed
    assert twice.severed_pct == pytest.approx(100 * 0.25 / 36, abs=1e-10)
    # Paving over a patch: what is severed is not covered.
    slab = Work("S", "paving", (Part("polygon", ((-5, -2), (-1, -2), (-1, 2), (-5, 2))),))
    paved = root_losses((0.0, 0.0), zone, [slab, pile(-3.0, made="air")]).proposed
    bare = root_losses((0.0, 0.0), zone, [slab]).proposed
    assert bare.severed_pct == 0.0
    assert paved.covered_pct == pytest.approx(bare.covered_pct - 100 * 0.25 / 36, abs=1e-9)


@pytest.mark.parametrize(
    ("at", "severed", "nearest"),
    [
        ((0.0, 2.0), 50.0, 0.0),  # by hand: on an edge is outside, half the bearings are cut
        ((0.0, 0.0), 25.0, 0.0),  # on a square corner: a quarter
        ((0.5, 2.0), 100.0, 0.0),
        ((-1e-9, 2.0), 50.0, 0.0),  # nearer to the edge than grid coordinates can tell
    ],
)
def test_trunk_on_an_edge(at: tuple[float, float], severed: float, nearest: float) -> None:
    box = Work("E", "excavation", (Part("polygon", ((0, 0), (40, 0), (40, 40), (0, 40))),))
    got = root_losses(at, disc_zone(1.5), [box]).proposed
    assert got.severed_pct == pytest.approx(severed, abs=1e-5)
    assert got.overlap_pct == pytest.approx(
        {50.0: 50.0, 25.0: 25.0, 100.0: got.overlap_pct}[severed], abs=1e-5
    )
    assert got.nearest_cut_m == pytest.approx(nearest, abs=1e-6)


def test_trunk_in_a_hole_of_an_excavation() -> None:
    # By hand: a moat 2 m out all round severs everything beyond the square.
    ring = ((-9, -9), (9, -9), (9, 9), (-9, 9))
    hole = ((-2, -2), (2, -2), (2, 2), (-2, 2))
    moat = Work("E", "excavation", (Part("polygon", ring, (hole,)),))
    got = root_losses((0.0, 0.0), disc_zone(6.0), [moat]).proposed
    assert got.severed_pct == pytest.approx(100 - 100 * 16 / (36 * math.pi))
    assert got.overlap_pct == pytest.approx(got.severed_pct)
    assert got.widest_clear_arc_deg == 0.0
    # By hand: a square loses the same on every half through its centre.
    assert got.best_half_severed_pct == pytest.approx(got.severed_pct)
    assert got.best_half_bearing is None


def test_a_line_without_width_cuts() -> None:
    # By hand: the same chord, an area of nothing.
    got = root_losses((0.0, 0.0), disc_zone(6.0), [trench_at(3.0, width_m=0.0)]).proposed
    assert got.severed_pct == pytest.approx(19.5501109, abs=1e-6)
    assert got.overlap_pct == 0.0


def test_depth_is_counted_once_along_a_bearing() -> None:
    # By hand: 15 cm takes 1 - 0.966^15 of what lies beyond it, deep takes all.
    shallow = trench_at(3.0, depth_m=Figure(0.15, "drawn"))
    zone = disc_zone(6.0)
    a = root_losses((0.0, 0.0), zone, [shallow]).proposed
    assert a.severed_by_depth_pct == pytest.approx(19.5501109 * (1 - 0.966**15), abs=1e-6)
    b = root_losses((0.0, 0.0), zone, [shallow, trench_at(2.0)]).proposed
    assert b.severed_by_depth_pct == pytest.approx(b.severed_pct)


def test_phases_presence_and_no_works() -> None:
    zone = disc_zone(6.0)
    works = [
        trench_at(3.0, phase="existing"),
        trench_at(-3.0, phase="possible later"),
        replace(trench_at(1.0), present="no"),
        replace(trench_at(-3.0), present="unknown"),
    ]
    three = root_losses((0.0, 0.0), zone, works)
    assert three.existing.severed_pct == pytest.approx(19.5501109, abs=1e-6)
    assert three.proposed.severed_pct == pytest.approx(2 * 19.5501109, abs=1e-6)
    assert_same(three.with_later, three.proposed)
    nothing = root_losses((0.0, 0.0), zone, []).with_later
    assert nothing.nearest_cut_m is None
    assert (nothing.severed_pct, nothing.widest_clear_arc_deg) == (0.0, 360.0)
    assert nothing.best_half_bearing is None


def test_ten_thousand_corners() -> None:
    # By hand: a round excavation of 10,000 corners is a pile of that size, near enough.
    a = np.linspace(0, 2 * np.pi, 10_000, endpoint=False)
    ring = tuple(zip((4 + np.cos(a)).tolist(), np.sin(a).tolist(), strict=True))
    works = [Work("E", "excavation", (Part("polygon", ring),))]
    got = root_losses((0.0, 0.0), disc_zone(6.0), works).proposed
    same = root_losses((0.0, 0.0), disc_zone(6.0), [pile(4.0, diameter_m=2.0)]).proposed
    assert got.severed_pct == pytest.approx(same.severed_pct, abs=1e-5)
    assert got.overlap_pct == pytest.approx(same.overlap_pct, abs=1e-5)


def test_many_trees_cases_and_moved_works_agree() -> None:
    rng = np.random.default_rng(5)
    xy = rng.uniform(-15, 15, (30, 2))
    zones = [
        lobed_zone(r) if k % 6 == 0 else disc_zone(r) for k, r in enumerate(rng.uniform(2, 8, 30))
    ]
    works = [random_work(rng, f"W{i}", reach=18) for i in range(12)]
    scene = Scene(works)
    many = root_losses_many(xy, zones, scene)
    for k in (0, 7, 29):
        alone = root_losses(tuple(xy[k]), zones[k], works)
        assert_same(alone.with_later, many[k].with_later)
        assert_same(
            root_losses_cases(tuple(xy[k]), zones[k], [works])[0].existing, many[k].existing
        )
    at = next(i for i, w in enumerate(works) if w.kind == "pile")
    moved = scene.replaced(at, turned(works[at], 0.0, (3.0, -2.0)))
    after = root_losses_moved(many, xy, zones, scene, moved)
    fresh = root_losses_many(xy, zones, Scene(moved.works))
    assert after != many
    for a, b in zip(after, fresh, strict=True):
        assert_same(a.with_later, b.with_later)


def assert_same(a: RootLoss, b: RootLoss) -> None:
    for f in fields(RootLoss):
        assert getattr(a, f.name) == pytest.approx(getattr(b, f.name), abs=1e-7), f.name


def test_errors_say_what_to_do() -> None:
    zone = disc_zone(6.0)
    with pytest.raises(ValueError, match="give one zone a tree"):
        root_losses_many(np.zeros((2, 2)), [zone], [])
    with pytest.raises(ValueError, match="leave out trees not located"):
        root_losses((math.nan, 0.0), zone, [])
    with pytest.raises(ValueError, match=r"'P'.*finite number"):
        root_losses((0.0, 0.0), zone, [pile(math.inf)])
    with pytest.raises(ValueError, match=r"zone needs a radius"):
        root_losses((0.0, 0.0), replace(zone, radius_m=0.0), [])
