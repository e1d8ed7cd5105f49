"""Evidence before clean-up: what is recorded of a failed tree before anything is moved."""

from typing import TYPE_CHECKING, Any

from bolewalk.papers.form import (
    bullets,
    fill,
    form_data,
    front,
    group,
    head,
    par,
    rows,
    sheet,
    sign,
    table,
)
from bolewalk.papers.reading import DASH, Reading, trunk_text

if TYPE_CHECKING:
    from bolewalk.survey import TreeFinding

__all__ = ["evidence_data"]

_ITEMS = ("stump", "break", "decay", "target", "size", "works", "weather", "chain")


def evidence_data(reading: Reading) -> dict[str, Any] | None:
    """Give the packet as JSON values: a sheet for each tree that is dead or to be removed.

    Only where the visit is about a hazard: nothing is known to have failed elsewhere. None where
    there is no such tree.
    """
    if reading.findings.survey.purpose != "hazard visit":
        return None
    trees = [
        t for t in reading.findings.trees
        if t.tree.decision == "remove" or t.tree.health == "dead"
    ]  # fmt: skip
    if not trees:
        return None
    words = reading.labels("evidence")
    return form_data(reading, words["title"], [_sheet(reading, t) for t in trees])


def _sheet(reading: Reading, t: "TreeFinding") -> dict[str, Any]:
    words, report, amounts = (
        reading.labels("evidence"), reading.labels("report"), reading.speaker.amounts,
    )  # fmt: skip
    tree = t.tree
    names = reading.species(tree)
    both = ", ".join(dict.fromkeys(x for x in (names["name"], names["botanical"]) if x))
    stems = trunk_text(reading, tree)
    return sheet(
        front(reading),
        group(par(words["lead"]), bullets([words[f"first_{k}"] for k in ("people", "leave",
                                                                         "keep")])),
        group(
            head(words["tree"]),
            rows([
                [report["tree"], f"{tree.id}, {both}"],
                [f"{report['trunk']}, {report['height']}",
                 f"{stems if stems == DASH else f'{stems} {amounts.trunk_unit}'}, "
                 + (DASH if tree.height_m is None else amounts.length(tree.height_m.value))],
                [f"{report['health']}, {report['structure']}",
                 f"{tree.health or DASH}, {tree.structure or DASH}"],
                [report["notes"], tree.notes or DASH],
            ]),
        ),
        group(
            head(words["list"]),
            table(
                [words["item"], words["how"], words["value"], words["photo"]],
                [[words[k], words[f"{k}_how"], "", ""] for k in _ITEMS],
                [0.95, 2.8, 1.4, 0.65],
            ),
            loose=True,
        ),
        group(
            fill([words["kept"], words["people"]], columns=2),
            sign([words["signed"], report["signed_date"]]),
        ),
    )  # fmt: skip
