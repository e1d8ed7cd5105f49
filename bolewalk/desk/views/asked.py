"""What is asked: each open question with what the form needs that takes its answer."""

from dataclasses import dataclass
from typing import Any

from bolewalk.desk.answering import fact_kind, free_words
from bolewalk.papers.questions import questions_data
from bolewalk.papers.reading import Reading
from bolewalk.rules.findings import RuleFindings

__all__ = ["AskedRow", "asked_rows", "owner_rows"]

_TYPED = {
    "depth": "Another depth", "roof_low": "Another height", "wire_low": "Another height",
    "height": "Another height", "diameter": "Another size", "species": "Another species",
    "offset": "Measured from the trunk centre to its near edge", "made": "Another way",
    "owner": "Whose",
}  # fmt: skip
"""Kind of fact -> what its free value is called; the other kinds have none."""
_UNTOLD = "untold"


@dataclass(frozen=True, slots=True)
class AnswerRow:
    """One answer that is offered: what it says, and what each verdict would be then.

    `key` is "" for what only holds as long as nothing is told."""

    key: str
    answer: str
    verdicts: tuple[dict[str, Any], ...]


@dataclass(frozen=True, slots=True)
class AskedRow:
    """One open question. `free` names the value that may be typed, "" where none may; `words`
    are those it is chosen from, `unit` what a plain number is in, `trees` where it bears."""

    fact: str
    ask: str
    of: str
    trees: tuple[str, ...]
    answers: tuple[AnswerRow, ...]
    free: str
    words: tuple[str, ...]
    unit: str
    from_tree: bool
    form: str


def asked_rows(reading: Reading) -> tuple[AskedRow, ...]:
    """Give the questions of a reading with what their forms need."""
    return tuple(_row(reading, n, q) for n, q in enumerate(questions_data(reading), 1))


def _row(reading: Reading, n: int, q: dict[str, Any]) -> AskedRow:
    kind = fact_kind(q["fact"])
    amounts = reading.speaker.amounts
    unit = amounts.length_unit if kind not in ("made", "species") else ""
    return AskedRow(
        fact=q["fact"],
        ask=q["ask"],
        of=q["of"],
        trees=tuple(q["trees"]),
        answers=tuple(
            AnswerRow("" if a["key"].endswith(_UNTOLD) else a["key"], a["answer"],
                      tuple(a["verdicts"]))
            for a in q["answers"]
        ),
        free=_TYPED.get(kind, ""),
        words=free_words(kind),
        unit=amounts.trunk_unit if kind == "diameter" else unit,
        from_tree=kind == "offset" and len(q["trees"]) > 1,
        form=f"q{n}",
    )  # fmt: skip


def owner_rows(reading: Reading, rules: RuleFindings, tree: str = "") -> tuple[AskedRow, ...]:
    """Ask whose a tree is where the local rules need to know; of one tree, or of all."""
    return tuple(
        AskedRow(
            f"{t.tree}.owner", reading.speaker.text(s), reading.word("of", "client"), (t.tree,),
            (), _TYPED["owner"], tuple(w for w in free_words("owner") if w != "unknown"), "",
            False, f"owner-{n}",
        )
        for n, t in enumerate(rules.trees)
        if tree in ("", t.tree)
        for s in t.asks
        if s.code == "consent.ask_owner"
    )  # fmt: skip
