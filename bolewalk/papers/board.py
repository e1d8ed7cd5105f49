"""The plan for a board: trees in the order of need, whose they are, who decides, costs by year."""

from typing import TYPE_CHECKING, Any

from bolewalk.papers.form import bullets, form_data, front, group, head, par, sheet, sign, table
from bolewalk.papers.plain import needs_line, plain_data, tree_line
from bolewalk.papers.reading import DASH, Reading
from bolewalk.papers.years import phases_data

if TYPE_CHECKING:
    from bolewalk.survey import TreeFinding

__all__ = ["board_data"]

_ORDER = ("inspect", "remove", "prune", "monitor", None, "retain")
"""What is not known comes before what is: a look may change the rest. Ours, no source."""


def board_data(reading: Reading) -> dict[str, Any] | None:
    """Give the plan as JSON values.

    None where the work is not spread over years, and the client speaks for no body.
    """
    f = reading.findings
    client = f.survey.people.client
    body = client is not None and client.role not in ("", "client", "owner")
    asked = [t for t in f.trees if needs_line(t)]
    if not asked or (f.phases is None and not body):
        return None
    words, report = reading.labels("board"), reading.labels("report")
    ranked = sorted(asked, key=lambda t: _ORDER.index(t.tree.decision))
    plain = plain_data(reading)
    return form_data(
        reading,
        words["title"],
        [
            sheet(
                front(reading),
                group(head(words["members"]), par(" ".join(plain["short"])), par(words["lead"])),
                group(
                    head(words["list"]),
                    table(
                        [words["rank"], report["tree"], words["owner"], words["who"],
                         plain["w"]["advice"], words["cost"]],
                        [[str(n), *_row(reading, t)] for n, t in enumerate(ranked, start=1)],
                        [0.35, 1.1, 0.55, 0.75, 3.2, 0.75],
                    ),
                    loose=True,
                ),
                group(head(words["years"]), *_years(reading), loose=True),
                group(sign([report["client"], report["signed_date"]])),
            )
        ],
    )  # fmt: skip


def _row(reading: Reading, t: "TreeFinding") -> list[str]:
    words, line = reading.labels("board"), tree_line(reading, t)
    price = reading.findings.price
    lines = [] if price is None else [x for x in price.lines if x.item.tree == t.tree.id]
    minor = sum(x.price_minor for x in lines if x.money is not None and x.item.standing == "base")
    said = " ".join(x for x in (line["advice"], line["found"], line["works"]) if x)
    return [
        f"{t.tree.id} {line['name']}",
        reading.word("owner", t.tree.owner),
        words[f"decide_{t.tree.owner}"],
        said,
        reading.speaker.amounts.money(minor) if minor else DASH,
    ]


def _years(reading: Reading) -> list[dict[str, Any]]:
    words, phases = reading.labels("board"), phases_data(reading)
    if phases is None:
        return [par(words["years_none"])]
    if phases["impossible"] or not phases["heads"]:
        return [par(phases["impossible"] or words["years_none"])]
    # The board sees the schedule that costs least; the others stand in the proposal.
    made = [
        table([phases["l"]["item"], words["year"]], [r[:2] for r in phases["rows"]], [2.0, 1.0]),
        table([words["year"], words["cost"]], [r[:2] for r in phases["sums"]], [2.0, 1.0]),
    ]
    carried = phases["carried"][0]["items"]
    return [*made, par(words["risk"], bold=True), bullets(carried)] if carried else made
