"""Works against trees: zone, roots, crown, open facts, nearest cut and verdict of each tree."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from bolewalk.impact.changes import plan_changes
from bolewalk.impact.clashes import Growth, crown_clash
from bolewalk.impact.cut_band import allowed_cuts
from bolewalk.impact.defaults import defaults_of
from bolewalk.impact.facts import open_facts
from bolewalk.impact.fill import fill_over
from bolewalk.impact.grouping import grouped
from bolewalk.impact.growing import growth_of
from bolewalk.impact.near import NearWork, outline_of
from bolewalk.impact.plausible import plausible_values
from bolewalk.impact.questions import Study, study
from bolewalk.impact.results import (
    CrownClash,
    NearestCut,
    RootLosses,
    RootZone,
    TreeImpact,
    TreeVerdict,
)
from bolewalk.impact.roots import root_losses_many
from bolewalk.impact.settings import root_loss_settings
from bolewalk.impact.site import SiteWorks
from bolewalk.impact.slope import slope_of
from bolewalk.impact.standing import Standing
from bolewalk.impact.subject import Subject, subject_of
from bolewalk.impact.suppose import Suppositions
from bolewalk.impact.thresholds import Thresholds
from bolewalk.impact.tree_facts import trunk_facts
from bolewalk.impact.verdicts import judge_roots, verdict
from bolewalk.impact.zones import root_zone
from bolewalk.model.statements import Statement, say
from bolewalk.model.survey import Method, Survey
from bolewalk.model.trees import Tree
from bolewalk.model.works import Work

__all__ = [
    "Quick", "Subject", "assess_all", "assess_tree", "site_of", "subject_of", "verdicts_only",
]  # fmt: skip

Quick = tuple[RootLosses, TreeVerdict]


def site_of(survey: Survey) -> SiteWorks:
    """Prepare the works of a survey, in a frame at the first located tree."""
    at = next(((t.x_m, t.y_m) for t in survey.trees if t.located), None)
    origin = None if at is None or at[0] is None or at[1] is None else (at[0], at[1])
    return SiteWorks(survey.works, origin=origin, left_out=survey.left_out)


def assess_all(
    survey: Survey, *, site: SiteWorks | None = None, limits: Thresholds | None = None
) -> tuple[TreeImpact, ...]:
    """Set all works of a survey against all its trees.

    Parameters
    ----------
    survey : Survey
    site : SiteWorks, optional
        The prepared works, where they are at hand (`site_of`).
    limits : Thresholds, optional
        The packaged ones where left out.

    Returns
    -------
    tuple of TreeImpact
        In file order; same survey, same result.
    """
    works = site or site_of(survey)
    subjects = [subject_of(tree, survey.method, limits=limits) for tree in survey.trees]
    return _impacts(subjects, survey, works)


def assess_tree(
    tree: Tree,
    survey: Survey,
    *,
    site: SiteWorks | None = None,
    limits: Thresholds | None = None,
) -> TreeImpact:
    """Set all works of a survey against one tree; as `assess_all` gives it."""
    works = site or site_of(survey)
    return _impacts([subject_of(tree, survey.method, limits=limits)], survey, works)[0]


def verdicts_only(
    subjects: Sequence[Subject],
    site: SiteWorks,
    *,
    last: Sequence[Quick | None] | None = None,
    moved: Sequence[Work] = (),
) -> tuple[Quick | None, ...]:
    """Judge many trees by the facts as recorded, for a plan that is being dragged.

    Parameters
    ----------
    subjects : sequence of Subject
        From `subject_of`, kept while works move.
    site : SiteWorks
        `SiteWorks.replaced` gives the next one.
    last : sequence, optional
        What this gave for the same subjects before the move; trees out of reach of `moved` are
        then taken over from it.
    moved : sequence of Work
        The work that moved, as it was and as it is.

    Returns
    -------
    tuple of (RootLosses, TreeVerdict) or None
        In the order of `subjects`; None where a tree cannot be set against works. Open facts are
        not tried, so nothing here is undecided; questions and nearest cuts are left to
        `assess_tree`. Of a tree taken over, `nearest_cut_m` may be out of date where it lies
        outside the root zone, which no verdict reads.
    """
    found: list[Quick | None] = [None] * len(subjects) if last is None else list(last)
    rows = list(range(len(subjects)))
    if last is not None:
        shapes = shapely.union_all([outline_of(w) for w in moved])
        clearance = max((w.clearance_m for w in moved), default=0.0)
        rows = [i for i in rows if _within_reach(subjects[i], shapes, clearance)]
    some = [subjects[i] for i in rows]
    alike = len(site.later) == len(site.now)
    for i, subject, loss in zip(rows, some, _losses(some, site), strict=True):
        if subject.zone is None or subject.xy is None or loss is None:
            continue
        reach = max(_felt_m(subject.zone), _crown_reach_m(subject, site))
        near = site.near(subject.xy, reach)
        now = crown_clash(subject.solid, site.now, subject.limits, detail=False)
        later = now
        if not alike:
            later = crown_clash(subject.solid, site.later, subject.limits, detail=False)
        unread, lost = site.unread(subject.xy, reach)
        fill = fill_over(subject.xy, subject.zone, near, subject.limits)
        standing = Standing(
            subject.zone, loss, subject.tolerance, now, later, near, fill, unread, lost
        )
        found[i] = (loss, verdict(standing, subject.limits))
    return tuple(found)


def _within_reach(subject: Subject, shapes: BaseGeometry, clearance_m: float) -> bool:
    if subject.zone is None or subject.xy is None:
        return False
    reach = _felt_m(subject.zone) + root_loss_settings().pile_margin_m
    if subject.solid is not None:
        reach = max(reach, max(subject.solid.radii_m) + clearance_m)
    return bool(shapely.dwithin(shapes, shapely.Point(subject.xy), reach))


def _losses(subjects: Sequence[Subject], site: SiteWorks) -> list[RootLosses | None]:
    rows = [i for i, s in enumerate(subjects) if s.judged]
    zones = [z for z in (subjects[i].zone for i in rows) if z is not None]
    xy = np.array([subjects[i].xy for i in rows], dtype=np.float64).reshape(-1, 2)
    known = root_losses_many(xy, zones, site.scene) if rows else []
    losses: list[RootLosses | None] = [None] * len(subjects)
    for i, loss in zip(rows, known, strict=True):
        losses[i] = loss
    return losses


def _impacts(
    subjects: Sequence[Subject], survey: Survey, site: SiteWorks
) -> tuple[TreeImpact, ...]:
    losses = _losses(subjects, site)
    cuts = allowed_cuts(subjects, losses, survey, site)
    return tuple(
        _impact(subject, loss, cut, survey, site)
        for subject, loss, cut in zip(subjects, losses, cuts, strict=True)
    )


def _impact(
    subject: Subject,
    losses: RootLosses | None,
    cut: NearestCut | None,
    survey: Survey,
    site: SiteWorks,
) -> TreeImpact:
    tree, zone, xy, limits = subject.tree, subject.zone, subject.xy, subject.limits
    missing = _missing(subject)
    if zone is None or xy is None or losses is None:
        volume = None if subject.solid is None else subject.solid.volume_m3
        crown = CrownClash(volume, None, None, None)
        drawn = None if zone is None else _on_slope(zone, survey, limits)
        return TreeImpact(tree.id, drawn, None, None, crown, None, missing=missing)
    reach = max(_root_reach_m(subject, survey.method), _crown_reach_m(subject, site))
    near, (unread, lost) = site.near(xy, reach), site.unread(xy, reach)
    crown = crown_clash(
        subject.solid,
        site.now,
        limits,
        diameter_cm=zone.diameter_cm,
        growth=_growth(subject, survey) if site.now else None,
    )
    later = crown_clash(subject.solid, site.later, limits, detail=False)
    tried = _study(subject, near, survey)
    fill = fill_over(xy, zone, near, limits)
    standing = Standing(zone, losses, subject.tolerance, crown, later, near, fill, unread, lost)
    return TreeImpact(
        tree=tree.id,
        zone=_on_slope(zone, survey, limits),
        roots=losses,
        nearest_cut=cut,
        crown=crown,
        verdict=_with_changes(
            verdict(standing, limits, open_facts=tried.open_facts), standing, xy, limits
        ),
        questions=tried.open_facts.questions,
        not_needed=tried.not_needed,
        missing=missing,
        defaults=defaults_of(standing, tree, survey.method),
        fill=fill,
    )


def _on_slope(zone: RootZone, survey: Survey, limits: Thresholds) -> RootZone:
    slope = slope_of(survey.site, limits)
    if slope is None:
        return zone
    told = say(
        "zone.on_slope",
        slope_pct=slope.pct,
        radius_m=zone.radius_m,
        tape_m=zone.radius_m * slope.steepest,
    )
    return replace(zone, notes=(*zone.notes, told))


def _with_changes(
    said: TreeVerdict, s: Standing, xy: tuple[float, float], limits: Thresholds
) -> TreeVerdict:
    """Add the changes to the plan that would let the tree be kept."""
    level = judge_roots(s.roots.proposed, s.zone, s.tolerance.level, s.crown, limits)
    if level != "redesign":
        return said
    changes = plan_changes(xy, s.zone, s.near, s.tolerance.level, s.crown, limits)
    return replace(said, flips_if=said.flips_if + tuple(c.say for c in changes))


def _growth(subject: Subject, survey: Survey) -> Growth | None:
    return growth_of(
        subject.tree,
        subject.solid,
        region=survey.method.growth_region,
        years=int(subject.limits.value("crown.horizon")),
    )


def _study(subject: Subject, near: Sequence[NearWork], survey: Survey) -> Study:
    facts = open_facts(
        subject.tree,
        near,
        survey.works,
        survey.method.root_zone,
        root_reach_m=_root_reach_m(subject, survey.method),
    )
    facts, notice = grouped(facts, survey.works, most=plausible_values().asked_apart_up_to)
    case = Suppositions(
        subject.tree,
        [n.work for n in near],
        facts,
        lambda tree: root_zone(tree, survey.method.root_zone),
        subject.limits,
    )
    tried = study(facts, case.level_at, severity_at=case.severity_at)
    return replace(tried, not_needed=tried.not_needed + notice)


def _root_reach_m(subject: Subject, method: Method) -> float:
    """Give how far away a cut may lie and count, whatever size the tree turns out to have."""
    zones = [subject.zone]
    for fact in trunk_facts(subject.tree, method.root_zone):
        zones += [root_zone(value.of_tree(subject.tree), method.root_zone) for value in fact.values]
    return max((_felt_m(z) for z in zones if z is not None), default=0.0)


def _felt_m(zone: RootZone) -> float:
    """Give the distance past which no cut counts: a palm's structural radius may be the wider."""
    return max(zone.radius_m, zone.structural_radius_m)


def _crown_reach_m(subject: Subject, site: SiteWorks) -> float:
    if subject.solid is None:
        return 0.0
    return max(subject.solid.radii_m) + site.widest_clearance_m


def _missing(subject: Subject) -> tuple[Statement, ...]:
    said = []
    if subject.xy is None:
        said.append(say("missing.position"))
    if subject.zone is None:
        said.append(say("missing.trunk"))
    if subject.solid is None:
        tree = subject.tree
        parts = {
            "missing.crown_radii": tree.crown,
            "missing.crown_base": tree.crown_base_m,
            "missing.height": tree.height_m,
        }
        absent = [say(code) for code, part in parts.items() if part is None]
        said += absent or [say("missing.crown_fits")]
    return tuple(said)
