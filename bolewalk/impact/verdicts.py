"""The verdict on one tree: the level, its reasons by weight, and what would change it."""

from collections.abc import Iterable, Sequence
from typing import Protocol

from bolewalk.impact.conditions import conditions_of
from bolewalk.impact.fill import fill_told
from bolewalk.impact.flips import flips_of
from bolewalk.impact.results import CrownClash, RootLoss, RootZone, TreeVerdict
from bolewalk.impact.standing import SLACK, OpenFacts, Standing
from bolewalk.impact.thresholds import Thresholds
from bolewalk.model.statements import Statement, say
from bolewalk.model.words import Tolerance, Verdict
from bolewalk.model.works import LeftOut

__all__ = ["Judged", "judge_roots", "settled", "verdict"]


class Judged(Protocol):
    """The figures a verdict reads: a `RootLoss`, or one that works them out when asked."""

    @property
    def nearest_cut_m(self) -> float | None: ...
    @property
    def severed_pct(self) -> float: ...
    @property
    def covered_pct(self) -> float: ...
    @property
    def best_half_severed_pct(self) -> float: ...


def judge_roots(
    loss: Judged,
    zone: RootZone,
    tolerance: Tolerance | None,
    crown: CrownClash | None,
    thresholds: Thresholds,
) -> Verdict:
    """Read one set of figures against the limits.

    Parameters
    ----------
    loss : RootLoss or Judged
        Root loss [percent of the zone], nearest cut [m]; asked for no more than is needed.
    zone : RootZone
        Gives the structural radius [m].
    tolerance : Tolerance or None
        None = unknown.
    crown : CrownClash or None
        None, or a `removed_pct` of None, leaves the crown out.
    thresholds : Thresholds

    Returns
    -------
    "keep", "keep_if" or "redesign"
        keep: severed, covered and crown within their keep limits. keep_if: severed within the
        limit of the tolerance and the best half within its own. redesign: otherwise, and
        always where a cut comes inside the structural radius. A figure equal to its limit is
        within it; a cut on the structural radius is not inside.
    """
    cut = loss.nearest_cut_m
    if cut is not None and cut < zone.structural_radius_m - SLACK:
        return "redesign"
    if loss.severed_pct <= thresholds.severed_keep_pct + SLACK:
        if loss.covered_pct > thresholds.covered_keep_pct + SLACK:
            return "keep_if"
        removed = None if crown is None else crown.removed_pct
        if removed is not None and removed > thresholds.crown_removed_keep_pct + SLACK:
            return "keep_if"
        return "keep"
    if (
        loss.severed_pct <= thresholds.severed_keep_if_pct[tolerance] + SLACK
        and loss.best_half_severed_pct <= thresholds.best_half_pct + SLACK
    ):
        return "keep_if"
    return "redesign"


def settled(levels: Iterable[Verdict]) -> Verdict:
    """Give the verdict of a tree whose open facts lead to these levels.

    Returns
    -------
    Verdict
        undecided where some lead to redesign and some do not; keep_if where some lead to keep
        and some to keep_if; else the one level.

    Raises
    ------
    ValueError
        No level.
    """
    found = set(levels)
    if not found:
        raise ValueError("levels is empty: give the verdict as recorded at least")
    if found == {"redesign"}:
        return "redesign"
    if "redesign" in found or "undecided" in found:
        return "undecided"
    return "keep" if found == {"keep"} else "keep_if"


def verdict(
    standing: Standing, thresholds: Thresholds, *, open_facts: OpenFacts | None = None
) -> TreeVerdict:
    """Judge one tree and say why, what would change it, and on what conditions it holds.

    Parameters
    ----------
    standing : Standing
    thresholds : Thresholds
        Already those of the tree's method and age (`Thresholds.for_tree`).
    open_facts : OpenFacts, optional
        Left out, the facts as recorded decide alone and nothing is undecided.

    Returns
    -------
    TreeVerdict
        `now` counts existing and proposed works; possible later works never make it undecided.
        A work within reach that was left out because its record could not be used does, unless
        the tree cannot be kept anyway; one that may lie anywhere leaves keep_if at best.
        Reasons stand in order of weight: what alone rules a level out comes first.
    """
    s = standing
    level = s.tolerance.level
    recorded = judge_roots(s.roots.proposed, s.zone, level, s.crown, thresholds)
    recorded_later = judge_roots(s.roots.with_later, s.zone, level, s.crown_later, thresholds)
    now = recorded if open_facts is None else settled(open_facts.now)
    later = recorded_later if open_facts is None else settled(open_facts.with_later)
    open_now = now == "undecided"
    now, later = _beside_unread(now, s), _beside_unread(later, s)
    settle = _settle_unread(s) + (() if open_facts is None else open_facts.settle)
    return TreeVerdict(
        now=now,
        with_later=later,
        because=_because(s, thresholds, open_now),
        flips_if=flips_of(s, thresholds, recorded, now, later, open_facts),
        conditions=conditions_of(
            s.roots.proposed, s.zone, s.crown, s.near, thresholds,
            verdict=now, with_later=later, settle=settle,
        ),
        drawings=tuple(sorted({n.work.drawing for n in s.near if n.work.drawing})),
    )  # fmt: skip


def _beside_unread(level: Verdict, s: Standing) -> Verdict:
    """Give the level of a tree beside works that no figure holds: never a clean keep."""
    if level == "redesign":
        return level
    if s.unread:
        return "undecided"
    return "keep_if" if s.lost and level == "keep" else level


