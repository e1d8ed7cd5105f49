"""A trunk in, on the rim of and beside works, by hand; and trees reckoned in several goes."""

import math
from dataclasses import fields

import numpy as np
import pytest

from bolewalk.impact import boxes, losses, sight
from bolewalk.impact.losses import LossTable, Stand, loss_tables, severed_pct
from bolewalk.impact.roots import Scene, root_losses, root_losses_many, zones_table
from bolewalk.model.figures import Figure

from .hands import box, line, pile
from .slow import disc_zone, lobed_zone, random_work

ROUND = [math.radians(k) for k in range(0, 360, 15)]


@pytest.mark.parametrize("bearing", ROUND)
def test_a_pile_around_the_trunk(bearing: float) -> None:
    # By hand: all roots lost; under the pile lie 0.6^2 of 6^2.
    at = (0.3 * math.sin(bearing), 0.3 * math.cos(bearing))
    got = root_losses((0.0, 0.0), disc_zone(6.0), [pile("P", at, 1.2)]).proposed
    assert got.severed_pct == pytest.approx(100.0)
    assert got.overlap_pct == pytest.approx(1.0)
    assert (got.nearest_cut_m, got.widest_clear_arc_deg) == (0.0, 0.0)


@pytest.mark.parametrize("bearing", ROUND)
def test_a_trunk_beside_a_pile_dug_by_hand(bearing: float) -> None:
    # By hand: the pile and 0.3 m around it, the trunk within; 0.5^2 of 6^2.
    at = (0.4 * math.sin(bearing), 0.4 * math.cos(bearing))
    dug = pile("P", at, 0.4, made="hand")
    got = root_losses((0.0, 0.0), disc_zone(6.0), [dug]).proposed
    assert got.severed_pct == pytest.approx(100 * 0.25 / 36)
    assert got.severed_pct_range[0] == pytest.approx(got.severed_pct)
    assert got.overlap_pct == pytest.approx(100 * 0.04 / 36)
    # With a floor over all the zone, the rest is covered.
    floor = box("S", "slab", (-9.0, -9.0), (9.0, 9.0))
    both = root_losses((0.0, 0.0), disc_zone(6.0), [floor, dug]).proposed
    assert both.covered_pct == pytest.approx(100 - 100 * 0.25 / 36)


@pytest.mark.parametrize("bearing", ROUND)
def test_a_trunk_on_the_rim_of_a_pile(bearing: float) -> None:
    # By hand: the tangent parts the bearings; on the pile's side all is lost from the trunk on.
    at = (0.8 * math.sin(bearing), 0.8 * math.cos(bearing))
    got = root_losses((0.0, 0.0), disc_zone(6.0), [pile("P", at, 1.6)]).proposed
    assert got.severed_pct == pytest.approx(50.0, abs=0.02)
    assert got.overlap_pct == pytest.approx(100 * 0.64 / 36, abs=1e-4)
    assert got.nearest_cut_m == pytest.approx(0.0, abs=1e-6)
    assert got.widest_clear_arc_deg == pytest.approx(180.0, abs=0.1)


def test_a_pile_the_trunk_touches_leaves_the_others_where_they_are() -> None:
    # By hand: half the turn to the east, and west the shadow of a pile of radius q at D: tangents
    # at asin(q / D), sector less kite plus the far part of the circle.
    q, d, r = 0.2, 3.0, 6.0
    half = math.asin(q / d)
    near = d * d * math.sin(half) * math.cos(half) - q * q * (math.pi / 2 - half)
    shadow = 100 * (r * r * half - near) / (r * r * math.pi)
    works = [pile("P", (0.8, 0.0), 1.6), pile("Q", (-d, 0.0), 2 * q)]
    got = root_losses((0.0, 0.0), disc_zone(r), works).proposed
    assert got.severed_pct == pytest.approx(50.0 + shadow, abs=0.02)
    assert got.overlap_pct == pytest.approx(100 * (0.64 + 0.04) / 36, abs=1e-4)


def test_a_trunk_on_an_edge_loses_no_more_to_what_lies_behind_it() -> None:
    # By hand: half is lost at the edge; a trench within that half takes nothing further.
    dug = box("E", "excavation", (-20.0, 0.0), (20.0, 20.0))
    trench = line("T", "trench", (-20.0, 0.5), (20.0, 0.5), width_m=0.2)
    got = root_losses((0.0, 0.0), disc_zone(6.0), [dug, trench]).proposed
    assert got.severed_pct == pytest.approx(50.0, abs=1e-5)
    assert got.best_half_severed_pct == pytest.approx(0.0, abs=1e-5)
    assert got.best_half_bearing == pytest.approx(180.0)


