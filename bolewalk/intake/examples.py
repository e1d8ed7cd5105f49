"""Values a new survey begins with, still standing: they are nobody's, and every paper says so."""

import tomllib
from collections.abc import Mapping
from functools import lru_cache
from importlib import resources
from typing import Any

from bolewalk.intake.reading import SurveyReading
from bolewalk.intake.survey_toml import HEAD_FILE
from bolewalk.model.problems import Problem
from bolewalk.model.statements import Statement, say
from bolewalk.model.trees import Tree

__all__ = ["example_values"]


@lru_cache(maxsize=2)
def _packaged(package: str, name: str) -> dict[str, Any]:
    return tomllib.loads((resources.files(package) / "data" / name).read_text("utf-8"))


def example_values(
    reading: SurveyReading, trees: tuple[Tree, ...], rates: Mapping[str, Any] | None
) -> tuple[Statement, ...]:
    """Tell of name, day, rows and rates that are still those of a new survey.

    Parameters
    ----------
    reading : SurveyReading
        Takes a notice for each.
    trees : tuple of Tree
    rates : mapping, optional
        rates.toml as read.

    Returns
    -------
    tuple of Statement
        For the papers; empty where everything is the survey's own. A day is told of even where it
        may be right: nobody can see from it whether it was set.
    """
    known, head = _packaged("bolewalk.intake", "examples.toml"), reading.head
    said: list[Statement] = []

    def tell(file: str, row: str | int | None, key: str, value: str, expected: str) -> None:
        reading.problems.append(Problem(file, row, key, value, expected, "notice"))

    if head.name == known["name"]:
        tell(HEAD_FILE, None, "survey.name", head.name, "the property's own name: an example")
        said.append(say("example.name"))
    if head.date == known["date"]:
        day = head.date.isoformat()
        tell(HEAD_FILE, None, "survey.date", day, "the day of the walk: an example, if not it")
        said.append(say("example.day", day=day))
    rows = [t for t in trees if t.notes.startswith(known["row"])]
    for t in rows:
        tell(head.files.trees, t.row, "tree", t.id, "a tree of the site: an example row")
    if rows:
        said.append(say("example.trees", trees=", ".join(t.id for t in rows)))
    shipped = _packaged("bolewalk.pricing", "example_rates.toml")
    same = [
        k for k in known["rates"] if rates is not None and k in rates and rates[k] == shipped.get(k)
    ]  # fmt: skip
    if same:
        names = ", ".join(same)
        tell(head.files.rates, None, same[0], names, "the firm's own figures: examples")
        said.append(say("example.rates", tables=names))
    return tuple(said)
