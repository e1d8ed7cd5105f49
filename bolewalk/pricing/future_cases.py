"""Keep-or-remove cases and their file `futures.toml`."""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any, Literal

from bolewalk.model.problems import Problem
from bolewalk.model.settings_keys import Key, read_keys

__all__ = [
    "CASE_KEYS", "COST_KEYS", "FUTURE_KEYS", "PATH_KEYS", "SITUATIONS", "STEP_KEYS", "FutureCase",
    "FutureCost", "FuturePath", "Step", "horizons", "read_futures",
]  # fmt: skip

SITUATIONS = ("selling", "letting", "staying")
PathKind = Literal["keep", "hold", "remove"]
_MONEY_HIGH = 1e9
_MOST_YEARS = 60

FUTURE_KEYS: tuple[Key, ...] = (
    Key("minor_digits", "whole", high=3),
    Key("discount_pct", "number", high=30),
    Key("situation", "text", choices=SITUATIONS),
    Key("years", "whole", low=1, high=_MOST_YEARS),
)
CASE_KEYS: tuple[Key, ...] = (
    Key("tree", "text", required=True),
    Key("name", "text"),
    Key("height", "number", required=True, high=400),
    Key("growth", "number", required=True, high=20),
    Key("growth_low", "number", high=20),
    Key("growth_high", "number", high=20),
    Key("unit", "text", required=True, choices=("ft", "m")),
    Key("skirt", "text", choices=("yes", "no", "unknown")),
    Key("years", "whole", low=1, high=_MOST_YEARS),
    Key("discount_pct", "number", high=30),
    Key("situation", "text", choices=SITUATIONS),
)
PATH_KEYS: tuple[Key, ...] = (
    Key("kind", "text", required=True, choices=("keep", "hold", "remove")),
    Key("hold_at", "number", high=400),
)
COST_KEYS: tuple[Key, ...] = (
    Key("what", "text", required=True),
    Key("cost", "money", high=_MONEY_HIGH),
    Key("cost_low", "money", high=_MONEY_HIGH),
    Key("cost_high", "money", high=_MONEY_HIGH),
    Key("year", "whole", high=_MOST_YEARS),
    Key("first", "whole", high=_MOST_YEARS),
    Key("every", "whole", low=1, high=_MOST_YEARS),
    Key("last", "whole", high=_MOST_YEARS),
    Key("at_end", "flag"),
)
STEP_KEYS: tuple[Key, ...] = (
    Key("up_to", "number", low=0.01, high=400),
    Key("cost", "money", required=True, high=_MONEY_HIGH),
    Key("cost_low", "money", high=_MONEY_HIGH),
    Key("cost_high", "money", high=_MONEY_HIGH),
)
"""Keys of the head, a [[case]], its [[case.path]], a [[case.path.cost]] and a step of its price;
docs/futures.md."""


@cache
def horizons() -> Mapping[str, Any]:
    """Give the horizons by situation, as in their data file."""
    text = files("bolewalk.pricing").joinpath("data/horizons.toml").read_text("utf-8")
    return tomllib.loads(text)


@dataclass(frozen=True, slots=True)
class Step:
    """Price up to a height [unit of the case], bound included; `up_to` None = above the rest.
    Money in minor units, low <= cost <= high."""

    up_to: float | None
    cost_minor: int
    low_minor: int
    high_minor: int


@dataclass(frozen=True, slots=True)
class FutureCost:
    """One cost on a path, in the years listed (0 = now); its price goes by the tree's height in
    that year. `at_end` costs fall in the last year, whatever the horizon."""

    what: str
    years: tuple[int, ...]
    steps: tuple[Step, ...]
    at_end: bool = False


@dataclass(frozen=True, slots=True)
class FuturePath:
    """One way to go: keep, hold at a height (`hold_at`, unit of the case), or remove."""

    kind: PathKind
    costs: tuple[FutureCost, ...]
    hold_at: float | None = None


