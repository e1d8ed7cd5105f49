"""Priced lines: hours first, money after, and shared costs split to the last minor unit."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from bolewalk.model.statements import Statement, say
from bolewalk.pricing.cost import (
    LineMoney,
    gear_hour_minor,
    line_money,
    load_minor,
    mark_up,
    missing_rates,
)
from bolewalk.pricing.debris import (
    Loads,
    add_debris,
    dump_fee_minor,
    loads_for,
    stump_by_the_inch_minor,
)
from bolewalk.pricing.methods import MethodChoice, choose_methods
from bolewalk.pricing.money import allocate_minor, round_minor, round_step
from bolewalk.pricing.rates import Rates
from bolewalk.pricing.tasks import TaskHours, access_class, hours_table, task_hours
from bolewalk.pricing.work_items import WorkItem

__all__ = ["PriceLine", "line_notes", "priced_lines", "with_methods"]


@dataclass(frozen=True, slots=True)
class PriceLine:
    """One line of a quote.

    `hours` and `money` are None where the line could not be priced; `unpriced` says why. Low and
    high are the simulated band about `money.price_minor`; bands of lines do not add up to the
    band of the total. `method` holds why not another way and what it would cost more.
    """

    item: WorkItem
    hours: TaskHours | None
    money: LineMoney | None
    unpriced: tuple[Statement, ...] = ()
    method: tuple[Statement, ...] = ()
    notes: tuple[Statement, ...] = ()
    hours_low: float | None = None
    hours_high: float | None = None
    low_minor: int | None = None
    high_minor: int | None = None

    @property
    def price_minor(self) -> int:
        """Price before tax, 0 where it could not be priced."""
        return 0 if self.money is None else self.money.price_minor

    @property
    def person_hours(self) -> float:
        """Hours of all people together."""
        return 0.0 if self.hours is None else self.hours.hours * self.hours.people


@dataclass(slots=True)
class _Shares:
    """What each priced item carries of costs shared by the job [minor units]."""

    gear: dict[str, int] = field(default_factory=dict)
    haul: dict[str, int] = field(default_factory=dict)


def with_methods(
    items: Sequence[WorkItem], rates: Rates
) -> tuple[tuple[WorkItem, ...], dict[str, MethodChoice]]:
    """Set every removal's way down; an item for which none fits keeps the task "remove"."""
    choices = choose_methods(items, rates)
    settled = []
    for item in items:
        choice = choices.get(item.id)
        if choice is not None and choice.task is not None:
            item = replace(item, task=choice.task, facts=replace(item.facts, task=choice.task))
        settled.append(item)
    return tuple(settled), choices


def _timed(
    items: Sequence[WorkItem], rates: Rates, choices: Mapping[str, MethodChoice]
) -> tuple[dict[str, TaskHours], dict[str, tuple[Statement, ...]]]:
    timed: dict[str, TaskHours] = {}
    unpriced: dict[str, tuple[Statement, ...]] = {}
    for item in items:
        if item.task == "remove":
            choice = choices.get(item.id)
            reasons = () if choice is None else choice.excluded
            unpriced[item.id] = (
                (say("price.no_method", tree=item.tree), *reasons)
                if choice is not None
                else (say("price.not_priced_mass_t", tree=item.tree),)
            )
            continue
        own = rates.overrides(item.task, access_class(item.facts))
        hours = task_hours(item.facts, overrides=own)
        by_inch = item.task == "grind" and rates.stump_per_in_minor is not None
        stated = by_inch or item.set_price_minor is not None
        lacking = () if stated else missing_rates(hours, rates)
        waiting = [other for other in item.after if other in unpriced]
        reasons = (
            *(say("price.after_unpriced", tree=item.tree) for _ in waiting[:1]),
            *(say(f"price.not_priced_{driver}", tree=item.tree) for driver in hours.missing),
            *(say("price.not_priced_rate", tree=item.tree, key=key) for key in lacking),
        )
        if reasons:
            unpriced[item.id] = reasons
        else:
            timed[item.id] = hours
    return timed, unpriced


def _by_the_inch(item: WorkItem, rates: Rates) -> bool:
    return item.task == "grind" and rates.stump_per_in_minor is not None


def _shares(
    items: Sequence[WorkItem], timed: Mapping[str, TaskHours], rates: Rates
) -> tuple[_Shares, Loads]:
    """Split machines and loads: whole days and whole loads over the base lines; options and
    blocked lines carry the part of a day and of a load they would use, and what they alone
    would bring."""
    shares = _Shares()
    priced = [i for i in items if i.id in timed and not _by_the_inch(i, rates)]
    base = [i for i in priced if i.standing == "base"]
    for item in priced:
        shares.gear[item.id] = shares.haul[item.id] = 0
    for name, gear in sorted(rates.gear.items()):
        users = [i for i in base if name in timed[i.id].gear]
        hours = [timed[i.id].hours for i in users]
        if users:
            if gear.per_hour_minor is None:
                days = max(1, math.ceil(sum(hours) / rates.day_hours - 1e-9))
                _add(shares.gear, users, allocate_minor(days * (gear.per_day_minor or 0), hours))
            _add(shares.gear, users, allocate_minor(gear.bring_minor, hours))
        for item in priced:
            if name not in timed[item.id].gear:
                continue
            if gear.per_hour_minor is not None or item.standing != "base":
                shares.gear[item.id] += round_minor(
                    timed[item.id].hours * gear_hour_minor(gear, rates)
                )
            if item.standing != "base" and not users:
                shares.gear[item.id] += gear.bring_minor
    # Grindings priced by the inch still ride in the truck.
    hauling = [i for i in items if i.id in timed and i.standing == "base" and i.debris.total_m3]
    loads = loads_for(add_debris([i.debris for i in hauling]), rates)
    if hauling:
        volumes = [i.debris.total_m3 for i in hauling]
        _add(shares.haul, hauling, allocate_minor(loads.count * load_minor(rates), volumes))
    for item in priced:
        if item.standing != "base" and item.debris.total_m3:
            part = item.debris.total_m3 / rates.truck.box_m3
            if rates.truck.payload_kg is not None:
                part = max(part, item.debris.total_kg / rates.truck.payload_kg)
            shares.haul[item.id] = round_minor(part * load_minor(rates))
    return shares, loads


