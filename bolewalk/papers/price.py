"""The price as papers print it: lines that add up, what is not in them, what moves them."""

from typing import TYPE_CHECKING, Any

from bolewalk.papers.reading import DASH, Reading, plain_date

if TYPE_CHECKING:
    from bolewalk.pricing.price import Price
    from bolewalk.pricing.quote import PriceLine

__all__ = ["price_data"]


def price_data(reading: Reading) -> dict[str, Any] | None:
    """Give the price as JSON values; None where the survey has no rates."""
    price = reading.findings.price
    if price is None:
        return None
    amounts, words = reading.speaker.amounts, reading.labels("price_paper")
    return {
        "l": words,
        "base": [_line(reading, line) for line in price.of("base")],
        "job": [
            {
                "text": reading.speaker.text(j.says),
                "trees": list(j.trees),
                "price": amounts.money(j.price_minor),
            }
            for j in price.job_lines
        ],
        "sums": _sums(reading, price),
        "total": amounts.money(price.total_minor),
        "band": reading.say(
            "price_paper_says.band",
            low_about_minor=price.low_minor,
            high_about_minor=price.high_minor,
        ),
        "options": [_line(reading, line) for line in price.of("option")],
        "blocked": [_line(reading, line) for line in price.of("blocked")],
        "unpriced": [
            {"id": x.item.tree, "why": reading.texts(x.unpriced)} for x in price.lines if x.unpriced
        ],
        "movers": [
            {
                "text": reading.speaker.text(m.says),
                "low": amounts.about(min(m.low_minor, m.high_minor)),
                "high": amounts.about(max(m.low_minor, m.high_minor)),
            }
            for m in price.movers
        ],
        "exclusions": reading.texts(price.exclusions),
        "notes": reading.texts(price.notes),
        "terms": _terms(reading, price),
    }


def _line(reading: Reading, line: "PriceLine") -> dict[str, Any]:
    amounts, item = reading.speaker.amounts, line.item
    priced = line.money is not None
    return {
        "id": item.tree or DASH,
        "work": reading.texts(item.says) or [item.label],
        "fine": reading.texts((*line.method, *line.notes, *item.assumed)),
        "assumed": reading.texts(item.assumed),
        "blocked": "" if item.blocked_by is None else reading.speaker.text(item.blocked_by),
        "hours": amounts.hours(line.person_hours) if line.hours is not None else DASH,
        "low": amounts.about(line.low_minor) if line.low_minor is not None else DASH,
        "price": amounts.money(line.price_minor) if priced else DASH,
        "high": amounts.about(line.high_minor) if line.high_minor is not None else DASH,
    }


def _sums(reading: Reading, price: "Price") -> list[list[str]]:
    amounts, words = reading.speaker.amounts, reading.labels("price_paper")
    rows = [[words["subtotal"], amounts.money(price.subtotal_minor)]]
    if price.minimum_adjustment_minor:
        rows.append([words["minimum"], amounts.money(price.minimum_adjustment_minor)])
    if price.tax_minor:
        name = reading.say("price_paper_says.tax", name=price.tax_name, tax_pct=price.tax_pct)
        rows.append([name, amounts.money(price.tax_minor)])
    return rows


def _terms(reading: Reading, price: "Price") -> list[str]:
    out = [reading.say("price_paper_says.valid", until=plain_date(price.valid_until))]
    if price.deposit_minor is not None:
        out.append(reading.say("price_paper_says.deposit", deposit_minor=price.deposit_minor))
    if price.contract.cancel_days is not None:
        out.append(reading.say("price_paper_says.cancel", days_count=price.contract.cancel_days))
    return out
