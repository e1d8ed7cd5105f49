"""Years for work under yearly budgets: the cheapest schedule, proven, and the next best few."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from graphlib import TopologicalSorter
from typing import TYPE_CHECKING

from bolewalk.model.extras import extra
from bolewalk.model.statements import Statement, say
from bolewalk.pricing.phase_items import PhaseItem, PhasePlan, cost_in_year_minor

if TYPE_CHECKING:
    from ortools.sat.python import cp_model

# The solver is imported where it is used: it is an extra, takes two seconds, and most surveys have
# no yearly budget.

__all__ = ["Schedule", "Schedules", "plan_phases", "replan"]

_WORK_LIMIT = 40.0
"""Deterministic work of one solver call: the same on every machine, about as many seconds."""


@dataclass(frozen=True, slots=True)
class Schedule:
    """One schedule. Money in minor units.

    `years` gives each item its year (1 = first), `seasons` the season it falls in at the
    earliest. `year_totals_minor` hold items and visit. `waiting_minor` is what waiting adds to
    the cost of doing every item in its first year. `carried` says what risk waits until when;
    `differs` how this schedule differs from the first one.
    """

    years: Mapping[str, int]
    seasons: Mapping[str, str]
    year_totals_minor: tuple[int, ...]
    total_minor: int
    waiting_minor: int
    visits: int
    carried: tuple[Statement, ...]
    differs: tuple[Statement, ...]
    proven: bool


@dataclass(frozen=True, slots=True)
class Schedules:
    """The best schedules, cheapest first; none where the budgets cannot carry the work, and
    `impossible` then says by how much."""

    best: tuple[Schedule, ...]
    impossible: Statement | None = None


class _Model:
    """The plan as a model: x[item, year], slot = year and season on one axis."""

    def __init__(self, plan: PhasePlan, *, overrun: bool = False) -> None:
        with extra("planning", what="Spreading work over years"):
            from ortools.sat.python import cp_model

        self.plan = plan
        self.model = m = cp_model.CpModel()
        years = range(1, plan.years + 1)
        self.cost = {(i.id, y): cost_in_year_minor(i, y) for i in plan.items for y in years}
        self.x = {key: m.new_bool_var(f"{key[0]}@{key[1]}") for key in self.cost}
        self.used = {y: m.new_bool_var(f"visit@{y}") for y in years}
        most = sum(self.cost.values()) + plan.visit_minor * plan.years
        self.over = {y: m.new_int_var(0, most if overrun else 0, f"over@{y}") for y in years}
        self.year = {}
        slots = {}
        seasons = plan.season_order()
        for item in plan.items:
            m.add_exactly_one(self.x[item.id, y] for y in years)
            last = plan.years if item.latest is None else item.latest
            for y in years:
                if not item.earliest <= y <= last:
                    m.add(self.x[item.id, y] == 0)
                m.add_implication(self.x[item.id, y], self.used[y])
            self.year[item.id] = sum(y * self.x[item.id, y] for y in years)
            at = None if item.season is None else seasons.index(item.season)
            season = m.new_int_var(at or 0, len(seasons) - 1 if at is None else at, item.id)
            slots[item.id] = len(seasons) * self.year[item.id] + season
            if item.latest is not None and item.before_season is not None:
                before = len(seasons) * item.latest + seasons.index(item.before_season)
                m.add(slots[item.id] < before)
        for item in plan.items:
            for other in item.after:
                m.add(slots[item.id] >= slots[other])
                m.add(self.year[item.id] >= self.year[other])
        for y in years:
            spent = sum(self.cost[i.id, y] * self.x[i.id, y] for i in plan.items)
            m.add(
                spent + plan.visit_minor * self.used[y] <= plan.budgets_minor[y - 1] + self.over[y]
            )
        self.total = sum(self.cost[k] * self.x[k] for k in self.cost) + plan.visit_minor * sum(
            self.used.values()
        )

    def solve(self, objective: "cp_model.LinearExprT") -> tuple[dict[str, int] | None, int, bool]:
        """Minimise; give years, objective value and whether it is proven."""
        from ortools.sat.python import cp_model

        self.model.minimize(objective)
        solver = cp_model.CpSolver()
        solver.parameters.num_workers = 1
        solver.parameters.random_seed = 1
        # Budgets are knapsacks: without their linear bounds the proof takes ten times as long.
        solver.parameters.linearization_level = 2
        solver.parameters.max_deterministic_time = _WORK_LIMIT
        status = solver.solve(self.model)
        if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            return None, 0, status == cp_model.INFEASIBLE
        found = {i.id: int(solver.value(self.year[i.id])) for i in self.plan.items}
        self.model.clear_hints()  # type: ignore[no-untyped-call]
        for (name, y), var in self.x.items():
            self.model.add_hint(var, found[name] == y)
        return found, round(solver.objective_value), status == cp_model.OPTIMAL


def plan_phases(plan: PhasePlan) -> Schedules:
    """Choose a year for every item.

    Least total cost (items in their year, and one visit for each year with work), under the
    yearly budgets, after prerequisites, within deadlines and seasons. Between schedules of one
    total: the items of `tie_order` come as early as they can, those named first before those
    named later, the rest together.

    Parameters
    ----------
    plan : PhasePlan
        Without faults, as `read_phases` gives it.

    Returns
    -------
    Schedules
        Up to `plan.best` schedules with rising totals, each differing from every one before in
        at least `plan.least_change` items' years. `proven` False: the work limit was met before
        the solver could prove that nothing is cheaper.
    """
    found: list[Schedule] = []
    floor = 0
    while len(found) < plan.best:
        model = _Model(plan)
        if found:
            model.model.add(model.total >= floor)
        for earlier in found:
            same = sum(model.x[name, y] for name, y in earlier.years.items())
            model.model.add(same <= len(plan.items) - plan.least_change)
        years, total, proven = model.solve(model.total)
        if years is None:
            break
        if proven:
            model.model.add(model.total <= total)
            years = _settle_ties(model, years)
        found.append(_schedule(plan, years, proven, first=found[0] if found else None))
        floor = total + 1
    return Schedules(tuple(found), None if found else _impossible(plan))


def _settle_ties(model: _Model, years: dict[str, int]) -> dict[str, int]:
    plan = model.plan
    named = [
        n
        for n in plan.tie_order
        if n in plan.ties or any(i.protected and i.id == n for i in plan.items)
    ]
    rest = [n for n in plan.tie_order if n not in named]
    # Powers of the number of years keep the order strict; few enough at a time to stay exact.
    group = 8
    steps = [named[k : k + group] for k in range(0, len(named), group)]
    for names in steps:
        weights = [(plan.years + 1) ** (len(names) - 1 - k) for k in range(len(names))]
        objective = sum(w * model.year[n] for w, n in zip(weights, names, strict=True))
        better, _, _ = model.solve(objective)
        years = better or years
        for n in names:
            model.model.add(model.x[n, years[n]] == 1)
    if rest:
        weights = [len(rest) - k for k in range(len(rest))]
        objective = sum(w * model.year[n] for w, n in zip(weights, rest, strict=True))
        better, _, _ = model.solve(objective)
        years = better or years
    return years


def _impossible(plan: PhasePlan) -> Statement:
    """Say by how much the budgets fall short, or that the order itself cannot be kept."""
    model = _Model(plan, overrun=True)
    years, over, _ = model.solve(sum(model.over.values()))
    if years is None:
        return say("phase.impossible_order")
    return say("phase.impossible_budget", short_minor=over)


def _schedule(
    plan: PhasePlan, years: Mapping[str, int], proven: bool, *, first: Schedule | None
) -> Schedule:
    spent = [0] * plan.years
    for item in plan.items:
        spent[years[item.id] - 1] += cost_in_year_minor(item, years[item.id])
    visits = [bool(s) or (y + 1) in years.values() for y, s in enumerate(spent)]
    totals = tuple(
        s + (plan.visit_minor if seen else 0) for s, seen in zip(spent, visits, strict=True)
    )
    made = Schedule(
        years=dict(years),
        seasons=_seasons(plan, years),
        year_totals_minor=totals,
        total_minor=sum(totals),
        waiting_minor=sum(spent) - sum(i.cost_minor for i in plan.items),
        visits=sum(visits),
        carried=tuple(
            say("phase.carried", item=i.id, what=i.what, risk=i.risk, until_year=years[i.id])
            for i in plan.items
            if i.risk and years[i.id] > 1
        ),
        differs=(),
        proven=proven,
    )
    return made if first is None else replace(made, differs=_differs(plan, first, made))


def _differs(plan: PhasePlan, first: Schedule, other: Schedule) -> tuple[Statement, ...]:
    said = [say("phase.dearer", more_minor=other.total_minor - first.total_minor)]
    for item in plan.items:
        was, now = first.years[item.id], other.years[item.id]
        if was != now:
            code = "phase.later" if now > was else "phase.earlier"
            said.append(say(code, item=item.id, what=item.what, from_year=was, to_year=now))
    return tuple(said)


def _seasons(plan: PhasePlan, years: Mapping[str, int]) -> dict[str, str]:
    """Give each item the first season its own and its prerequisites' allow within its year."""
    order = plan.season_order()
    items = {i.id: i for i in plan.items}
    at: dict[str, int] = {}
    for name in TopologicalSorter({i.id: i.after for i in plan.items}).static_order():
        item = items[name]
        at[name] = (
            order.index(item.season)
            if item.season is not None
            else max((at[o] for o in item.after if years[o] == years[name]), default=0)
        )
    return {i.id: order[at[i.id]] for i in plan.items}


