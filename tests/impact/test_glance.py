"""Figures asked for one by one are those of the whole account."""

import numpy as np
import pytest

from bolewalk.impact.glance import Glance
from bolewalk.impact.roots import root_losses
from bolewalk.impact.scene import Scene
from bolewalk.impact.zones import root_zone
from bolewalk.model.figures import Figure
from bolewalk.model.trees import Crown

from .hands import box, line, pile, tree, zone


def random_works(rng: np.random.Generator):
    kinds = ("trench", "drain", "excavation", "slab", "fill", "roof", "paving", "building")
    phases = ("existing", "proposed", "possible later")
    works = []
    for i in range(int(rng.integers(0, 6))):
        at = rng.uniform(-9, 9, 2)
        size = rng.uniform(0.5, 6, 2)
        kind = str(rng.choice(kinds))
        phase = str(rng.choice(phases))
        if kind in ("trench", "drain"):
            works.append(line(f"W{i}", kind, tuple(at), tuple(at + size), width_m=0.4, phase=phase))
        else:
            works.append(box(f"W{i}", kind, tuple(at), tuple(at + size), phase=phase))
    for i in range(int(rng.integers(0, 4))):
        made = str(rng.choice(["hand", "bored"]))
        works.append(pile(f"P{i}", tuple(rng.uniform(-7, 7, 2)), made=made))
    return works


@pytest.mark.parametrize("seed", range(25))
def test_each_figure_is_that_of_the_whole_account(seed) -> None:
    rng = np.random.default_rng(seed)
    works = random_works(rng)
    disc = zone(7.0, 2.0, 58.0)
    uneven = Crown(5.0, 3.0, 4.0, 6.0, Figure(4.5, "measured"))
    drawn = root_zone(tree(crown=uneven), "din18920")
    assert drawn is not None
    for one in (disc, drawn):
        whole = root_losses((0.3, -0.2), one, works).with_later
        glance = Glance((0.3, -0.2), one, Scene(works, origin=(0.0, 0.0)))
        assert glance.nearest_cut_m == pytest.approx(whole.nearest_cut_m, abs=1e-12)
        assert glance.severed_pct == pytest.approx(whole.severed_pct, abs=1e-9)
        assert glance.covered_pct == pytest.approx(whole.covered_pct, abs=1e-9)
        assert glance.best_half_severed_pct == pytest.approx(whole.best_half_severed_pct, abs=1e-6)
