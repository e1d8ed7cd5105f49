"""Phases and keep-or-remove cases in findings.json: money in integer minor units."""

from typing import TYPE_CHECKING, Any

from bolewalk.papers.language import Speaker

if TYPE_CHECKING:
    from bolewalk.pricing.futures import CashFlow, Future
    from bolewalk.pricing.phases import Schedule, Schedules

__all__ = ["futures_json", "phases_json"]


def phases_json(schedules: "Schedules | None", speaker: Speaker) -> dict[str, Any] | None:
    """Give the best schedules, cheapest first; None where no budgets were given."""
    if schedules is None:
        return None
    impossible = schedules.impossible
    return {
        "schedules": [_schedule(s, speaker) for s in schedules.best],
        "impossible": None if impossible is None else speaker.text(impossible),
    }


def _schedule(s: "Schedule", speaker: Speaker) -> dict[str, Any]:
    return {
        "years": dict(s.years),
        "seasons": dict(s.seasons),
        "year_totals_minor": list(s.year_totals_minor),
        "total_minor": s.total_minor,
        "waiting_minor": s.waiting_minor,
        "visits": s.visits,
        "carried": [speaker.text(x) for x in s.carried],
        "differs": [speaker.text(x) for x in s.differs],
        "proven": s.proven,
    }


def futures_json(futures: "tuple[Future, ...]", speaker: Speaker) -> list[dict[str, Any]] | None:
    """Give each case with its paths side by side; None where there is no case."""
    if not futures:
        return None
    return [
        {
            "tree": f.case.tree,
            "paths": [_flow(flow) for flow in f.flows],
            "break_even": dict(f.break_even),
            "break_even_present": dict(f.break_even_present),
            "not_in_money": [speaker.text(x) for x in f.not_in_money],
            "says": [speaker.text(x) for x in f.says],
        }
        for f in futures
    ]


def _flow(flow: "CashFlow") -> dict[str, Any]:
    return {
        "kind": flow.kind,
        "payments": [
            {
                "year": p.year,
                "what": p.what,
                "cost_minor": p.cost_minor,
                "low_minor": p.low_minor,
                "high_minor": p.high_minor,
                "height": p.height,
            }
            for p in flow.payments
        ],
        "yearly_minor": list(flow.yearly_minor),
        "total_minor": flow.total_minor,
        "total_low_minor": flow.total_low_minor,
        "total_high_minor": flow.total_high_minor,
        "present_minor": flow.present_minor,
        "present_low_minor": flow.present_low_minor,
        "present_high_minor": flow.present_high_minor,
        "heights": list(flow.heights),
        "steps": [{"year": year, "height": height} for year, height in flow.steps],
    }
