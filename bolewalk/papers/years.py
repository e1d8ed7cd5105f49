"""Work spread over years, and keeping against removing, as papers print them."""

from typing import TYPE_CHECKING, Any

from bolewalk.papers.draw.costs import draw_costs
from bolewalk.papers.draw.scene import Scene
from bolewalk.papers.drawings import as_data
from bolewalk.papers.reading import DASH, Reading

if TYPE_CHECKING:
    from bolewalk.pricing.futures import Future

__all__ = ["costs_drawing", "futures_data", "phases_data"]


def phases_data(reading: Reading) -> dict[str, Any] | None:
    """Give the schedules side by side; None where no budgets were given."""
    schedules = reading.findings.phases
    if schedules is None:
        return None
    words, money = reading.labels("years"), reading.speaker.amounts.money
    best = schedules.best
    out: dict[str, Any] = {
        "l": words,
        "impossible": ""
        if schedules.impossible is None
        else reading.speaker.text(schedules.impossible),
        "heads": [reading.say("years_says.schedule", number=str(i + 1)) for i in range(len(best))],
        "rows": [],
        "sums": [],
        "carried": [],
    }
    if not best:
        return out
    first = best[0]
    for item in sorted(first.years, key=lambda k: (first.years[k], k)):
        out["rows"].append([item, *(_when(reading, s.years[item], s.seasons[item]) for s in best)])
    for year in range(len(first.year_totals_minor)):
        name = reading.say("years_says.year_total", year=str(year + 1))
        out["sums"].append([name, *(money(s.year_totals_minor[year]) for s in best)])
    out["sums"].append([words["total"], *(money(s.total_minor) for s in best)])
    out["sums"].append([words["waiting"], *(money(s.waiting_minor) for s in best)])
    out["carried"] = [
        {"head": head, "items": reading.texts(s.carried), "differs": reading.texts(s.differs)}
        for head, s in zip(out["heads"], best, strict=True)
    ]
    return out


def _when(reading: Reading, year: int, season: str) -> str:
    return reading.say(
        "years_says.when", year=str(year), season=reading.word("season", season) if season else DASH
    )


def futures_data(reading: Reading) -> list[dict[str, Any]]:
    """Give each keep-or-remove case; empty where there is none."""
    return [_future(reading, f) for f in reading.findings.futures]


def costs_drawing(reading: Reading, f: "Future") -> Scene:
    """Draw what each way to go with a tree has cost by the end of each year."""
    amounts = reading.speaker.amounts
    return draw_costs(
        [
            (reading.word("path", flow.kind),
             [c / 10**amounts.minor_digits for c in flow.yearly_minor])
            for flow in f.flows
        ],
        width_mm_=118.0,
        height_mm=52.0,
        currency=amounts.currency,
        year=reading.labels("years")["year"],
    )  # fmt: skip


def _future(reading: Reading, f: "Future") -> dict[str, Any]:
    amounts = reading.speaker.amounts
    money = amounts.money
    return {
        "l": reading.labels("years"),
        "id": f.case.tree,
        "name": f.case.name,
        "rows": [
            [
                reading.word("path", flow.kind),
                money(flow.total_minor),
                f"{amounts.about(flow.total_low_minor)} – {amounts.about(flow.total_high_minor)}",
                money(flow.present_minor),
                _even(reading, f, flow.kind),
            ]
            for flow in f.flows
        ],
        "drawing": as_data(costs_drawing(reading, f), alt=reading.say("plan_alt.costs")),
        "says": reading.texts(f.says),
        "not_in_money": reading.texts(f.not_in_money),
    }


def _even(reading: Reading, f: "Future", kind: str) -> str:
    if kind not in f.break_even:
        return DASH
    year = f.break_even[kind]
    if year is None:
        return reading.labels("years")["never"]
    return reading.say("years_says.even", year=str(year))
