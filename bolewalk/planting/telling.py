"""What must be told of a plan on its site: spots that do not hold, no room, what to relax."""

import math
from collections.abc import Sequence
from itertools import combinations

import numpy as np
from shapely import Point

from bolewalk.model.statements import Statement, say
from bolewalk.model.survey import Survey
from bolewalk.planting.candidates import Candidate
from bolewalk.planting.layout_exact import Relaxation
from bolewalk.planting.lines import Planted
from bolewalk.planting.placing import Placing, along_the_ground, spacing_between
from bolewalk.planting.plan import PlantingPlan
from bolewalk.planting.result import KindRoom
from bolewalk.planting.set_out import SetOut

__all__ = ["tell_chosen", "tell_fixed", "tell_no_kind", "tell_placings", "tell_rooms"]


def tell_chosen(candidates: Sequence[Candidate], chosen: Sequence[str]) -> tuple[Statement, ...]:
    """Say which limits the plants and kinds a person chose do not hold.

    `chosen` are botanical names, in order; the same name is told once.
    """
    breaks = {c.taxon.botanical: c for c in candidates if c.breaks}
    return tuple(
        say("planting.chosen_breaks", kind=breaks[name].taxon.common,
            broken=b.code.removeprefix("planting."))
        for name in dict.fromkeys(chosen)
        if name in breaks
        for b in breaks[name].breaks
    )  # fmt: skip


def tell_no_kind(candidates: Sequence[Candidate]) -> tuple[Statement, ...]:
    """Say that no plant of the palette holds every limit, and what each limit alone keeps out."""
    if any(c.fits for c in candidates):
        return ()
    alone: dict[str, int] = {}
    for c in candidates:
        if len(c.breaks) == 1:
            alone[c.breaks[0].code] = alone.get(c.breaks[0].code, 0) + 1
    told = [say("planting.no_kind")]
    told += [
        say("planting.no_kind_but", broken=code.removeprefix("planting."), kinds_count=n)
        for code, n in sorted(alone.items(), key=lambda item: (-item[1], item[0]))
    ]
    return tuple(told)


def tell_rooms(rooms: Sequence[KindRoom]) -> tuple[Statement, ...]:
    """Say which kinds find no room, and what each thing in the way would set free."""
    told = []
    for r in rooms:
        if r.room.free_m2 > 0:
            continue
        told.append(say("planting.no_room", kind=r.kind))
        told += [
            say("planting.no_room_but", kind=r.kind, blocked_by=b.why, alone_m2=b.alone_m2)
            for b in r.room.blocked
            if b.alone_m2 > 0
        ]
    return tuple(told)


def tell_fixed(
    survey: Survey, plan: PlantingPlan, plants: Sequence[Planted], found: SetOut
) -> tuple[Statement, ...]:
    """Say where plants set by hand stand in the way of something, or of one another."""
    told = []
    trees = {t.id for t in survey.trees}
    hand = [p for p in plants if p.fixed]
    for p in hand:
        if p.replaces and p.replaces not in trees:
            told.append(say("planting.replaces_unknown", plant=p.id, tree=p.replaces))
        if p.place is None:
            told.append(say("planting.no_spot_yet", plant=p.id, kind=p.taxon.common))
            continue
        told += [
            say("planting.spot_blocked", plant=p.id, kind=p.taxon.common, blocked_by=b.why)
            for b in found.hand_rooms[p.id].blocked
            if b.shape.contains(Point(p.place))
        ]
    slope, bearing = survey.site.slope_pct or 0.0, survey.site.slope_bearing_deg
    placed = [p for p in hand if p.place is not None]
    ground = along_the_ground(
        np.array([p.place for p in placed], dtype=np.float64).reshape(-1, 2),
        slope_pct=slope, bearing_deg=bearing,
    )  # fmt: skip
    for (i, a), (j, b) in combinations(enumerate(placed), 2):
        least = spacing_between(
            a.taxon,
            b.taxon,
            slope_pct=slope,
            basis=found.basis or (plan.site.guide if plan.site.fire else None),
        )
        apart = math.dist(ground[i], ground[j])
        if apart < least - 1e-9:
            told.append(
                say("planting.fixed_too_near", plant=a.id, other=b.id, apart_m=apart,
                    least_m=least)
            )  # fmt: skip
    return tuple(told)


def tell_placings(placings: Sequence[Placing], used: int | None) -> tuple[Statement, ...]:
    """Say how good each layout is known to be, which is used, and what to relax where none is
    possible."""
    told = []
    for n, p in enumerate(placings):
        by = p.basis or "crowns"
        layout = p.layout
        if layout.status == "impossible":
            told.append(say("planting.impossible", spacing_by=by))
            told += [_relax(r) for r in layout.relax]
            if not layout.relax:
                told.append(say("planting.relax_several"))
            continue
        code = "proven" if layout.status == "proven" else "bounded"
        told.append(
            say(f"planting.layout_{code}", spacing_by=by, plants_count=len(p.places),
                gap_pct=layout.gap_pct)
        )  # fmt: skip
        if len(placings) > 1 and n == used:
            told.append(say("planting.layout_used", spacing_by=by))
    return tuple(told)


def _relax(r: Relaxation) -> Statement:
    name, _, of = r.name.partition(":")
    if name == "budget":
        return say("planting.relax_budget", have_minor=r.bound, need_minor=r.to)
    if name == "water":
        return say("planting.relax_water", have_l=float(r.bound), need_l=float(r.to))
    if name == "at_least":
        return say("planting.relax_at_least", kind=of, wanted_count=-r.bound, most=-r.to)
    if name == "at_most":
        return say("planting.relax_at_most", kind=of, have_count=r.bound, need=r.to)
    if name == "most_plants":
        return say("planting.relax_most_plants", have_count=r.bound, need=r.to)
    if name == "cover":
        return say("planting.relax_cover", wanted_m2=-r.bound / 100, most_m2=-r.to / 100)
    return say("planting.relax_diversity", name=of)