def test_trees_are_the_same_however_many_go_at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    rng = np.random.default_rng(11)
    xy = rng.uniform(-15, 15, (23, 2))
    zones = [lobed_zone(r) if r > 6 else disc_zone(r) for r in rng.uniform(2, 8, 23)]
    works = [random_work(rng, f"W{i}", reach=18) for i in range(10)]
    stand = Stand(Scene(works), xy, zones_table(zones))
    whole = loss_tables([stand, stand])
    monkeypatch.setattr(losses, "_CHUNK", 7)
    for phase in range(losses.N_PHASES):
        alone = severed_pct(stand, phase=phase)
        assert alone == pytest.approx(whole[0].severed_pct[:, phase], abs=1e-9)
    for in_goes, at_once in zip(loss_tables([stand, stand]), whole, strict=True):
        for f in fields(LossTable):
            np.testing.assert_array_equal(getattr(in_goes, f.name), getattr(at_once, f.name))


def test_an_index_finds_what_looking_at_all_finds(monkeypatch: pytest.MonkeyPatch) -> None:
    rng = np.random.default_rng(12)
    xy = rng.uniform(-25, 25, (40, 2))
    zones = [lobed_zone(r) if r > 6 else disc_zone(r) for r in rng.uniform(2, 8, 40)]
    works = [random_work(rng, f"W{i}", reach=30) for i in range(25)]

    def table() -> LossTable:
        return loss_tables([Stand(Scene(works), xy, zones_table(zones))])[0]

    by_looking = table()
    monkeypatch.setattr(sight, "DENSE", 0)
    monkeypatch.setattr(boxes, "DENSE", 0)
    by_index = table()
    for f in fields(LossTable):
        a, b = getattr(by_index, f.name), getattr(by_looking, f.name)
        np.testing.assert_allclose(a, b, rtol=0, atol=1e-9, err_msg=f.name)


def test_pits_about_the_trunk_take_all_roots_down_to_their_depth() -> None:
    # By hand: Gale and Grigal's form with beta 0.966 (Jackson et al. 1996), the deepest decides.
    pits = [
        box(f"E{k}", "excavation", (-2.0, -2.0), (3.0, 3.0), depth_m=Figure(m, "drawn"))
        for k, m in enumerate((0.5, 1.0, 0.2))
    ]
    got = root_losses((0.0, 0.0), disc_zone(6.0), pits).proposed
    assert got.severed_by_depth_pct == pytest.approx(100 * (1 - 0.966**100))
    assert got.severed_pct_range == (100.0, 100.0)
    stand = Stand(Scene(pits), np.zeros((1, 2)), zones_table([disc_zone(6.0)]))
    assert severed_pct(stand).tolist() == [100.0]
    assert severed_pct(stand, phase=0).tolist() == [0.0]


def test_a_blind_and_a_careful_pile_about_the_trunk() -> None:
    # By hand: a pile that holds the trunk leaves nothing, however it is made.
    for made in ("bored", "hand"):
        around = pile("P", (0.1, 0.0), 1.0, made=made, depth_m=Figure(0.6, "drawn"))
        beside = pile("Q", (3.0, 0.0), 0.4, made="hand", depth_m=Figure(0.9, "drawn"))
        got = root_losses((0.0, 0.0), disc_zone(6.0), [around, beside]).proposed
        assert got.severed_pct == 100.0
        assert got.severed_pct_range == (100.0, 100.0)


def test_no_trees_lose_nothing() -> None:
    cut = Scene([line("T", "trench", (1.0, -20.0), (1.0, 20.0))])
    (table,) = loss_tables([Stand(cut, np.zeros((0, 2)), zones_table([]))])
    assert table.severed_pct.shape == table.nearest_m.shape == (0, losses.N_PHASES)
    assert root_losses_many(np.zeros((0, 2)), [], cut) == []


@pytest.mark.parametrize("seed", range(20))
def test_shares_lie_between_nothing_and_all(seed: int) -> None:
    # Trees thick among works, so that much is lost whole, twice over and from both sides.
    rng = np.random.default_rng(seed)
    xy = rng.uniform(-6, 6, (30, 2))
    zones = [lobed_zone(r) if r > 5 else disc_zone(r) for r in rng.uniform(1, 7, 30)]
    works = [random_work(rng, f"W{i}") for i in range(int(rng.integers(4, 16)))]
    (table,) = loss_tables([Stand(Scene(works), xy, zones_table(zones))])
    for f in fields(LossTable):
        if f.name.endswith("_pct"):
            share = getattr(table, f.name)
            assert share.min() >= 0.0, f.name
            assert share.max() <= 100.0, f.name
