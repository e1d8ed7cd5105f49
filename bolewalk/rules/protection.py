"""Each rule on file against each tree, with every reading of its stems.

is it one of the plants? -> is it in the zone, of the owner, tall enough? -> how thick by each
reading against the threshold -> protected, not protected, depends, cannot tell
"""

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from bolewalk.model.statements import Statement, say
from bolewalk.model.trees import Tree
from bolewalk.rules.groves import Groves, GroveStanding, find_groves
from bolewalk.rules.matching import match_species
from bolewalk.rules.settings import packaged
from bolewalk.rules.table import Grove, Rule, RuleTable, StemRule
from bolewalk.rules.trunk_sizes import (
    SIZE_SLACK,
    ReadingAgainst,
    SizeStatus,
    deciding_reading,
    is_heritage,
    readings_against,
    size_status,
)

__all__ = [
    "Protection", "RuleStatus", "Status", "evaluate_rule", "groves_of",
    "protect", "reading_says", "replacements_due",
]  # fmt: skip

Status = SizeStatus | Literal["no_rule"]
_WEIGHT: tuple[Status, ...] = ("protected", "depends", "cannot_tell", "not_protected")


@dataclass(frozen=True, slots=True)
class RuleStatus:
    """One rule against one tree.

    `because` gives the reason in order of weight, `says` what else goes with it: exemptions to be
    claimed, the height of measure, an eye estimate. `deciding` is the reading that decides, None
    where no size decides or the place does not say how stems are added. `heritage` tells whether
    the higher class is reached, None where the rule has none.
    """

    rule: Rule
    status: Status
    because: tuple[Statement, ...]
    readings: tuple[ReadingAgainst, ...] = ()
    threshold_cm: float | None = None
    deciding: StemRule | None = None
    heritage: bool | None = None
    says: tuple[Statement, ...] = ()


@dataclass(frozen=True, slots=True)
class Protection:
    """All rules on file against one tree. `no_rule` is never "not protected": ask."""

    tree: str
    status: Status
    says: tuple[Statement, ...]
    rules: tuple[RuleStatus, ...]

    @property
    def may_be_protected(self) -> bool:
        """Whether the tree must be treated as protected until it is known."""
        return self.status != "not_protected"


def protect(
    tree: Tree,
    tables: Sequence[RuleTable],
    *,
    method_at_m: float,
    groves: Groves | None = None,
) -> Protection:
    """Hold one tree against every rule on file.

    Parameters
    ----------
    tree : Tree
    tables : sequence of RuleTable
    method_at_m : float
        Where the survey's method takes the trunk [m], for trees without a height of their own.
    groves : mapping, optional
        As `groves_of` finds them in the survey; without it the tree stands alone.

    Returns
    -------
    Protection
        protected where one rule says so; else depends; else cannot_tell, also where a rule or a
        table on file could not be read; not_protected only where every rule on file was read and
        says so; no_rule where there is none.
    """
    rules, written = _rules(tables)
    found = tuple(
        evaluate_rule(tree, rule, method_at_m=method_at_m, written=written, groves=groves)
        for rule in rules
    )
    unread = [
        f"{t.file}: {name}"
        for t in tables
        for kind in ("table", "rule")
        for name in t.left_out.get(kind, ())
    ]
    says = [say("rule.unread", tree=tree.id, name=name) for name in unread]
    if not found and not unread:
        return Protection(tree.id, "no_rule", (say("rule.no_rule", tree=tree.id),), ())
    seen = {s.status for s in found} | ({"cannot_tell"} if unread else set())
    status = next(s for s in _WEIGHT if s in seen)
    count = sum(s.status == status for s in found)
    total = say(f"rule.status_{status}", tree=tree.id, met_count=count, rule_count=len(found))
    return Protection(tree.id, status, (total, *says), found)


def groves_of(trees: Sequence[Tree], tables: Sequence[RuleTable]) -> Groves:
    """Find the groves of a survey under every rule on file, for `protect`."""
    rules, written = _rules(tables)
    return find_groves(trees, rules, written=written)


