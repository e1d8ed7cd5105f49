"""Reading choices.toml: what was chosen, what was done, what was assumed; all problems at once."""

from collections.abc import Mapping
from typing import Any

from bolewalk.model.problems import Problem
from bolewalk.model.settings_keys import Key, read_keys
from bolewalk.visits.record import ACTS_DONE, CHOICES, Assumption, Choice, Choices, Done

__all__ = ["CHOICE_KEYS", "read_choices"]

CHOICE_KEYS: dict[str, tuple[Key, ...]] = {
    "choice": (
        Key("tree", "text", required=True),
        Key("choice", "text", required=True, choices=CHOICES),
        Key("by", "text", required=True),
        Key("date", "date", required=True),
        Key("until", "date"),
        Key("reason", "text"),
        Key("how", "text"),
    ),
    "done": (
        Key("tree", "text", required=True),
        Key("act", "text", required=True, choices=ACTS_DONE),
        Key("date", "date", required=True),
        Key("by", "text"),
        Key("note", "text"),
    ),
    "assumption": (
        Key("text", "text", required=True),
        Key("trees", "texts"),
        Key("until", "date"),
        Key("ended", "date"),
        Key("source", "text"),
    ),
}
"""Lists of tables: [[choice]], [[done]], [[assumption]]."""


def read_choices(table: Mapping[str, Any], *, file: str) -> tuple[Choices, tuple[Problem, ...]]:
    """Read a record of choices.

    Parameters
    ----------
    table : mapping
        As a TOML reader gives it; keys in docs/visits.md.
    file : str
        Path for the problems.

    Returns
    -------
    choices : Choices
        An entry with a fault is left out.
    problems : tuple of Problem
        All at once; `row` is the entry's number.
    """
    problems: list[Problem] = []
    for name in table:
        if name not in CHOICE_KEYS:
            problems.append(Problem(file, None, name, None, "one of " + ", ".join(CHOICE_KEYS)))
    read = {kind: _entries(table.get(kind), kind, file, problems) for kind in CHOICE_KEYS}
    return (
        Choices(
            tuple(Choice(**v) for v in read["choice"]),
            tuple(Done(**v) for v in read["done"]),
            tuple(Assumption(**v) for v in read["assumption"]),
        ),
        tuple(problems),
    )


def _entries(raw: Any, kind: str, file: str, problems: list[Problem]) -> list[dict[str, Any]]:
    if raw is None:
        return []
    if not isinstance(raw, list) or not all(isinstance(e, Mapping) for e in raw):
        problems.append(Problem(file, None, kind, None, f"[[{kind}]] for each entry"))
        return []
    sound = []
    for n, entry in enumerate(raw, start=1):
        one = {k: [v] if k == "trees" and isinstance(v, str) else v for k, v in entry.items()}
        values, found = read_keys(
            one, CHOICE_KEYS[kind], file=file, row=f"{kind} {n}", prefix=f"{kind}."
        )
        problems += found
        if not found:
            sound.append(values)
    return sound
