"""Root loss phase by phase: each phase is what its own works and the earlier ones take."""

import numpy as np
import pytest
import shapely

from bolewalk.impact.results import RootLoss
from bolewalk.impact.roots import root_losses
from bolewalk.model.figures import Figure
from bolewalk.model.works import Work

from .hands import box, line, segment_pct
from .slow import by_polygons, disc_zone, lobed_zone, random_work, shape_of

PHASES = ("existing", "proposed", "possible later")


def so_far(works: list[Work], phase: int) -> list[Work]:
    return [w for w in works if w.phase in PHASES[: phase + 1]]


def nearest(works: list[Work]) -> float | None:
    """By shapely: a trunk at (0, 0), inside counts as 0."""
    cutting = [shape_of(w) for w in works if w.kind != "paving"]
    return min((float(s.distance(shapely.Point(0, 0))) for s in cutting), default=None)


@pytest.mark.parametrize("seed", range(40))
def test_every_phase_against_overlay_of_polygons(seed: int) -> None:
    # Independent: shadows as polygons, of the works up to that phase and no others.
    rng = np.random.default_rng(7000 + seed)
    radius = float(rng.uniform(3, 9))
    zone = lobed_zone(radius) if seed % 5 == 4 else disc_zone(radius)
    works = [random_work(rng, f"W{i}") for i in range(int(rng.integers(2, 8)))]
    three = root_losses((0.0, 0.0), zone, works)
    for k, one in enumerate((three.existing, three.proposed, three.with_later)):
        want = by_polygons(so_far(works, k), zone)
        sectors = want.pop("sectors")
        got = {
            "overlap": one.overlap_pct, "severed": one.severed_pct,
            "by_depth": one.severed_by_depth_pct, "covered": one.covered_pct,
            "dodged": one.severed_pct_range[0], "blind": one.severed_pct_range[1],
        }  # fmt: skip
        assert got == pytest.approx(want, abs=0.01), PHASES[k]
        assert list(one.sectors_pct.values()) == pytest.approx(sectors, abs=0.02), PHASES[k]
        far = nearest(so_far(works, k))
        if far is None:
            assert one.nearest_cut_m is None
        else:
            assert one.nearest_cut_m == pytest.approx(far, abs=1e-4), PHASES[k]


def figures(one: RootLoss) -> tuple[float | None, ...]:
    return (one.severed_pct, one.severed_by_depth_pct, one.nearest_cut_m, one.widest_clear_arc_deg)


def test_later_works_do_not_reach_back() -> None:
    # By hand: chords 3 m (shallow) and 4 m (deep) east stand, one 2 m west and one 1 m north come.
    def cut(
        name: str, a: tuple[float, float], b: tuple[float, float], cm: float, phase: str
    ) -> Work:
        return line(name, "trench", a, b, depth_m=Figure(cm / 100, "drawn"), phase=phase)

    shallow = cut("A", (3.0, -40.0), (3.0, 40.0), 15, "existing")
    deep = cut("B", (4.0, -40.0), (4.0, 40.0), 80, "existing")
    west = cut("C", (-2.0, -40.0), (-2.0, 40.0), 150, "proposed")
    north = cut("D", (-40.0, 1.0), (40.0, 1.0), 150, "possible later")
    three = root_losses((0.0, 0.0), disc_zone(6.0), [shallow, deep, west, north])
    above_15, above_80 = 1 - 0.966**15, 1 - 0.966**80
    by_depth = segment_pct(3 / 6) * above_15 + segment_pct(4 / 6) * (above_80 - above_15)
    assert figures(three.existing) == pytest.approx((segment_pct(0.5), by_depth, 3.0, 240.0))
    assert three.proposed.severed_pct == pytest.approx(segment_pct(0.5) + segment_pct(1 / 3))
    assert three.proposed.nearest_cut_m == pytest.approx(2.0)
    assert three.with_later.nearest_cut_m == pytest.approx(1.0)


def test_a_pit_about_the_trunk_to_come_leaves_today_as_it_is() -> None:
    # By hand: a shallow chord at 3 m, a deep one at 4 m; later a deeper pit takes the whole tree.
    cuts = [
        line("A", "trench", (3.0, -40.0), (3.0, 40.0), depth_m=Figure(0.15, "drawn")),
        line("B", "trench", (4.0, -40.0), (4.0, 40.0), depth_m=Figure(0.8, "drawn")),
    ]
    deep = Figure(3.0, "drawn")
    pit = box("E", "excavation", (-1.0, -1.0), (1.0, 1.0), depth_m=deep, phase="possible later")
    three = root_losses((0.0, 0.0), disc_zone(6.0), [*cuts, pit])
    above_15, above_80 = 1 - 0.966**15, 1 - 0.966**80
    by_depth = segment_pct(3 / 6) * above_15 + segment_pct(4 / 6) * (above_80 - above_15)
    assert three.proposed.severed_by_depth_pct == pytest.approx(by_depth)
    assert three.proposed.severed_pct == pytest.approx(segment_pct(0.5))
    assert three.with_later.severed_by_depth_pct == pytest.approx(100 * (1 - 0.966**300))


def test_before_anything_is_near_nothing_is_lost() -> None:
    trench = line("T", "trench", (1.0, -40.0), (1.0, 40.0), phase="possible later")
    three = root_losses((0.0, 0.0), disc_zone(6.0), [trench])
    nothing = (0.0, 0.0, None, 360.0)
    assert figures(three.existing) == figures(three.proposed) == nothing
    assert three.existing.best_half_bearing is None
    assert three.with_later.severed_pct == pytest.approx(segment_pct(1 / 6))
