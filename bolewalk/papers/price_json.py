"""The price in findings.json: money in integer minor units, hours unrounded."""

from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from bolewalk.papers.language import Speaker

if TYPE_CHECKING:
    from bolewalk.pricing.price import Price
    from bolewalk.pricing.quote import PriceLine

__all__ = ["price_json", "tree_work_json"]


def price_json(price: "Price | None", speaker: Speaker) -> dict[str, Any] | None:
    """Give the whole price; None where nothing was priced."""
    if price is None:
        return None
    return {
        "currency": price.currency,
        "minor_digits": price.minor_digits,
        "lines": [_line(x, speaker) for x in price.lines],
        "job_lines": [
            {
                "kind": j.kind, "text": speaker.text(j.says), "trees": list(j.trees),
                "price_minor": j.price_minor, "parts": asdict(j.money),
            }
            for j in price.job_lines
        ],
        "subtotal_minor": price.subtotal_minor,
        "minimum_adjustment_minor": price.minimum_adjustment_minor,
        "tax_name": price.tax_name or None,
        "tax_pct": price.tax_pct,
        "tax_minor": price.tax_minor,
        "total_minor": price.total_minor,
        "low_minor": price.low_minor,
        "high_minor": price.high_minor,
        "options_minor": price.options_minor,
        "blocked_minor": price.blocked_minor,
        "loads": asdict(price.loads),
        "crew_hours": price.crew_hours,
        "role_hours": dict(price.role_hours),
        "quote_date": price.quote_date.isoformat(),
        "valid_until": price.valid_until.isoformat(),
        "deposit_minor": price.deposit_minor,
        "contract": asdict(price.contract),
        "movers": [
            {
                "text": speaker.text(m.says), "low_minor": m.low_minor,
                "high_minor": m.high_minor, "swing_minor": m.swing_minor,
            }
            for m in price.movers
        ],
        "exclusions": [speaker.text(s) for s in price.exclusions],
        "notes": [speaker.text(s) for s in price.notes],
        "defaults": [speaker.text(s) for s in price.defaults],
    }  # fmt: skip


def tree_work_json(price: "Price | None", tree: str, speaker: Speaker) -> list[dict[str, Any]]:
    """Give the priced and unpriced work on one tree."""
    return [] if price is None else [_line(x, speaker) for x in price.lines if x.item.tree == tree]


def _line(line: "PriceLine", speaker: Speaker) -> dict[str, Any]:
    item, hours = line.item, line.hours
    return {
        "id": item.id,
        "tree": item.tree or None,
        "task": item.task,
        "standing": item.standing,
        "label": item.label,
        "scope": dict(item.scope),
        "text": [speaker.text(s) for s in item.says],
        "assumed": [speaker.text(s) for s in item.assumed],
        "blocked_by": None if item.blocked_by is None else speaker.text(item.blocked_by),
        "after": list(item.after),
        "hours": None if hours is None else hours.hours,
        "people": None if hours is None else hours.people,
        "person_hours": None if hours is None else line.person_hours,
        "hours_low": line.hours_low,
        "hours_high": line.hours_high,
        "price_minor": None if line.money is None else line.price_minor,
        "low_minor": line.low_minor,
        "high_minor": line.high_minor,
        "parts": None if line.money is None else asdict(line.money),
        "unpriced": [speaker.text(s) for s in line.unpriced],
        "method": [speaker.text(s) for s in line.method],
        "notes": [speaker.text(s) for s in line.notes],
    }
