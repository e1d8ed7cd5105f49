"""Crew hours. The table is ours and has no published check; what is checked is the arithmetic by
hand, that every driver is visible, and that each moves the hours the way it must."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bolewalk.pricing.simulation import simulate_hours
from bolewalk.pricing.tasks import TaskFacts, access_class, hours_table, task_hours

CLIMB = TaskFacts(task="remove_climb", mass_t=4.0, handled_t=4.0, height_m=15.0, carry_m=20.0,
                  slope_pct=5.0, gate_m=3.0, wires=False, targets=0)  # fmt: skip


def full(task):
    return TaskFacts(task=task, mass_t=3.0, handled_t=1.0, height_m=12.0, grind_m3=0.4,
                     dig_m3=1.0, cut_m=3.0, wires=True, targets=2, carry_m=55.0, slope_pct=22.0,
                     gate_m=1.0, form="umbrella", dead=True)  # fmt: skip


def test_by_hand():
    # 0.6 + 1.1 * 4^0.75 + 0.6 * 4^0.9, all factors one
    assert task_hours(CLIMB).hours == pytest.approx(0.6 + 1.1 * 4**0.75 + 0.6 * 4**0.9)
    # carry 45 m: 25 m beyond the free 20 at 6 % each 10 m; slope 22 %: 1.35; gate 0.8 m: 1.5
    hard = replace(CLIMB, carry_m=45.0, slope_pct=22.0, gate_m=0.8)
    handle = 0.6 * 4**0.9 * 1.15 * 1.35 * 1.5
    assert task_hours(hard).hours == pytest.approx(0.6 + 1.1 * 4**0.75 + handle)
    # wires 1.25, two targets 1.24
    over = replace(CLIMB, wires=True, targets=2)
    assert task_hours(over).cut == pytest.approx(1.1 * 4**0.75 * 1.25 * 1.24)


@pytest.mark.parametrize("task", sorted(hours_table()["task"]))
def test_steps_add_up_to_the_hours(task):
    for overrides in ({}, {"correction": 1.3, "set_up": 2.0}):
        t = task_hours(full(task), overrides=overrides)
        assert t.hours > 0
        assert sum(s.hours for s in t.steps) == pytest.approx(t.hours)
        assert t.set_up + t.cut + t.handle == pytest.approx(t.hours)


@pytest.mark.parametrize("task", sorted(hours_table()["task"]))
def test_nothing_recorded_is_named_not_guessed(task):
    t = task_hours(TaskFacts(task=task, count=1))
    drivers = {
        hours_table()["task"][task][s]["driver"]
        for s in ("cut", "handle")
        if s in hours_table()["task"][task]
    }
    assert set(t.missing) == drivers - {"count"}
    assert (t.hours == 0) == bool(t.missing)


@given(
    st.sampled_from([f"remove_{m}" for m in ("climb", "lift", "crane", "fell")]),
    st.floats(0.05, 30), st.floats(1.01, 3),
)  # fmt: skip
def test_more_tree_is_more_work_but_less_than_in_proportion(task, mass, factor):
    small = task_hours(replace(CLIMB, task=task, mass_t=mass, handled_t=mass)).hours
    large = task_hours(
        replace(CLIMB, task=task, mass_t=mass * factor, handled_t=mass * factor)
    ).hours
    assert small < large < small * factor


@pytest.mark.parametrize(
    "worse",
    [{"carry_m": 60.0}, {"slope_pct": 25.0}, {"gate_m": 0.8}, {"wires": True}, {"targets": 1},
     {"dead": True}, {"form": "umbrella"}],
)  # fmt: skip
def test_each_driver_is_seen_with_its_hours(worse):
    plain, hard = task_hours(CLIMB), task_hours(replace(CLIMB, **worse))
    assert hard.hours > plain.hours
    name = next(iter(worse))
    step = next(s for s in hard.steps if s.driver == name)
    assert step.hours == pytest.approx(hard.hours - plain.hours)


@pytest.mark.parametrize(
    ("slope", "gate", "carry", "word"),
    [(5, 3, 20, "easy"), (20, 3, 20, "moderate"), (15, 2, 20, "moderate"), (30, 2, 20, "hard"),
     (None, None, None, "easy"), (5, 0.8, 20, "hard"), (5, 0.9, 20, "moderate")],
)  # fmt: skip
def test_access_classes(slope, gate, carry, word):
    assert (
        access_class(TaskFacts(task="plant", slope_pct=slope, gate_m=gate, carry_m=carry)) == word
    )


def test_negative_amounts_are_refused():
    with pytest.raises(ValueError, match="mass_t"):
        task_hours(replace(CLIMB, mass_t=-1.0))


def test_simulation_is_seeded_and_centred():
    t = task_hours(CLIMB)
    a, b = (simulate_hours([t] * 50, [(3.0, 4.0, 5.5)] * 50) for _ in range(2))
    assert np.array_equal(a.hours, b.hours)
    assert not np.array_equal(a.hours, simulate_hours([t] * 50, [None] * 50, seed=1).hours)
    assert np.median(a.hours) == pytest.approx(t.hours, rel=0.03)
    low, high = a.band()
    assert (low < t.hours).all()
    assert (high > t.hours).all()


def test_simulated_scatter_by_hand():
    # One stage only, no mass range, no unknown access: lognormal with sigma ln(1.25).
    t = task_hours(TaskFacts(task="report", count=5))
    runs = simulate_hours([t], [None], runs=200_000)
    assert np.log(runs.hours).std() == pytest.approx(np.log(1.25), rel=0.02)
    # Two lines share three tenths of the variance.
    both = np.log(simulate_hours([t, t], [None, None], runs=100_000).hours)
    assert np.corrcoef(both)[0, 1] == pytest.approx(0.3, abs=0.02)


def test_what_was_not_recorded_widens_the_band():
    known = task_hours(CLIMB)
    unknown = task_hours(replace(CLIMB, carry_m=None, slope_pct=None, gate_m=None))
    assert unknown.hours == pytest.approx(known.hours)
    (k,), (u,) = (
        np.diff(np.stack(simulate_hours([t], [None]).band()), axis=0)[0] for t in (known, unknown)
    )
    assert u > k * 1.02
