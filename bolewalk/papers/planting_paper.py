"""The planting card and the water card: what the person with the spade and the hose needs."""

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from bolewalk.papers.amounts import compass_point
from bolewalk.papers.draw.scene import Scene
from bolewalk.papers.draw.years_plan import years_plan
from bolewalk.papers.drawings import as_data
from bolewalk.papers.front import cautions, common_data
from bolewalk.papers.reading import DASH, Reading, plain_date, stays

if TYPE_CHECKING:
    from bolewalk.planting.lines import PlantingLine, WaterCard
    from bolewalk.planting.result import Alternative, PlantingResult

__all__ = ["planting_data", "years_drawing"]

_SHOWN_YEARS = (0, 5, 10, 15)
_TAPES = 2


def planting_data(reading: Reading) -> dict[str, Any] | None:
    """Give both cards as JSON values; None where nothing is to be planted."""
    p = reading.findings.planting
    if p is None or not p.lines:
        return None
    words = reading.labels("planting_card")
    drawn = years_drawing(reading, p)
    return {
        **common_data(reading),
        "title": words["title"],
        "c": words,
        "cover": _front(reading),
        "rows": _lines(reading, p.lines),
        "steps": _steps(reading, p),
        "statements": reading.texts(p.statements),
        "water": _water(reading, p.water),
        "drawing": None if drawn is None else as_data(drawn, alt=reading.say("plan_alt.years")),
        "later": _later(reading, p),
        "alternatives": [_alternative(reading, a) for a in p.alternatives],
        "years": [y for y, _ in p.alternatives[0].cover_m2] if p.alternatives else [],
        "cautions": cautions(reading),
    }


def years_drawing(reading: Reading, p: "PlantingResult") -> Scene | None:
    """Draw the place in later years; None where nothing has a position."""
    words = reading.labels("planting_card")
    return years_plan(
        [y for y in p.later.years if y.year in _SHOWN_YEARS],
        reading.findings.survey.works,
        year=words["year"], cover=words["cover"], amounts=reading.speaker.amounts,
        width_mm=174.0,
    )  # fmt: skip


def _front(reading: Reading) -> list[list[str]]:
    s, words = reading.findings.survey, reading.labels("report")
    a = s.people.assessor
    rows = [[words["place"], s.place]] if s.place else []
    if a is not None:
        call = reading.labels("planting_card")["call"]
        rows.append([call, ", ".join(x for x in (a.name, a.contact) if x)])
    return [*rows, [words["walked"], plain_date(s.date)]]


def _lines(reading: Reading, lines: "Sequence[PlantingLine]") -> list[dict[str, Any]]:
    """Give one entry for plants that differ in nothing but their spot."""
    found: dict[str, dict[str, Any]] = {}
    for x in lines:
        entry = _line(reading, x)
        spot = {"id": x.plant.id, "spot": _spot(reading, x.plant.place)}
        same = str(sorted(entry.items()))
        found.setdefault(same, {**entry, "spots": []})["spots"].append(spot)
    return list(found.values())


def _line(reading: Reading, x: "PlantingLine") -> dict[str, Any]:
    amounts, plant = reading.speaker.amounts, x.plant
    taxon = plant.taxon
    return {
        "name": taxon.common,
        "botanical": taxon.botanical,
        "stock": plant.stock,
        "hole": reading.say(
            "planting_card_says.hole", low_m=x.hole.width_low_m, high_m=x.hole.width_high_m,
            depth_m=x.hole.depth_m,
        ),
        "flare": reading.say(
            "planting_card_says.flare", low_m=x.hole.flare_low_m, high_m=x.hole.flare_high_m
        ),
        "grown": reading.say("planting_card_says.grown", width_m=x.width_m, height_m=x.height_m),
        "water": amounts.water(x.water_first_year_l),
        "on": plain_date(x.plant_on),
        "stakes": plain_date(x.stakes_off),
        "why": plant.why,
    }  # fmt: skip


def _spot(reading: Reading, place: tuple[float, float] | None) -> list[str]:
    """Say where a plant goes: tape and bearing from the nearest trees that stay."""
    if place is None:
        return [reading.labels("planting_card")["no_spot"]]
    found = []
    for t in reading.findings.trees:
        if stays(t.tree) and t.tree.x_m is not None and t.tree.y_m is not None:
            east, north = place[0] - t.tree.x_m, place[1] - t.tree.y_m
            found.append((math.hypot(east, north), t.tree.id, east, north))
    return [
        reading.say(
            "planting_card_says.spot", distance_m=d, tree=tree,
            side=compass_point(math.degrees(math.atan2(east, north)) % 360.0),
        )
        for d, tree, east, north in sorted(found)[:_TAPES]
    ]  # fmt: skip


def _steps(reading: Reading, p: "PlantingResult") -> list[str]:
    """Give what holds for every plant once; what names one plant's sizes is in its line."""
    said = [s.code for x in p.lines for s in x.said]
    shared = {c for c in said if said.count(c) == len(p.lines)}
    plain = [s for s in p.lines[0].said if s.code in shared and not s.values]
    words = reading.labels("planting_card")
    return [*reading.texts(plain), *(words[f"step_{k}"] for k in ("flare", "mulch", "stake"))]


def _water(reading: Reading, card: "WaterCard") -> dict[str, Any]:
    amounts, ledger = reading.speaker.amounts, card.ledger
    words = reading.labels("planting_card")
    months = [m for m in range(12) if any(year[m] > 0 for year in ledger.months_l)]
    number = amounts.water_number
    kinds: dict[str, list[tuple[float, ...]]] = {}
    for _, label, row in card.rows:
        kinds.setdefault(label, []).append(row)
    return {
        "months": [words[f"month_{m + 1}"] for m in months],
        "unit": amounts.water_unit,
        "years": [
            {
                "year": reading.say("planting_card_says.year", number=str(i + 1)),
                "cells": [number(year[m]) for m in months],
                "sum": number(ledger.years_l[i]),
            }
            for i, year in enumerate(ledger.months_l)
        ],
        "each": [
            {
                "name": name, "n": amounts.count(len(rows)),
                "cells": [number(sum(r[m] for r in rows) / len(rows)) for m in months],
            }
            for name, rows in kinds.items()
        ],
        "says": reading.texts((*ledger.how, *card.said)),
    }  # fmt: skip


def _later(reading: Reading, p: "PlantingResult") -> list[str]:
    later = p.later
    out = [reading.say("planting_card_says.survival")]
    if later.back_years is not None:
        out.append(reading.say("planting_card_says.back", years_count=later.back_years))
    likely = later.filled[1]
    if likely is not None:
        out.append(reading.say("planting_card_says.filled", years_count=likely))
    return out


def _alternative(reading: Reading, a: "Alternative") -> dict[str, Any]:
    amounts = reading.speaker.amounts
    cost = DASH if a.first_cost_minor is None else amounts.about(a.first_cost_minor)
    return {
        "name": a.name,
        "removed": ", ".join(a.removed) or DASH,
        "planted": amounts.count(a.planted_count),
        "cover": [amounts.area(m2) for _, m2 in a.cover_m2],
        "water": amounts.water(a.water_l),
        "cost": cost,
        "says": reading.texts(a.said),
    }
