"""What rule tables name, held against the survey and each other."""

from collections.abc import Sequence

from bolewalk.model.problems import Problem
from bolewalk.model.trees import Tree
from bolewalk.model.works import Work
from bolewalk.rules.table import RuleTable

__all__ = ["check_names"]


def check_names(
    tables: Sequence[RuleTable], *, trees: Sequence[Tree], works: Sequence[Work]
) -> tuple[Problem, ...]:
    """Tell of trees and wires that rule tables name and the survey does not have."""
    ids = {t.id for t in trees}
    wires = {name for w in works if w.kind == "wire" for name in (w.id, w.label)}
    problems = []
    for t in tables:
        named = [("owner.trees", i) for o in t.owners for i in o.trees]
        named += [("consent.tree", c.tree) for c in t.consents]
        named += [("line.tree", x.tree) for x in t.lines]
        named += [("granted.trees", i) for g in t.permits for i in g.trees]
        problems += [
            Problem(t.file, i, field, i, "a tree of the tree table")
            for field, i in named
            if i not in ids
        ]
        problems += [
            Problem(t.file, r.id, "wire.work", r.work, "the id or label of a wire of the works")
            for r in t.wires
            if r.work and r.work not in wires
        ]
    rules = {r.id for t in tables for r in t.rules}
    problems += [
        Problem(t.file, g.rule, "granted.rule", g.rule, "the id of a rule on file")
        for t in tables
        for g in t.permits
        if g.rule not in rules
    ]
    seen: dict[str, str] = {}
    for t in tables:
        for rule in t.rules:
            if seen.setdefault(rule.id, t.file) != t.file:
                expected = "an id that no other rule table uses"
                problems.append(Problem(t.file, rule.id, "rule.id", rule.id, expected, "notice"))
    return tuple(problems)
