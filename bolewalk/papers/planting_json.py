"""The planting part of findings.json: in the survey's units, sentences beside their figures."""

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Any

from bolewalk.model.figures import Figure
from bolewalk.model.statements import Statement
from bolewalk.model.survey import Survey
from bolewalk.model.units import M_PER_FT, to_survey_length
from bolewalk.papers.language import Speaker

if TYPE_CHECKING:
    from bolewalk.planting.candidates import Candidate
    from bolewalk.planting.fire import FireSpacing
    from bolewalk.planting.later import CrownThen, Later
    from bolewalk.planting.lines import PlantingLine, WaterCard
    from bolewalk.planting.placing import Placing
    from bolewalk.planting.result import Alternative, KindRoom, PlantingResult
    from bolewalk.planting.shade import SpotShade

__all__ = ["planting_json"]

Json = dict[str, Any]
_L_PER_US_GAL = 3.785411784  # exact


def planting_json(
    planting: "PlantingResult | None", survey: Survey, speaker: Speaker
) -> Json | None:
    """Give the planting advice as JSON types.

    Lengths in feet or metres, areas in their squares, water in US gallons or litres, places in
    the survey's grid, money in minor units.
    """
    return None if planting is None else _Writer(survey, speaker).whole(planting)


class _Writer:
    """Turns core units into the survey's, and statements into sentences."""

    def __init__(self, survey: Survey, speaker: Speaker) -> None:
        self._s = survey
        self._speaker = speaker

    def length(self, value_m: float | None) -> float | None:
        return None if value_m is None else to_survey_length(value_m, self._s.units)

    def area(self, value_m2: float) -> float:
        return value_m2 / M_PER_FT**2 if self._s.units == "imperial" else value_m2

    def water(self, value_l: float) -> float:
        return value_l / _L_PER_US_GAL if self._s.units == "imperial" else value_l

    def place(self, xy: tuple[float, float] | None) -> list[float] | None:
        return None if xy is None else [v / self._s.m_per_grid_unit for v in xy]

    def texts(self, statements: Iterable[Statement]) -> list[str]:
        return [self._speaker.text(s) for s in statements]

    def figure(self, f: Figure) -> Json:
        return {
            "value": self.length(f.value), "low": self.length(f.low), "high": self.length(f.high),
            "basis": f.basis, "source": f.source,
        }  # fmt: skip

    def whole(self, p: "PlantingResult") -> Json:
        return {
            "purposes": list(p.plan.purposes),
            "statements": self.texts(p.statements),
            "plants": [self.line(x) for x in p.lines],
            "cost_minor": p.cost_minor,
            "gaps": [
                {"tree": g.tree, "crown": self.area(g.crown_m2), "open": self.area(g.open_m2)}
                for g in p.gaps
            ],
            "rooms": [self.room(r) for r in p.rooms],
            "layouts": [self.layout(x, n == p.used) for n, x in enumerate(p.placings)],
            "fire": [self.fire(kind, f) for kind, f in p.fire],
            "water": self.card(p.water),
            "budget": None if p.budget is None else {
                "allowance_gal": p.budget.allowance_gal, "use_gal": p.budget.use_gal,
                "zones_gal": list(p.budget.zone_use_gal), "within": p.budget.within,
            },
            "later": self.later(p.later),
            "shade": [self.shade(x) for x in p.shade],
            "likeness": [
                {
                    "kind": x.kind, "year": x.year, "height": self.length(x.height_m),
                    "width": self.length(x.width_m), "like": x.like,
                    "text": self._speaker.text(x.said),
                }
                for x in p.likeness
            ],
            "alternatives": [self.alternative(a) for a in p.alternatives],
            "candidates": [self.candidate(c) for c in p.candidates],
        }  # fmt: skip

    def line(self, x: "PlantingLine") -> Json:
        p, t = x.plant, x.plant.taxon
        return {
            "id": p.id, "botanical": t.botanical, "common": t.common, "stock": p.stock,
            "place": self.place(p.place), "by_hand": p.fixed, "replaces": p.replaces or None,
            "why": p.why or None, "cost_minor": p.cost_minor,
            "height": self.figure(t.height_m), "width": self.figure(t.spread_m),
            "hole_width": [self.length(x.hole.width_low_m), self.length(x.hole.width_high_m)],
            "hole_depth": self.length(x.hole.depth_m),
            "flare_above_grade": [
                self.length(x.hole.flare_low_m), self.length(x.hole.flare_high_m),
            ],
            "plant_from": x.plant_on.isoformat(), "stakes_off": x.stakes_off.isoformat(),
            "water_first_year": self.water(x.water_first_year_l), "text": self.texts(x.said),
        }  # fmt: skip

    def room(self, r: "KindRoom") -> Json:
        return {
            "kind": r.kind, "free": self.area(r.room.free_m2), "site": self.area(r.room.site_m2),
            "blocked": [
                {"by": b.why, "area": self.area(b.area_m2), "free_without": self.area(b.alone_m2),
                 "source": b.source}
                for b in r.room.blocked
            ],
        }  # fmt: skip

    def layout(self, x: "Placing", used: bool) -> Json:
        return {
            "spacing_by": x.basis or "crowns", "used": used, "status": x.layout.status,
            "plants": len(x.places), "worth": x.layout.worth, "bound": x.layout.bound,
            "most_worth_first": x.layout.greedy_worth, "gap_pct": x.layout.gap_pct,
            "spots": [
                {"kind": k.taxon.botanical, "place": self.place(xy)}
                for xy, k in zip(x.places, x.kinds, strict=True)
            ],
            "relax": [{"limit": r.name, "have": r.bound, "need": r.to} for r in x.layout.relax],
        }  # fmt: skip

    def fire(self, kind: str, f: "FireSpacing") -> Json:
        return {
            "kind": kind, "ground": self.area(f.ground_m2), "plan": self.area(f.plan_m2),
            "flips": f.flips, "tree_gap": self.length(f.tree_gap_m),
            "tree_gap_across": self.length(f.tree_gap_across_m),
            "rows": [
                {
                    "basis": r.basis, "slope_pct": r.slope_pct, "gap": self.length(r.gap_m),
                    "centres": self.length(r.centres_m), "plants": r.plants_count,
                    "source": r.source,
                }
                for r in f.rows
            ],
            "text": self.texts(f.statements),
        }  # fmt: skip

    def card(self, c: "WaterCard") -> Json:
        return {
            "method": c.ledger.method, "last_year": c.ledger.last_year,
            "years": [self.water(y) for y in c.ledger.years_l],
            "months": [[self.water(m) for m in row] for row in c.ledger.months_l],
            "plants": [
                {"id": i, "common": name, "first_year_months": [self.water(m) for m in row]}
                for i, name, row in c.rows
            ],
            "text": self.texts(c.said),
        }  # fmt: skip

    def later(self, x: "Later") -> Json:
        fast, likely, slow = x.filled
        return {
            "today": self.area(x.today_m2), "gap": self.area(x.gap_m2),
            "gap_filled": {"fast": fast, "likely": likely, "slow": slow},
            "cover_back": x.back_years, "horizon": x.horizon, "sources": list(x.sources),
            "years": [
                {
                    "year": y.year, "kept": self.area(y.kept_m2), "new": self.area(y.new_m2),
                    "new_low": self.area(y.new_low_m2), "new_high": self.area(y.new_high_m2),
                    "cover": self.area(y.cover_m2), "crowns": self.crowns(y.crowns),
                }
                for y in x.years
            ],
        }  # fmt: skip

    def crowns(self, crowns: "Sequence[CrownThen]") -> list[Json]:
        return [
            {
                "id": c.id, "new": c.new, "place": self.place((c.x_m, c.y_m)),
                "radii": [self.length(r) for r in c.radii_m],
                "radius_low": self.length(c.radius_low_m),
                "radius_high": self.length(c.radius_high_m),
                "height": self.length(c.height_m), "height_low": self.length(c.height_low_m),
                "height_high": self.length(c.height_high_m), "base": self.length(c.base_m),
                "alive": c.alive,
            }
            for c in crowns
        ]  # fmt: skip

    def shade(self, x: "SpotShade") -> Json:
        s = x.spot
        return {
            "spot": s.name, "place": self.place(s.at), "month": s.month, "day": s.day,
            "hour": s.hour, "sun_elevation": x.sun.elevation_deg,
            "sun_azimuth": x.sun.azimuth_deg, "first_year": x.first_year,
            "years": [{"year": t.year, "by": list(t.by), "chance": t.chance} for t in x.years],
        }  # fmt: skip

    def alternative(self, a: "Alternative") -> Json:
        return {
            "name": a.name, "removed": list(a.removed), "planted": a.planted_count,
            "cover_today": self.area(a.today_m2),
            "cover": [{"year": y, "area": self.area(v)} for y, v in a.cover_m2],
            "water_first_year": self.water(a.water_l),
            "water_third_year": self.water(a.water_later_l),
            "first_cost_minor": a.first_cost_minor, "cost_20_minor": a.cost_20_minor,
            "cover_back": a.back_years, "horizon": a.horizon, "text": self.texts(a.said),
        }  # fmt: skip

    def candidate(self, c: "Candidate") -> Json:
        return {
            "botanical": c.taxon.botanical, "common": c.taxon.common, "kind": c.taxon.kind,
            "fits": c.fits, "water": c.water, "for": self.texts(c.reasons),
            "against": self.texts(c.against), "breaks": self.texts(c.breaks),
            "origin": c.taxon.origin, "height": self.figure(c.taxon.height_m),
            "width": self.figure(c.taxon.spread_m),
        }  # fmt: skip
