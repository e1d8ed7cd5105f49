"""The planting advice in order: what stands, room, layout, water, later years, papers' lines.

trees that go -> gaps -> room for each kind -> layout -> lines and water
              -> the place in later years -> alternatives side by side
"""

from collections.abc import Mapping, Sequence

from bolewalk.model.statements import Statement
from bolewalk.model.survey import Survey
from bolewalk.planting.alternatives import list_alternatives
from bolewalk.planting.budget import (
    Hydrozone,
    WaterBudget,
    adjustment_factor,
    water_budget,
)
from bolewalk.planting.candidates import Surroundings, list_candidates
from bolewalk.planting.crowns import Grower, new_grower
from bolewalk.planting.fire import FireSpacing, fire_spacing
from bolewalk.planting.later import Later, in_later_years
from bolewalk.planting.likeness import likenesses
from bolewalk.planting.lines import Planted, planting_lines, water_card
from bolewalk.planting.palette import find_taxon, grown_as
from bolewalk.planting.plan import PlantingPlan
from bolewalk.planting.practice import check_diversity
from bolewalk.planting.result import PlantingResult
from bolewalk.planting.room import near_kinds
from bolewalk.planting.sayings import oak_beside_the_saying
from bolewalk.planting.set_out import SetOut, set_out
from bolewalk.planting.shade import SpotShade, shade_at
from bolewalk.planting.stand import grow_all, split_stand
from bolewalk.planting.tables import rules
from bolewalk.planting.telling import (
    tell_chosen,
    tell_fixed,
    tell_no_kind,
    tell_placings,
    tell_rooms,
)
from bolewalk.planting.watering import water_ledger

__all__ = ["plan_planting"]

_M2_PER_FT2 = 0.3048**2
_MM_PER_IN = 25.4


def plan_planting(
    survey: Survey,
    plan: PlantingPlan,
    *,
    zone_radius_m: Mapping[str, float],
    removal_minor: Mapping[str, int] | None = None,
) -> PlantingResult:
    """Advise on planting.

    Parameters
    ----------
    survey : Survey
        Trees decided to be removed leave the gaps.
    plan : PlantingPlan
    zone_radius_m : mapping
        Tree id -> radius of its root zone [m].
    removal_minor : mapping, optional
        Tree id -> price of its removal; alternatives have costs only where every tree that goes
        has one.

    Returns
    -------
    PlantingResult
    """
    horizon = int(rules("planting_rules")["later"]["horizon"])
    region = survey.method.growth_region
    grown = grow_all(survey, horizon=horizon)
    stand = split_stand(survey, grown)
    found = set_out(survey, plan, stand, zone_radius_m=zone_radius_m, horizon=horizon)
    plants = found.plants
    new = tuple(
        new_grower(p.id, p.taxon, p.stock, p.place, region=region, horizon=horizon,
                   survival=plan.site.survival)
        for p in plants
        if p.place is not None
    )  # fmt: skip
    south = (plan.site.latitude_deg or 0) < 0
    ledger = water_ledger(
        [(p.taxon.kind, p.stock) for p in plants], method=plan.water.method,
        eto_months_mm=plan.water.eto_months_mm, south=south,
    )  # fmt: skip
    later = in_later_years(stand.kept, stand.gone, new)
    near = near_kinds(survey, plan)
    around = Surroundings(
        under_wire="wire" in near,
        paving_near=bool(near & {"paving", "access"}),
        standing=stand.standing,
    )
    candidates = list_candidates(plan.site, plan.purposes, around=around)
    fire = _fire(survey, plan, found)
    costs = [p.cost_minor for p in plants]
    cost = None if any(c is None for c in costs) else sum(c for c in costs if c is not None)
    told: list[Statement] = [
        *tell_no_kind(candidates),
        *tell_chosen(
            candidates,
            [*(p.taxon.botanical for p in plants if p.fixed), *(k.species for k in plan.kinds)],
        ),
        *tell_fixed(survey, plan, plants, found),
        *tell_rooms(found.rooms),
        *tell_placings(found.placings, found.used),
        *check_diversity(
            [(p.taxon.botanical, p.taxon.genus, p.taxon.family) for p in plants
             if p.taxon.kind in ("tree", "palm")],
            _counted(stand.standing),
        ),
        *oak_beside_the_saying([(p.taxon, p.stock) for p in plants], region=region),
    ]  # fmt: skip
    kinds = {(p.taxon.botanical, p.stock): p for p in reversed(plants)}
    growers = {g.id: g for g in new}
    alike = [
        (p.taxon, growers.get(p.id) or _anywhere(p, survey, plan, horizon))
        for _, p in sorted(kinds.items())
    ]
    return PlantingResult(
        plan=plan,
        candidates=candidates,
        gaps=stand.gaps,
        rooms=found.rooms,
        fire=fire,
        placings=found.placings,
        used=found.used,
        plants=plants,
        lines=planting_lines(plants, ledger, survey_day=survey.date, south=south),
        water=water_card(plants, ledger),
        budget=_budget(plan),
        later=later,
        shade=_shade(survey, plan, later),
        likeness=likenesses(survey, alike),
        alternatives=list_alternatives(
            survey, plan, grown, zone_radius_m=zone_radius_m, removal_minor=removal_minor or {},
            horizon=horizon, decided=stand.removed,
        ),
        cost_minor=cost,
        statements=tuple(dict.fromkeys(told)),
    )  # fmt: skip


