"""Setting a plan out on its site: plants set by hand, room for each kind, and the layouts."""

from collections.abc import Mapping
from dataclasses import dataclass

from bolewalk.model.survey import Survey
from bolewalk.planting.fire import FIRE_BASES, FireBasis
from bolewalk.planting.lines import Planted
from bolewalk.planting.palette import PaletteTaxon, find_taxon
from bolewalk.planting.placing import Placing, kinds_of, place_kinds
from bolewalk.planting.plan import Place, PlantingPlan
from bolewalk.planting.result import KindRoom
from bolewalk.planting.room import Room, find_room
from bolewalk.planting.stand import Stand
from bolewalk.planting.watering import first_year_l

__all__ = ["SetOut", "set_out"]


@dataclass(frozen=True, slots=True)
class SetOut:
    """A plan on its site.

    `hand_rooms` are the rooms of the plants set by hand, by plant id, other hand-set plants left
    out; `basis` the fire basis in use, None where fire does not matter; `site_m2` the plan area
    planting is looked for on.
    """

    plants: tuple[Planted, ...]
    rooms: tuple[KindRoom, ...]
    hand_rooms: Mapping[str, Room]
    placings: tuple[Placing, ...]
    used: int | None
    basis: FireBasis | None
    site_m2: float


def set_out(
    survey: Survey, plan: PlantingPlan, stand: Stand, *, zone_radius_m: Mapping[str, float],
    horizon: int,
) -> SetOut:  # fmt: skip
    """Set a plan out.

    Where fire matters and no guide was named, the layout is made by each basis that has a rule
    for every slope, and the one with the widest spacing is used.
    """
    hand = _by_hand(plan)
    fixed: list[tuple[Place, PaletteTaxon]] = [
        (p.place, p.taxon) for p in hand if p.place is not None
    ]
    hand_rooms = {
        p.id: find_room(survey, plan, p.taxon, kept=stand.kept, zone_radius_m=zone_radius_m)
        for p in hand
        if p.place is not None
    }
    kinds = kinds_of(plan, region=survey.method.growth_region, horizon=horizon)
    rooms = [
        find_room(survey, plan, k.taxon, kept=stand.kept, zone_radius_m=zone_radius_m,
                  fixed=fixed)
        for k in kinds
    ]  # fmt: skip
    placings: tuple[Placing, ...] = ()
    used = None
    if kinds:
        spent = sum(p.cost_minor or 0 for p in hand)
        litres = sum(first_year_l(p.taxon.kind, p.stock) for p in hand)
        named = [
            *stand.standing,
            *((p.taxon.botanical, p.taxon.genus, p.taxon.family) for p in hand
              if p.taxon.kind in ("tree", "palm")),
        ]  # fmt: skip
        placings = tuple(
            place_kinds(
                survey, plan, kinds, rooms, basis=basis, fixed=fixed, standing=named,
                spent_minor=spent, spent_l=litres,
            )
            for basis in _bases(plan)
        )  # fmt: skip
        # The widest spacing leaves the fewest plants: cautious until the guide is named.
        used = min(range(len(placings)), key=lambda i: (len(placings[i].places), i))
    laid: list[Planted] = []
    if used is not None:
        chosen = zip(placings[used].places, placings[used].kinds, strict=True)
        for n, (place, kind) in enumerate(sorted(chosen, key=lambda c: c[0]), len(hand) + 1):
            wish = kind.wish
            laid.append(
                Planted(f"P{n}", kind.taxon, wish.stock, place, False, cost_minor=wish.cost_minor)
            )
    return SetOut(
        (*hand, *laid),
        tuple(KindRoom(k.taxon.botanical, r) for k, r in zip(kinds, rooms, strict=True)),
        hand_rooms, placings, used, placings[used].basis if used is not None else None,
        rooms[0].site_m2 if rooms else _site_m2(hand_rooms),
    )  # fmt: skip


def _site_m2(rooms: Mapping[str, Room]) -> float:
    return next((r.site_m2 for r in rooms.values()), 0.0)


def _by_hand(plan: PlantingPlan) -> tuple[Planted, ...]:
    found = []
    for n, p in enumerate(plan.plants, 1):
        taxon = find_taxon(p.species)
        if taxon is not None:
            found.append(
                Planted(f"P{n}", taxon, p.stock, p.place, True, p.replaces, p.why, p.cost_minor)
            )
    return tuple(found)


def _bases(plan: PlantingPlan) -> tuple[FireBasis | None, ...]:
    if not plan.site.fire:
        return (None,)
    if plan.site.guide is not None:
        return (plan.site.guide,)
    return tuple(b for b in FIRE_BASES if b in ("shrub_height", "shrub_width"))
