"""findings.json: everything computed, unrounded, for outside readers.

Lengths in the survey's units (feet or metres), trunks in inches or centimetres, shares in
percent, money in minor units; what is missing is null. Sentences are in English; beside them
stand the codes and values they were made of.
"""

import json
import math
from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

from bolewalk.impact.results import CrownClash, FillOver, NearestCut, RootLoss, TreeImpact
from bolewalk.impact.thresholds import Thresholds, thresholds
from bolewalk.model.figures import Figure
from bolewalk.model.statements import Statement
from bolewalk.model.survey import Person, Survey
from bolewalk.model.trees import Tree
from bolewalk.model.units import (
    M_PER_FT,
    length_unit,
    to_survey_length,
    to_survey_trunk,
    trunk_unit,
)
from bolewalk.model.works import Work
from bolewalk.papers.language import Speaker
from bolewalk.papers.planting_json import planting_json
from bolewalk.papers.price_json import price_json, tree_work_json
from bolewalk.papers.rules_json import cautions_json, protection_json
from bolewalk.papers.visits_json import visits_json
from bolewalk.papers.years_json import futures_json, phases_json

if TYPE_CHECKING:
    from bolewalk.survey import Findings, TreeFinding

__all__ = ["findings_data", "findings_json"]

Json = dict[str, Any]


def findings_json(findings: "Findings", speaker: Speaker) -> bytes:
    """Write findings.json: keys sorted, UTF-8, one line end at the end."""
    data = findings_data(findings, speaker)
    text = json.dumps(_finite(data), ensure_ascii=False, sort_keys=True, indent=1, allow_nan=False)
    # A lone surrogate has no UTF-8; its JSON escape says the same.
    return (text + "\n").encode("utf-8", "backslashreplace")


def findings_data(findings: "Findings", speaker: Speaker) -> Json:
    """Give the content of findings.json as JSON types."""
    w = _Writer(findings.survey, speaker)
    return {
        "survey": w.survey(findings.limits or thresholds()),
        "trees": [w.tree(t, findings) for t in findings.trees],
        "works": [w.work(x) for x in findings.survey.works],
        "price": price_json(findings.price, speaker),
        "planting": planting_json(findings.planting, findings.survey, speaker),
        "phases": phases_json(findings.phases, speaker),
        "futures": futures_json(findings.futures, speaker),
        "cautions": cautions_json(findings.rules, speaker),
        "earlier": visits_json(findings.returned, speaker, units=findings.survey.units),
        "problems": [p.as_dict() for p in findings.problems],
        "defaults": [w.spoken(d) for d in findings.defaults],
    }


