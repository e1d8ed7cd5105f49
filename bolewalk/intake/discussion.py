"""discussion.toml: what is said of single trees at length, for the papers that ask for it."""

from collections.abc import Mapping
from typing import Any

from bolewalk.intake.reading import SurveyReading
from bolewalk.model.problems import Problem
from bolewalk.model.settings_keys import Key, read_keys
from bolewalk.model.trees import Tree
from bolewalk.trees.risk import CONSEQUENCES, FAILURES, IMPACTS, OCCUPANCIES

__all__ = ["DISCUSSION_KEYS", "Discussion", "discussion_of", "read_discussion"]

Discussion = Mapping[str, Mapping[str, str]]
"""Tree id -> key -> text."""

DISCUSSION_KEYS: tuple[Key, ...] = (
    Key("tree", "text", required=True),
    Key("reason", "text"),
    Key("method", "text"),
    Key("if_left", "text"),
    Key("treatment", "text"),
    Key("support", "text"),
    Key("site_work", "text"),
    Key("pests", "text"),
    Key("target_moved", "text"),
    Key("alternatives", "text"),
    Key("effect", "text"),
    Key("nearby", "text"),
    Key("soil", "text"),
    Key("value", "text"),
    Key("replacement", "text"),
    Key("frequency", "text"),
    Key("later_cost", "text"),
    Key("exemption", "text"),
    Key("agreed_by", "text"),
    Key("age", "text"),
    Key("survival", "text"),
    Key("looks", "text"),
    Key("part", "text"),
    Key("target", "text"),
    Key("use", "text", choices=OCCUPANCIES),
    Key("after", "text"),
    Key("after_failure", "text", choices=FAILURES),
    Key("after_impact", "text", choices=IMPACTS),
    Key("after_consequence", "text", choices=CONSEQUENCES),
)
"""Keys of [[tree]]."""


def read_discussion(
    table: Mapping[str, Any], *, file: str, trees: tuple[Tree, ...]
) -> tuple[dict[str, dict[str, str]], tuple[Problem, ...]]:
    """Read what is said of single trees.

    Parameters
    ----------
    table : mapping
        As a TOML reader gives it; keys in docs/survey-folder.md.
    file : str
        Path for the problems.
    trees : tuple of Tree
        Of the survey: an entry for another tree is told and left out.

    Returns
    -------
    discussion : dict
        Tree id -> key -> text. An entry with a fault is left out.
    problems : tuple of Problem
    """
    problems = [
        Problem(file, None, name, None, "[[tree]] for each tree")
        for name in table
        if name != "tree"
    ]
    raw = table.get("tree", [])
    if not isinstance(raw, list) or not all(isinstance(e, Mapping) for e in raw):
        return {}, (*problems, Problem(file, None, "tree", None, "[[tree]] for each tree"))
    known = {t.id for t in trees}
    said: dict[str, dict[str, str]] = {}
    for n, entry in enumerate(raw, start=1):
        own = entry.get("tree")
        row: str | int = own if isinstance(own, str) and own.strip() else n
        values, found = read_keys(entry, DISCUSSION_KEYS, file=file, row=row, prefix="tree.")
        problems += found
        if found:
            continue
        tree = str(values.pop("tree"))
        if tree not in known:
            problems.append(Problem(file, row, "tree.tree", tree, "a tree of the tree table"))
        elif tree in said:
            problems.append(Problem(file, row, "tree.tree", tree, "each tree once"))
        else:
            said[tree] = {k: str(v).strip() for k, v in values.items()}
    return said, tuple(problems)


def discussion_of(reading: SurveyReading, trees: tuple[Tree, ...]) -> dict[str, dict[str, str]]:
    """Read the file under `files.discussion`; empty where there is none."""
    table = reading.table(reading.head.files.discussion, "files.discussion")
    if table is None:
        return {}
    said, problems = read_discussion(table.table, file=table.file, trees=trees)
    reading.problems += problems
    return said
