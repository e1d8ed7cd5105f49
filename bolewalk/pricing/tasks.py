"""Crew hours of one task, every driver visible with its hours.

hours = set_up + cut * form * dead * wires * targets + handle * carry * slope * gate

The table behind it is `data/default_hours.toml`: ours, because no published hours table was
found, and meant to be replaced by the firm's own.
"""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache, lru_cache
from importlib.resources import files
from typing import Any, Literal

from bolewalk.model.words import CrownForm

__all__ = [
    "ACCESS_CLASSES",
    "AccessClass",
    "HourStep",
    "TaskFacts",
    "TaskHours",
    "access_class",
    "hours_table",
    "task_hours",
]

AccessClass = Literal["easy", "moderate", "hard"]
ACCESS_CLASSES: tuple[AccessClass, ...] = ("easy", "moderate", "hard")


@cache
def hours_table() -> Mapping[str, Any]:
    """Give the table of default hours and factors, as in its data file."""
    text = files("bolewalk.pricing").joinpath("data/default_hours.toml").read_text("utf-8")
    return tomllib.loads(text)


@dataclass(frozen=True, slots=True, kw_only=True)
class TaskFacts:
    """What one task's hours depend on. None = not recorded; amounts >= 0.

    `mass_t` is the whole tree's green mass above ground [t] with its range, `handled_t` what is
    taken off and dealt with. `wires`: a wire within reach of the crown. `targets`: things under
    the crown that must not be hit. `dead`: dead tree or brittle wood.
    """

    task: str
    mass_t: float | None = None
    mass_low_t: float | None = None
    mass_high_t: float | None = None
    handled_t: float | None = None
    height_m: float | None = None
    grind_m3: float | None = None
    dig_m3: float | None = None
    cut_m: float | None = None
    count: float = 1.0
    form: CrownForm | None = None
    dead: bool = False
    wires: bool | None = None
    targets: int | None = None
    carry_m: float | None = None
    slope_pct: float | None = None
    gate_m: float | None = None


@dataclass(frozen=True, slots=True)
class HourStep:
    """Hours one driver adds to a task. `value` is what the driver stood at; None = not recorded,
    the base hours stand."""

    driver: str
    hours: float
    value: float | str | None = None


@dataclass(frozen=True, slots=True)
class TaskHours:
    """Crew hours of one task and where they come from.

    `steps` add up to `hours`. `crew` tells how many people of each role the crew hours count
    for; person hours are hours x people. `set_up`, `cut`, `handle` are the stages after their
    factors. `spread_pct` is one standard deviation of the task's own scatter; `unknown_pct` what
    unrecorded access adds; `cut_power`, `handle_power` how the stages follow the green mass (0
    where they do not). `missing` names drivers without which the task cannot be timed: hours
    are then 0 and must not be priced.
    """

    task: str
    hours: float
    steps: tuple[HourStep, ...]
    crew: Mapping[str, int]
    gear: tuple[str, ...]
    set_up: float
    cut: float
    handle: float
    access: AccessClass
    spread_pct: float
    unknown_pct: float
    cut_power: float
    handle_power: float
    missing: tuple[str, ...] = ()
    source: str = ""

    @property
    def people(self) -> int:
        """People on site for this task."""
        return sum(self.crew.values())


def _slope_factor(slope_pct: float) -> float:
    for row in hours_table()["access"]["slope"]:
        if slope_pct <= row.get("up_to_pct", float("inf")):
            return float(row["factor"])
    raise AssertionError("the last slope row has no upper bound")


def _gate_factor(gate_m: float) -> float:
    for row in hours_table()["access"]["gate"]:
        if gate_m < row.get("below_m", float("inf")):
            return float(row["factor"])
    raise AssertionError("the last gate row has no upper bound")


def _access_factors(facts: TaskFacts) -> dict[str, tuple[float, float | None]]:
    """Give carry, slope and gate as (factor, value); factor 1 where not recorded."""
    access = hours_table()["access"]
    carry = 1.0
    if facts.carry_m is not None:
        carry += access["per_10_m"] * max(0.0, facts.carry_m - access["free_carry_m"]) / 10
    return {
        "carry_m": (carry, facts.carry_m),
        "slope_pct": (
            1.0 if facts.slope_pct is None else _slope_factor(facts.slope_pct),
            facts.slope_pct,
        ),
        "gate_m": (1.0 if facts.gate_m is None else _gate_factor(facts.gate_m), facts.gate_m),
    }


