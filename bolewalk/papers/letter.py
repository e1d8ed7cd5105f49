"""The client letter: a page or two in plain words, a picture, three ways to go, a reply slip."""

from typing import Any

from bolewalk.papers.draw.small_plan import small_plan
from bolewalk.papers.drawings import as_data
from bolewalk.papers.front import common_data
from bolewalk.papers.plain import plain_data
from bolewalk.papers.reading import Reading

__all__ = ["letter_data"]


def letter_data(reading: Reading) -> dict[str, Any] | None:
    """Give the letter as JSON values for its template; None where no tree was looked at."""
    if not reading.findings.trees:
        return None
    s, words = reading.findings.survey, reading.labels("plain")
    client = s.people.client
    scene = small_plan(
        reading.plan_trees, s.works, units=s.units, width_mm=174.0, height_mm=84.0,
        north=reading.labels("plan")["north"],
    )  # fmt: skip
    a = s.people.assessor
    return {
        **common_data(reading),
        **plain_data(reading),
        "title": words["letter_title"],
        "place": s.place,
        "dear": "" if client is None else words["dear"].replace("{name}", client.name),
        "signed": "" if a is None else a.name,
        "signed_as": "" if a is None else ", ".join(x for x in (a.credential, a.number) if x),
        "contact": "" if a is None else a.contact,
        "plan": None if scene is None else as_data(scene, alt=reading.say("plan_alt.small")),
    }