@dataclass(frozen=True, slots=True)
class FutureCase:
    """One tree, its growth a year (with range), and the ways to go. `skirt`: whether a palm may
    keep its dead leaves; "" = no palm."""

    tree: str
    name: str
    height: float
    growth: float
    growth_low: float
    growth_high: float
    unit: Literal["ft", "m"]
    years: int
    discount_pct: float
    situation: str
    skirt: str
    paths: tuple[FuturePath, ...]


def read_futures(
    table: Mapping[str, Any], *, file: str
) -> tuple[tuple[FutureCase, ...], tuple[Problem, ...]]:
    """Read keep-or-remove cases from the table of a `futures.toml`.

    Parameters
    ----------
    table : mapping
        As a TOML reader gives it; keys in docs/futures.md.
    file : str
        Path for the problems.

    Returns
    -------
    cases : tuple of FutureCase
        The sound ones; a case with any fault is left out whole.
    problems : tuple of Problem
        All at once; `row` is the case's tree, `field` the key path inside it.
    """
    head = {k: v for k, v in table.items() if k != "case"}
    digits = head.get("minor_digits", 2)
    known = isinstance(digits, int) and not isinstance(digits, bool) and 0 <= digits <= 3
    digits = digits if known else 2
    v, found = read_keys(head, FUTURE_KEYS, file=file, minor_digits=digits)
    problems = list(found)
    raw = table.get("case")
    if not isinstance(raw, list) or not raw or not all(isinstance(c, Mapping) for c in raw):
        problems.append(Problem(file, None, "case", None, "one [[case]] for each tree compared"))
        return (), tuple(problems)
    cases: list[FutureCase] = []
    for n, entry in enumerate(raw, start=1):
        case, faults = _read_case(entry, v, file, digits, n)
        problems += faults
        if case is not None:
            cases.append(case)
    return (() if found else tuple(cases)), tuple(problems)


def _read_case(
    entry: Mapping[str, Any], head: Mapping[str, Any], file: str, digits: int, n: int
) -> tuple[FutureCase | None, list[Problem]]:
    tree = entry.get("tree")
    row: str | int = tree if isinstance(tree, str) and tree.strip() else n
    own = {k: x for k, x in entry.items() if k != "path"}
    v, found = read_keys(own, CASE_KEYS, file=file, minor_digits=digits, row=row)
    problems = list(found)

    def fault(field: str, value: str | None, expected: str) -> None:
        problems.append(Problem(file, row, field, value, expected))

    situation = v.get("situation", head.get("situation", ""))
    years = v.get("years", head.get("years", horizons()["years"].get(situation)))
    if years is None and not any(p.field in ("years", "situation") for p in problems):
        fault("years", None, "years, or a situation: " + ", ".join(SITUATIONS))
    growth = v.get("growth", 0.0)
    low, high = v.get("growth_low", growth), v.get("growth_high", growth)
    if not low <= growth <= high:
        fault("growth", f"{low:g}..{growth:g}..{high:g}", "growth_low <= growth <= growth_high")
    paths = []
    raw = entry.get("path")
    if not isinstance(raw, list) or len(raw) < 2 or not all(isinstance(p, Mapping) for p in raw):
        fault("path", None, "at least two [[case.path]], each of kind keep, hold or remove")
        raw = []
    for k, path in enumerate(raw, start=1):
        paths.append(
            _read_path(path, file, digits, row, f"path {k}.", years or _MOST_YEARS, problems)
        )
    kinds = [p.kind for p in paths]
    for kind in sorted({k for k in kinds if kinds.count(k) > 1}):
        fault("path", kind, "each kind once")
    if problems:
        return None, problems
    return (
        FutureCase(
            str(row), v.get("name", ""), v["height"], growth, low, high, v["unit"], years,
            v.get("discount_pct", head.get("discount_pct", 0.0)), situation,
            v.get("skirt", ""), tuple(paths),
        ),
        [],
    )  # fmt: skip


