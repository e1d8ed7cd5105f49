"""Work to be spread over years: the items, the budgets, and their file `phases.toml`."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from graphlib import CycleError, TopologicalSorter
from typing import Any

from bolewalk.model.problems import Problem
from bolewalk.model.settings_keys import Key, read_keys
from bolewalk.pricing.money import round_minor

__all__ = ["ITEM_KEYS", "PHASE_KEYS", "SEASONS", "PhaseItem", "PhasePlan", "cost_in_year_minor",
           "read_phases"]  # fmt: skip

SEASONS = ("winter", "spring", "summer", "fall")
_MONEY_HIGH = 1e9

PHASE_KEYS: tuple[Key, ...] = (
    Key("minor_digits", "whole", high=3),
    Key("years", "whole", required=True, low=1, high=20),
    Key("budget", "money", high=_MONEY_HIGH),
    Key("visit", "money", high=_MONEY_HIGH),
    Key("first_season", "text", choices=SEASONS),
    Key("best", "whole", low=1, high=10),
    Key("differ_items", "whole", low=1, high=1000),
    Key("ties", "texts"),
)
"""Every key of the head of a phases file; docs/phases.md."""

ITEM_KEYS: tuple[Key, ...] = (
    Key("id", "text", required=True),
    Key("what", "text", required=True),
    Key("cost", "money", required=True, high=_MONEY_HIGH),
    Key("growth_pct", "number", high=1000),
    Key("after", "texts"),
    Key("latest", "whole", low=1, high=20),
    Key("before_season", "text", choices=SEASONS),
    Key("earliest", "whole", low=1, high=20),
    Key("season", "text", choices=SEASONS),
    Key("risk", "text"),
    Key("protected", "flag"),
    Key("tree", "text"),
)
"""Every key of an [[item]]; docs/phases.md."""


@dataclass(frozen=True, slots=True)
class PhaseItem:
    """One item of work.

    `growth_pct` is what a year's waiting adds to its cost, compound. `after` names items done
    earlier, in the same year at the earliest. `latest` is the last year it may be done; with
    `before_season` it must be done before that season of that year. `season` is the only season
    it can be done in. `risk` says in words what is carried while it waits.
    """

    id: str
    what: str
    cost_minor: int
    growth_pct: float = 0.0
    after: tuple[str, ...] = ()
    latest: int | None = None
    before_season: str | None = None
    earliest: int = 1
    season: str | None = None
    risk: str = ""
    protected: bool = False
    tree: str = ""


@dataclass(frozen=True, slots=True)
class PhasePlan:
    """What is to be spread over years. `budgets_minor` holds one budget a year; a year with any
    work costs one visit. `ties` names items that, between schedules of one total, come as early
    as they can, in this order. `differ_items`: how many items at least change their year between
    two of the schedules given; 0 = a tenth of them, one at least."""

    items: tuple[PhaseItem, ...]
    budgets_minor: tuple[int, ...]
    visit_minor: int = 0
    best: int = 3
    differ_items: int = 0
    ties: tuple[str, ...] = ()
    first_season: str = "winter"

    @property
    def years(self) -> int:
        """Number of years."""
        return len(self.budgets_minor)

    @property
    def least_change(self) -> int:
        """Items that must change their year from one given schedule to another."""
        return self.differ_items or max(1, len(self.items) // 10)

    @property
    def tie_order(self) -> tuple[str, ...]:
        """Items in the order ties are settled: `ties`, protected ones, the rest as listed."""
        protected = [i.id for i in self.items if i.protected]
        return tuple(dict.fromkeys((*self.ties, *protected, *(i.id for i in self.items))))

    def season_order(self) -> tuple[str, ...]:
        """Seasons of one plan year, from the first."""
        k = SEASONS.index(self.first_season)
        return SEASONS[k:] + SEASONS[:k]


def cost_in_year_minor(item: PhaseItem, year: int) -> int:
    """Give what an item costs when done in a year (1 = first), rounded half up.

    cost x (1 + growth)^(year - 1)

    Examples
    --------
    540 growing 25 % a year, done in year 3: 843.75.
    """
    growth = 1 + Decimal(str(item.growth_pct)) / 100
    return round_minor(Decimal(item.cost_minor) * growth ** (year - 1))


def read_phases(
    table: Mapping[str, Any], *, file: str
) -> tuple[PhasePlan | None, tuple[Problem, ...]]:
    """Read a plan from the table of a `phases.toml`.

    Parameters
    ----------
    table : mapping
        As a TOML reader gives it. Keys: `PHASE_KEYS` and, in [[item]], `ITEM_KEYS`.
    file : str
        Path for the problems.

    Returns
    -------
    plan : PhasePlan or None
        None where any problem was found.
    problems : tuple of Problem
        Everything that is wrong, at once: unknown and missing keys, wrong values, unknown or
        circular prerequisites, items no year's budget can carry, budgets below every item.
        `row` is the item's id (its number where it has none).
    """
    head = {k: v for k, v in table.items() if k != "item"}
    digits = head.get("minor_digits", 2)
    known = isinstance(digits, int) and not isinstance(digits, bool) and 0 <= digits <= 3
    digits = digits if known else 2
    listed = head.pop("budget", None) if isinstance(head.get("budget"), list) else None
    v, found = read_keys(head, PHASE_KEYS, file=file, minor_digits=digits)
    problems = list(found)
    items = _read_items(table.get("item"), file, digits, problems)
    budgets = _read_budgets(listed, v, file, digits, problems)
    plan = PhasePlan(
        tuple(items),
        tuple(budgets),
        v.get("visit", 0),
        v.get("best", 3),
        v.get("differ_items", 0),
        v.get("ties", ()),
        v.get("first_season", "winter"),
    )
    problems += _between_items(plan, file)
    return (None if problems else plan), tuple(problems)


def _read_items(raw: Any, file: str, digits: int, problems: list[Problem]) -> list[PhaseItem]:
    if not isinstance(raw, list) or not raw or not all(isinstance(i, Mapping) for i in raw):
        problems.append(Problem(file, None, "item", None, "one [[item]] for each piece of work"))
        return []
    items, seen = [], set()
    for n, entry in enumerate(raw, start=1):
        name = entry.get("id")
        row: str | int = name if isinstance(name, str) and name.strip() else n
        v, found = read_keys(entry, ITEM_KEYS, file=file, minor_digits=digits, row=row)
        problems += found
        if row in seen:
            problems.append(Problem(file, row, "id", str(row), "an id no other item has"))
            continue
        seen.add(row)
        if "before_season" in v and "latest" not in v:
            problems.append(
                Problem(file, row, "latest", None, "the year whose season must not be reached")
            )
        if found:
            # Kept as far as it goes, so that what others say of it is still checked.
            v.setdefault("cost", 0)
        items.append(
            PhaseItem(
                str(row),
                v.get("what", ""),
                v["cost"],
                v.get("growth_pct", 0.0),
                v.get("after", ()),
                v.get("latest"),
                v.get("before_season"),
                v.get("earliest", 1),
                v.get("season"),
                v.get("risk", ""),
                v.get("protected", False),
                v.get("tree", ""),
            )
        )
    return items


def _read_budgets(
    listed: list[Any] | None, v: Mapping[str, Any], file: str, digits: int,
    problems: list[Problem],
) -> list[int]:  # fmt: skip
    """One budget for every year, or a list with one for each."""
    years = v.get("years", 0)
    if listed is None:
        if "budget" not in v:
            if not any(p.field == "budget" for p in problems):
                problems.append(
                    Problem(file, None, "budget", None, "an amount a year, or one for each year")
                )
            return []
        return [v["budget"]] * years
    budgets = []
    for n, raw in enumerate(listed, start=1):
        one, found = read_keys(
            {"budget": raw}, PHASE_KEYS[2:3], file=file, minor_digits=digits, prefix=f"year {n} "
        )
        problems += found
        budgets += [one["budget"]] if not found else []
    if years and len(listed) != years:
        problems.append(
            Problem(
                file, None, "budget", f"{len(listed)} amounts", f"one for each of {years} years"
            )
        )
    return budgets


def _between_items(plan: PhasePlan, file: str) -> list[Problem]:
    problems: list[Problem] = []
    names = {i.id for i in plan.items}
    for item in plan.items:
        for other in item.after:
            if other not in names:
                problems.append(Problem(file, item.id, "after", other, "the id of another item"))
        for key, year in (("latest", item.latest), ("earliest", item.earliest)):
            if year is not None and plan.years and year > plan.years:
                problems.append(
                    Problem(file, item.id, key, str(year), f"a year from 1 to {plan.years}")
                )
        if item.latest is not None and item.latest < item.earliest:
            problems.append(
                Problem(
                    file, item.id, "latest", str(item.latest),
                    f"no year before the earliest, {item.earliest}",
                )
            )  # fmt: skip
    problems += [
        Problem(file, None, "ties", t, "the id of an item") for t in plan.ties if t not in names
    ]
    circle = _circle(plan.items)
    if circle:
        shown = " after ".join(circle)
        problems.append(
            Problem(file, circle[0], "after", shown, "prerequisites that do not lead in a circle")
        )
    return problems + _beyond_budget(plan, file)


def _beyond_budget(plan: PhasePlan, file: str) -> list[Problem]:
    """Name items no year can carry; where that is all of them, blame the budget once."""
    if not plan.items or not plan.budgets_minor or any(not i.cost_minor for i in plan.items):
        return []
    beyond = []
    for item in plan.items:
        last = min(item.latest or plan.years, plan.years)
        open_years = range(item.earliest, last + 1)
        if open_years and all(
            cost_in_year_minor(item, y) + plan.visit_minor > plan.budgets_minor[y - 1]
            for y in open_years
        ):
            beyond.append(item)
    if len(beyond) == len(plan.items) and len(beyond) > 1:
        least = min(i.cost_minor for i in plan.items) + plan.visit_minor
        return [
            Problem(
                file, None, "budget", str(max(plan.budgets_minor)),
                f"at least {least} minor units in one year: the cheapest item with its visit",
            )
        ]  # fmt: skip
    return [
        Problem(
            file, i.id, "cost", str(i.cost_minor),
            "no more than the budget of a year it may be done in, less the visit "
            "(both in minor units)",
        )
        for i in beyond
    ]  # fmt: skip


def _circle(items: Sequence[PhaseItem]) -> tuple[str, ...]:
    """Give one circle of prerequisites, first item repeated at the end; () where none."""
    try:
        TopologicalSorter({i.id: i.after for i in items}).prepare()
    except CycleError as e:
        # graphlib lists the circle from prerequisite to dependant; "after" reads the other way.
        return tuple(reversed(e.args[1]))
    return ()
