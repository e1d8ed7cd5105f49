"""Which way a tree comes down: felled, climbed, from a lift or with a crane."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace

from bolewalk.model.statements import Statement, say
from bolewalk.pricing.cost import crew_hour_minor, gear_hour_minor, missing_rates
from bolewalk.pricing.money import round_minor
from bolewalk.pricing.rates import Rates
from bolewalk.pricing.tasks import TaskFacts, TaskHours, access_class, hours_table, task_hours
from bolewalk.pricing.work_items import WorkItem

__all__ = ["MethodChoice", "choose_methods", "why_not"]

_METHODS = ("fell", "climb", "lift", "crane")


@dataclass(frozen=True, slots=True)
class MethodChoice:
    """The way chosen for one item and why not the others.

    `task` None = no way fits, `excluded` says why for each. `dearer` holds the ways that fit and
    cost more, with what they would add.
    """

    task: str | None
    cost_minor: int | None
    excluded: tuple[Statement, ...]
    dearer: tuple[Statement, ...]


def why_not(item: WorkItem, method: str, rates: Rates) -> Statement | None:
    """Say why a tree cannot come down this way, None where it can.

    Limits: data/default_hours.toml [method], ours.
    """
    rules = hours_table()["method"]
    f = item.facts
    for gear in hours_table()["task"][f"remove_{method}"]["gear"]:
        if gear not in rates.gear:
            return say(f"price.not_{method}_no_gear", tree=item.tree)
    if method == "fell":
        if item.clear_m is None or f.height_m is None:
            return say("price.not_fell_unknown", tree=item.tree)
        room = f.height_m * rules["fell_room_heights"]
        if item.clear_m < room:
            return say("price.not_fell_room", tree=item.tree, needed_m=room, clear_m=item.clear_m)
        return None
    if method == "climb":
        if item.brittle:
            return say("price.not_climb_brittle", tree=item.tree)
        if item.palm and (f.height_m is None or f.height_m > rules["palm_climb_m"]):
            return say("price.not_climb_palm", tree=item.tree)
        return None
    if method == "lift":
        return _why_no_lift(item.tree, f, rates)
    return _why_no_crane(item, rates)


def _why_no_lift(tree: str, f: TaskFacts, rates: Rates) -> Statement | None:
    rules = hours_table()["method"]
    lift = rates.gear["lift"]
    if f.slope_pct is not None and f.slope_pct > rules["lift_slope_pct"]:
        return say("price.not_lift_slope", tree=tree, slope_pct=f.slope_pct)
    if f.gate_m is not None and lift.gate_m is not None and f.gate_m < lift.gate_m:
        return say("price.not_lift_gate", tree=tree, gate_m=f.gate_m, needed_m=lift.gate_m)
    if f.height_m is not None and lift.reach_m is not None:
        needed = f.height_m * rules["lift_reach_share"]
        if needed > lift.reach_m:
            return say("price.not_lift_reach", tree=tree, needed_m=needed, reach_m=lift.reach_m)
    return None


def _why_no_crane(item: WorkItem, rates: Rates) -> Statement | None:
    f, crane = item.facts, rates.gear["crane"]
    if crane.reach_m is not None:
        if f.height_m is not None and f.height_m > crane.reach_m:
            return say(
                "price.not_crane_reach",
                tree=item.tree, needed_m=f.height_m, reach_m=crane.reach_m,
            )  # fmt: skip
        if f.carry_m is not None and f.carry_m > crane.reach_m:
            return say(
                "price.not_crane_carry",
                tree=item.tree, carry_m=f.carry_m, reach_m=crane.reach_m,
            )  # fmt: skip
    piece = None if item.material is None else item.material.heaviest_piece_kg
    if piece is not None and crane.capacity_kg is not None and piece > crane.capacity_kg:
        return say(
            "price.not_crane_weight",
            tree=item.tree, piece_kg=piece, capacity_kg=crane.capacity_kg,
        )  # fmt: skip
    return None


def _cost_minor(hours: TaskHours, rates: Rates, *, there: Collection[str]) -> int:
    """Cost on site, and of bringing machines that are not there for another tree anyway."""
    on_site = crew_hour_minor(hours.crew, rates) + sum(
        gear_hour_minor(rates.gear[g], rates) for g in hours.gear
    )
    brought = sum(rates.gear[g].bring_minor for g in hours.gear if g not in there)
    return round_minor(hours.hours * on_site) + brought


def choose_methods(items: Sequence[WorkItem], rates: Rates) -> dict[str, MethodChoice]:
    """Choose for every "remove" item the cheapest way that fits.

    Machines are first charged in full to each tree; those that some tree brings are then free
    to bring for the others, and the choice is made again.

    Returns
    -------
    dict
        Item id -> choice, for items whose task is "remove" and whose size is known.
    """
    removals = [i for i in items if i.task == "remove" and i.facts.mass_t is not None]
    excluded: dict[str, tuple[Statement, ...]] = {}
    timed: dict[str, list[TaskHours]] = {}
    for item in removals:
        against: list[Statement] = []
        timed[item.id] = []
        for method in _METHODS:
            task = f"remove_{method}"
            reason = why_not(item, method, rates)
            if reason is not None:
                against.append(reason)
                continue
            own = rates.overrides(task, access_class(item.facts))
            hours = task_hours(replace(item.facts, task=task), overrides=own)
            if missing := missing_rates(hours, rates):
                against.append(say("price.not_priced_rate", tree=item.tree, key=missing[0]))
            else:
                timed[item.id].append(hours)
        excluded[item.id] = tuple(against)

    def ranked(item: WorkItem, there: Collection[str]) -> list[tuple[int, TaskHours]]:
        costs = [(_cost_minor(h, rates, there=there), h) for h in timed[item.id]]
        return sorted(costs, key=lambda c: (c[0], _METHODS.index(c[1].task.split("_")[1])))

    first = {i.id: ranked(i, ()) for i in removals}
    there = {
        g for i in removals if first[i.id] and i.standing == "base" for g in first[i.id][0][1].gear
    }
    choices: dict[str, MethodChoice] = {}
    for item in removals:
        ways = ranked(item, there)
        if not ways:
            choices[item.id] = MethodChoice(None, None, excluded[item.id], ())
            continue
        least = ways[0][0]
        dearer = tuple(
            say(f"price.dearer_{h.task.split('_')[1]}", tree=item.tree, more_minor=c - least)
            for c, h in ways[1:]
        )
        choices[item.id] = MethodChoice(ways[0][1].task, least, excluded[item.id], dearer)
    return choices