def _add(to: dict[str, int], items: Sequence[WorkItem], parts: Sequence[int]) -> None:
    for item, part in zip(items, parts, strict=True):
        to[item.id] = to.get(item.id, 0) + part


def priced_lines(
    items: Sequence[WorkItem], rates: Rates, *, choices: Mapping[str, MethodChoice]
) -> tuple[tuple[PriceLine, ...], Loads]:
    """Price work items whose ways down are settled.

    Parameters
    ----------
    items : sequence of WorkItem
        From `with_methods`.
    rates : Rates
    choices : mapping
        From `with_methods`.

    Returns
    -------
    lines : tuple of PriceLine
        In the order of the items, without bands and notes.
    loads : Loads
        Of the base lines together.
    """
    timed, unpriced = _timed(items, rates, choices)
    shares, loads = _shares(items, timed, rates)
    lines = []
    for item in items:
        choice = choices.get(item.id)
        method = () if choice is None else (*choice.excluded, *choice.dearer)
        hours = timed.get(item.id)
        if hours is None:
            lines.append(PriceLine(item, None, None, unpriced[item.id], method))
            continue
        lines.append(PriceLine(item, hours, _money(item, hours, rates, shares), (), method))
    return tuple(lines), loads


def _money(item: WorkItem, hours: TaskHours, rates: Rates, shares: _Shares) -> LineMoney:
    if item.set_price_minor is not None:
        return LineMoney(fixed_minor=item.set_price_minor)
    haul = shares.haul.get(item.id, 0)
    if item.task == "grind" and rates.stump_per_in_minor is not None:
        price = stump_by_the_inch_minor(
            item.diameter_cm or 0.0, per_in_minor=rates.stump_per_in_minor
        )
        dump, _ = dump_fee_minor(item.debris, rates)
        hauled = mark_up(LineMoney(haul_minor=haul, dump_minor=dump), rates)
        whole = price + hauled.price_minor - hauled.rounding_minor
        return replace(
            hauled,
            fixed_minor=price,
            rounding_minor=round_step(whole, step_minor=rates.line_step_minor) - whole,
        )
    return line_money(
        hours,
        item.debris,
        rates,
        gear_minor=shares.gear[item.id],
        haul_minor=haul,
        goods_minor=item.stock * (_stock_minor(item, rates) or 0),
    )


def _stock_minor(item: WorkItem, rates: Rates) -> int | None:
    """Give the price of one young plant: of its size where the firm has one, else of any."""
    return rates.stock_minor.get(item.stock_size, rates.tree_in_stock_minor)


def line_notes(item: WorkItem, rates: Rates) -> tuple[Statement, ...]:
    """Say what a priced item leaves out, and how its heaviest piece is moved."""
    notes: list[Statement] = []
    _, without_fee = dump_fee_minor(item.debris, rates)
    notes += [say("price.no_dump_fee", tree=item.tree, material=m) for m in without_fee]
    if item.stock and item.set_price_minor is None:
        if _stock_minor(item, rates) is None:
            notes.append(say("price.no_stock_price", tree=item.tree))
        elif item.stock_size and item.stock_size not in rates.stock_minor:
            notes.append(say("price.any_stock_price", stock=item.stock_size))
    piece = None if item.material is None else item.material.heaviest_piece_kg
    if piece is not None and item.task.startswith("remove") and item.scope.get("wood") == "haul":
        notes += _handling(item, piece, rates)
    return tuple(notes)


def _handling(item: WorkItem, piece_kg: float, rates: Rates) -> list[Statement]:
    """Say how the heaviest piece leaves the site, or that it must be cut smaller."""
    by_hand = float(hours_table()["method"]["hand_piece_kg"])
    loader, gate = rates.gear.get("loader"), item.facts.gate_m
    if piece_kg <= by_hand:
        return []
    if item.task == "remove_crane":
        return [say("price.piece_by_crane", tree=item.tree, piece_kg=piece_kg)]
    limit = by_hand
    if loader is not None and loader.capacity_kg is not None:
        passes = gate is None or loader.gate_m is None or gate >= loader.gate_m
        if passes and piece_kg <= loader.capacity_kg:
            return [say("price.piece_by_loader", tree=item.tree, piece_kg=piece_kg)]
        limit = max(limit, loader.capacity_kg) if passes else limit
    return [say("price.piece_cut_smaller", tree=item.tree, piece_kg=piece_kg, limit_kg=limit)]
