"""What the builder must do for a verdict to hold, read from the works near the tree."""

from collections.abc import Callable, Sequence

from bolewalk.impact.near import NearWork, names_of
from bolewalk.impact.results import CrownClash, RootLoss, RootZone
from bolewalk.impact.thresholds import Thresholds
from bolewalk.model.statements import Statement, say
from bolewalk.model.words import Verdict

__all__ = ["conditions_of"]


def conditions_of(
    loss: RootLoss,
    zone: RootZone,
    crown: CrownClash | None,
    near: Sequence[NearWork],
    thresholds: Thresholds,
    *,
    verdict: Verdict,
    with_later: Verdict,
    settle: Sequence[Statement] = (),
) -> tuple[Statement, ...]:
    """Give the conditions on which a tree can be kept, those that carry the verdict first.

    Parameters
    ----------
    loss : RootLoss
        Existing and proposed works together.
    zone, crown, thresholds
        Of the tree.
    near : sequence of NearWork
        Works near the tree; only proposed ones that reach the zone ask for anything.
    verdict, with_later : Verdict
        Now, and with possible later works.
    settle : sequence of Statement
        Open questions to be settled first.

    Returns
    -------
    tuple of Statement
        Empty where the tree cannot be kept as drawn: a condition would read as a way out.
    """
    if verdict == "redesign":
        return ()
    t = thresholds
    said: list[Statement] = list(settle)
    reached = [
        n
        for n in near
        if n.work.phase == "proposed" and n.work.present != "no" and n.distance_m < zone.radius_m
    ]
    said += _about_old_fill(near, zone)
    said += _about_digging(reached, zone, t)
    said += _about_covering(reached, t)
    if loss.covered_pct > t.covered_keep_pct:
        said.append(
            say(
                "condition.covered_over",
                covered_pct=loss.covered_pct,
                limit_pct=t.covered_keep_pct,
            )
        )
    said += _about_crown(crown, t)
    if loss.severed_pct > 0:
        said += _about_the_rest(loss, zone, t)
    if with_later == "redesign":
        said.append(say("condition.no_later_works"))
    if reached:
        said.append(say("condition.fence", radius_m=zone.radius_m))
    return tuple(said)


def _about_digging(reached: Sequence[NearWork], zone: RootZone, t: Thresholds) -> list[Statement]:
    def named(test: Callable[[NearWork], bool]) -> str:
        return names_of([n.work for n in reached if test(n)])

    said = []
    shifted = named(lambda n: n.role == "pile" and n.work.made in ("hand", "air"))
    if shifted:
        said.append(
            say("condition.piles_shifted", works=shifted, depth_m=t.value("dig.by_hand_depth"))
        )
    bored = named(lambda n: n.role == "pile" and n.work.made not in ("hand", "air"))
    if bored:
        said.append(say("condition.rig_on_mats", works=bored))
    by_hand = named(lambda n: n.role == "severs" and n.work.made in ("hand", "air"))
    if by_hand:
        said.append(say("condition.dug_by_hand", works=by_hand))
    by_machine = named(
        lambda n: n.role == "severs" and n.work.made not in ("hand", "air", "trenchless")
    )
    if by_machine:
        said.append(say("condition.dug_from_outside", works=by_machine))
    bore = named(lambda n: n.work.made == "trenchless" and n.work.kind != "pile")
    if bore:
        said.append(say("condition.bored_below", works=bore, depth_m=t.value("bore.least_depth")))
        if zone.diameter_cm is not None:
            clear = t.by_trunk_m("bore.clear", zone.diameter_cm)
            said.append(say("condition.pits_clear", works=bore, clear_m=clear))
    dug = named(lambda n: n.role in ("pile", "severs") and n.work.made != "trenchless")
    if dug:
        said.append(
            say(
                "condition.roots_met",
                works=dug,
                arborist_cm=t.value("roots.to_arborist"),
                engineer_cm=t.value("roots.to_engineer"),
            )
        )
    on_piles = named(
        lambda n: n.work.kind == "beam" or (n.work.kind == "building" and n.role == "nothing")
    )
    if on_piles:
        said.append(say("condition.beam_above_grade", works=on_piles))
    return said


def _about_old_fill(near: Sequence[NearWork], zone: RootZone) -> list[Statement]:
    old = [
        n.work
        for n in near
        if n.work.kind == "fill" and n.work.phase == "existing" and n.work.present != "no"
        and n.distance_m < zone.radius_m
    ]  # fmt: skip
    return [say("condition.fill_pulled_back", works=names_of(old))] if old else []


def _about_covering(reached: Sequence[NearWork], t: Thresholds) -> list[Statement]:
    def of_kind(*kinds: str) -> str:
        return names_of([n.work for n in reached if n.role == "covers" and n.work.kind in kinds])

    said = []
    if works := of_kind("paving", "slab"):
        said.append(say("condition.laid_without_digging", works=works))
    if works := of_kind("roof", "building", "slab", "paving"):
        said.append(say("condition.water_led", works=works))
    if works := of_kind("fill"):
        said.append(
            say(
                "condition.fill_open",
                works=works,
                thickness_cm=t.value("fill.thickness"),
                share_pct=t.value("fill.share"),
            )
        )
    if works := of_kind("access"):
        said.append(say("condition.ground_mats", works=works))
    if works := of_kind("storage"):
        said.append(say("condition.storage_outside", works=works))
    return said


def _about_crown(crown: CrownClash | None, t: Thresholds) -> list[Statement]:
    removed = None if crown is None else crown.removed_pct
    if removed is None or removed < t.value("crown.side_share"):
        return []
    said = [say("condition.crown_pruned_first", removed_pct=removed)]
    if removed > t.crown_removed_keep_pct:
        said = [
            say("condition.crown_over", removed_pct=removed, limit_pct=t.crown_removed_keep_pct)
        ]
    if crown is not None and crown.lowest_clash_m is not None and crown.sides:
        said.append(
            say(
                "condition.crown_where",
                sides=", ".join(crown.sides),
                lowest_clash_m=crown.lowest_clash_m,
            )
        )
        if crown.thickest_limb_cm is not None:
            said.append(say("condition.crown_limb", limb_cm=crown.thickest_limb_cm))
    return said


def _about_the_rest(loss: RootLoss, zone: RootZone, t: Thresholds) -> list[Statement]:
    """Protect what is left: the whole side, and time between cuts on two sides."""
    said = []
    # Within the first limit no side carries the tree alone yet.
    if loss.severed_pct > t.severed_keep_pct:
        if loss.best_half_bearing is not None:
            said.append(say("condition.protect_best_half", side_deg=loss.best_half_bearing))
        else:
            said.append(say("condition.no_more_cuts"))
    cut = loss.nearest_cut_m
    limit = t.value("trunk.one_side_a_year")
    several_sides = loss.widest_clear_arc_deg < 180.0
    if (
        cut is not None
        and zone.diameter_cm
        and several_sides
        and cut * 100 < limit * zone.diameter_cm
    ):
        said.append(say("condition.one_side_a_year", nearest_cut_m=cut, times=f"{limit:g}"))
    return said
