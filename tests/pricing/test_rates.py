"""The rates file: the example reads, every fault is named at once by its key path."""

import copy

import pytest

from bolewalk.pricing.rates import RATE_KEYS, read_rates
from bolewalk.pricing.tasks import hours_table
from tests.pricing.money_files import rates, rates_table


def faults(table):
    found, problems = read_rates(table, file="rates.toml")
    assert found is None
    assert all(p.file == "rates.toml" and p.level == "fault" for p in problems)
    return {p.field: p for p in problems}


def test_the_example_reads_to_the_figures_in_it():
    r = rates()
    assert (r.crew_minor["climber"], r.truck.per_hour_minor) == (5200, 3200)
    assert r.truck.box_m3 == pytest.approx(14 * 0.764554857984)  # 27 cubic feet, exact
    assert r.gear["crane"].capacity_kg == pytest.approx(9000 * 0.45359237)
    assert r.permits["removal"].fee_minor == 31000
    assert r.contract.deposit_max_minor == 100000


def test_task_names_are_those_of_the_hours_table():
    names = next(k.names for k in RATE_KEYS if k.path == "hours.*.set_up")
    assert set(names) == set(hours_table()["task"])


def test_everything_wrong_is_named_at_once():
    t = rates_table()
    del t["crew"]["ground"]
    t["crew"]["climber"] = -1
    t["tax"]["pct"] = 100.5
    t["colour"] = "blue"
    t["gear"]["robot"] = {"per_hour": 1}
    t["permits"]["removal"].pop("fee")
    t["hours"]["grind"]["set_up"] = -0.5
    t["disposal"]["logs"] = {"per_volume": 1, "per_weight": 1}
    t["disposal"].pop("chips")
    t["truck"]["box"] = "big"
    t["job"]["minimum"] = 1.005
    t["contract"].pop("source")
    t["gear"]["lift"] = {"bring": 10}
    t["minor_digits"] = 2.5
    assert set(faults(t)) == {
        "crew.ground", "crew.climber", "tax.pct", "colour", "gear.robot", "permits.removal.fee",
        "hours.grind.set_up", "disposal.logs", "disposal.chips", "truck.box", "job.minimum",
        "contract.source", "gear.lift", "minor_digits",
    }  # fmt: skip


@pytest.mark.parametrize(
    ("path", "edge", "beyond"),
    [
        (("tax", "pct"), 100, 100.01),
        (("tax", "pct"), 0, -0.01),
        (("job", "margin_pct"), 95, 95.5),
        (("crew", "climber"), 0, -0.01),
        (("job", "valid_days"), 1, 0),
    ],
)
def test_both_sides_of_a_limit(path, edge, beyond):
    t = rates_table()
    t[path[0]][path[1]] = edge
    assert read_rates(t, file="rates.toml")[1] == ()
    t[path[0]][path[1]] = beyond
    assert list(faults(t)) == [".".join(path)]


def test_every_required_key_is_asked_for():
    for key in RATE_KEYS:
        if not key.required or "*" in key.path:
            continue
        t = copy.deepcopy(rates_table())
        *path, last = key.path.split(".")
        at = t
        for part in path:
            at = at[part]
        del at[last]
        assert key.path in faults(t)


@pytest.mark.parametrize(
    "nonsense",
    [
        {},
        {"crew": 3},
        {"crew": []},
        {"gear": {"lift": "yes"}},
        {"minor_digits": True},
        {"minor_digits": 10**400},
        {"disposal": {"chips": 4}},
    ],
)
def test_nonsense_is_reported_not_raised(nonsense):
    assert faults(nonsense)


def test_no_digits_after_the_point():
    t = rates_table()
    t["minor_digits"] = 0
    assert "disposal.logs.per_weight" in faults(t)  # 0.03 is finer than the minor unit
