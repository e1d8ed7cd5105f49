"""The nearest allowed cut: fed back as a trench it must meet its limit, and no more."""

import math

import numpy as np
import pytest

from bolewalk.impact.nearest import CutLimits, bearing_names, nearest_allowed_cuts
from bolewalk.impact.results import RootZone
from bolewalk.impact.roots import Scene, root_losses
from bolewalk.impact.thresholds import thresholds
from bolewalk.impact.verdicts import judge_roots
from bolewalk.model.words import Verdict
from bolewalk.model.works import Part, Work

from .slow import disc_zone, lobed_zone, random_work

LIMITS = CutLimits(10.0, 25.0, 10.0)
FT = 0.3048


def level_of(works: list[Work], zone: RootZone) -> Verdict:
    loss = root_losses((0.0, 0.0), zone, works).proposed
    return judge_roots(loss, zone, "moderate", None, thresholds())


def trench(bearing_deg: float, distance: float, length: float, width: float = 0.5) -> Work:
    """A trench whose near face stands square to a bearing."""
    b = math.radians(bearing_deg)
    mid = np.array([math.sin(b), math.cos(b)]) * (distance + width / 2)
    along = np.array([math.cos(b), -math.sin(b)]) * length / 2
    ends = (tuple((mid - along).tolist()), tuple((mid + along).tolist()))
    return Work("X", "trench", (Part("line", ends),), width_m=width)


def test_open_ground() -> None:
    # Inverse of the circle segment: 10 % at 0.6870 R, 25 % at 0.4040 R. Best half is whole.
    found = nearest_allowed_cuts(
        np.zeros((1, 2)), [disc_zone(6.0)], Scene([]), [LIMITS], ["keep"], bearings=16
    )[0]
    assert list(found.keep) == list(bearing_names(16))
    assert list(found.keep.values()) == pytest.approx([6 * 0.6870] * 16, abs=0.0005)
    assert list(found.keep_if.values()) == pytest.approx([6 * 0.4040] * 16, abs=0.0005)
    assert set(found.limit_keep.values()) | set(found.limit_keep_if.values()) == {"severed"}


def test_structural_radius_holds() -> None:
    zone = disc_zone(6.0, structural=5.0)
    found = nearest_allowed_cuts(np.zeros((1, 2)), [zone], Scene([]), [LIMITS], ["keep"])[0]
    assert set(found.keep.values()) == set(found.keep_if.values()) == {5.0}
    assert set(found.limit_keep.values()) == {"structural"}


def test_lost_already() -> None:
    scene = Scene([trench(90.0, 3.0, 80.0)])  # 19.55 %: keep is lost, keep_if is not
    zone = disc_zone(6.0)
    found = nearest_allowed_cuts(np.zeros((1, 2)), [zone], scene, [LIMITS], ["keep_if"])[0]
    assert set(found.keep.values()) == {None}
    assert set(found.limit_keep.values()) == {"already"}
    # By hand: the western half is the one left whole; it may lose 10 %, 5 % of the disc, which a
    # straight cut takes at 0.8054 R (the same inverse).
    assert found.limit_keep_if["W"] == "best_half"
    assert found.keep_if["W"] == pytest.approx(6 * 0.8054, abs=0.0005)
    gone = nearest_allowed_cuts(np.zeros((1, 2)), [zone], scene, [LIMITS], ["redesign"])[0]
    assert set(gone.keep_if.values()) == {None}


@pytest.mark.parametrize("seed", range(40))
def test_fed_back_as_a_trench(seed: int) -> None:
    # The limiting figure to 0.01 of a percent, or the structural radius to 0.001 ft.
    rng = np.random.default_rng(seed)
    radius = float(rng.uniform(4, 9))
    zone = lobed_zone(radius) if seed % 8 == 7 else disc_zone(radius)
    works = [random_work(rng, f"W{i}", reach=10.0) for i in range(int(rng.integers(1, 5)))]
    level = level_of(works, zone)
    length = None if seed % 2 else 4.0
    found = nearest_allowed_cuts(
        np.zeros((1, 2)), [zone], Scene(works), [LIMITS], [level], cut_length_m=length
    )[0]
    for k, name in enumerate(bearing_names(8)):
        for line, why, goal, allowed in (
            (found.keep, found.limit_keep, 10.0, ("keep",)),
            (found.keep_if, found.limit_keep_if, 25.0, ("keep", "keep_if")),
        ):
            distance = line[name]
            if distance is None:
                assert why[name] == "already"
                continue
            cut = [*works, trench(45.0 * k, distance, length or 4 * radius)]
            after = root_losses((0.0, 0.0), zone, cut).proposed
            assert distance >= zone.structural_radius_m
            if why[name] == "severed":
                assert after.severed_pct == pytest.approx(goal, abs=1e-3)
            elif why[name] == "best_half":
                assert after.best_half_severed_pct == pytest.approx(10.0, abs=1e-3)
            else:
                assert distance == pytest.approx(zone.structural_radius_m, abs=0.001 * FT)
            covered_only = after.covered_pct > thresholds().covered_keep_pct
            assert level_of(cut, zone) in allowed or covered_only


def test_best_half_is_what_stops_it_where_two_sides_are_cut() -> None:
    # By hand: cuts on three sides leave the fourth to keep the tree alive.
    works = [trench(0.0, 4.8, 80.0), trench(120.0, 4.8, 80.0)]
    zone = disc_zone(6.0)
    limits = CutLimits(10.0, 40.0, 5.0)
    found = nearest_allowed_cuts(np.zeros((1, 2)), [zone], Scene(works), [limits], ["keep_if"])[0]
    assert found.limit_keep_if["SW"] == "best_half"
    near = found.keep_if["SW"]
    assert near is not None
    after = root_losses((0.0, 0.0), zone, [*works, trench(225.0, near, 80.0)]).proposed
    assert after.best_half_severed_pct == pytest.approx(5.0, abs=1e-4)
    assert after.severed_pct < 40.0


def test_many_trees_are_those_one_by_one() -> None:
    rng = np.random.default_rng(2)
    xy = rng.uniform(-12, 12, (6, 2))
    zones = [disc_zone(r) for r in (3.0, 4.0, 5.0, 6.0, 7.0, 8.0)]
    scene = Scene([random_work(rng, f"W{i}", reach=20.0) for i in range(5)])
    many = nearest_allowed_cuts(xy, zones, scene, [LIMITS] * 6, ["keep"] * 6)
    for i in range(6):
        one = nearest_allowed_cuts(xy[i : i + 1], [zones[i]], scene, [LIMITS], ["keep"])[0]
        assert many[i].keep == pytest.approx(one.keep, abs=1e-6)
        assert many[i].limit_keep_if == one.limit_keep_if


def test_errors_say_what_to_do() -> None:
    with pytest.raises(ValueError, match="one position, zone, CutLimits and level"):
        nearest_allowed_cuts(np.zeros((1, 2)), [disc_zone(6.0)], Scene([]), [], ["keep"])
    with pytest.raises(ValueError, match="must be > 0"):
        nearest_allowed_cuts(
            np.zeros((1, 2)), [disc_zone(6.0)], Scene([]), [LIMITS], ["keep"], cut_length_m=0.0
        )
    with pytest.raises(ValueError, match="8 or 16"):
        bearing_names(12)  # type: ignore[arg-type]
