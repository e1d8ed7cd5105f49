"""Ratings of risk on paper: by the published matrices, with their time frame, before and after."""

from typing import TYPE_CHECKING, Any

from bolewalk.papers.reading import DASH, Reading, plain_date
from bolewalk.trees.risk import (
    CONSEQUENCES,
    FAILURES,
    IMPACTS,
    RiskRating,
    compare,
    next_look,
    rate,
    what_would_change,
)
from bolewalk.visits.assumptions import months_later

if TYPE_CHECKING:
    from bolewalk.survey import TreeFinding

__all__ = ["risk_data"]

_MONTHS = 12


def risk_data(reading: Reading) -> dict[str, Any]:
    """Give the ratings as JSON values.

    A tree is rated where all three words of its row are words of the matrices and the survey
    tells time frame and level of look; what lacks is said, and no rating is made up.
    """
    told = reading.findings.survey.told
    years, level = told.get("risk.years", ""), told.get("risk.level", "")
    judged = [t for t in reading.findings.trees if _words(t)]
    lacking = [
        t.tree.id for t in reading.findings.trees
        if not _words(t) and any((t.tree.failure, t.tree.impact, t.tree.consequence))
    ]  # fmt: skip
    notes = []
    if judged and not (years and level):
        notes.append(reading.labels("risk")["no_frame"])
    if lacking:
        notes.append(reading.say("risk_says.other_words", trees=", ".join(lacking)))
    rows = [_row(reading, t, float(years), level) for t in judged] if years and level else []
    return {
        "rows": rows,
        "notes": notes,
        "frame": reading.say("risk_says.frame", n_years=years, level=level) if rows else "",
        "none": not judged and not lacking,
    }


def _words(t: "TreeFinding") -> bool:
    return (
        t.tree.failure.lower() in FAILURES
        and t.tree.impact.lower() in IMPACTS
        and t.tree.consequence.lower() in CONSEQUENCES
    )


def _row(reading: Reading, t: "TreeFinding", years: float, level: str) -> dict[str, Any]:
    said = reading.findings.discussion.get(t.tree.id, {})
    now = rate(
        t.tree.failure.lower(), t.tree.impact.lower(), t.tree.consequence.lower(), years=years,
        level=level, part=said.get("part", ""), target=said.get("target", ""),
    )  # fmt: skip
    changes = [
        reading.say("risk_says.change", what=c.what, to=c.to, rating=c.rating)
        for c in what_would_change(now)
    ]
    return {
        "id": t.tree.id,
        **reading.species(t.tree),
        "part": now.part or DASH,
        "target": now.target or DASH,
        "words": f"{now.failure} / {now.impact} / {now.consequence}",
        "rating": now.rating,
        "after": _after(reading, t, now),
        "changes": changes,
        "next": _next(reading, said.get("use", ""), now),
    }


def _after(reading: Reading, t: "TreeFinding", now: RiskRating) -> str:
    said = reading.findings.discussion.get(t.tree.id, {})
    changed = {
        w: said[f"after_{w}"]
        for w in ("failure", "impact", "consequence")
        if said.get(f"after_{w}")
    }
    if not changed:
        return reading.labels("risk")["gone" if t.tree.decision == "remove" else "not_told"]
    done = said.get("after", "") or reading.word("decision", t.tree.decision)
    return reading.say(
        "risk_says.after", done=done, rating=compare(now, done, **changed).after.rating
    )


def _next(reading: Reading, use: str, now: RiskRating) -> str:
    if not use:
        return DASH
    years = next_look(use, now.rating).years
    survey = reading.findings.survey
    if years < 1:
        return reading.say("risk_says.next_months", months_count=round(years * _MONTHS))
    return plain_date(months_later(survey.date, _MONTHS * round(years)))
