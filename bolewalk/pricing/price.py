"""The price of a survey's work: lines, totals that add up, band, and what moves it most."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

import numpy as np

from bolewalk.model.statements import Statement, say
from bolewalk.model.survey import Survey
from bolewalk.pricing.cost import LineMoney, crew_hour_minor, mark_up, mark_up_factor
from bolewalk.pricing.debris import Loads, TreeMaterial
from bolewalk.pricing.material import survey_materials
from bolewalk.pricing.methods import MethodChoice
from bolewalk.pricing.money import round_minor, round_step, share_minor
from bolewalk.pricing.movers import Mover, Reprice, movers
from bolewalk.pricing.quote import PriceLine, line_notes, priced_lines, with_methods
from bolewalk.pricing.rates import Contract, Rates
from bolewalk.pricing.simulation import simulate_hours
from bolewalk.pricing.tasks import hours_table
from bolewalk.pricing.word_check import scope_words
from bolewalk.pricing.work_items import VerdictLike, WorkItem, work_items

__all__ = ["JobLine", "Price", "price_items", "price_survey"]


@dataclass(frozen=True, slots=True)
class JobLine:
    """A line of the whole job: mobilisation, or a permit with the trees it is for."""

    kind: str
    says: Statement
    money: LineMoney
    trees: tuple[str, ...] = ()

    @property
    def price_minor(self) -> int:
        """Price before tax."""
        return self.money.price_minor


@dataclass(frozen=True, slots=True)
class Price:
    """The price of a job. Money in integer minor units.

    `lines` hold every priced or unpriced line in tree order, base, option and blocked alike.
    `subtotal_minor` = base lines + job lines; `total_minor` = subtotal + minimum_adjustment +
    tax, exactly. Options and blocked lines are in neither. `low_minor`, `high_minor` band the
    total (percentiles of the simulated runs, 10th and 90th, to the firm's line step).
    """

    currency: str
    minor_digits: int
    lines: tuple[PriceLine, ...]
    job_lines: tuple[JobLine, ...]
    subtotal_minor: int
    minimum_adjustment_minor: int
    tax_name: str
    tax_pct: float
    tax_minor: int
    total_minor: int
    low_minor: int
    high_minor: int
    options_minor: int
    blocked_minor: int
    loads: Loads
    crew_hours: float
    role_hours: Mapping[str, float]
    quote_date: date
    valid_until: date
    deposit_minor: int | None
    contract: Contract
    movers: tuple[Mover, ...]
    exclusions: tuple[Statement, ...]
    notes: tuple[Statement, ...]
    defaults: tuple[Statement, ...]

    def of(self, standing: str) -> tuple[PriceLine, ...]:
        """Give the lines that stand as base, option or blocked."""
        return tuple(line for line in self.lines if line.item.standing == standing)


def price_survey(
    survey: Survey,
    rates: Rates,
    *,
    verdicts: Mapping[str, VerdictLike] | None = None,
    materials: Mapping[str, TreeMaterial] | None = None,
    consents: Collection[str] = (),
    permits: Mapping[str, Sequence[str]] | None = None,
    blocked: Mapping[str, Mapping[str, Statement]] | None = None,
    extra: Sequence[WorkItem] = (),
    quote_date: date | None = None,
) -> Price:
    """Price everything a survey asks for.

    Parameters
    ----------
    survey : Survey
    rates : Rates
        From `rates.read_rates`.
    verdicts : mapping, optional
        Tree id -> verdict on works (anything with `conditions`).
    materials : mapping, optional
        Tree id -> what it is made of; computed from the trees where not given.
    consents, permits, blocked : optional
        As `work_items.work_items`.
    extra : sequence of WorkItem
        Further items: planting, watering, reports.
    quote_date : date, optional
        Day the validity runs from; the survey's date where none is given.

    Returns
    -------
    Price
        Same input, same price.
    """
    if materials is None:
        materials = survey_materials(survey)
    items = work_items(
        survey, rates, materials=materials, verdicts=verdicts, consents=consents, permits=permits,
        blocked=blocked,
    )  # fmt: skip
    return price_items((*items, *extra), rates, quote_date=quote_date or survey.date)


def price_items(items: Sequence[WorkItem], rates: Rates, *, quote_date: date) -> Price:
    """Price work items; as `price_survey`, from items of any origin."""
    settled, choices = with_methods(items, rates)
    lines, loads = priced_lines(settled, rates, choices=choices)
    lines = tuple(
        x if x.money is None else replace(x, notes=line_notes(x.item, rates)) for x in lines
    )
    job = _job_lines(lines, rates)
    subtotal, minimum, tax = _sums(lines, job, rates)
    lines, low, high = _banded(lines, job, rates, subtotal + minimum + tax)
    total = subtotal + minimum + tax
    roles: dict[str, float] = {}
    for line in lines:
        if line.hours is not None and line.item.standing == "base":
            for role, n in line.hours.crew.items():
                roles[role] = roles.get(role, 0.0) + n * line.hours.hours
    contract = rates.contract
    return Price(
        currency=rates.currency,
        minor_digits=rates.minor_digits,
        lines=lines,
        job_lines=job,
        subtotal_minor=subtotal,
        minimum_adjustment_minor=minimum,
        tax_name=rates.tax_name,
        tax_pct=rates.tax_pct,
        tax_minor=tax,
        total_minor=total,
        low_minor=low,
        high_minor=high,
        options_minor=sum(x.price_minor for x in lines if x.item.standing == "option"),
        blocked_minor=sum(x.price_minor for x in lines if x.item.standing == "blocked"),
        loads=loads,
        crew_hours=sum(
            x.hours.hours for x in lines if x.hours is not None and x.item.standing == "base"
        ),
        role_hours=dict(sorted(roles.items())),
        quote_date=quote_date,
        valid_until=quote_date + timedelta(days=rates.valid_days),
        deposit_minor=_deposit(total, contract),
        contract=contract,
        movers=movers(settled, rates, _repricer(choices), total_minor=total),
        exclusions=tuple(
            say(f"price.exclude_{name}") for name in scope_words()["exclusions"]["always"]
        ),
        notes=_notes(lines, loads, rates),
        defaults=_defaults(lines),
    )


def _job_lines(lines: Sequence[PriceLine], rates: Rates) -> tuple[JobLine, ...]:
    base = [x for x in lines if x.item.standing == "base" and x.money is not None]
    if not base:
        return ()
    made = [
        JobLine(
            "mobilisation",
            say("price.mobilisation"),
            mark_up(LineMoney(goods_minor=rates.mobilisation_minor), rates),
        )
    ]
    wanted: dict[str, list[str]] = {}
    for line in base:
        for name in line.item.permits:
            wanted.setdefault(name, []).append(line.item.tree)
    for name, trees in wanted.items():
        permit = rates.permits.get(name)
        if permit is None or permit.by == "client":
            continue
        labour = round_minor(permit.hours * rates.crew_minor.get("arborist", 0))
        money = mark_up(LineMoney(labour_minor=labour, fixed_minor=permit.fee_minor), rates)
        made.append(JobLine("permit", say("price.permit", name=name), money, tuple(trees)))
    return tuple(made)


def _sums(lines: Sequence[PriceLine], job: Sequence[JobLine], rates: Rates) -> tuple[int, int, int]:
    """Subtotal, what lifts it to the firm's minimum, tax."""
    subtotal = sum(x.price_minor for x in lines if x.item.standing == "base")
    subtotal += sum(j.price_minor for j in job)
    minimum = max(0, rates.minimum_minor - subtotal) if job else 0
    return subtotal, minimum, share_minor(subtotal + minimum, pct=rates.tax_pct)


def _repricer(choices: Mapping[str, MethodChoice]) -> Reprice:
    def total(items: Sequence[WorkItem], rates: Rates) -> int:
        lines, _ = priced_lines(items, rates, choices=choices)
        return sum(_sums(lines, _job_lines(lines, rates), rates))

    return total


def _banded(
    lines: tuple[PriceLine, ...], job: Sequence[JobLine], rates: Rates, total: int
) -> tuple[tuple[PriceLine, ...], int, int]:
    """Add the simulated bands to the lines and give that of the total."""
    timed = [(i, x) for i, x in enumerate(lines) if x.hours is not None and x.money is not None]
    if not timed:
        return lines, total, total
    hours = [x.hours for _, x in timed if x.hours is not None]
    bands = [
        None
        if x.item.material is None
        else (x.item.material.low_kg, x.item.material.green_kg, x.item.material.high_kg)
        for _, x in timed
    ]
    runs = simulate_hours(hours, bands)
    sim = hours_table()["simulation"]
    k = mark_up_factor(rates)
    n = len(timed)
    hourly, moved, rest = np.zeros((n, 1)), np.zeros((n, 1)), np.zeros((n, 1))
    base = np.zeros((n, 1))
    for row, (_, line) in enumerate(timed):
        assert line.hours is not None
        assert line.money is not None
        money = line.money
        if money.labour_minor:
            hourly[row] = k * (
                crew_hour_minor(line.hours.crew, rates)
                + sum(rates.gear[g].per_hour_minor or 0 for g in line.hours.gear)
            )
        moved[row] = k * (money.haul_minor + money.dump_minor)
        rest[row] = money.price_minor - hourly[row] * line.hours.hours - moved[row]
        base[row] = line.item.standing == "base"
    prices = runs.hours * hourly + runs.debris * moved + rest
    pcts = [sim["low_pct"], sim["high_pct"]]
    h_low, h_high = np.percentile(runs.hours, pcts, axis=1)
    p_low, p_high = np.percentile(prices, pcts, axis=1)
    banded = list(lines)
    step = rates.line_step_minor
    for row, (i, line) in enumerate(timed):
        assert line.hours is not None
        banded[i] = replace(
            line,
            hours_low=min(float(h_low[row]), line.hours.hours),
            hours_high=max(float(h_high[row]), line.hours.hours),
            low_minor=min(line.price_minor, max(0, round_step(float(p_low[row]), step_minor=step))),
            high_minor=max(line.price_minor, round_step(float(p_high[row]), step_minor=step)),
        )
    job_minor = sum(j.price_minor for j in job)
    all_runs = np.maximum(
        (prices * base).sum(axis=0) + job_minor, rates.minimum_minor if job else 0
    ) * (1 + rates.tax_pct / 100)
    low, high = np.percentile(all_runs, pcts)
    low_minor, high_minor = (round_step(float(v), step_minor=step) for v in (low, high))
    return tuple(banded), min(total, low_minor), max(total, high_minor)


def _deposit(total: int, contract: Contract) -> int | None:
    caps = []
    if contract.deposit_pct is not None:
        caps.append(share_minor(total, pct=contract.deposit_pct))
    if contract.deposit_max_minor is not None:
        caps.append(contract.deposit_max_minor)
    return min(caps) if caps else None


def _notes(lines: Sequence[PriceLine], loads: Loads, rates: Rates) -> tuple[Statement, ...]:
    notes = []
    if loads.count:
        notes.append(
            say(f"price.loads_by_{loads.by}", load_count=loads.count, road_hours=loads.hours)
        )
    names = dict.fromkeys(p for x in lines for p in x.item.permits)
    for name in names:
        permit = rates.permits.get(name)
        if permit is None:
            notes.append(say("price.permit_no_fee", name=name))
        elif permit.by == "client":
            notes.append(say("price.permit_by_client", name=name, fee_minor=permit.fee_minor))
        elif permit.hours and "arborist" not in rates.crew_minor:
            notes.append(say("price.permit_no_rate", name=name))
    if any(x.unpriced for x in lines):
        count = sum(bool(x.unpriced) for x in lines)
        notes.append(say("price.lines_unpriced", line_count=count))
    notes.append(say("price.bands_do_not_add"))
    return tuple(notes)


def _defaults(lines: Sequence[PriceLine]) -> tuple[Statement, ...]:
    """Name every task whose hours are the table's, not the firm's."""
    ours = hours_table()["source"]
    tasks = sorted({x.hours.task for x in lines if x.hours is not None and x.hours.source == ours})
    return tuple(say("price.hours_default", task=t, source=ours) for t in tasks)