def _settle_unread(s: Standing) -> tuple[Statement, ...]:
    said = [say("condition.settle_left_out", works=_names(s.unread))] if s.unread else []
    if s.lost:
        said.append(say("condition.settle_lost", works=_names(s.lost)))
    return tuple(said)


def _names(works: Sequence[LeftOut]) -> str:
    return "; ".join(w.name if w.name == w.file else f"{w.name} ({w.file})" for w in works)


def _because(s: Standing, t: Thresholds, open_now: bool) -> tuple[Statement, ...]:
    loss, zone = s.roots.proposed, s.zone
    said: list[Statement] = []
    if s.unread:
        said.append(say("verdict.work_left_out", works=_names(s.unread)))
    if s.lost:
        said.append(say("verdict.work_lost", works=_names(s.lost)))
    if open_now:
        said.append(say("verdict.open_facts_decide"))
    upper = t.severed_keep_if_pct[s.tolerance.level]
    cut = loss.nearest_cut_m
    inside = cut is not None and cut < zone.structural_radius_m - SLACK
    if inside and cut is not None:
        said.append(
            say(
                "verdict.cut_inside_structural",
                nearest_cut_m=cut,
                structural_radius_m=zone.structural_radius_m,
            )
        )
    if loss.severed_pct > upper + SLACK:
        said.append(
            say("verdict.severed_over_keep_if", severed_pct=loss.severed_pct, limit_pct=upper)
        )
    over_keep = loss.severed_pct > t.severed_keep_pct + SLACK
    best_over = loss.best_half_severed_pct > t.best_half_pct + SLACK
    if over_keep and best_over:
        said.append(
            say(
                "verdict.best_half_hurt",
                best_half_pct=loss.best_half_severed_pct,
                limit_pct=t.best_half_pct,
            )
        )
    if over_keep and loss.severed_pct <= upper + SLACK:
        said.append(
            say(
                "verdict.severed_over_keep",
                severed_pct=loss.severed_pct,
                limit_pct=t.severed_keep_pct,
                upper_pct=upper,
            )
        )
    if over_keep and not best_over:
        said.append(_whole_side(loss))
    said += _against_existing(s, t)
    if loss.covered_pct > t.covered_keep_pct + SLACK:
        said.append(
            say(
                "verdict.covered_over_keep",
                covered_pct=loss.covered_pct,
                limit_pct=t.covered_keep_pct,
            )
        )
    said += fill_told(s.fill, t)
    removed = None if s.crown is None else s.crown.removed_pct
    if removed is not None and removed > t.crown_removed_keep_pct + SLACK:
        said.append(
            say(
                "verdict.crown_over_keep",
                removed_pct=removed,
                limit_pct=t.crown_removed_keep_pct,
            )
        )
    said += _trunk_figures(loss, zone, t)
    low, high = loss.severed_pct_range
    if high - low > SLACK:
        said.append(say("verdict.piles_range", dodged_pct=low, blind_pct=high))
    if not over_keep and not inside:
        if loss.severed_pct > 0:
            said.append(
                say(
                    "verdict.severed_within_keep",
                    severed_pct=loss.severed_pct,
                    limit_pct=t.severed_keep_pct,
                )
            )
        elif loss.covered_pct > t.covered_keep_pct + SLACK:
            pass  # said above, by weight
        elif loss.covered_pct > 0:
            said.append(say("verdict.covered_only", covered_pct=loss.covered_pct))
        else:
            said.append(say("verdict.no_works_in_zone", radius_m=zone.radius_m))
    if loss.severed_pct > 0:
        said += s.tolerance.notes
        age = t.rows[f"severed.keep_if.{s.tolerance.level or 'unknown'}"].age
        if age is not None:
            said.append(say("verdict.limit_for_age", age=age, limit_pct=upper))
    return tuple(said)


def _whole_side(loss: RootLoss) -> Statement:
    if loss.best_half_bearing is None:
        return say("verdict.best_half_even", best_half_pct=loss.best_half_severed_pct)
    if loss.best_half_severed_pct < SLACK:
        return say("verdict.best_half_untouched", side_deg=loss.best_half_bearing)
    return say(
        "verdict.best_half_whole",
        best_half_pct=loss.best_half_severed_pct,
        side_deg=loss.best_half_bearing,
    )


def _against_existing(s: Standing, t: Thresholds) -> list[Statement]:
    alone = judge_roots(s.roots.existing, s.zone, s.tolerance.level, None, t)
    if alone == "redesign":
        return [say("verdict.existing_alone_past", severed_pct=s.roots.existing.severed_pct)]
    if 0 < s.roots.existing.severed_pct < s.roots.proposed.severed_pct:
        return [
            say(
                "verdict.existing_share",
                existing_pct=s.roots.existing.severed_pct,
                severed_pct=s.roots.proposed.severed_pct,
            )
        ]
    return []


def _trunk_figures(loss: RootLoss, zone: RootZone, t: Thresholds) -> list[Statement]:
    """Set the nearest cut against the published trunk multiples; they decide nothing here."""
    if loss.nearest_cut_m is None or zone.diameter_cm is None or loss.severed_pct <= 0:
        return []
    times = loss.nearest_cut_m * 100 / zone.diameter_cm
    for key, code in (
        ("trunk.stability_floor", "verdict.inside_stability_floor"),
        ("trunk.health_moderate", "verdict.inside_health_moderate"),
        ("trunk.health_least", "verdict.inside_health_least"),
    ):
        if times < t.value(key):
            return [
                say(
                    code,
                    nearest_cut_m=loss.nearest_cut_m,
                    times=f"{times:.1f}",
                    least=f"{t.value(key):g}",
                )
            ]
    return []
