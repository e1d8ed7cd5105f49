"""What the local rules say: of one tree, and of the whole site."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from bolewalk.desk.views.asked import AskedRow, owner_rows
from bolewalk.papers.reading import Reading
from bolewalk.papers.rules_texts import rules_data
from bolewalk.papers.write import reading_of
from bolewalk.rules.findings import RuleFindings

__all__ = ["SiteRules", "TreeRuleTexts", "site_rules", "tree_rules"]


@dataclass(frozen=True, slots=True)
class TreeRuleTexts:
    """One tree: its protection and why, earliest days, who must agree, permits, cautions.

    `tables` names the rules it was held against, empty where the survey has none."""

    tree: str
    status: str
    why: tuple[str, ...]
    dates: tuple[str, ...]
    leave: tuple[str, ...]
    permits: tuple[str, ...]
    cautions: tuple[str, ...]
    notes: tuple[str, ...]
    asked: tuple[AskedRow, ...]
    tables: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class SiteRules:
    """The whole site: trees a rule may bear on, what is to be heeded, whose a tree is."""

    tables: tuple[str, ...]
    rows: tuple[TreeRuleTexts, ...]
    urgent: tuple[str, ...]
    conflicts: tuple[str, ...]
    duties: tuple[str, ...]
    cautions: tuple[str, ...]
    asked: tuple[AskedRow, ...]


def tree_rules(reading: Reading, rules: RuleFindings, tree: str) -> TreeRuleTexts:
    """Give what the rules say of one tree; it has an entry of its own among `rules`."""
    told = _told(reading, rules)
    row = next((r for r in (*told["rows"], *told["owners"]) if r["id"] == tree), None)
    return _tree(reading, rules, tree, row or {}, tuple(told["tables"]))


def site_rules(reading: Reading, rules: RuleFindings) -> SiteRules:
    """Give what the rules say of the site; trees nothing is said of are left out."""
    told = _told(reading, rules)
    tables = tuple(told["tables"])
    rows = (*told["rows"], *told["owners"])
    return SiteRules(
        tables=tables,
        rows=tuple(_tree(reading, rules, r["id"], r, tables) for r in rows),
        urgent=tuple(reading.texts(rules.urgent)),
        conflicts=tuple(told["conflicts"]),
        duties=tuple(told["duties"]),
        cautions=tuple(told["cautions"]),
        asked=owner_rows(reading, rules),
    )


def _told(reading: Reading, rules: RuleFindings) -> dict[str, Any]:
    held = reading_of(replace(reading.findings, rules=rules))
    return rules_data(held) or {}


def _tree(
    reading: Reading,
    rules: RuleFindings,
    tree: str,
    row: Mapping[str, Any],
    tables: tuple[str, ...],
) -> TreeRuleTexts:
    found = rules.of(tree)
    says = () if found is None else tuple(reading.texts(found.protection.says))
    status = "" if found is None else reading.word("protection", found.protection.status)
    return TreeRuleTexts(
        tree=tree,
        status=row.get("status", status),
        why=tuple(row.get("why", ())) or says,
        dates=tuple(row.get("dates", ())),
        leave=tuple(row.get("leave", ())),
        permits=() if found is None else found.permits,
        cautions=() if found is None else tuple(reading.texts(found.cautions)),
        notes=tuple(row.get("asks", ())),
        asked=owner_rows(reading, rules, tree),
        tables=tables,
    )
