"""Everything the rules say of a survey, for the job and its papers."""

from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import timedelta
from decimal import Decimal

from bolewalk.model.statements import Statement, say
from bolewalk.model.survey import Survey
from bolewalk.model.trees import Tree
from bolewalk.rules.cautions import (
    HazardLike,
    always_cautions,
    site_cautions,
    tree_cautions,
    urgent_first,
    wire_rules_near,
)
from bolewalk.rules.conflicts import (
    Conflict,
    FireAsk,
    conflicts_of,
    fire_asks,
    fire_unknown,
)
from bolewalk.rules.consent import TreeConsent, consent_for
from bolewalk.rules.dates import (
    ActDate,
    Wait,
    earliest_date,
    holidays_on_file,
    in_window,
    later,
    printed_nesting_window,
    working_day,
)
from bolewalk.rules.near import distance_m
from bolewalk.rules.protection import Protection, RuleStatus, groves_of, protect, replacements_due
from bolewalk.rules.settings import packaged
from bolewalk.rules.table import ACTS, Act, Rule, RuleTable
from bolewalk.trees.measuring import measuring_rule

__all__ = ["RuleFindings", "TreeRules", "deposit_says", "rule_findings"]

_ASKED: Mapping[str, Act] = {"remove": "remove", "prune": "prune"}
_PAST = ("fill", "excavation", "trench", "paving", "slab")


@dataclass(frozen=True, slots=True)
class TreeRules:
    """One tree: whether it is protected, who must sign, when each act may be done, cautions.

    `acts` are those its decision or the works ask for. `permits` name the permits of its removal
    as the firm's rates name them. `asks` are the questions that must be answered first, in the
    order in which answers decide: owner, way of adding stems, species. `says` are further
    sentences: works of the past, fire.
    """

    tree: str
    protection: Protection
    consent: TreeConsent
    acts: tuple[Act, ...]
    dates: tuple[ActDate, ...]
    fire: tuple[FireAsk, ...]
    cautions: tuple[Statement, ...]
    permits: tuple[str, ...] = ()
    asks: tuple[Statement, ...] = ()
    says: tuple[Statement, ...] = ()


@dataclass(frozen=True, slots=True)
class RuleFindings:
    """What the rules say of a survey; trees in file order.

    `urgent` heads every paper; `always` stands on every paper; `cautions` are the site's.
    `duties` are what removals bring with them: replacements, bonds, permits withheld.
    """

    tables: tuple[RuleTable, ...]
    trees: tuple[TreeRules, ...]
    conflicts: tuple[Conflict, ...]
    urgent: tuple[Statement, ...]
    cautions: tuple[Statement, ...]
    always: tuple[Statement, ...]
    duties: tuple[Statement, ...] = ()
    deposit: tuple[Statement, ...] = ()

    @property
    def blocked(self) -> Mapping[str, Mapping[str, Statement]]:
        """Tree -> act -> why it may not be done yet; trees with nothing blocked are not in it."""
        return {
            t.tree: {str(act): why for act, why in t.consent.blocks.items()}
            for t in self.trees
            if t.consent.blocks
        }

    @property
    def consents(self) -> tuple[str, ...]:
        """Trees with others to ask, all of whom have agreed on record to everything."""
        return tuple(t.tree for t in self.trees if t.consent.signers and not t.consent.blocks)

    @property
    def permits(self) -> Mapping[str, tuple[str, ...]]:
        """Tree -> permits its removal needs, as the rates name them."""
        return {t.tree: t.permits for t in self.trees if t.permits}

    def of(self, tree: str) -> TreeRules | None:
        """Give the entry of one tree."""
        return next((t for t in self.trees if t.tree == tree), None)


@dataclass(frozen=True, slots=True)
class _Site:
    """What every tree is held against."""

    survey: Survey
    tables: tuple[RuleTable, ...]
    method_at_m: float
    works_acts: Mapping[str, Collection[Act]]
    zones_m: Mapping[str, float]
    removals: dict[str, int] = field(default_factory=dict)


