"""The whole job in order: from what was found on the walk to what the papers say.

    folder -> read -> draft of the walk -> each tree measured, set against the works, judged
           -> held against the local rules -> what it costs -> what to plant
           -> findings -> papers

Everything here is pure: the same job gives the same findings, whatever the day or the machine.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from types import MappingProxyType

from bolewalk.impact.assess import assess_all
from bolewalk.impact.results import TreeImpact
from bolewalk.impact.thresholds import Thresholds
from bolewalk.intake.job import Job, WalkPart
from bolewalk.model.extras import MissingExtraError
from bolewalk.model.problems import Problem
from bolewalk.model.statements import Statement
from bolewalk.model.survey import Survey
from bolewalk.model.trees import Tree
from bolewalk.planting.advise import plan_planting
from bolewalk.planting.lines import alike
from bolewalk.planting.result import PlantingResult
from bolewalk.pricing.futures import Future, compare_paths
from bolewalk.pricing.phases import Schedules, plan_phases
from bolewalk.pricing.price import Price, price_survey
from bolewalk.pricing.site_items import plants_item
from bolewalk.pricing.work_items import WorkItem
from bolewalk.rules.findings import RuleFindings, deposit_says, rule_findings
from bolewalk.rules.table import Act
from bolewalk.trees.stems import CombinedDiameters, combined_diameters
from bolewalk.visits.assumptions import default_keys
from bolewalk.visits.compare import ReturnVisit, compare_visits
from bolewalk.visits.record import Choices
from bolewalk.walk.draft import Draft, DraftTree, draft
from bolewalk.walk.fuse import fuse

__all__ = ["Findings", "Progress", "TreeFinding", "assess", "rules_of"]

Progress = Callable[[str], None]
"""Told the name of each step as it begins."""


@dataclass(frozen=True, slots=True)
class TreeFinding:
    """One tree: what was recorded, its size by every rule, the works against it, what was said.

    `diameters` is None where no trunk was measured; `said` is the walk's entry for the same tree.
    """

    tree: Tree
    diameters: CombinedDiameters | None
    impact: TreeImpact
    said: DraftTree | None = None


@dataclass(frozen=True, slots=True)
class Findings:
    """Everything computed of a survey, trees in file order.

    `price` is None where the survey has no rates; `draft` is None where it has no walk; `phases`
    is None where no budget was given; `futures` hold one comparison a keep-or-remove case;
    `problems` are those of the reading and of the matching; `defaults` are the values no one
    gave that stand behind a verdict or a price. `rules` hold protection, consents, earliest days
    and cautions; `rules.urgent` heads every paper. `planting` is None where the survey has no
    planting.toml. `returned` holds today against earlier visits, None where there is none;
    `choices` are what was chosen, done and assumed since. `parts` are the stretches of the walk
    with their recordings, `photos` the photographs, `discussion` what is said of single trees at
    length, `examples` what is still as a new survey has it, as `Job` has them.
    """

    survey: Survey
    trees: tuple[TreeFinding, ...]
    draft: Draft | None
    price: Price | None
    problems: tuple[Problem, ...]
    defaults: tuple[Statement, ...]
    phases: Schedules | None = None
    futures: tuple[Future, ...] = ()
    rules: RuleFindings | None = None
    planting: PlantingResult | None = None
    returned: ReturnVisit | None = None
    choices: Choices | None = None
    parts: tuple[WalkPart, ...] = ()
    photos: tuple[str, ...] = ()
    discussion: Mapping[str, Mapping[str, str]] = field(default_factory=dict)
    examples: tuple[Statement, ...] = ()
    limits: Thresholds | None = None


def _quiet(_: str) -> None:
    """Take a step's name and say nothing."""


def assess(
    job: Job,
    *,
    progress: Progress = _quiet,
    impacts: tuple[TreeImpact, ...] | None = None,
) -> Findings:
    """Do the whole job for what was read.

    Parameters
    ----------
    job : Job
        What `intake.read_folder` or the store gives.
    progress : callable
        Told each step's name as it begins.
    impacts : tuple of TreeImpact, optional
        What the works do to each tree, in file order, where it is known already.

    Returns
    -------
    Findings
    """
    progress("listening to the walk")
    heard, said, doubts = _walk(job)

    progress("setting the works against the trees")
    if impacts is None:
        impacts = assess_all(job.survey, limits=job.limits)

    progress("holding the trees against the local rules")
    rules = rules_of(job, impacts, heard)

    progress("pricing the work")
    price = _price(job, impacts, rules)
    phases, lacking = _phases(job)
    progress("planting")
    planting = _planting(job, impacts, price)
    if price is not None and planting is not None and planting.plants:
        # Planting asks what the removals cost, and is then priced itself.
        price = _price(job, impacts, rules, planting)
    if price is not None:
        asked, total = price.deposit_minor, price.total_minor
        deposit = deposit_says(job.rules, deposit_minor=asked, total_minor=total)
        rules = replace(rules, deposit=deposit)
    futures = tuple(compare_paths(case) for case in job.futures)

    trees = tuple(
        TreeFinding(tree, _diameters(tree), impact, said.get(tree.id))
        for tree, impact in zip(job.survey.trees, impacts, strict=True)
    )
    stood_in = [d for impact in impacts for d in impact.defaults]
    stood_in += price.defaults if price is not None else ()
    defaults = tuple(dict.fromkeys(stood_in))
    return Findings(
        survey=job.survey,
        trees=trees,
        draft=heard,
        price=price,
        problems=job.problems + doubts + lacking,
        defaults=defaults,
        phases=phases,
        futures=futures,
        rules=rules,
        planting=planting,
        returned=_returned(job, impacts, defaults),
        choices=job.choices,
        parts=job.parts,
        photos=job.photos,
        discussion=job.discussion,
        examples=job.examples,
        limits=job.limits,
    )


