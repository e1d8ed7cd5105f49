"""Tables of survey.toml that name earlier papers or hold what papers print as it stands."""

from collections.abc import Mapping
from typing import Any

from bolewalk.drawing.details import Place
from bolewalk.intake.head_keys import KEYS, TOLD
from bolewalk.intake.sections import Section
from bolewalk.trees.risk import LEVELS

__all__ = ["TYPES", "earlier_named", "read_told"]

_DAYS = {"firm": ("licence_until", "insurance_until", "start", "end"), "insurer": ("asked_on",)}
_LONGEST_YEARS = 100.0
TYPES = ("normal", "large")


def earlier_named(raw: object, known: Mapping[str, str], place: Place) -> tuple[str, ...]:
    """Give the earlier papers named under [[earlier]], in order; one table counts as a list."""
    entries = [raw] if isinstance(raw, Mapping) else raw
    if entries is None:
        return ()
    if not isinstance(entries, list):
        place.tell("earlier", str(raw), "[[earlier]] tables")
        return ()
    named = []
    for n, one in enumerate(entries, start=1):
        here = Place(place.file, f"earlier {n}", place.problems)
        table = Section(one, "earlier", known, here)
        papers = table.text("papers")
        if papers:
            named.append(papers)
        else:
            table.tell("papers", "the folder of earlier papers, or their findings.json")
    return tuple(named)


def read_told(raw: Mapping[str, Any], place: Place) -> dict[str, str]:
    """Give what survey.toml tells for the papers: "site.soil" -> its text.

    Days come as 2026-05-12, a list of trees as one text, years as a number in digits; what is not
    told is not in it.
    """
    told: dict[str, str] = {}
    for name in ("site", "firm", "protection", "insurer", "risk", "papers"):
        table = raw.get(name)
        if name == "site":
            # Its other keys are read elsewhere, and unknown ones told there.
            whole = table if isinstance(table, Mapping) else {}
            table = {k: v for k, v in whole.items() if k in TOLD[name]}
        section = Section(table, name, KEYS[name], place)
        found = {k: section.text(k) for k in TOLD.get(name, ())}
        found |= {
            k: day.isoformat() for k in _DAYS.get(name, ()) if (day := section.date(k)) is not None
        }
        if name == "insurer":
            found["trees"] = ", ".join(section.texts("trees"))
        if name == "risk":
            years = section.number("years", low=0.1, high=_LONGEST_YEARS, what="a number of years")
            found["years"] = "" if years is None else f"{years:g}"
            found["level"] = section.choice("level", LEVELS) or ""
        if name == "papers":
            found["type"] = section.choice("type", TYPES) or ""
        told |= {f"{name}.{k}": v for k, v in found.items() if v}
    return told