def rule_findings(
    survey: Survey,
    tables: Sequence[RuleTable],
    hazards: Sequence[HazardLike] = (),
    *,
    works_acts: Mapping[str, Collection[Act]] | None = None,
    zones_m: Mapping[str, float] | None = None,
) -> RuleFindings:
    """Hold a survey against the local rules on file.

    Parameters
    ----------
    survey : Survey
        Its date is the day leave is asked for.
    tables : sequence of RuleTable
        As the survey names them; none is presumed to apply.
    hazards : sequence
        Dangers heard on the walk.
    works_acts : mapping, optional
        Tree id -> acts the works do to it (roots, trench, grade, build, prune).
    zones_m : mapping, optional
        Tree id -> root zone radius [m], for works of the past where a rule draws no zone.

    Returns
    -------
    RuleFindings
        Same input, same findings.
    """
    kept = tuple(tables)
    at_m = measuring_rule(survey.method.root_zone).height_m
    site = _Site(survey, kept, at_m, works_acts or {}, zones_m or {})
    groves = groves_of(survey.trees, kept)
    held = [protect(t, kept, method_at_m=at_m, groves=groves) for t in survey.trees]
    counts = Counter(
        s.rule.id
        for tree, p in zip(survey.trees, held, strict=True)
        if tree.decision == "remove"
        for s in p.rules
        if s.status != "not_protected"
    )
    site.removals.update(sorted(counts.items()))
    trees: list[TreeRules] = []
    conflicts: list[Conflict] = []
    for tree, protection in zip(survey.trees, held, strict=True):
        one = _tree(tree, protection, site)
        trees.append(one)
        conflicts += conflicts_of(
            tree, asked=survey.date, tables=kept, protection=protection, consent=one.consent,
            asks=one.fire, dates=one.dates,
        )  # fmt: skip
    return RuleFindings(
        tables=kept,
        trees=tuple(trees),
        conflicts=tuple(conflicts),
        urgent=urgent_first(hazards),
        cautions=(
            *_table_says(survey, kept),
            *site_cautions(survey, kept, hazards),
            *_nesting(site),
        ),
        always=always_cautions(),
        duties=_duties(survey, held),
    )


def _table_says(survey: Survey, tables: Sequence[RuleTable]) -> list[Statement]:
    """Name the tables used, with their day, and warn of examples and of tables grown old."""
    said = [
        say("rule.table_used", place=t.place, source=t.source, checked=t.checked.isoformat())
        for t in tables
        if not t.left_out.get("table")
    ]
    said += [say("rule.table_example", place=t.place) for t in tables if t.example]
    days = timedelta(days=packaged("settings.toml")["table"]["recheck_days"])
    return said + [
        say("rule.table_old", place=t.place, checked=t.checked.isoformat())
        for t in tables
        if not t.left_out.get("table") and survey.date - t.checked > days
    ]


def _acts(tree: Tree, site: _Site) -> tuple[Act, ...]:
    asked = set(site.works_acts.get(tree.id, ()))
    if tree.decision is not None and tree.decision in _ASKED:
        asked.add(_ASKED[tree.decision])
    return tuple(a for a in ACTS if a in asked)


def _tree(tree: Tree, protection: Protection, site: _Site) -> TreeRules:
    survey, tables = site.survey, site.tables
    consent = consent_for(tree, survey, tables)
    acts = _acts(tree, site)
    wires = tuple(
        Wait(
            working_day(survey.date, r.wait_days, holidays_on_file(tables))
            if r.working
            else later(survey.date, r.wait_days),
            say(
                "date.wire_working" if r.working else "date.wire",
                who=r.who,
                days_count=r.wait_days,
                citation=r.citation,
            ),
        )
        for r in wire_rules_near(tree, survey, tables)
        if r.wait_days is not None
    )
    dates = tuple(
        earliest_date(
            tree, act, asked=survey.date, tables=tables, protection=protection,
            removals=site.removals, block=_block(consent, act), wires=wires,
        )
        for act in acts
    )  # fmt: skip
    asks = fire_asks(tree, survey, tables)
    past = _past_works(tree, protection, site)
    return TreeRules(
        tree.id, protection, consent, acts, dates, asks, tree_cautions(tree, survey, tables),
        _permits(tree, protection), _asks(tree, protection, consent),
        (*(a.says for a in asks), *fire_unknown(tree, survey, tables), *past),
    )  # fmt: skip


def _asks(tree: Tree, protection: Protection, consent: TreeConsent) -> tuple[Statement, ...]:
    made = []
    if any(s.code == "consent.owner_unknown" for s in consent.says):
        made.append(say("consent.ask_owner", tree=tree.id))
    for s in protection.rules:
        if any(b.code == "rule.readings_disagree" for b in s.because):
            made.append(say("rule.ask_stems", tree=tree.id, rule=s.rule.id, place=s.rule.place))
    if tree.species.botanical is None:
        made.append(say("rule.ask_species", tree=tree.id, as_heard=tree.species.as_heard))
    return tuple(made)


def _block(consent: TreeConsent, act: Act) -> Statement | None:
    """A trench that cuts roots is held up by what holds up the cutting of roots."""
    return consent.blocks.get("roots" if act == "trench" else act)


def _permits(tree: Tree, protection: Protection) -> tuple[str, ...]:
    if tree.decision != "remove":
        return ()
    return tuple(
        dict.fromkeys(
            s.rule.permit.name or s.rule.permit.body
            for s in protection.rules
            if s.status == "protected" and "remove" in s.rule.acts and s.rule.permit is not None
        )
    )


