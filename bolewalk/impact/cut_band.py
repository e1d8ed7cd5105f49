"""The nearest allowed cut of each tree with its error: how far off the line itself may be.

A distance read off a plan is only as good as the tree's place, the trunk behind its root zone and
the place of every other work it was worked out with.
"""

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace

import numpy as np

from bolewalk.impact.clashes import crown_clash
from bolewalk.impact.near import NearWork, moved, names_of, near_works
from bolewalk.impact.nearest import CutLimits, bearing_names, nearest_allowed_cuts
from bolewalk.impact.results import CrownClash, NearestCut, RootLosses, RootZone, Span
from bolewalk.impact.roots import root_losses_many
from bolewalk.impact.scene import Scene
from bolewalk.impact.site import SiteWorks
from bolewalk.impact.slope import Slope, slope_of
from bolewalk.impact.subject import Subject
from bolewalk.impact.verdicts import judge_roots
from bolewalk.impact.zones import root_zone
from bolewalk.model.figures import Figure
from bolewalk.model.statements import Statement, say
from bolewalk.model.survey import Method, Survey
from bolewalk.model.trees import Tree
from bolewalk.model.words import Verdict
from bolewalk.model.works import Work

__all__ = ["allowed_cuts", "position_error_m", "tree_of_size"]

_NOW = ("existing", "proposed")


def allowed_cuts(
    subjects: Sequence[Subject],
    losses: Sequence[RootLosses | None],
    survey: Survey,
    site: SiteWorks,
) -> list[NearestCut | None]:
    """Find the nearest allowed cuts of many trees, and what they may come to.

    Parameters
    ----------
    subjects : sequence of Subject
    losses : sequence of RootLosses or None
        Of the same trees, by the works as recorded.
    survey : Survey
        Its method (trench length, bearings) and slope.
    site : SiteWorks

    Returns
    -------
    list of NearestCut or None
        None where a tree cannot be set against works. The worst end of a span is the distance
        with the trunk as thick and the other works as near as their errors allow, the tree off by
        its own towards the trench; the best end likewise the other way.
    """
    rows = [i for i, s in enumerate(subjects) if s.judged and losses[i] is not None]
    some = [subjects[i] for i in rows]
    zones = [z for z in (s.zone for s in some) if z is not None]
    proposed = [one for one in (losses[i] for i in rows) if one is not None]
    crowns = [crown_clash(s.solid, site.now, s.limits, detail=False) for s in some]
    loose = [_placed_loosely(s, z, site) for s, z in zip(some, zones, strict=True)]
    base = _solve(some, zones, proposed, crowns, site.scene, survey.method)
    ends = [_end(some, zones, crowns, loose, survey, site, sign) for sign in (1, -1)]
    found: list[NearestCut | None] = [None] * len(subjects)
    for k, i in enumerate(rows):
        found[i] = _told(some[k], base[k], (ends[0][k], ends[1][k]), loose[k], survey)
    return found


def _solve(
    subjects: Sequence[Subject],
    zones: Sequence[RootZone],
    losses: Sequence[RootLosses],
    crowns: Sequence[CrownClash],
    scene: Scene,
    method: Method,
) -> list[NearestCut]:
    levels: list[Verdict] = []
    for subject, zone, loss, crown in zip(subjects, zones, losses, crowns, strict=True):
        level = subject.tolerance.level
        levels.append(judge_roots(loss.proposed, zone, level, crown, subject.limits))
    return nearest_allowed_cuts(
        _places(subjects),
        zones,
        scene,
        [_limits(s) for s in subjects],
        levels,
        cut_length_m=method.cut_length_m,
        bearings=method.cut_bearings,
    )


def _places(subjects: Sequence[Subject]) -> np.ndarray:
    return np.array([s.xy for s in subjects], dtype=np.float64).reshape(-1, 2)


def _limits(subject: Subject) -> CutLimits:
    limits = subject.limits
    return CutLimits(
        severed_keep_pct=limits.severed_keep_pct,
        severed_keep_if_pct=limits.severed_keep_if_pct[subject.tolerance.level],
        best_half_pct=limits.best_half_pct,
    )


def _end(
    subjects: Sequence[Subject],
    zones: Sequence[RootZone],
    crowns: Sequence[CrownClash],
    loose: Sequence[Sequence[NearWork]],
    survey: Survey,
    site: SiteWorks,
    sign: int,
) -> list[NearestCut]:
    """Solve for one end of the errors: 1 = thick trunk and works near, -1 = the other way."""
    ended = [
        root_zone(tree_of_size(s, sign), survey.method.root_zone) or z
        for s, z in zip(subjects, zones, strict=True)
    ]
    plain = [k for k, near in enumerate(loose) if not near]
    found: dict[int, NearestCut] = {}
    for ks, scene in (
        (plain, site.scene),
        *(([k], _scene(site, near, sign)) for k, near in enumerate(loose) if near),
    ):
        if not ks:
            continue
        some, their = [subjects[k] for k in ks], [ended[k] for k in ks]
        losses = root_losses_many(_places(some), their, scene)
        clashes = [crowns[k] for k in ks]
        solved = _solve(some, their, losses, clashes, scene, survey.method)
        found |= dict(zip(ks, solved, strict=True))
    return [found[k] for k in range(len(subjects))]


