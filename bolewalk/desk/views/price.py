"""The price: lines, what moves them, options, years, and keeping against removing."""

from dataclasses import dataclass
from typing import Any

from markupsafe import Markup

from bolewalk.desk.drawer import Sheet
from bolewalk.desk.views.head import SurveyHead, survey_head
from bolewalk.papers.draw.svg import svg
from bolewalk.papers.price import price_data
from bolewalk.papers.write import reading_of
from bolewalk.papers.years import costs_drawing, futures_data, phases_data

__all__ = ["PriceView", "price_view"]


@dataclass(frozen=True, slots=True)
class PriceView:
    """The page of the price; `price` None where the survey has no rates. `example` warns where
    those are still the example's."""

    head: SurveyHead
    price: dict[str, Any] | None
    hours: str
    phases: dict[str, Any] | None
    futures: tuple[tuple[dict[str, Any], Markup], ...]
    rates_file: str
    example: str


def price_view(sheet: Sheet) -> PriceView:
    """Give the page, everything worked out."""
    findings = sheet.reckoning.findings()
    reading = reading_of(findings)
    price = findings.price
    drawn = [costs_drawing(reading, f) for f in findings.futures]
    alt = reading.say("plan_alt.costs")
    return PriceView(
        head=survey_head(sheet, reading, "price"),
        price=price_data(reading),
        hours="" if price is None else reading.speaker.amounts.hours(price.crew_hours),
        phases=phases_data(reading),
        futures=tuple(
            # Every text in the drawing was escaped as it was written.
            (data, Markup(svg(scene, words=True, title=alt)))
            for data, scene in zip(futures_data(reading), drawn, strict=True)
        ),
        rates_file="" if sheet.job.rates_table is None else sheet.job.rates_table.file,
        example=" ".join(reading.texts(s for s in findings.examples if s.code == "example.rates")),
    )