def rules_of(job: Job, impacts: tuple[TreeImpact, ...], heard: Draft | None) -> RuleFindings:
    """Hold the trees against the local rules; `heard` is the draft of the walk."""
    return rule_findings(
        job.survey,
        job.rules,
        () if heard is None else heard.hazards,
        works_acts={i.tree: _works_acts(i) for i in impacts},
        zones_m={i.tree: i.zone.radius_m for i in impacts if i.zone is not None},
    )


def _walk(job: Job) -> tuple[Draft | None, Mapping[str, DraftTree], tuple[Problem, ...]]:
    if not job.cues:
        return None, MappingProxyType({}), ()
    heard = draft(job.cues)
    said, doubts = fuse(heard, job.survey.trees)
    return heard, said, doubts


def _returned(
    job: Job, impacts: tuple[TreeImpact, ...], defaults: tuple[Statement, ...]
) -> ReturnVisit | None:
    return compare_visits(
        job.earlier,
        job.survey,
        job.choices,
        verdicts={i.tree: (i.verdict.now, i.verdict.with_later) for i in impacts if i.verdict},
        defaults=default_keys(defaults),
        asked=sorted({q.fact for i in impacts for q in i.questions}),
    )


def _works_acts(impact: TreeImpact) -> tuple[Act, ...]:
    """Name what the proposed works do to a tree, beyond what already stands."""
    acts: list[Act] = []
    if impact.roots is not None:
        before, after = impact.roots.existing, impact.roots.proposed
        if after.severed_pct > before.severed_pct:
            acts += ["roots", "trench"]
        if after.covered_pct > before.covered_pct:
            acts += ["grade", "build"]
    if impact.crown is not None and impact.crown.removed_pct:
        acts.append("prune")
    return tuple(acts)


def _price(
    job: Job,
    impacts: tuple[TreeImpact, ...],
    rules: RuleFindings,
    planting: PlantingResult | None = None,
) -> Price | None:
    if job.rates is None:
        return None
    verdicts = {i.tree: i.verdict for i in impacts if i.verdict is not None}
    extra = () if planting is None else _planting_items(job.survey, planting)
    return price_survey(
        job.survey, job.rates, verdicts=verdicts, permits=rules.permits, blocked=rules.blocked,
        extra=extra,
    )  # fmt: skip


def _planting_items(survey: Survey, planting: PlantingResult) -> tuple[WorkItem, ...]:
    return tuple(
        plants_item(
            survey, id=f"planting.{n}", name=lot[0].taxon.common, stock_size=lot[0].stock,
            plants=[p.id for p in lot], each_minor=lot[0].cost_minor,
        )
        for n, lot in enumerate(alike(planting.plants), 1)
    )  # fmt: skip


def _phases(job: Job) -> tuple[Schedules | None, tuple[Problem, ...]]:
    if job.phases is None:
        return None, ()
    try:
        return plan_phases(job.phases), ()
    except MissingExtraError as e:
        needed = f"the extra {e.extra}, pip install 'bolewalk[{e.extra}]', to phase the work"
        return None, (Problem("survey.toml", None, "files.phases", None, needed),)


def _planting(
    job: Job, impacts: tuple[TreeImpact, ...], price: Price | None
) -> PlantingResult | None:
    if job.planting is None:
        return None
    zones = {i.tree: i.zone.radius_m for i in impacts if i.zone is not None}
    going = {t.id for t in job.survey.trees if t.decision == "remove"}
    removal: dict[str, int] = {}
    for line in price.lines if price is not None else ():
        if line.item.tree in going and line.money is not None:
            so_far = removal.get(line.item.tree, 0)
            removal[line.item.tree] = so_far + line.money.price_minor
    return plan_planting(job.survey, job.planting, zone_radius_m=zones, removal_minor=removal)


def _diameters(tree: Tree) -> CombinedDiameters | None:
    return combined_diameters([s.value for s in tree.stems_cm]) if tree.stems_cm else None