def _read_path(
    raw: Mapping[str, Any], file: str, digits: int, row: str | int, at: str, years: int,
    problems: list[Problem],
) -> FuturePath:  # fmt: skip
    own = {k: x for k, x in raw.items() if k != "cost"}
    v, found = read_keys(own, PATH_KEYS, file=file, minor_digits=digits, row=row, prefix=at)
    problems += found
    if v.get("kind") == "hold" and "hold_at" not in v:
        problems.append(Problem(file, row, at + "hold_at", None, "the height it is held at"))
    costs = raw.get("cost")
    if not isinstance(costs, list) or not all(isinstance(c, Mapping) for c in costs):
        problems.append(
            Problem(file, row, at + "cost", None, "a [[case.path.cost]] for each thing paid for")
        )
        costs = []
    read = [
        _read_cost(c, file, digits, row, f"{at}cost {k}.", years, problems)
        for k, c in enumerate(costs, start=1)
    ]
    return FuturePath(v.get("kind", "keep"), tuple(read), v.get("hold_at"))


def _read_cost(
    raw: Mapping[str, Any], file: str, digits: int, row: str | int, at: str, years: int,
    problems: list[Problem],
) -> FutureCost:  # fmt: skip
    own = {k: x for k, x in raw.items() if k != "steps"}
    v, found = read_keys(own, COST_KEYS, file=file, minor_digits=digits, row=row, prefix=at)
    problems += found

    def fault(field: str, value: str | None, expected: str) -> None:
        problems.append(Problem(file, row, at + field, value, expected))

    steps = []
    raw_steps = raw.get("steps")
    if raw_steps is not None and "cost" in own:
        fault("cost", "both", "either cost or steps")
    elif raw_steps is None:
        if "cost" not in own:
            fault("cost", None, "cost, or steps by height")
        elif "cost" in v:
            steps = [_step(v, fault)]
    elif not isinstance(raw_steps, list) or not all(isinstance(s, Mapping) for s in raw_steps):
        fault("steps", None, "a list of {up_to, cost}, the last without up_to")
    else:
        for k, s in enumerate(raw_steps, start=1):
            one, wrong = read_keys(
                s, STEP_KEYS, file=file, minor_digits=digits, row=row, prefix=f"{at}step {k}."
            )
            problems += wrong
            if not wrong:
                steps.append(_step(one, fault))
        bounds = [s.up_to for s in steps[:-1]]
        rising = all(b is not None for b in bounds) and bounds == sorted(
            {b for b in bounds if b is not None}
        )
        if len(steps) == len(raw_steps) and (not rising or not steps or steps[-1].up_to):
            fault("steps", None, "rising up_to, and a last step without one")
    when = {"year", "first", "every", "last", "at_end"} & set(own)
    if not when:
        fault("year", None, "year, or first and every, or at_end = true")
    elif len(when) > 1 and when & {"year", "at_end"}:
        fault("year", ", ".join(sorted(when)), "only one of year, first and every, at_end")
    elif "every" in when and "first" not in when:
        fault("first", None, "the first year it falls in")
    if "year" in v:
        listed: tuple[int, ...] = (v["year"],)
    elif "first" in v:
        listed = tuple(range(v["first"], v.get("last", years) + 1, v.get("every", _MOST_YEARS)))
    else:
        listed = ()
    return FutureCost(v.get("what", ""), listed, tuple(steps), v.get("at_end", False))


def _step(v: Mapping[str, Any], fault: Any) -> Step:
    cost = v["cost"]
    low, high = v.get("cost_low", cost), v.get("cost_high", cost)
    if not low <= cost <= high:
        fault("cost", f"{low}..{cost}..{high}", "cost_low <= cost <= cost_high")
    return Step(v.get("up_to"), cost, low, high)
