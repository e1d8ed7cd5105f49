"""Whole alternatives side by side: what goes, cover over the years, water, money, and when
today's cover is back."""

from collections.abc import Mapping, Sequence
from dataclasses import replace

import shapely

from bolewalk.model.statements import Statement, say
from bolewalk.model.survey import Survey
from bolewalk.planting.candidates import list_candidates
from bolewalk.planting.crowns import Grower, new_grower
from bolewalk.planting.later import Later, in_later_years
from bolewalk.planting.lines import Planted
from bolewalk.planting.plan import AlternativeWish, PlantingPlan
from bolewalk.planting.result import Alternative
from bolewalk.planting.set_out import set_out
from bolewalk.planting.stand import split_stand
from bolewalk.planting.watering import water_ledger

__all__ = ["list_alternatives"]


def list_alternatives(
    survey: Survey, plan: PlantingPlan, grown: Mapping[str, Grower], *,
    zone_radius_m: Mapping[str, float], removal_minor: Mapping[str, int], horizon: int,
    decided: Sequence[str],
) -> tuple[Alternative, ...]:  # fmt: skip
    """Work each alternative of the plan out, in the order of the file.

    Parameters
    ----------
    survey, plan
    grown : mapping
        From `grow_all`.
    zone_radius_m, removal_minor : mapping
        As `plan_planting`.
    horizon : int
    decided : sequence of str
        Trees that go by the tree table.
    """
    return tuple(
        _alternative(survey, plan, wish, grown, zone_radius_m, removal_minor, horizon, decided)
        for wish in plan.alternatives
    )


def _alternative(
    survey: Survey, plan: PlantingPlan, wish: AlternativeWish, grown: Mapping[str, Grower],
    zone_radius_m: Mapping[str, float], removal_minor: Mapping[str, int], horizon: int,
    decided: Sequence[str],
) -> Alternative:  # fmt: skip
    stand = split_stand(survey, grown, removed=decided if wish.remove is None else wish.remove)
    own = _under(plan, wish)
    plants: tuple[Planted, ...] = ()
    if wish.plant:
        plants = set_out(survey, own, stand, zone_radius_m=zone_radius_m, horizon=horizon).plants
    new = [
        new_grower(p.id, p.taxon, p.stock, p.place, region=survey.method.growth_region,
                   horizon=horizon, survival=plan.site.survival)
        for p in plants
        if p.place is not None
    ]  # fmt: skip
    later = in_later_years(stand.kept, stand.gone, new)
    ledger = water_ledger([(p.taxon.kind, p.stock) for p in plants])
    first = _first_cost(plants, stand.removed, removal_minor)
    price = plan.water.price_minor_per_l
    watering = None if price is None else round(sum(ledger.years_l) * price)
    whole = None if first is None or watering is None else first + watering
    told = _say(survey, wish, grown, stand.removed, decided, later)
    return Alternative(
        wish.name, stand.removed, len(plants), later.today_m2,
        tuple((y.year, y.cover_m2) for y in later.years), ledger.years_l[0], ledger.years_l[-1],
        first, whole, later.back_years, later.horizon, told,
    )  # fmt: skip


def _under(plan: PlantingPlan, wish: AlternativeWish) -> PlantingPlan:
    """The plan under the alternative's limits: kinds and hand-set plants that break them go."""
    site = replace(
        plan.site,
        natives_only=(plan.site.natives_only if wish.natives_only is None else wish.natives_only),
        water_at_most=wish.water_at_most or plan.site.water_at_most,
    )
    fits = {c.taxon.botanical for c in list_candidates(site, plan.purposes) if c.fits}
    chosen = {k.lower() for k in wish.kinds}

    def stays(species: str) -> bool:
        return species in fits and (not chosen or species.lower() in chosen)

    return replace(
        plan, site=site,
        kinds=tuple(k for k in plan.kinds if stays(k.species)),
        plants=tuple(p for p in plan.plants if stays(p.species)),
    )  # fmt: skip


def _first_cost(
    plants: Sequence[Planted], removed: Sequence[str], removal_minor: Mapping[str, int]
) -> int | None:
    costs = [p.cost_minor for p in plants] + [removal_minor.get(t) for t in removed]
    return None if any(c is None for c in costs) else sum(c for c in costs if c is not None)


def _say(
    survey: Survey, wish: AlternativeWish, grown: Mapping[str, Grower],
    removed: Sequence[str], decided: Sequence[str], later: Later,
) -> tuple[Statement, ...]:  # fmt: skip
    told = []
    if wish.wish:
        extra = [t for t in removed if t not in decided]
        kept = shapely.union_all([g.outline(0) for i, g in grown.items() if i not in removed])
        lost = shapely.union_all([grown[t].outline(0) for t in extra if t in grown])
        area = float(lost.difference(kept).area)
        code = "planting.wish_costs" if extra else "planting.wish_costs_none"
        told.append(
            say(code, wish=wish.wish, trees_count=len(extra), names=", ".join(extra),
                area_m2=area)
        )  # fmt: skip
    if later.gap_m2 > 0:
        told.append(
            say("planting.cover_back", years=later.back_years)
            if later.back_years is not None
            else say("planting.cover_not_back", horizon_years=later.horizon)
        )
    unknown = sorted(set(wish.remove or ()) - {t.id for t in survey.trees})
    told += [say("planting.alternative_unknown", tree=t) for t in unknown]
    return tuple(told)