class _Writer:
    """Turns core units into the survey's, and statements into sentences."""

    def __init__(self, survey: Survey, speaker: Speaker) -> None:
        self._s = survey
        self._speaker = speaker

    def length(self, value_m: float | None) -> float | None:
        return None if value_m is None else to_survey_length(value_m, self._s.units)

    def trunk(self, value_cm: float | None) -> float | None:
        return None if value_cm is None else to_survey_trunk(value_cm, self._s.units)

    def grid(self, value_m: float | None) -> float | None:
        return None if value_m is None else value_m / self._s.m_per_grid_unit

    def texts(self, statements: Iterable[Statement]) -> list[str]:
        return [self._speaker.text(s) for s in statements]

    def spoken(self, s: Statement) -> Json:
        return {"text": self._speaker.text(s), "code": s.code, "values": dict(s.values)}

    def codes(self, statements: Iterable[Statement]) -> list[Json]:
        return [{"code": s.code, "values": dict(s.values)} for s in statements]

    def survey(self, limits: Thresholds) -> Json:
        s = self._s
        return {
            "name": s.name, "place": s.place or None, "date": s.date.isoformat(),
            "units": s.units, "length_unit": length_unit(s.units),
            "trunk_unit": trunk_unit(s.units), "crs": s.crs, "purpose": s.purpose,
            "people": {
                "assessor": _person(s.people.assessor),
                "client": _person(s.people.client),
                "others": [_person(p) for p in s.people.others],
            },
            "method": {
                "root_zone": s.method.root_zone,
                "root_zone_defaulted": s.method.root_zone_defaulted,
                "growth_region": s.method.growth_region,
                "cut_length": self.length(s.method.cut_length_m),
                "cut_bearings": s.method.cut_bearings, "limits": _limits(limits),
            },
            "site": {
                "slope_pct": s.site.slope_pct, "slope_bearing": s.site.slope_bearing_deg,
                "carry": self.length(s.site.carry_m), "gate": self.length(s.site.gate_m),
            },
            "drawings": [
                {
                    "file": d.file, "title": d.title or None, "revision": d.revision or None,
                    "date": None if d.date is None else d.date.isoformat(),
                    "author": d.author or None,
                }
                for d in s.drawings
            ],
        }  # fmt: skip

    def work(self, w: Work) -> Json:
        return {
            "id": w.id, "kind": w.kind, "label": w.label or None, "phase": w.phase,
            "present": w.present, "basis": w.basis, "offset": self.length(w.offset_m),
            "depth": self.length(w.depth_m.value if w.depth_m else None),
            "width": self.length(w.width_m), "diameter": self.length(w.diameter_m),
            "made": w.made, "founded": w.founded if w.kind == "building" else None,
            "low": self.length(w.low_m), "high": self.length(w.high_m),
            "clearance": self.length(w.clearance_m),
            "file": w.file or None, "ref": w.ref or None, "layer": w.layer or None,
            "drawing": w.drawing or None,
            "parts": [
                {
                    "shape": p.shape,
                    "coordinates": [[self.grid(x), self.grid(y)] for x, y in p.ring],
                    "holes": [[[self.grid(x), self.grid(y)] for x, y in h] for h in p.holes],
                }
                for p in w.parts
            ],
        }  # fmt: skip

    def tree(self, t: "TreeFinding", findings: "Findings") -> Json:
        tree, impact = t.tree, t.impact
        s = tree.species
        return {
            "tree": tree.id,
            "species": {
                "botanical": s.botanical, "common": s.common, "as_heard": s.as_heard,
                "confidence": s.confidence, "alternatives": list(s.alternatives),
            },
            "position": None if not tree.located else [self.grid(tree.x_m), self.grid(tree.y_m)],
            "diameter": self._diameter(t),
            "height": self.length(tree.height_m.value if tree.height_m else None),
            "crown_base": self.length(tree.crown_base_m.value if tree.crown_base_m else None),
            "flare": self.trunk(tree.flare_cm.value if tree.flare_cm else None),
            "age": tree.age, "health": tree.health, "structure": tree.structure,
            "owner": tree.owner, "form": tree.form, "tag": tree.tag or None,
            "photo": tree.photo or None, "tolerance": tree.tolerance,
            "access": tree.access or None, "failure": tree.failure or None,
            "impact": tree.impact or None, "consequence": tree.consequence or None,
            "measured_at": self.length(tree.measured_at_m), "notes": tree.notes or None,
            "zone": self._zone(impact),
            "roots": None if impact.roots is None else {
                "existing": self._loss(impact.roots.existing),
                "proposed": self._loss(impact.roots.proposed),
                "with_later": self._loss(impact.roots.with_later),
            },
            "nearest_allowed_cut": self._cut(impact.nearest_cut),
            "fill": self._fill(impact.fill),
            "crown": self._crown(tree, impact.crown),
            "verdict": self._verdict(impact),
            "questions": [
                {
                    "fact": q.fact, "ask": self._speaker.text(q.ask), "ask_code": q.ask.code,
                    "of": q.of, "flips": q.flips,
                    "flips_error": q.flips_error,
                    "only_with": None if q.only_with is None else self.texts(q.only_with),
                    "if": [
                        {"answer": self._speaker.text(a.answer), "verdict": a.verdict}
                        for a in q.answers
                    ],
                }
                for q in impact.questions
            ],
            "not_needed": self.texts(impact.not_needed),
            "missing": self.texts(impact.missing),
            "defaults": self.texts(impact.defaults),
            "protection": protection_json(
                findings.rules, tree.id, self._speaker, units=self._s.units
            ),
            "decision": _decision(t),
            "work": tree_work_json(findings.price, tree.id, self._speaker),
            "sources": self._sources(tree, impact),
        }  # fmt: skip

    def _diameter(self, t: "TreeFinding") -> Json | None:
        if t.diameters is None:
            return None
        zone, d = t.impact.zone, t.diameters
        by_method = zone.diameter_cm if zone is not None else None
        names = ("equal_area", "sum", "largest_plus_half_of_rest", "largest_plus_mean_of_rest",
                 "two_largest")  # fmt: skip
        return {
            "combined": self.trunk(d.equal_area if by_method is None else by_method),
            "stems": [self.trunk(f.value) for f in t.tree.stems_cm],
            "readings": {n: self.trunk(getattr(d, n)) for n in names},
        }

    def _zone(self, impact: TreeImpact) -> Json | None:
        z = impact.zone
        return None if z is None else {
            "method": z.method, "radius": self.length(z.radius_m),
            "structural_radius": self.length(z.structural_radius_m),
            "structural_by": z.structural_by, "area": self._area(z.area_m2),
            "outline": None if z.outline_m is None else [self.length(r) for r in z.outline_m],
            "notes": self.texts(z.notes), "sources": list(z.sources),
        }  # fmt: skip

    def _area(self, value_m2: float) -> float:
        return value_m2 / M_PER_FT**2 if self._s.units == "imperial" else value_m2

    def _loss(self, r: RootLoss) -> Json:
        return {
            "overlap_pct": r.overlap_pct, "severed_pct": r.severed_pct,
            "severed_by_depth_pct": r.severed_by_depth_pct, "covered_pct": r.covered_pct,
            "nearest_cut": self.length(r.nearest_cut_m),
            "widest_clear_arc_deg": r.widest_clear_arc_deg,
            "best_half_severed_pct": r.best_half_severed_pct,
            "best_half_bearing": r.best_half_bearing,
            "severed_pct_range": list(r.severed_pct_range),
            "sectors_pct": dict(r.sectors_pct),
        }  # fmt: skip

    def _cut(self, c: NearestCut | None) -> Json | None:
        return None if c is None else {
            "keep": {b: self.length(v) for b, v in c.keep.items()},
            "keep_if": {b: self.length(v) for b, v in c.keep_if.items()},
            "limit": {"keep": dict(c.limit_keep), "keep_if": dict(c.limit_keep_if)},
            "band": self.length(c.band_m),
            "span": {
                level: {b: [self.length(d) for d in span] for b, span in spans.items()}
                for level, spans in (("keep", c.keep_span), ("keep_if", c.keep_if_span))
            },
            "tape": None if not c.tape_times else {
                level: {b: self.length(_taped(d, c.tape_times[b])) for b, d in by.items()}
                for level, by in (("keep", c.keep), ("keep_if", c.keep_if))
            },
            "notes": self.texts(c.notes),
        }  # fmt: skip

    def _fill(self, f: FillOver | None) -> Json | None:
        return None if f is None else {
            "works": list(f.works), "area": self._area(f.area_m2), "at_trunk": list(f.at_trunk),
            "in_place": self._volume(f.in_place_m3), "loose": self._volume(f.loose_m3),
            "loads": f.loads,
        }  # fmt: skip

    def _volume(self, value_m3: float | None) -> float | None:
        """Give soil in cubic yards or cubic metres, as it is bought and hauled."""
        if value_m3 is None or self._s.units == "metric":
            return value_m3
        return value_m3 / (3 * M_PER_FT) ** 3

    def _crown(self, tree: Tree, c: CrownClash | None) -> Json | None:
        if c is None:
            return None
        volume = c.volume_m3
        if volume is not None and self._s.units == "imperial":
            volume = volume / M_PER_FT**3
        return {
            "volume": volume, "removed_pct": c.removed_pct,
            "clearance": self.length(c.clearance_m), "clash_in_years": c.clash_in_years,
            "lowest_clash": self.length(c.lowest_clash_m), "sides": list(c.sides),
            "thickest_limb": self.trunk(c.thickest_limb_cm),
            "radii": None if tree.crown is None else [self.length(r) for r in tree.crown.radii_m],
        }  # fmt: skip

    def _verdict(self, impact: TreeImpact) -> Json | None:
        v = impact.verdict
        return None if v is None else {
            "now": v.now, "with_later": v.with_later,
            "because": self.texts(v.because), "flips_if": self.texts(v.flips_if),
            "conditions": self.texts(v.conditions), "drawings": list(v.drawings),
            "codes": {
                "because": self.codes(v.because), "flips_if": self.codes(v.flips_if),
                "conditions": self.codes(v.conditions),
            },
        }  # fmt: skip

    def _sources(self, tree: Tree, impact: TreeImpact) -> Json:
        return {
            "diameter": [self._figure(f, self.trunk) for f in tree.stems_cm],
            "height": self._figure(tree.height_m, self.length),
            "crown_base": self._figure(tree.crown_base_m, self.length),
            "crown": self._figure(tree.crown.basis if tree.crown else None, self.length),
            "flare": self._figure(tree.flare_cm, self.trunk),
            "zone": list(impact.zone.sources) if impact.zone else [],
            "row": tree.row,
        }

    @staticmethod
    def _figure(f: Figure | None, unit: Any) -> Json | None:
        return None if f is None else {
            "value": unit(f.value), "low": unit(f.low), "high": unit(f.high), "basis": f.basis,
            "source": f.source or None, "as_entered": f.as_entered, "start": f.start_s,
        }  # fmt: skip


