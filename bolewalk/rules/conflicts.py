"""Rules that ask for opposite things: shown as conflicts, never settled here."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from bolewalk.model.statements import Statement, say
from bolewalk.model.survey import Survey
from bolewalk.model.trees import Tree
from bolewalk.rules.consent import TreeConsent
from bolewalk.rules.dates import ActDate, is_closed, seasons_for
from bolewalk.rules.matching import match_species
from bolewalk.rules.near import nearest
from bolewalk.rules.protection import Protection
from bolewalk.rules.table import Act, FireRule, RuleTable

__all__ = ["Conflict", "FireAsk", "conflicts_of", "fire_asks", "fire_unknown"]


@dataclass(frozen=True, slots=True)
class FireAsk:
    """What a fire rule asks of one tree; `distance_m` is from trunk or crown edge as it says."""

    tree: str
    rule: FireRule
    work: str
    distance_m: float
    says: Statement


@dataclass(frozen=True, slots=True)
class Conflict:
    """Two rules, or a rule and a decision, that cannot both be followed as they stand."""

    tree: str
    kind: str
    one: str
    other: str
    says: Statement


def fire_asks(tree: Tree, survey: Survey, tables: Sequence[RuleTable]) -> tuple[FireAsk, ...]:
    """Tell what the fire rules on file ask of a tree; a plant in doubt counts as meant.

    A tree without position, or without a crown where the rule measures from it, is not asked
    anything: `fire_unknown` tells of it.
    """
    asks = []
    for rule in (f for t in tables for f in t.fire):
        if match_species(tree.species, rule.species) in ("no", "excepted"):
            continue
        found = nearest(tree, [w for w in survey.works if w.phase == "existing"], rule.of)
        if found is None or (rule.measured_from == "crown" and tree.crown is None):
            continue
        work, away = found
        if rule.measured_from == "crown" and tree.crown is not None:
            away = max(0.0, away - max(tree.crown.radii_m))
        if away < rule.within_m:
            said = say(
                f"rule.fire_{rule.asks}", tree=tree.id, citation=rule.citation, what=rule.what,
                distance_m=away, within_m=rule.within_m, work=work.label or work.id,
            )  # fmt: skip
            asks.append(FireAsk(tree.id, rule, work.label or work.id, away, said))
    return tuple(asks)


def fire_unknown(tree: Tree, survey: Survey, tables: Sequence[RuleTable]) -> tuple[Statement, ...]:
    """Tell of fire rules that may ask something of a tree whose distance is not known."""
    made = []
    for rule in (f for t in tables for f in t.fire):
        spoken_of = match_species(tree.species, rule.species) not in ("no", "excepted")
        drawn = any(w.phase == "existing" and w.kind in rule.of for w in survey.works)
        lacking = not tree.located or (rule.measured_from == "crown" and tree.crown is None)
        if spoken_of and (lacking or not drawn):
            made.append(say("rule.fire_unknown", tree=tree.id, citation=rule.citation))
    return tuple(dict.fromkeys(made))


def conflicts_of(
    tree: Tree,
    *,
    asked: date,
    tables: Sequence[RuleTable],
    protection: Protection,
    consent: TreeConsent,
    asks: Sequence[FireAsk],
    dates: Sequence[ActDate],
) -> tuple[Conflict, ...]:
    """Find what stands against what for one tree, in the order of the rules."""
    found: list[Conflict] = []

    def add(kind: str, one: str, other: str) -> None:
        said = say(f"rule.conflict_{kind}", tree=tree.id, one=one, other=other)
        found.append(Conflict(tree.id, kind, one, other, said))

    for ask in asks:
        act: Act = "remove" if ask.rule.asks == "remove" else "prune"
        for s in protection.rules:
            if s.status != "not_protected" and act in s.rule.acts:
                sure = "keep" if s.status == "protected" else "keep_maybe"
                add(f"fire_{act}_{sure}", ask.rule.citation, s.rule.citation)
        for season in seasons_for(tree, act, tables):
            if is_closed(asked, season):
                add(f"fire_{act}_season", ask.rule.citation, season.citation)
        if act in consent.blocks:
            add(f"fire_{act}_consent", ask.rule.citation, "")
        if act == "remove" and tree.decision in ("retain", "monitor", "prune"):
            add("fire_remove_decision", ask.rule.citation, tree.decision)
        if act == "prune" and tree.decision in ("retain", "monitor"):
            add("fire_prune_decision", ask.rule.citation, tree.decision)
    for d in dates:
        if d.earliest is None and d.decided_by is not None and d.decided_by.code == _NEVER:
            seasons = seasons_for(tree, d.act, tables)
            names = list(dict.fromkeys(s.citation for s in seasons))
            add("no_open_day", names[0], names[-1])
    return tuple(dict.fromkeys(found))


_NEVER = "date.never_open"