def _rules(tables: Sequence[RuleTable]) -> tuple[list[Rule], set[str]]:
    """Give all rules on file, and the keys of all plants any of them names."""
    rules = [rule for t in tables for rule in t.rules]
    return rules, {k for r in rules for _, k in (*r.species.listed, *r.species.excepted)}


def reading_says(status: RuleStatus) -> tuple[Statement, ...]:
    """Say every reading of the stems against the rule's threshold, the deciding one first.

    One sentence where a single trunk reads the same under all.
    """
    if status.threshold_cm is None or not status.readings:
        return ()
    ordered = sorted(status.readings, key=lambda r: not r.decides)
    if len({r.size_cm for r in ordered}) == 1:
        ordered = ordered[:1]
    return tuple(
        say(
            f"rule.reading_{'over' if r.over_cm >= -SIZE_SLACK * status.threshold_cm else 'under'}",
            reading=r.name, size_cm=r.size_cm, over_cm=abs(r.over_cm),
        )
        for r in ordered
    )  # fmt: skip


def replacements_due(statuses: Sequence[RuleStatus]) -> int | None:
    """Count the trees to be planted for trees removed under one rule, ratio x trees.

    None where the rule names no ratio. Only trees found protected count.
    """
    due = [s for s in statuses if s.status == "protected"]
    if not due or any(s.rule.replacement is None for s in due):
        return None
    return sum(s.rule.replacement.ratio for s in due if s.rule.replacement is not None)


def evaluate_rule(
    tree: Tree,
    rule: Rule,
    *,
    method_at_m: float,
    written: Collection[str] = (),
    groves: Groves | None = None,
) -> RuleStatus:
    """Hold one tree against one rule; as `protect`. `written` as in `match_species`."""
    what = {"tree": tree.id, "rule": rule.id}
    match = match_species(tree.species, rule.species, written=written)
    readings, threshold = readings_against(tree, rule.size)

    def out(status: Status, code: str, **values: str | float) -> RuleStatus:
        because = (say(f"rule.{code}", **what, **values),)
        return RuleStatus(
            rule, status, because, readings, threshold, deciding_reading(rule.size, readings)
        )

    if match in ("no", "excepted"):
        return out("not_protected", f"species_{match}", species=tree.species.label)
    if rule.in_zone == "no":
        return out("not_protected", "outside_zone", zone=rule.zone)
    owner = _owner_covered(tree, rule)
    if owner is False:
        return out("not_protected", "owner_not_covered", owner=tree.owner)
    tall = _tall_enough(tree, rule)
    if tall is False:
        return out("not_protected", "too_low", height_m=rule.height_from_m or 0.0)
    size = size_status(tree, rule.size, readings)
    sized = RuleStatus(
        rule, size[0], (say(f"rule.{size[1]}", **what, **size[2]),), readings, threshold,
        deciding_reading(rule.size, readings), is_heritage(rule.size, readings),
        _notes(tree, rule, readings, method_at_m),
    )  # fmt: skip
    if rule.grove is not None and (rule.size is None or sized.status != "protected"):
        known = find_groves((tree,), (rule,), written=written) if groves is None else groves
        sized = _in_grove(sized, tree, rule, rule.grove, known[rule][tree.id])
    if sized.status == "not_protected":
        return sized
    doubts = _doubts(tree, rule, match, owner, tall)
    return _with_doubts(sized, doubts)


def _in_grove(
    sized: RuleStatus, tree: Tree, rule: Rule, wanted: Grove, standing: GroveStanding
) -> RuleStatus:
    """Read a rule's grove where the tree's own size does not protect it."""
    said = say(
        f"rule.grove_{standing.state}", tree=tree.id, rule=rule.id, needed=wanted.trees,
        found=standing.count, unsure=standing.open_count,
    )  # fmt: skip
    own: Status = "not_protected" if rule.size is None else sized.status
    grove: Status = (
        "protected"
        if standing.state == "in"
        else ("cannot_tell" if standing.state == "cannot_tell" else "not_protected")
    )
    status = min((own, grove), key=_WEIGHT.index)
    alone = () if rule.size is None else sized.because
    because = (said, *alone) if status == grove else (*alone, said)
    return replace(sized, status=status, because=because)