def replan(
    plan: PhasePlan, schedule: Schedule, without: Sequence[str], *, done: bool = True
) -> tuple[PhasePlan, Schedules]:
    """Plan again without some items; only what depends on them may move.

    Parameters
    ----------
    plan, schedule
        The plan and the schedule that was chosen.
    without : sequence of str
        Items taken out.
    done : bool
        True: done, or had otherwise, so that what comes after them may go ahead. False: refused,
        so that what comes after them is taken out with them.

    Returns
    -------
    plan : PhasePlan
        What is left.
    schedules : Schedules
        Items that do not depend on the ones taken out keep their years.
    """
    gone = set(without)
    unknown = gone - {i.id for i in plan.items}
    if unknown:
        raise KeyError(f"no item {sorted(unknown)[0]!r} in the plan")
    dependants = _dependants(plan.items, gone)
    if not done:
        gone |= dependants
        dependants = set()
    left: list[PhaseItem] = []
    for item in plan.items:
        if item.id in gone:
            continue
        item = replace(item, after=tuple(o for o in item.after if o not in gone))
        if item.id not in dependants:
            year = schedule.years[item.id]
            item = replace(item, earliest=year, latest=year, before_season=None)
        left.append(item)
    rest = replace(
        plan, items=tuple(left), ties=tuple(t for t in plan.ties if t not in gone), differ_items=1
    )
    return rest, plan_phases(rest)


def _dependants(items: Sequence[PhaseItem], of: set[str]) -> set[str]:
    found: set[str] = set()
    grew = True
    while grew:
        more = {i.id for i in items if set(i.after) & (of | found)} - of - found
        found |= more
        grew = bool(more)
    return found
