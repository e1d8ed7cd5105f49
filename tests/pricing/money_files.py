"""Files of rates, phases and futures for the tests; people, places and prices invented."""

import tomllib
from importlib.resources import files
from typing import Any

from bolewalk.pricing.future_cases import FutureCase, read_futures
from bolewalk.pricing.phase_items import PhasePlan, read_phases
from bolewalk.pricing.rates import Rates, read_rates

__all__ = [
    "FAN_PALM", "FEATHER_PALM", "PELL", "futures_of", "phases_of", "rates", "rates_table",
]  # fmt: skip

PELL = """
years = 3
budget = 3200
visit = 300
first_season = "winter"
ties = ["I", "G", "F"]

[[item]]
id = "A"
what = "dead limb over the drive"
cost = 650
latest = 1
[[item]]
id = "B"
what = "cracked union over the bedroom, reduce and cable"
cost = 1150
latest = 1
[[item]]
id = "C"
what = "dying tree in the patio footprint"
cost = 780
latest = 1
[[item]]
id = "D"
what = "grind the stump of C"
cost = 240
latest = 1
after = ["C"]
[[item]]
id = "E"
what = "structural prune of three young oaks"
cost = 540
growth_pct = 25
[[item]]
id = "F"
what = "crown clean"
cost = 900
risk = "small dead wood over the lawn"
[[item]]
id = "G"
what = "three new trees"
cost = 690
season = "fall"
after = ["D"]
[[item]]
id = "H"
what = "permit"
cost = 310
[[item]]
id = "I"
what = "protected declining tree"
cost = 1900
after = ["H"]
protected = true
risk = "rope off the path"
"""
"""A budget of 3,200 a year; the patio is poured early in year 2, so C and D come in year 1."""

FAN_PALM = """
discount_pct = 3
situation = "staying"

[[case]]
tree = "P1"
name = "small fan palm by the wires"
height = 6
growth = 2
unit = "ft"
skirt = "unknown"

[[case.path]]
kind = "keep"
[[case.path.cost]]
what = "trim"
first = 2
every = 2
last = 18
steps = [
  {up_to = 10, cost = 150}, {up_to = 20, cost = 200}, {up_to = 35, cost = 350}, {cost = 770},
]
[[case.path.cost]]
what = "removal"
year = 20
cost = 1300

[[case.path]]
kind = "remove"
[[case.path.cost]]
what = "removal and a low native in its place"
year = 0
cost = 400
[[case.path.cost]]
what = "water"
first = 1
every = 1
last = 3
cost = 60
[[case.path.cost]]
what = "light prune"
first = 5
every = 5
last = 20
cost = 120
"""

FEATHER_PALM = """
years = 12

[[case]]
tree = "P2"
name = "feather palm"
height = 12
growth = 1
unit = "ft"

[[case.path]]
kind = "keep"
[[case.path.cost]]
what = "trim"
first = 0
every = 3
steps = [{up_to = 15, cost = 350}, {cost = 2000, cost_low = 1800, cost_high = 2200}]

[[case.path]]
kind = "hold"
hold_at = 15
[[case.path.cost]]
what = "trim, if it could be held"
first = 0
every = 3
steps = [{up_to = 15, cost = 350}, {cost = 2000}]
"""


def rates_table() -> dict[str, Any]:
    """Give the example rates of the package as a fresh table."""
    text = files("bolewalk.pricing").joinpath("data/example_rates.toml").read_text("utf-8")
    return tomllib.loads(text)


def rates(**changed: Any) -> Rates:
    """Give the example rates, with dotted keys changed: `job__overhead_pct=0`."""
    table = rates_table()
    for key, value in changed.items():
        *path, last = key.split("__")
        at = table
        for part in path:
            at = at.setdefault(part, {})
        at[last] = value
    found, problems = read_rates(table, file="rates.toml")
    assert found is not None, [p.line() for p in problems]
    return found


def phases_of(text: str) -> PhasePlan:
    """Read a sound plan."""
    plan, problems = read_phases(tomllib.loads(text), file="phases.toml")
    assert plan is not None, [p.line() for p in problems]
    return plan


def futures_of(text: str) -> tuple[FutureCase, ...]:
    """Read sound cases."""
    cases, problems = read_futures(tomllib.loads(text), file="futures.toml")
    assert not problems, [p.line() for p in problems]
    return cases
