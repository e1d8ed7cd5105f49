"""The change order: what was found on the day, what it costs, agreed before the work goes on."""

from typing import Any

from bolewalk.papers.form import fill, form_data, front, group, head, par, rows, sheet, sign, table
from bolewalk.papers.price import price_data
from bolewalk.papers.reading import Reading

__all__ = ["change_order_data"]

_OPEN_ROWS = 4


def change_order_data(reading: Reading) -> dict[str, Any] | None:
    """Give the form as JSON values; None where no work is priced."""
    price = price_data(reading)
    if price is None or not price["base"]:
        return None
    words, report = reading.labels("change"), reading.labels("report")
    trees = ", ".join(dict.fromkeys(x["id"] for x in price["base"]))
    return form_data(
        reading,
        words["title"],
        [
            sheet(
                front(reading),
                group(
                    par(words["lead"]),
                    rows([[words["trees"], trees], [words["total"], price["total"]]]),
                ),
                group(
                    head(words["found"]),
                    table(
                        [report["tree"], words["found"], words["photo"], words["work"],
                         words["hours"], words["effect"]],
                        [], [0.5, 1.8, 0.7, 1.8, 0.7, 0.8], open_=_OPEN_ROWS,
                    ),
                    fill([words["new_total"], words["days"]]),
                ),
                group(
                    head(words["agreed"]),
                    fill([words["spoken"]]),
                    sign([words["crew"], words["client"], words["second"], report["signed_date"]]),
                ),
            )
        ],
    )  # fmt: skip