def _limits(limits: Thresholds) -> Json:
    """Name the packaged limits by their version, and the rows a file sets over them."""
    own = limits.own
    return {
        "version": limits.version,
        "file": own.file if own else None, "file_version": own.version if own else None,
        "source": own.source if own else None,
        "rows": [
            {"key": r.key, "value": r.value, "unit": r.unit, "source": r.source,
             "provenance": r.provenance, "method": r.method, "age": r.age}
            for r in (own.rows if own else ())
        ],
    }  # fmt: skip


def _taped(plan_m: float | None, times: float) -> float | None:
    return None if plan_m is None else plan_m * times


def _decision(t: "TreeFinding") -> Json:
    said = t.said
    return {
        "word": t.tree.decision,
        "reasons": [] if said is None else list(said.reasons),
        "moments": []
        if said is None
        else [{"start": m.start, "end": m.end, "said": m.said} for m in said.decision_moments],
        "heard_as": None if said is None else said.id,
    }


def _person(p: Person | None) -> Json | None:
    return None if p is None else {
        "name": p.name, "role": p.role, "credential": p.credential or None,
        "number": p.number or None, "contact": p.contact or None,
        "expires": None if p.expires is None else p.expires.isoformat(),
    }  # fmt: skip


def _finite(value: Any) -> Any:
    """Give JSON types with what is no number (never, unbounded) as null."""
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    if isinstance(value, dict):
        return {k: _finite(v) for k, v in value.items()}
    if isinstance(value, list | tuple):
        return [_finite(v) for v in value]
    return value
