"""What moves a price most, in money: each open fact and choice tried at both ends."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from bolewalk.model.statements import Statement, say
from bolewalk.pricing.debris import wood_debris
from bolewalk.pricing.rates import Disposal, Rates
from bolewalk.pricing.tasks import hours_table, task_hours
from bolewalk.pricing.work_items import WorkItem

__all__ = ["Mover", "Reprice", "movers"]

Reprice = Callable[[Sequence[WorkItem], Rates], int]
"""Gives the total [minor units] of changed items or rates."""


@dataclass(frozen=True, slots=True)
class Mover:
    """One thing that moves the total: what it does at its low and its high end [minor units].

    `swing_minor` is the distance between the two; `low_minor` and `high_minor` are the totals.
    """

    says: Statement
    low_minor: int
    high_minor: int

    @property
    def swing_minor(self) -> int:
        """How far the total moves."""
        return abs(self.high_minor - self.low_minor)


def movers(
    items: Sequence[WorkItem], rates: Rates, reprice: Reprice, *, total_minor: int
) -> tuple[Mover, ...]:
    """Rank what moves the total most.

    Parameters
    ----------
    items : sequence of WorkItem
        With their ways down settled; these stay as chosen.
    rates : Rates
    reprice : callable
        Total of changed items or rates.
    total_minor : int
        Total as quoted.

    Returns
    -------
    tuple of Mover
        Largest swing first, at most as many as the table shows; what moves nothing is left out.
    """
    table = hours_table()["movers"]
    found = [
        *_unrecorded(items, rates, reprice, table),
        *_tree_sizes(items, rates, reprice),
        *_task_hours(items, rates, reprice),
        *_rates(items, rates, reprice, table),
        *_scope(items, rates, reprice, total_minor),
    ]
    moving = [m for m in found if m.swing_minor]
    moving.sort(key=lambda m: (-m.swing_minor, m.says.code, m.says.values))
    return tuple(moving[: table["shown"]])


def _unrecorded(
    items: Sequence[WorkItem], rates: Rates, reprice: Reprice, table: Mapping[str, Any]
) -> list[Mover]:
    """Facts of the site nobody recorded, at a good and a bad value."""
    found = []
    for name in ("carry_m", "slope_pct", "gate_m", "targets"):
        if not any(getattr(i.facts, name) is None for i in items):
            continue
        ends = []
        for value in table[name]:
            tried = [
                replace(i, facts=replace(i.facts, **{name: value}))
                if getattr(i.facts, name) is None
                else i
                for i in items
            ]
            ends.append(reprice(tried, rates))
        code = f"price.mover_{name.split('_')[0]}"
        suffix = name.removeprefix("targets")
        unit = f"_{suffix.split('_')[1]}" if "_" in suffix else "_count"
        values = {f"from{unit}": table[name][0], f"to{unit}": table[name][1]}
        found.append(Mover(say(code, **values), ends[0], ends[1]))
    if any(i.facts.wires is None for i in items):
        ends = [
            reprice(
                [
                    replace(i, facts=replace(i.facts, wires=w)) if i.facts.wires is None else i
                    for i in items
                ],
                rates,
            )
            for w in (False, True)
        ]
        found.append(Mover(say("price.mover_wires"), ends[0], ends[1]))
    return found


def _tree_sizes(items: Sequence[WorkItem], rates: Rates, reprice: Reprice) -> list[Mover]:
    """The green mass range of the heaviest trees; the rest moves less."""
    ranged = [
        i
        for i in items
        if i.material is not None
        and i.standing == "base"
        and i.material.high_kg > i.material.low_kg
    ]
    ranged.sort(key=lambda i: (i.material.low_kg - i.material.high_kg if i.material else 0, i.id))
    found = []
    for item in ranged[: hours_table()["movers"]["trees"]]:
        material = item.material
        assert material is not None
        ends = []
        for mass in (material.low_kg, material.high_kg):
            k = mass / material.green_kg
            f = item.facts
            changed = replace(
                item,
                facts=replace(
                    f,
                    mass_t=mass / 1000,
                    handled_t=None if f.handled_t is None else f.handled_t * k,
                ),
                debris=replace(
                    item.debris,
                    volume_m3={m: v * k for m, v in item.debris.volume_m3.items()},
                    weight_kg={m: v * k for m, v in item.debris.weight_kg.items()},
                ),
            )
            ends.append(reprice([changed if i is item else i for i in items], rates))
        says = say(
            "price.mover_mass", tree=item.tree, from_kg=material.low_kg, to_kg=material.high_kg
        )
        found.append(Mover(says, ends[0], ends[1]))
    return found


def _task_hours(items: Sequence[WorkItem], rates: Rates, reprice: Reprice) -> list[Mover]:
    """The hours of each task, one standard deviation either way."""
    found = []
    for task in sorted({i.task for i in items if i.standing == "base" and i.task != "remove"}):
        own = dict(rates.hours.get(task, {}))
        first = next(i for i in items if i.task == task)
        spread = task_hours(first.facts, overrides=own).spread_pct
        now = own.get("correction", 1.0)
        ends = []
        for factor in (1 / (1 + spread / 100), 1 + spread / 100):
            hours = {**rates.hours, task: {**own, "correction": now * factor}}
            ends.append(reprice(items, replace(rates, hours=hours)))
        says = say("price.mover_hours", task=task, spread_pct=spread)
        found.append(Mover(says, ends[0], ends[1]))
    return found


def _rates(
    items: Sequence[WorkItem], rates: Rates, reprice: Reprice, table: Mapping[str, Any]
) -> list[Mover]:
    """Crew rates and dump fees, both ways."""
    pct = table["crew_rate_pct"]
    ends = [
        reprice(
            items,
            replace(rates, crew_minor={r: round(m * f) for r, m in rates.crew_minor.items()}),
        )
        for f in (1 - pct / 100, 1 + pct / 100)
    ]
    found = [Mover(say("price.mover_crew_rate", change_pct=pct), ends[0], ends[1])]
    pct = table["dump_fee_pct"]
    ends = [
        reprice(
            items,
            replace(
                rates,
                disposal={
                    m: Disposal(round(d.rate_minor * f), d.per) for m, d in rates.disposal.items()
                },
            ),
        )
        for f in (1 - pct / 100, 1 + pct / 100)
    ]
    found.append(Mover(say("price.mover_dump_fee", change_pct=pct), ends[0], ends[1]))
    return found


def _scope(
    items: Sequence[WorkItem], rates: Rates, reprice: Reprice, total_minor: int
) -> list[Mover]:
    """Choices of the client: wood left, chips left, stumps left."""
    found = []
    for word in ("wood", "chips"):
        changed = [_left(i, word) for i in items]
        if changed != list(items):
            less = reprice(changed, rates)
            found.append(Mover(say(f"price.mover_{word}_left"), less, total_minor))
    without = [
        replace(i, standing="option") if i.task == "grind" and i.standing == "base" else i
        for i in items
    ]
    if without != list(items):
        found.append(Mover(say("price.mover_stumps_left"), reprice(without, rates), total_minor))
    return found


def _left(item: WorkItem, word: str) -> WorkItem:
    if item.scope.get(word) != "haul" or item.material is None:
        return item
    keep = item.debris.weight_kg
    logs = 0.0 if word == "wood" else keep.get("logs", 0.0)
    brush = 0.0 if word == "chips" else keep.get("chips", 0.0) + keep.get("brush", 0.0)
    left = wood_debris(brush_kg=brush, log_kg=logs, logs_kg_m3=item.material.logs_kg_m3)
    return replace(item, debris=left)
