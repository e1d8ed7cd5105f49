"""Money of one line: hours and debris into cost, cost into price, every part shown."""

from collections.abc import Mapping
from dataclasses import dataclass

from bolewalk.pricing.debris import Debris, dump_fee_minor
from bolewalk.pricing.money import round_minor, round_step, share_minor
from bolewalk.pricing.rates import Gear, Rates
from bolewalk.pricing.tasks import TaskHours

__all__ = [
    "LineMoney", "crew_hour_minor", "gear_hour_minor", "line_money", "load_minor", "mark_up",
    "missing_rates",
]  # fmt: skip


@dataclass(frozen=True, slots=True)
class LineMoney:
    """Parts of one line's price [minor units]; `price_minor` is their sum, exactly.

    `fixed_minor` is a unit price or a fee passed on without overhead or margin.
    `rounding_minor` brings the line to the firm's step and may be negative.
    """

    labour_minor: int = 0
    gear_minor: int = 0
    haul_minor: int = 0
    dump_minor: int = 0
    goods_minor: int = 0
    overhead_minor: int = 0
    contingency_minor: int = 0
    margin_minor: int = 0
    fixed_minor: int = 0
    rounding_minor: int = 0

    @property
    def direct_minor(self) -> int:
        """Direct cost: labour, gear, haulage, dump fees, goods."""
        return (
            self.labour_minor
            + self.gear_minor
            + self.haul_minor
            + self.dump_minor
            + self.goods_minor
        )

    @property
    def price_minor(self) -> int:
        """Price before tax: the sum of every part."""
        return (
            self.direct_minor
            + self.overhead_minor
            + self.contingency_minor
            + self.margin_minor
            + self.fixed_minor
            + self.rounding_minor
        )


def missing_rates(hours: TaskHours, rates: Rates) -> tuple[str, ...]:
    """Name the key paths of rates this task needs and the firm did not give."""
    roles = [f"crew.{r}" for r in hours.crew if r not in rates.crew_minor]
    return (*roles, *(f"gear.{g}" for g in hours.gear if g not in rates.gear))


def crew_hour_minor(crew: Mapping[str, int], rates: Rates) -> int:
    """Give what one hour of a crew costs [minor units]."""
    return sum(rates.crew_minor[role] * n for role, n in crew.items())


def gear_hour_minor(gear: Gear, rates: Rates) -> float:
    """Give what one hour of a machine costs; a day rate is spread over the day's hours."""
    if gear.per_hour_minor is not None:
        return float(gear.per_hour_minor)
    return (gear.per_day_minor or 0) / rates.day_hours


def load_minor(rates: Rates) -> int:
    """Give what one truck load costs: round trip x (truck + its crew)."""
    hour = rates.truck.per_hour_minor + rates.truck.crew * rates.crew_minor["ground"]
    return round_minor(rates.truck.round_trip_hours * hour)


def line_money(
    hours: TaskHours, debris: Debris, rates: Rates, *, gear_minor: int, haul_minor: int,
    goods_minor: int = 0,
) -> LineMoney:  # fmt: skip
    """Price one line.

    Parameters
    ----------
    hours : TaskHours
        Every rate it needs is there (`missing_rates` is empty).
    debris : Debris
        Hauled from this line, for the dump fee.
    gear_minor, haul_minor : int
        This line's share of machines and loads.
    goods_minor : int
        Plants and the like.
    """
    labour = round_minor(hours.hours * crew_hour_minor(hours.crew, rates))
    dump, _ = dump_fee_minor(debris, rates)
    return mark_up(
        LineMoney(
            labour_minor=labour,
            gear_minor=gear_minor,
            haul_minor=haul_minor,
            dump_minor=dump,
            goods_minor=goods_minor,
        ),
        rates,
    )


def mark_up(direct: LineMoney, rates: Rates) -> LineMoney:
    """Add overhead, contingency, margin and rounding to a line's direct cost.

    overhead = direct x overhead_pct; contingency = (direct + overhead) x contingency_pct;
    margin = (all so far) x margin_pct / (100 - margin_pct), so that it is margin_pct of the
    price; the sum goes to the firm's line step, halves up. A fixed part is taken as it is.
    """
    cost = direct.direct_minor
    overhead = share_minor(cost, pct=rates.overhead_pct)
    contingency = share_minor(cost + overhead, pct=rates.contingency_pct)
    before = cost + overhead + contingency
    margin = round_minor(before * rates.margin_pct / (100 - rates.margin_pct))
    marked = before + margin
    return LineMoney(
        labour_minor=direct.labour_minor,
        gear_minor=direct.gear_minor,
        haul_minor=direct.haul_minor,
        dump_minor=direct.dump_minor,
        goods_minor=direct.goods_minor,
        overhead_minor=overhead,
        contingency_minor=contingency,
        margin_minor=margin,
        fixed_minor=direct.fixed_minor,
        rounding_minor=round_step(marked, step_minor=rates.line_step_minor) - marked,
    )


def mark_up_factor(rates: Rates) -> float:
    """Give price over direct cost before rounding; for simulated runs."""
    return (
        (1 + rates.overhead_pct / 100)
        * (1 + rates.contingency_pct / 100)
        / (1 - rates.margin_pct / 100)
    )