Doubt = tuple[Status, Statement]


def _doubts(
    tree: Tree, rule: Rule, match: str, owner: bool | None, tall: bool | None
) -> list[Doubt]:
    """List what must be known before the rule can be said to cover the tree."""
    what = {"tree": tree.id, "rule": rule.id}
    found: list[Doubt] = []
    if match == "doubt":
        names = ", ".join(tree.species.alternatives)
        code = "species_doubt_candidates" if names else "species_doubt"
        said = {**what, "as_heard": tree.species.as_heard, "names": names}
        found.append(("cannot_tell", say(f"rule.{code}", **said)))
    elif rule.native_only and match != "species":
        found.append(
            ("cannot_tell", say("rule.native_unknown", **what, species=tree.species.label))
        )
    if tall is None:
        height = rule.height_from_m or 0.0
        found.append(("cannot_tell", say("rule.height_unknown", **what, height_m=height)))
    if rule.zone and rule.in_zone == "unknown":
        found.append(("depends", say("rule.zone_unknown", **what, zone=rule.zone)))
    if owner is None:
        found.append(("depends", say("rule.owner_unknown", **what)))
    if rule.dead_exempt and tree.health == "dead":
        found.append(("depends", say("rule.dead_exempt", **what)))
    return found


def _with_doubts(sized: RuleStatus, doubts: Sequence[Doubt]) -> RuleStatus:
    if not doubts:
        return sized
    order = ("cannot_tell", "depends", "protected")
    status = min((sized.status, *(d[0] for d in doubts)), key=order.index)
    said = [d[1] for d in doubts]
    # What keeps the answer open comes before the size that would otherwise decide.
    because = (*said, *sized.because) if sized.status == "protected" else (*sized.because, *said)
    return RuleStatus(
        sized.rule, status, because, sized.readings, sized.threshold_cm, sized.deciding,
        sized.heritage, sized.says,
    )  # fmt: skip


def _owner_covered(tree: Tree, rule: Rule) -> bool | None:
    if not rule.owner or tree.owner in rule.owner:
        return True
    if tree.owner == "unknown":
        return None
    return tree.owner == "shared" and bool({"client", "neighbour"} & set(rule.owner))


def _tall_enough(tree: Tree, rule: Rule) -> bool | None:
    if rule.height_from_m is None:
        return True
    if tree.height_m is None:
        return None
    return tree.height_m.value >= rule.height_from_m * (1 - SIZE_SLACK)


def _notes(
    tree: Tree, rule: Rule, readings: Sequence[ReadingAgainst], method_at_m: float
) -> tuple[Statement, ...]:
    what = {"tree": tree.id, "rule": rule.id}
    notes: list[Statement] = []
    size = rule.size
    if size is not None and size.heritage_cm is not None and is_heritage(rule.size, readings):
        notes.append(say("rule.heritage", **what, heritage_cm=size.heritage_cm))
    if rule.planted_exempt:
        notes.append(say("rule.planted_exempt", **what))
    if any(s.basis == "estimated" for s in tree.stems_cm) and rule.size is not None:
        notes.append(say("rule.by_eye", **what))
    at = tree.measured_at_m if tree.measured_at_m is not None else method_at_m
    if rule.size is not None and rule.size.at_m is not None and tree.stems_cm:
        differs = packaged("settings.toml")["measured_at"]["differs_m"]
        if abs(at - rule.size.at_m) > differs:
            notes.append(say("rule.measured_elsewhere", **what, at_m=at, rule_m=rule.size.at_m))
    return tuple(notes)
