"""Root loss after works were moved: what was kept is what a whole reckoning gives."""

from dataclasses import fields

import numpy as np
import pytest

from bolewalk.impact.results import RootLoss, RootLosses
from bolewalk.impact.roots import root_losses_cases, root_losses_many, root_losses_moved
from bolewalk.impact.scene import Scene
from bolewalk.model.works import Part, Work

from .slow import disc_zone

RADIUS_M = 5.0
FAR = 4_000_000.0  # a grid of the sort national grids use: metres by the million


def trench(name: str, x: float, y: float, **kw: object) -> Work:
    part = Part("line", ((x + 2.0, y - 1.0), (x + 2.0, y + 1.0)))
    return Work(name, "trench", (part,), width_m=0.4, **kw)  # type: ignore[arg-type]


def pile(x: float, y: float) -> Work:
    return Work("P", "pile", (Part("point", ((x, y),)),), diameter_m=0.4, made="bored")


def same(got: list[RootLosses], want: list[RootLosses]) -> None:
    for a, b in zip(got, want, strict=True):
        for phase in ("existing", "proposed", "with_later"):
            for f in fields(RootLoss):
                have = getattr(getattr(a, phase), f.name)
                assert have == pytest.approx(getattr(getattr(b, phase), f.name), abs=1e-9), f.name


def row_of_trees(n: int, gap: float, at: float = 0.0) -> tuple[np.ndarray, list[Work]]:
    """Trees in a row, each with a cut of its own that stands there already: in every phase the
    nearest cut lies inside its zone."""
    xy = np.array([(at + gap * k, at) for k in range(n)])
    works = [trench(f"W{k}", *p, phase="existing") for k, p in enumerate(xy)]
    return xy, works


@pytest.mark.parametrize("to", [3, 5])
def test_trees_left_and_trees_reached_are_both_reckoned_again(to: int) -> None:
    xy, works = row_of_trees(6, 30.0)
    zones = [disc_zone(RADIUS_M)] * len(xy)
    old = Scene([*works, pile(xy[1][0] - 3, 0.0)])
    new = old.replaced(len(works), pile(xy[to][0] - 3, 0.0))
    before = root_losses_many(xy, zones, old)
    after = root_losses_moved(before, xy, zones, old, new)
    same(after, root_losses_many(xy, zones, Scene(new.works)))
    changed = [k for k, (a, b) in enumerate(zip(before, after, strict=True)) if a != b]
    assert changed == [1, to]
    # The others are not worked out again: they are the very same results.
    assert all(after[k] is before[k] for k in range(6) if k not in (1, to))


def test_a_work_that_just_touches_the_zone_counts() -> None:
    xy, works = row_of_trees(2, 30.0)
    zones = [disc_zone(RADIUS_M)] * 2
    old = Scene([*works, pile(15.0, 0.0)])
    new = old.replaced(2, pile(RADIUS_M + 0.2 - 1e-9, 0.0))
    before = root_losses_many(xy, zones, old)
    same(
        root_losses_moved(before, xy, zones, old, new),
        root_losses_many(xy, zones, Scene(new.works)),
    )


def test_a_tree_whose_nearest_cut_lies_outside_follows_every_work() -> None:
    # By hand: nothing cuts its zone; the pile's face is 15.0 - 0.2 and then 9.0 - 0.2 away.
    xy = np.array([(0.0, 0.0)])
    zones = [disc_zone(RADIUS_M)]
    old = Scene([pile(15.0, 0.0)])
    new = old.replaced(0, pile(9.0, 0.0))
    before = root_losses_many(xy, zones, old)
    after = root_losses_moved(before, xy, zones, old, new)
    assert before[0].proposed.nearest_cut_m == pytest.approx(14.8)
    assert after[0].proposed.nearest_cut_m == pytest.approx(8.8)


def test_a_tree_without_any_cut_gets_one() -> None:
    xy = np.array([(0.0, 0.0)])
    zones = [disc_zone(RADIUS_M)]
    old = Scene([])
    before = root_losses_many(xy, zones, old)
    assert before[0].proposed.nearest_cut_m is None
    after = root_losses_moved(before, xy, zones, old, old.with_works([pile(9.0, 0.0)]))
    assert after[0].proposed.nearest_cut_m == pytest.approx(8.8)


def test_cases_far_out_on_a_grid_are_as_exact_as_near_it() -> None:
    # Floats of millions hold a few nanometres; a scene in a frame at the grid's corner would
    # lose four digits of a share.
    near = root_losses_cases((0.0, 0.0), disc_zone(RADIUS_M), [[trench("W", 0.0, 0.0)]])
    far = root_losses_cases((FAR, FAR), disc_zone(RADIUS_M), [[trench("W", FAR, FAR)]])
    same(far, near)
