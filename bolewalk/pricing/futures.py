"""Keep, hold at a size, or remove: yearly cash flows, discounted, with the break-even year."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from bolewalk.model.statements import Statement, say
from bolewalk.model.units import M_PER_FT
from bolewalk.pricing.future_cases import FutureCase, FuturePath, Step, horizons
from bolewalk.pricing.money import round_minor

__all__ = ["CashFlow", "Future", "Payment", "compare_paths", "present_minor"]


@dataclass(frozen=True, slots=True)
class Payment:
    """One payment: year (0 = now), what for, minor units, and the tree's height then [unit]."""

    year: int
    what: str
    cost_minor: int
    low_minor: int
    high_minor: int
    height: float


@dataclass(frozen=True, slots=True)
class CashFlow:
    """One path to the horizon. Money in minor units.

    `total_minor` is the plain sum, `present_minor` the sum discounted to now; both with the
    range of prices and of growth. `heights` give the height in years 0..N [unit]; `steps` the
    years in which a price steps up, with the height bound passed.
    """

    kind: str
    payments: tuple[Payment, ...]
    yearly_minor: tuple[int, ...]
    total_minor: int
    total_low_minor: int
    total_high_minor: int
    present_minor: int
    present_low_minor: int
    present_high_minor: int
    heights: tuple[float, ...]
    steps: tuple[tuple[int, float], ...]


@dataclass(frozen=True, slots=True)
class Future:
    """One tree's paths side by side.

    `break_even` gives for each other path the first year by whose end the first path (keep) has
    cost more than it, None where it never does; `break_even_present` the same discounted.
    """

    case: FutureCase
    flows: tuple[CashFlow, ...]
    break_even: Mapping[str, int | None]
    break_even_present: Mapping[str, int | None]
    not_in_money: tuple[Statement, ...]
    says: tuple[Statement, ...]


def present_minor(yearly: Sequence[tuple[int, int]], *, discount_pct: float) -> int:
    """Give the value now of payments (year, minor units): sum of c / (1 + r)^year, rounded once."""
    rate = 1 + Decimal(str(discount_pct)) / 100
    return round_minor(sum((Decimal(c) / rate**y for y, c in yearly), Decimal(0)))


def _price(steps: Sequence[Step], height: float) -> Step:
    for step in steps:
        # Heights are sums of yearly growth; a bound met to nine digits is met.
        if step.up_to is None or height <= step.up_to + 1e-9:
            return step
    raise AssertionError("the last step has no bound")


def _height(case: FutureCase, path: FuturePath, year: int, growth: float) -> float:
    grown = case.height + growth * year
    if path.kind == "hold" and path.hold_at is not None:
        return min(grown, max(path.hold_at, case.height))
    return grown


def _payments(case: FutureCase, path: FuturePath, growth: float) -> list[tuple[int, str, Step]]:
    found = []
    for order, cost in enumerate(path.costs):
        years = (case.years,) if cost.at_end else cost.years
        for year in years:
            if year <= case.years:
                height = _height(case, path, year, growth)
                found.append((year, order, cost.what, _price(cost.steps, height)))
    return [(y, what, step) for y, _, what, step in sorted(found, key=lambda p: (p[0], p[1]))]


def _flow(case: FutureCase, path: FuturePath) -> CashFlow:
    likely = _payments(case, path, case.growth)
    low = [(y, s.low_minor) for y, _, s in _payments(case, path, case.growth_low)]
    high = [(y, s.high_minor) for y, _, s in _payments(case, path, case.growth_high)]
    payments = tuple(
        Payment(
            y, what, s.cost_minor, s.low_minor, s.high_minor, _height(case, path, y, case.growth)
        )
        for y, what, s in likely
    )
    yearly = [0] * (case.years + 1)
    for p in payments:
        yearly[p.year] += p.cost_minor
    heights = tuple(_height(case, path, y, case.growth) for y in range(case.years + 1))
    bounds = sorted({s.up_to for c in path.costs for s in c.steps if s.up_to is not None})
    steps = tuple(
        (next(y for y, h in enumerate(heights) if h > b + 1e-9), b)
        for b in bounds
        if heights[-1] > b + 1e-9
    )
    r = case.discount_pct
    return CashFlow(
        kind=path.kind,
        payments=payments,
        yearly_minor=tuple(yearly),
        total_minor=sum(yearly),
        total_low_minor=sum(c for _, c in low),
        total_high_minor=sum(c for _, c in high),
        present_minor=present_minor(list(enumerate(yearly)), discount_pct=r),
        present_low_minor=present_minor(low, discount_pct=r),
        present_high_minor=present_minor(high, discount_pct=r),
        heights=heights,
        steps=steps,
    )


def _break_even(first: CashFlow, other: CashFlow, *, discount_pct: float) -> int | None:
    rate = 1 + Decimal(str(discount_pct)) / 100
    behind = Decimal(0)
    for year, (a, b) in enumerate(zip(first.yearly_minor, other.yearly_minor, strict=True)):
        behind += (Decimal(a) - Decimal(b)) / rate**year
        if behind > 0:
            return year
    return None


def compare_paths(case: FutureCase) -> Future:
    """Set the paths of one tree side by side.

    Returns
    -------
    Future
        Flows in the order of the file. A path's last years beyond the horizon are not counted;
        where keeping then leaves a tree standing whose removal is not in the flow, it says so.
    """
    flows = tuple(_flow(case, p) for p in case.paths)
    first = flows[0]
    per_m = M_PER_FT if case.unit == "ft" else 1.0
    says = [
        say("future.horizon", horizon_years=case.years, discount_pct=case.discount_pct),
        *(say("future.step", kind=first.kind, year=y, height_m=b * per_m) for y, b in first.steps),
    ]
    if case.skirt in ("yes", "unknown"):
        says.append(say("future.skirt", tree=case.tree))
    for flow, path in zip(flows, case.paths, strict=True):
        cut = [y for c in path.costs if not c.at_end for y in c.years if y > case.years]
        if cut:
            says.append(say("future.beyond_horizon", kind=flow.kind, payment_count=len(cut)))
    return Future(
        case=case,
        flows=flows,
        break_even={f.kind: _break_even(first, f, discount_pct=0.0) for f in flows[1:]},
        break_even_present={
            f.kind: _break_even(first, f, discount_pct=case.discount_pct) for f in flows[1:]
        },
        not_in_money=tuple(
            say(f"future.not_in_money_{n}") for n in horizons()["not_in_money"]["items"]
        ),
        says=tuple(says),
    )