def _zone_m(tree: Tree, rule: Rule, site: _Site) -> float | None:
    """Give how far a rule's own zone reaches [m]; the survey's root zone where it draws none."""
    z = rule.protected_zone
    if z is None:
        return site.zones_m.get(tree.id)
    reach = [z.least_m] if z.least_m is not None else []
    if z.dripline_plus_m is not None and tree.crown is not None:
        reach.append(max(tree.crown.radii_m) + z.dripline_plus_m)
    if z.trunk_times is not None and tree.stems_cm:
        reach.append(z.trunk_times * max(s.value for s in tree.stems_cm) / 100)
    return max(reach, default=site.zones_m.get(tree.id))


def _past_works(tree: Tree, protection: Protection, site: _Site) -> tuple[Statement, ...]:
    """Tell of works already done in the zone of a tree that may be protected."""
    made = []
    for s in protection.rules:
        covered = {"grade", "trench", "build"} & set(s.rule.acts)
        reach = _zone_m(tree, s.rule, site)
        if s.status == "not_protected" or not covered or reach is None:
            continue
        for w in site.survey.works:
            away = distance_m(tree, w)
            if w.phase == "existing" and w.kind in _PAST and away is not None and away < reach:
                name = w.label or w.id
                made.append(say("rule.past_works", tree=tree.id, work=name, rule=s.rule.id))
    return tuple(dict.fromkeys(made))


def _nesting(site: _Site) -> tuple[Statement, ...]:
    """Ask about nests where no season is on file and the day lies in one printed elsewhere."""
    seasons = any(s.kind in ("nesting", "raptors") for t in site.tables for s in t.seasons)
    hands_on = any(t.decision in _ASKED for t in site.survey.trees)
    if seasons or not hands_on:
        return ()
    inside = any(in_window(site.survey.date, w) for w in printed_nesting_window())
    return (say("caution.nesting_inside" if inside else "caution.nesting_outside"),)


def _duties(survey: Survey, held: Sequence[Protection]) -> tuple[Statement, ...]:
    by_rule: dict[Rule, list[RuleStatus]] = {}
    for tree, p in zip(survey.trees, held, strict=True):
        for s in p.rules:
            covered = s.status == "protected" and "remove" in s.rule.acts
            if tree.decision == "remove" and covered:
                by_rule.setdefault(s.rule, []).append(s)
    made: list[Statement] = []
    for rule, statuses in by_rule.items():
        count = len(statuses)
        due = replacements_due(statuses)
        what = {"rule": rule.id, "citation": rule.citation}
        if due is not None and rule.replacement is not None:
            stock = rule.replacement.stock
            code = "rule.replacement_stock" if stock else "rule.replacement"
            made.append(say(code, **what, tree_count=count, n_planted=due, stock=stock))
            if rule.replacement.like_for_like:
                made.append(say("rule.like_for_like", **what))
        permit = rule.permit
        if permit is not None and permit.fee_minor is not None:
            made.append(say("rule.fee", **what, body=permit.body, fee_minor=permit.fee_minor))
        if rule.bond is not None:
            made.append(say("rule.bond", **what, n_years=rule.bond.years))
        if rule.withheld_years is not None:
            made.append(say("rule.withheld", **what, n_years=rule.withheld_years))
        for key, text in (("penalty", rule.penalty), ("emergency", rule.emergency)):
            if text:
                made.append(say(f"rule.{key}", **what, text=text))
        if rule.permit is not None and rule.permit.author:
            made.append(say("rule.report_author", **what, author=rule.permit.author))
    return tuple(made)


def deposit_says(
    tables: Sequence[RuleTable], *, deposit_minor: int | None, total_minor: int
) -> tuple[Statement, ...]:
    """Hold a deposit against the limits on file: the lesser of amount and share, each table.

    Parameters
    ----------
    deposit_minor : int or None
        What is asked for; None = nothing told, the limit alone is said.
    total_minor : int
        The contract's sum.
    """
    made = []
    for rule in (t.deposit for t in tables if t.deposit is not None):
        caps = [] if rule.max_minor is None else [rule.max_minor]
        if rule.pct is not None:
            # In decimals: a share of whole cents must not lose one to binary fractions.
            caps.append(int(total_minor * Decimal(str(rule.pct)) / 100))
        if not caps:
            continue
        limit = min(caps)
        over = deposit_minor is not None and deposit_minor > limit
        code = "rule.deposit_over" if over else "rule.deposit_limit"
        said = say(code, limit_minor=limit, citation=rule.citation, asked_minor=deposit_minor or 0)
        made.append(said)
    return tuple(made)
