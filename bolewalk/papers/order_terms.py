"""Terms of the order: the firm's papers, days of the work, payment, how it may change."""

from datetime import date
from typing import Any

from bolewalk.papers.reading import Reading

__all__ = ["firm_terms"]


def firm_terms(reading: Reading) -> dict[str, Any]:
    """Give the firm's papers and the days of the work, and what runs out before it is done."""
    survey, words = reading.findings.survey, reading.labels("told_firm")
    keys = ("name", "address", "licence", "licence_until", "insurance", "insurance_until",
            "start", "end", "pay", "changes")  # fmt: skip
    told = survey.told
    last = max(
        (date.fromisoformat(told[f"firm.{k}"]) for k in ("start", "end") if f"firm.{k}" in told),
        default=survey.date,
    )
    short = []
    for key in ("licence", "insurance"):
        until = told.get(f"firm.{key}_until")
        if until is not None and date.fromisoformat(until) < last:
            short.append(reading.say(f"firm_says.{key}_short", until=until, day=last.isoformat()))
    return {
        "l": words,
        "rows": [[words[k], told.get(f"firm.{k}", "")] for k in keys if k != "changes"],
        "short": short,
        "items": _order_says(reading),
    }


def _order_says(reading: Reading) -> list[str]:
    """Say how the order may change, who gets permits, what was counted on, and what words mean."""
    survey, words = reading.findings.survey, reading.labels("told_firm")
    said = [survey.told.get("firm.changes") or reading.labels("firm_says")["changes_default"]]
    price, rules = reading.findings.price, reading.findings.rules
    if price is not None:
        for n in (*price.notes, *(j.says for j in price.job_lines)):
            if n.code in ("price.permit", "price.permit_by_client"):
                said.append(reading.speaker.text(n))
        said.append(words["words_lead"])
    if rules is not None:
        said += reading.texts(rules.deposit)
    if survey.site.carry_m is not None:
        said.append(reading.say("firm_says.carry", carry_m=survey.site.carry_m))
    if survey.site.gate_m is not None:
        said.append(reading.say("firm_says.gate", gate_m=survey.site.gate_m))
    return list(dict.fromkeys(said))
