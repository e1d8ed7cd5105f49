"""The short table of figures against the full one, and against closed form by hand."""

import numpy as np
import pytest

from bolewalk.impact.accounts import Zones
from bolewalk.impact.losses import Stand, loss_tables
from bolewalk.impact.readings import readings
from bolewalk.impact.scene import Scene
from bolewalk.model.figures import Figure
from bolewalk.model.works import Part, Work


def works(rng, count, side):
    kinds = ("trench", "pile", "excavation", "paving", "building", "access")
    phases = ("existing", "proposed", "proposed", "possible later")
    found = []
    for i in range(count):
        kind, x, y = kinds[i % len(kinds)], *rng.uniform(0, side, 2)
        told = {"phase": phases[i % len(phases)]}
        if kind == "pile":
            part = Part("point", ((x, y),))
            told |= {"diameter_m": 0.4, "made": ("hand", "bored")[i % 2]}
        elif kind == "trench":
            part = Part("line", ((x, y), (x + rng.normal(0, 9), y + rng.normal(0, 9))))
            told["width_m"] = 0.5
        else:
            w, h = rng.uniform(1, 8, 2)
            part = Part("polygon", ((x, y), (x + w, y), (x + w, y + h), (x, y + h)))
            if kind == "access" and i % 4 == 0:
                told["depth_m"] = Figure(0.4, "drawn")
        found.append(Work(f"W{i}", kind, (part,), **told))
    return found


def discs(radius):
    n = len(radius)
    return Zones(radius, np.pi * radius**2, np.zeros((0, 360)), np.full(n, -1))


def test_agrees_with_the_full_table():
    rng = np.random.default_rng(5)
    stand = Stand(
        Scene(works(rng, 90, 80.0)), rng.uniform(0, 80, (300, 2)), discs(rng.uniform(2, 12, 300))
    )
    short, full = readings(stand), loss_tables([stand])[0]
    assert (full.covered_pct[:, 1] > 1).any()
    assert (full.severed_pct[:, 2] > full.severed_pct[:, 1] + 1).any()
    for name in ("severed_pct", "covered_pct", "best_half_severed_pct", "nearest_m"):
        np.testing.assert_allclose(
            getattr(short, name), getattr(full, name)[:, 1:], rtol=0, atol=1e-9, err_msg=name
        )


def test_cut_right_across_at_half_the_radius():
    # By hand: 100/pi (acos(1/2) - 1/2 sqrt(3)/2) = 19.55 % of the disc lies beyond.
    cut = Work("W1", "trench", (Part("line", ((4.0, -50.0), (4.0, 50.0))),))
    table = readings(Stand(Scene([cut]), np.array([[0.0, 0.0]]), discs(np.array([8.0]))))
    by_hand = 100 / np.pi * (np.pi / 3 - np.sqrt(3) / 4)
    assert table.severed_pct[0].tolist() == pytest.approx([by_hand, by_hand], abs=1e-9)
    assert table.best_half_severed_pct[0, 0] == pytest.approx(0.0, abs=1e-9)
    assert table.nearest_m[0, 0] == pytest.approx(4.0, abs=1e-12)


def test_no_works_near():
    table = readings(Stand(Scene([]), np.zeros((2, 2)), discs(np.full(2, 5.0))))
    assert table.severed_pct.tolist() == [[0.0, 0.0], [0.0, 0.0]]
    assert np.isinf(table.nearest_m).all()
