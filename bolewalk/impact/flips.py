"""What would change the verdict on one tree, and by how much."""

from bolewalk.impact.results import RootLoss, RootZone
from bolewalk.impact.standing import SLACK, OpenFacts, Standing
from bolewalk.impact.thresholds import Thresholds
from bolewalk.model.statements import Statement, say
from bolewalk.model.words import Verdict

__all__ = ["flips_of"]


def flips_of(
    s: Standing,
    t: Thresholds,
    recorded: Verdict,
    now: Verdict,
    later: Verdict,
    open_facts: OpenFacts | None,
) -> tuple[Statement, ...]:
    """Say how far each figure is from the limit that would change the verdict.

    Parameters
    ----------
    s : Standing
    t : Thresholds
        Those of the tree.
    recorded : Verdict
        By the facts as recorded.
    now, later : Verdict
        As given, without and with possible later works.
    open_facts : OpenFacts, optional

    Returns
    -------
    tuple of Statement
        By figure, then the questions that decide, then the possible later works.
    """
    loss, zone = s.roots.proposed, s.zone
    upper = t.severed_keep_if_pct[s.tolerance.level]
    said: list[Statement] = []
    if recorded == "redesign":
        said += _to_lift_redesign(loss, zone, t, upper)
    elif recorded == "keep_if":
        if loss.severed_pct > t.severed_keep_pct + SLACK:
            over = loss.severed_pct - t.severed_keep_pct
            said.append(say("flip.less_severed_to_keep", over_pct=over))
        if loss.covered_pct > t.covered_keep_pct + SLACK:
            said.append(say("flip.less_covered", over_pct=loss.covered_pct - t.covered_keep_pct))
        removed = None if s.crown is None else s.crown.removed_pct
        if removed is not None and removed > t.crown_removed_keep_pct + SLACK:
            said.append(say("flip.less_crown", over_pct=removed - t.crown_removed_keep_pct))
        if loss.severed_pct > t.severed_keep_pct + SLACK:
            said.append(say("flip.room_to_redesign", room_pct=upper - loss.severed_pct))
            said.append(
                say(
                    "flip.best_half_room",
                    room_pct=t.best_half_pct - loss.best_half_severed_pct,
                    limit_pct=t.best_half_pct,
                )
            )
        said += _structural_room(loss, zone)
    else:
        said.append(say("flip.room_to_keep_if", room_pct=t.severed_keep_pct - loss.severed_pct))
        said += _structural_room(loss, zone)
    if open_facts is not None and open_facts.questions:
        said += _open(now, open_facts)
    if later != now:
        said.append(say(f"flip.later_{later}"))
    return tuple(said)


def _open(now: Verdict, open_facts: OpenFacts) -> list[Statement]:
    said = []
    if now == "undecided":
        said.append(say("flip.questions_decide", questions_count=len(open_facts.settle)))
        deciding = [q for q in open_facts.questions if len({a.verdict for a in q.answers}) > 1]
        if not deciding:
            said.append(say("flip.only_together"))
    return said


def _to_lift_redesign(
    loss: RootLoss, zone: RootZone, t: Thresholds, upper: float
) -> list[Statement]:
    said = []
    cut = loss.nearest_cut_m
    if cut is not None and cut < zone.structural_radius_m - SLACK:
        said.append(
            say(
                "flip.move_off_structural",
                shift_m=zone.structural_radius_m - cut,
                structural_radius_m=zone.structural_radius_m,
            )
        )
    if loss.severed_pct > upper + SLACK:
        said.append(say("flip.less_severed_to_keep_if", over_pct=loss.severed_pct - upper))
    if (
        loss.severed_pct > t.severed_keep_pct + SLACK
        and loss.best_half_severed_pct > t.best_half_pct + SLACK
    ):
        said.append(
            say(
                "flip.less_on_best_half",
                over_pct=loss.best_half_severed_pct - t.best_half_pct,
                limit_pct=t.best_half_pct,
            )
        )
    return said


def _structural_room(loss: RootLoss, zone: RootZone) -> list[Statement]:
    if loss.nearest_cut_m is None or loss.nearest_cut_m >= zone.radius_m:
        return []
    room = loss.nearest_cut_m - zone.structural_radius_m
    return [say("flip.structural_room", room_m=max(room, 0.0))]