def _hazard_factors(facts: TaskFacts) -> dict[str, tuple[float, float | str | None]]:
    hazard = hours_table()["hazard"]
    targets = None if facts.targets is None else min(facts.targets, hazard["most_targets"])
    return {
        "form": (
            1.0 if facts.form is None else float(hours_table()["form"][facts.form]),
            facts.form,
        ),
        "dead": (hazard["dead"] if facts.dead else 1.0, "yes" if facts.dead else "no"),
        "wires": (
            hazard["wires"] if facts.wires else 1.0,
            None if facts.wires is None else ("yes" if facts.wires else "no"),
        ),
        "targets": (1.0 + hazard["per_target"] * (targets or 0), facts.targets),
    }


def access_class(facts: TaskFacts) -> AccessClass:
    """Name the access: easy, moderate or hard, by carry x slope x gate (bounds in the table)."""
    product = 1.0
    for factor, _ in _access_factors(facts).values():
        product *= factor
    bounds = hours_table()["access"]
    if product < bounds["class_easy_below"]:
        return "easy"
    return "moderate" if product < bounds["class_moderate_below"] else "hard"


def task_hours(facts: TaskFacts, *, overrides: Mapping[str, float] | None = None) -> TaskHours:
    """Give the crew hours of one task.

    Parameters
    ----------
    facts : TaskFacts
    overrides : mapping, optional
        The firm's own set_up, cut and handle (their scales), spread_pct, and correction (a
        factor on all hours, learned or set), from rates.toml [hours.TASK].

    Returns
    -------
    TaskHours
        Steps in reading order; their hours add up to the total.

    Raises
    ------
    KeyError
        The task is not in the table.
    ValueError
        An amount is negative.

    References
    ----------
    data/default_hours.toml: ours, no published source.
    """
    return _task_hours(facts, tuple(sorted((overrides or {}).items())))


# What moves a price is found by pricing it over and over with one fact changed.
@lru_cache(maxsize=4096)
def _task_hours(facts: TaskFacts, overrides: tuple[tuple[str, float], ...]) -> TaskHours:
    table = hours_table()["task"][facts.task]
    own = dict(overrides)
    steps: list[HourStep] = []
    missing: list[str] = []
    powers = {"cut": 0.0, "handle": 0.0}

    set_up = float(own.get("set_up", table["set_up"]))
    steps.append(HourStep("set_up", set_up))
    stage: dict[str, float] = {}
    for name in ("cut", "handle"):
        term = table.get(name)
        hours = 0.0
        if term is not None:
            value = getattr(facts, term["driver"])
            if value is None:
                missing.append(term["driver"])
            elif value < 0:
                raise ValueError(f"{term['driver']} is {value:g}; amounts must be >= 0")
            else:
                hours = float(own.get(name, term["scale"])) * float(value) ** term["power"]
                if term["driver"].endswith("_t"):
                    powers[name] = term["power"]
                steps.append(HourStep(name, hours, value))
        factors = _hazard_factors(facts) if name == "cut" else _access_factors(facts)
        # "count" stages (visits, plants) are not work in a crown; hazards do not stretch them.
        in_tree = term is not None and term["driver"] in ("mass_t", "height_m", "handled_t")
        if name == "cut" and not in_tree:
            factors = {}
        for driver, (factor, at) in factors.items():
            if hours:
                steps.append(HourStep(driver, hours * (factor - 1.0), at))
            hours *= factor
        stage[name] = hours
    correction = float(own.get("correction", 1.0))
    total = set_up + stage["cut"] + stage["handle"]
    if correction != 1.0:
        steps.append(HourStep("correction", total * (correction - 1.0), correction))
    unknown = 0.0
    if stage["handle"]:
        unknown = hours_table()["access"]["unknown_spread_pct"] * sum(
            v is None for v in (facts.carry_m, facts.slope_pct, facts.gate_m)
        )
    if missing:
        steps, total, set_up, stage = [], 0.0, 0.0, {"cut": 0.0, "handle": 0.0}
    return TaskHours(
        task=facts.task,
        hours=total * correction,
        steps=tuple(steps),
        crew=dict(table["crew"]),
        gear=tuple(table["gear"]),
        set_up=set_up * correction,
        cut=stage["cut"] * correction,
        handle=stage["handle"] * correction,
        access=access_class(facts),
        spread_pct=float(own.get("spread_pct", table["spread_pct"])),
        unknown_pct=unknown,
        cut_power=powers["cut"],
        handle_power=powers["handle"],
        missing=tuple(dict.fromkeys(missing)),
        source=(
            "the firm's own" if {"set_up", "cut", "handle"} & set(own) else hours_table()["source"]
        ),
    )
