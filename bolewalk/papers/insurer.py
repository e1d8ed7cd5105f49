"""The letter to an insurer: who looked, how, what was rated, what is done and when."""

from typing import TYPE_CHECKING, Any

from bolewalk.papers.form import (
    bullets,
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
from bolewalk.papers.reading import DASH, Reading
from bolewalk.papers.risk_paper import risk_data
from bolewalk.walk.cues import Cue
from bolewalk.walk.decisions import find_decisions
from bolewalk.walk.sentences import read_sentences

if TYPE_CHECKING:
    from bolewalk.survey import TreeFinding

__all__ = ["insurer_data"]


def insurer_data(reading: Reading) -> dict[str, Any] | None:
    """Give the letter as JSON values; None where no insurer asked and nothing was rated."""
    told = {
        k.removeprefix("insurer."): v
        for k, v in reading.findings.survey.told.items()
        if k.startswith("insurer.")
    }
    risk = risk_data(reading)
    if not told and not risk["rows"]:
        return None
    words, ratings = reading.labels("insurer"), reading.labels("risk")
    named = [x.strip() for x in told.get("trees", "").split(",") if x.strip()]
    rated = {r["id"] for r in risk["rows"]}
    meant = set(named) or rated
    trees = [t for t in reading.findings.trees if t.tree.id in meant]
    asked = [
        [words[k], told[key]]
        for k, key in (("reference", "reference"), ("of", "asked_on"), ("asked", "asks"),
                       ("about", "trees"))
        if key in told
    ]  # fmt: skip
    top = [[words["to"], told.get("name", DASH)]]
    return form_data(
        reading,
        words["title"],
        [
            sheet(
                front(reading, *top),
                group(par(words["dear"]), par(words["lead"]), *([rows(asked)] if asked else [])),
                group(head(words["answer"]), bullets(_answer(reading, told, trees))),
                group(
                    head(words["rated"]),
                    *([par(risk["frame"])] if risk["frame"] else []),
                    table(
                        [reading.labels("report")["tree"], ratings["target"], ratings["words"],
                         ratings["rating"], words["work"], ratings["after"], words["look"]],
                        [_row(reading, t, risk["rows"]) for t in trees],
                        [0.9, 1.2, 1.3, 0.7, 1.6, 1.4, 0.9],
                    ),
                    loose=len(trees) > 8,
                ),
                group(
                    par(words["foot"]),
                    sign([_name(reading), reading.labels("report")["signed_date"]]),
                ),
            )
        ],
    )  # fmt: skip


def _name(reading: Reading) -> str:
    a = reading.findings.survey.people.assessor
    return reading.labels("report")["signed"] if a is None else a.name


def _answer(reading: Reading, told: dict[str, str], trees: "list[TreeFinding]") -> list[str]:
    """Say why another way is proposed; only a demand that is told is answered."""
    words = reading.labels("insurer")
    if "asks" not in told:
        return [words["asked_none"]]
    said = [told["answer"]] if "answer" in told else []
    kept = [t.tree.id for t in trees if t.tree.decision != "remove"]
    if kept and _asks_removal(told["asks"]):
        said.append(reading.say("insurer_says.worse", trees=", ".join(kept)))
    return said or [words["asked_same"]]


def _asks_removal(asks: str) -> bool:
    """Tell whether trees are to be removed, by the words that decide so on a walk."""
    heard = read_sentences([Cue(0.0, 0.0, asks)])
    return any(h.decision == "remove" and not h.negated for s in heard for h in find_decisions(s))


def _row(reading: Reading, t: "TreeFinding", rated: list[dict[str, Any]]) -> list[str]:
    words = reading.labels("insurer")
    risk = next((r for r in rated if r["id"] == t.tree.id), None)
    price = reading.findings.price
    lines = () if price is None else price.lines
    tasks = [
        reading.word("task", x.item.task) for x in lines
        if x.item.tree == t.tree.id and x.item.standing != "option"
    ]  # fmt: skip
    work = "; ".join(dict.fromkeys(tasks)) or (
        reading.word("decision", t.tree.decision) if t.tree.decision else words["work_none"]
    )
    back = reading.findings.returned
    then = None if back is None else next((x for x in back.trees if x.tree == t.tree.id), None)
    done = [d.date.isoformat() for d in then.done] if then is not None else []
    if done:
        work = f"{work}; {words['done']}: {', '.join(done)}"
    name = f"{t.tree.id} {reading.species(t.tree)['name']}"
    if risk is None:
        return [name, DASH, DASH, DASH, work, DASH, DASH]
    target = ", ".join(x for x in (risk["part"], risk["target"]) if x != DASH) or DASH
    return [name, target, risk["words"], risk["rating"], work, risk["after"], risk["next"]]
