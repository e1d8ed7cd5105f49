"""The planting: what, where, how it is watered, and what the place will look like."""

from dataclasses import dataclass
from typing import Any

from markupsafe import Markup

from bolewalk.desk.drawer import Sheet
from bolewalk.desk.planting_drawings import later_plan, side_view
from bolewalk.desk.views.head import SurveyHead, survey_head
from bolewalk.papers.draw.scene import Scene
from bolewalk.papers.draw.svg import svg
from bolewalk.papers.planting_json import planting_json
from bolewalk.papers.write import reading_of

__all__ = ["PlantingView", "planting_view"]


@dataclass(frozen=True, slots=True)
class PlantingView:
    """The page of the planting.

    `advice` None where the survey has no planting.toml or it cannot be used. `years` are those
    that can be looked at; `year` the one that is.
    """

    head: SurveyHead
    advice: dict[str, Any] | None
    named: bool
    years: tuple[int, ...]
    year: int
    plan: Markup | None
    side: Markup | None
    cover: tuple[tuple[str, str, str], ...]
    money: dict[str, str]
    length_unit: str
    area_unit: str
    water_unit: str


def planting_view(sheet: Sheet, *, year: int) -> PlantingView:
    """Give the page, everything worked out; the year shown is the nearest there is."""
    findings = sheet.reckoning.findings()
    reading = reading_of(findings)
    survey = sheet.job.survey
    amounts = reading.speaker.amounts
    advice = planting_json(findings.planting, survey, reading.speaker)
    imperial = survey.units == "imperial"
    years: tuple[int, ...] = ()
    plan = side = None
    cover: tuple[tuple[str, str, str], ...] = ()
    if findings.planting is not None and findings.planting.later.years:
        later = findings.planting.later.years
        years = tuple(y.year for y in later)
        year = min(years, key=lambda y: abs(y - year))
        shown = later[years.index(year)]
        widest = later[-1].crowns
        plan = _drawn(
            later_plan(shown.crowns, survey.works, widest=widest, width_mm=230.0, most_mm=140.0),
            f"Plan of the crowns after {year} years, new ones in the accent colour and named P.",
        )
        side = _drawn(
            side_view(
                shown.crowns, widest=widest, units=survey.units, width_mm=230.0, most_mm=60.0
            ),
            f"The same trees from the south after {year} years, to scale.",
        )
        cover = tuple(
            (str(y.year), amounts.area(y.cover_m2), amounts.area(y.new_m2)) for y in later
        )
    return PlantingView(
        head=survey_head(sheet, reading, "planting"),
        advice=advice,
        named=sheet.job.planting is not None,
        years=years,
        year=year,
        plan=plan,
        side=side,
        cover=cover,
        money={str(v): amounts.money(v) for v in _minor(advice or {})},
        length_unit=amounts.length_unit,
        area_unit="sq ft" if imperial else "m²",
        water_unit="gal" if imperial else "l",
    )


def _drawn(scene: Scene | None, title: str) -> Markup | None:
    # Every text in the drawing was escaped as it was written.
    return None if scene is None else Markup(svg(scene, words=True, title=title))


def _minor(advice: dict[str, Any]) -> list[int]:
    found = [advice.get("cost_minor")]
    found += [p["cost_minor"] for p in advice.get("plants", ())]
    found += [a[k] for a in advice.get("alternatives", ())
              for k in ("first_cost_minor", "cost_20_minor")]  # fmt: skip
    return [v for v in found if isinstance(v, int)]