def _placed_loosely(subject: Subject, zone: RootZone, site: SiteWorks) -> tuple[NearWork, ...]:
    """Give the works that cut, may be off their place, and may then reach the root zone."""
    loose = [w for w in site.works if w.offset_m > 0 and w.phase in _NOW]
    if subject.xy is None or not loose:
        return ()
    near = near_works(subject.xy, zone.radius_m, loose)
    return tuple(n for n in near if n.role in ("pile", "severs"))


def _scene(site: SiteWorks, near: Sequence[NearWork], sign: int) -> Scene:
    new = {id(n.work): _off(n, sign) for n in near}
    return site.scene.with_works([new.get(id(w), w) for w in site.works])


def _off(near: NearWork, sign: int) -> Work:
    """Move a work by its error, nearer (1) no further than onto the trunk, or farther (-1)."""
    step = min(near.work.offset_m, near.distance_m) if sign > 0 else near.work.offset_m
    bearing = math.radians(near.bearing_deg)
    return moved(near.work, -sign * step * math.sin(bearing), -sign * step * math.cos(bearing))


def position_error_m(subject: Subject) -> float:
    """Give how far off the tree may stand [m]: as its tree table says, else as taken."""
    told = subject.tree.offset_m
    return subject.limits.value("band.position") if told is None else told


def tree_of_size(subject: Subject, sign: int) -> Tree:
    """Give the tree as thick (1) or as thin (-1) as its trunk, flare and crown figures allow."""
    tree = subject.tree
    t = subject.limits

    def end(f: Figure) -> Figure:
        told = f.high if sign > 0 else f.low
        by_eye = f.basis == "estimated"
        off = t.value("band.trunk_by_eye" if by_eye else "band.trunk_measured") / 100.0
        value = f.value * (1.0 + sign * off) if told is None else told
        return replace(f, value=value if value > 0 else f.value, low=None, high=None)

    crown = tree.crown
    if crown is not None:
        told = crown.basis.high if sign > 0 else crown.basis.low
        if told and crown.basis.value > 0:
            times = told / crown.basis.value
            north, east, south, west = (r * times for r in crown.radii_m)
            crown = replace(crown, north_m=north, east_m=east, south_m=south, west_m=west)
    return replace(
        tree,
        stems_cm=tuple(end(f) for f in tree.stems_cm),
        flare_cm=None if tree.flare_cm is None else end(tree.flare_cm),
        crown=crown,
    )


def _told(
    subject: Subject,
    base: NearestCut,
    ends: tuple[NearestCut, NearestCut],
    near: Sequence[NearWork],
    survey: Survey,
) -> NearestCut:
    """Add spans, tapes and the statements that belong to the distances."""
    off = position_error_m(subject)
    worst, best = ends

    def spans(of: Callable[[NearestCut], Mapping[str, float | None]]) -> dict[str, Span]:
        return {
            name: _span(here, of(worst)[name], of(best)[name], off)
            for name, here in of(base).items()
        }

    keep, keep_if = spans(lambda c: c.keep), spans(lambda c: c.keep_if)
    told = [(base.keep, keep), (base.keep_if, keep_if)]
    apart = [
        abs(end - here)
        for distances, by_name in told
        for name, here in distances.items()
        for end in by_name[name]
        if here is not None and end is not None
    ]
    slope = slope_of(survey.site, subject.limits)
    cut = replace(
        base,
        band_m=max(apart, default=0.0),
        keep_span=keep,
        keep_if_span=keep_if,
        tape_times=_tapes(slope, survey.method),
    )
    return replace(cut, notes=_notes(subject, cut, near, off, slope))


def _span(here: float | None, worst: float | None, best: float | None, off: float) -> Span:
    known = [d for d in (here, best) if d is not None]
    inner = max(min(known) - off, 0.0) if known else None
    outer = None if here is None or worst is None else max(here, worst) + off
    return inner, outer


def _tapes(slope: Slope | None, method: Method) -> dict[str, float]:
    names = bearing_names(method.cut_bearings)
    if slope is None:
        return {}
    return {name: slope.times(360.0 * k / len(names)) for k, name in enumerate(names)}


def _notes(
    subject: Subject, cut: NearestCut, near: Sequence[NearWork], off: float, slope: Slope | None
) -> tuple[Statement, ...]:
    if all(d is None for d in (*cut.keep.values(), *cut.keep_if.values())):
        return ()
    said = [say("nearest.others_as_recorded")]
    code = "nearest.band" if subject.tree.offset_m is not None else "nearest.band_position_taken"
    said.append(say(code, position_m=off))
    if near:
        works = names_of([n.work for n in near])
        said.append(say("nearest.works_loose", works=works))
        for code, distances, spans in (
            ("nearest.lost_if_nearer_keep", cut.keep, cut.keep_span),
            ("nearest.lost_if_nearer_keep_if", cut.keep_if, cut.keep_if_span),
        ):
            if any(d is not None and spans[name][1] is None for name, d in distances.items()):
                said.append(say(code, works=works))
    if slope is not None:
        code = "nearest.tape" if slope.fall_deg is not None else "nearest.tape_longest"
        said.append(say(code, slope_pct=slope.pct))
    return tuple(said)
