"""The request to the owner of a wire: which wire, which trees, what is asked, work on hold."""

from typing import TYPE_CHECKING, Any

from bolewalk.papers.form import (
    bullets,
    fill,
    form_data,
    front,
    group,
    head,
    par,
    sheet,
    sign,
    table,
)
from bolewalk.papers.reading import DASH, Reading
from bolewalk.rules.near import distance_m
from bolewalk.rules.wires import approach_distance_m

if TYPE_CHECKING:
    from bolewalk.model.works import Work
    from bolewalk.survey import TreeFinding

__all__ = ["utility_data"]

_NEAR_M = approach_distance_m(0.0)
"""From the crown: what the unqualified keep from any wire. The request asks for the voltage."""
_HANDS_ON = ("prune", "remove")


def utility_data(reading: Reading) -> dict[str, Any] | None:
    """Give one request a wire as JSON values; None where no tree to be worked on is near one."""
    sheets = []
    for wire in reading.findings.survey.works:
        if wire.kind != "wire" or wire.present == "no":
            continue
        near = [(t, d) for t in reading.findings.trees if (d := _near(t, wire)) is not None]
        if near:
            sheets.append(_sheet(reading, wire, near))
    return form_data(reading, reading.labels("utility")["title"], sheets) if sheets else None


def _near(t: "TreeFinding", wire: "Work") -> float | None:
    """Give the distance from trunk to wire [m] of a tree to be worked on whose crown is near it."""
    if t.tree.decision not in _HANDS_ON:
        return None
    away = distance_m(t.tree, wire)
    reach = _NEAR_M + (max(t.tree.crown.radii_m) if t.tree.crown is not None else 0.0)
    return away if away is not None and away <= reach else None


def _sheet(
    reading: Reading, wire: "Work", near: "list[tuple[TreeFinding, float]]"
) -> dict[str, Any]:
    words, amounts = reading.labels("utility"), reading.speaker.amounts
    rules = reading.findings.rules
    on_file = [
        reading.say("utility_says.rule", who=w.who, citation=w.citation)
        for table_ in (() if rules is None else rules.tables)
        for w in table_.wires
        if not w.work or w.work in (wire.id, wire.label)
    ]
    height = DASH
    if wire.low_m is not None:
        both = wire.high_m is not None
        height = reading.say(
            "utility_says.height" if both else "utility_says.low", low_m=wire.low_m,
            high_m=wire.high_m or 0.0,
        )  # fmt: skip
    lines = []
    for t, away in near:
        inside = t.tree.crown is not None and away < max(t.tree.crown.radii_m)
        lines.append([
            f"{t.tree.id} {reading.species(t.tree)['name']}",
            DASH if t.tree.height_m is None else amounts.length(t.tree.height_m.value),
            reading.say(f"utility_says.{'inside' if inside else 'near'}", tree=t.tree.id,
                        distance_m=away),
            reading.word("decision", t.tree.decision),
        ])  # fmt: skip
    report = reading.labels("report")
    return sheet(
        front(
            reading, [words["to"], DASH], [words["which"], wire.label or wire.id],
            [words["heights"], height],
        ),
        group(par(words["hold"], bold=True), *([bullets(on_file)] if on_file else [])),
        group(
            head(words["trees"]),
            table(
                [report["tree"], report["height"], words["near"], words["work"]], lines,
                [1.2, 0.6, 1.8, 0.7],
            ),
            loose=len(lines) > 12,
        ),
        group(
            head(words["asked"]),
            bullets([words[f"ask_{k}"] for k in ("kv", "clear", "who", "off")], tick=True),
            fill([words["poles"], f"{words['photo']}: {words['photo_where']}"]),
        ),
        group(
            head(words["answer"]),
            fill([words[k] for k in ("kv", "clear", "who", "day")], columns=2),
            sign([words["signed"], report["signed_date"]]),
        ),
    )  # fmt: skip