def _fire(survey: Survey, plan: PlantingPlan, found: SetOut) -> tuple[tuple[str, FireSpacing], ...]:
    if not plan.site.fire or survey.site.slope_pct is None:
        return ()
    taxa = {p.taxon.botanical: p.taxon for p in found.plants if p.taxon.kind == "shrub"}
    for wish in plan.kinds:
        taxon = find_taxon(wish.species)
        if taxon is not None and taxon.kind == "shrub":
            taxa[taxon.botanical] = grown_as(taxon, height_m=wish.height_m, width_m=wish.width_m)
    ground = found.site_m2 * (1 + (survey.site.slope_pct / 100) ** 2) ** 0.5
    return tuple(
        (
            name,
            fire_spacing(
                ground, height_m=t.height_m.value, width_m=t.spread_m.value,
                slope_pct=survey.site.slope_pct, error_pct=plan.site.slope_error_pct,
                read_by=plan.site.slope_read_by, named=plan.site.guide is not None,
            ),
        )
        for name, t in sorted(taxa.items())
    )  # fmt: skip


def _counted(standing: Sequence[tuple[str, str, str]]) -> dict[tuple[str, str, str], int]:
    counts: dict[tuple[str, str, str], int] = {}
    for names in standing:
        counts[names] = counts.get(names, 0) + 1
    return counts


def _anywhere(plant: Planted, survey: Survey, plan: PlantingPlan, horizon: int) -> Grower:
    return new_grower(
        plant.id, plant.taxon, plant.stock, (0.0, 0.0), region=survey.method.growth_region,
        horizon=horizon, survival=plan.site.survival,
    )  # fmt: skip


def _budget(plan: PlantingPlan) -> WaterBudget | None:
    w = plan.water
    eto_mm = w.eto_mm if w.eto_mm is not None else sum(w.eto_months_mm) or None
    if eto_mm is None or not w.zones or (w.use is None and w.factor is None):
        return None
    factor = w.factor
    if w.use is not None:
        by_use = adjustment_factor(w.use)
        # A local factor counts where it is the stricter one.
        factor = by_use if factor is None else min(factor, by_use)
    assert factor is not None
    zones = [
        Hydrozone(z.name, z.plant_factor, z.area_m2 / _M2_PER_FT2, z.emitter, z.efficiency)
        for z in w.zones
    ]
    return water_budget(
        eto_mm / _MM_PER_IN, zones, factor=factor, special_ft2=w.special_m2 / _M2_PER_FT2
    )


def _shade(survey: Survey, plan: PlantingPlan, later: Later) -> tuple[SpotShade, ...]:
    s = plan.site
    if s.latitude_deg is None or s.longitude_deg is None or s.utc_offset_hours is None:
        return ()
    return tuple(
        shade_at(
            spot, later, year=survey.date.year, latitude_deg=s.latitude_deg,
            longitude_deg=s.longitude_deg, utc_offset_hours=s.utc_offset_hours,
        )
        for spot in plan.shade_spots
    )  # fmt: skip
