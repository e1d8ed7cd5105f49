"""The arborist report: what a plan checker asks for, in the order they look for it."""

import math
from collections import Counter
from typing import TYPE_CHECKING, Any

from bolewalk.impact.results import COMPASS, TreeImpact
from bolewalk.model.words import DECISIONS, OWNERS, VERDICTS
from bolewalk.papers.draw.rose import draw_rose
from bolewalk.papers.drawings import as_data, mark_svgs
from bolewalk.papers.plan_sheet import site_plan
from bolewalk.papers.price import price_data
from bolewalk.papers.questions import questions_data
from bolewalk.papers.reading import DASH, Reading, plain_date
from bolewalk.papers.tables import id_width_mm, loss_row, tree_row
from bolewalk.papers.years import futures_data, phases_data

if TYPE_CHECKING:
    from bolewalk.survey import TreeFinding


__all__ = ["cautions", "common_data", "front_rows", "report_data"]

_LEAST_SHOWN_PCT = 0.05  # less would print as 0.0 %
_CAUTIONS = (
    "paper.no_risk_free", "paper.level", "paper.seen", "paper.cautious_roots", "paper.whose",
    "paper.permits",
)  # fmt: skip


def common_data(reading: Reading) -> dict[str, Any]:
    """Give what every paper's template reads: labels, marks, page, running heads."""
    s = reading.findings.survey
    return {
        "lang": reading.speaker.catalogue.language,
        "paper": "us-letter" if s.units == "imperial" else "a4",
        "project": s.name,
        "place": s.place,
        "date": plain_date(s.date),
        "author": s.people.assessor.name if s.people.assessor else "",
        "l": reading.labels("report"),
        "marks": mark_svgs(),
        "compass": list(COMPASS),
        "unit": reading.speaker.amounts.length_unit,
        "trunk_unit": reading.speaker.amounts.trunk_unit,
    }


def report_data(reading: Reading) -> dict[str, Any]:
    """Give the whole report as JSON values for its template."""
    f = reading.findings
    s = f.survey
    faults = [p for p in f.problems if p.level == "fault"]
    return {
        **common_data(reading),
        "title": reading.labels("report")["title"],
        "cover": front_rows(reading),
        "drawings": [
            {
                "title": d.title or d.file, "revision": d.revision or DASH,
                "date": plain_date(d.date), "author": d.author or DASH, "file": d.file,
            }
            for d in s.drawings
        ],
        "verdict_counts": _verdict_counts(reading),
        "decision_counts": _decision_counts(reading),
        "owner_counts": _owner_counts(reading),
        "first": _read_first(reading, len(faults)),
        "faults": [
            {
                "where": ", ".join(
                    str(v) for v in (p.file, p.row, p.field) if v is not None and v != ""
                ),
                "found": DASH if p.value is None else p.value,
                "expected": p.expected,
            }
            for p in faults
        ],
        "id_mm": id_width_mm(reading),
        "tree_rows": [tree_row(reading, t) for t in f.trees],
        "tree_notes": [{"id": t.tree.id, "text": t.tree.notes} for t in f.trees if t.tree.notes],
        "plan": site_plan(reading),
        "loss_rows": [r for t in f.trees if (r := loss_row(reading, t)) is not None],
        "verdicts": [_verdict(reading, t) for t in reading.met],
        "untouched": [
            {
                "id": t.tree.id, **reading.species(t.tree),
                "zone": reading.speaker.amounts.length(t.impact.zone.radius_m)
                if t.impact.zone else DASH,
                "decision": reading.word("decision", t.tree.decision),
            }
            for t in reading.unmet
        ],
        "questions": questions_data(reading),
        "not_needed": reading.texts(n for t in f.trees for n in t.impact.not_needed),
        "price": price_data(reading),
        "phases": phases_data(reading),
        "futures": futures_data(reading),
        "defaults": reading.texts(f.defaults),
        "methods": _methods(reading),
        "cautions": cautions(reading),
    }  # fmt: skip


def front_rows(reading: Reading) -> list[list[str]]:
    """Give the rows of a paper's front: who, for whom, where, when, for what."""
    s, words = reading.findings.survey, reading.labels("report")
    rows = []
    if s.place:
        rows.append([words["place"], s.place])
    a = s.people.assessor
    if a is not None:
        rows.append([words["assessor"], a.name])
        if a.credential:
            code = "credential_until" if a.expires and a.number else "credential"
            if not a.number:
                code = "credential_plain"
            rows.append([
                words["credential"],
                reading.say(f"paper.{code}", credential=a.credential, number=a.number,
                            expires=plain_date(a.expires)),
            ])  # fmt: skip
        if a.contact:
            rows.append([words["contact"], a.contact])
    else:
        rows.append([words["assessor"], DASH])
    client = s.people.client
    rows.append([words["client"], client.name if client else DASH])
    rows += [[_role(reading, p.role), p.name] for p in s.people.others]
    rows.append([words["purpose"], reading.word("purpose", s.purpose)])
    rows.append([words["walked"], plain_date(s.date)])
    rows.append([words["method"], reading.word("method", s.method.root_zone)])
    return rows


def _role(reading: Reading, role: str) -> str:
    word = reading.word("role", role)
    return word[:1].upper() + word[1:]


def cautions(reading: Reading) -> list[str]:
    """Give the sentences that every paper carries."""
    s = reading.findings.survey
    tie = (
        reading.say("paper.drawing_tie", drawings=reading.drawings_named())
        if s.drawings
        else reading.say("paper.no_drawing_tie")
    )
    return [
        reading.say("paper.no_risk_free"),
        reading.say("paper.holds_months", date=plain_date(s.date)),
        tie,
        *(reading.say(code) for code in _CAUTIONS[1:]),
        reading.say("paper.purpose", purpose=reading.word("purpose", s.purpose)),
    ]


def _verdict_counts(reading: Reading) -> list[dict[str, Any]]:
    out = []
    words = reading.labels("report")
    for v in (*VERDICTS, None):
        ids = [
            t.tree.id for t in reading.findings.trees
            if (t.impact.verdict.now if t.impact.verdict else None) == v
        ]  # fmt: skip
        if ids:
            label = words["not_judged"] if v is None else reading.word("verdict", v)
            out.append({"mark": v or "none", "label": label, "n": len(ids), "ids": ids})
    return out


def _decision_counts(reading: Reading) -> list[dict[str, Any]]:
    out = []
    words = reading.labels("report")
    for d in (*DECISIONS, None):
        ids = [t.tree.id for t in reading.findings.trees if t.tree.decision == d]
        if ids:
            label = words["no_decision"] if d is None else reading.word("decision", d)
            out.append({"label": label, "n": len(ids), "ids": ids})
    return out


def _owner_counts(reading: Reading) -> list[dict[str, Any]]:
    counts = Counter(t.tree.owner for t in reading.findings.trees)
    return [
        {
            "label": reading.word("owner", o), "n": counts[o],
            "ids": [t.tree.id for t in reading.findings.trees if t.tree.owner == o],
        }
        for o in OWNERS if counts[o]
    ]  # fmt: skip


def _read_first(reading: Reading, faults: int) -> list[str]:
    f = reading.findings
    trees = f.trees
    questions = len({q.fact for t in trees for q in t.impact.questions})
    counted = (
        ("trees_unlocated", "trees_count", sum(not t.tree.located for t in trees)),
        ("trees_unmeasured", "trees_count", sum(not t.tree.stems_cm for t in trees)),
        ("trees_off_site", "trees_count",
         sum(t.tree.owner in ("neighbour", "shared", "public") for t in trees)),
        ("trees_owner_unknown", "trees_count", sum(t.tree.owner == "unknown" for t in trees)),
        ("questions_open", "questions_count", questions),
        ("faults", "faults_count", faults),
    )  # fmt: skip
    out = [reading.say("paper.trees_assessed", trees_count=len(trees))]
    out += [reading.say(f"paper.{code}", **{name: n}) for code, name, n in counted if n]
    return out


def _verdict(reading: Reading, t: "TreeFinding") -> dict[str, Any]:
    impact = t.impact
    v = impact.verdict
    words = reading.labels("report")
    out: dict[str, Any] = {
        "id": t.tree.id,
        **reading.species(t.tree),
        "mark": v.now if v else "none",
        "verdict": reading.word("verdict", v.now) if v else words["not_judged"],
        "later": reading.word("verdict", v.with_later) if v and v.with_later != v.now else "",
        "later_mark": v.with_later if v else "none",
        "decision": reading.word("decision", t.tree.decision),
        "remove": t.tree.decision == "remove",
        "because": reading.texts(v.because) if v else [],
        "conditions": reading.texts(v.conditions) if v else [],
        "flips_if": reading.texts(v.flips_if) if v else [],
        "missing": reading.texts(impact.missing),
        "notes": reading.texts(impact.zone.notes) if impact.zone else [],
        "questions": [q.fact for q in impact.questions],
        "crown": _crown(reading, impact),
        "cuts": _cuts(reading, impact),
        "rose": None,
        "figures": "",
    }
    if impact.roots is not None and impact.zone is not None:
        now = impact.roots.proposed
        later = impact.roots.with_later
        shown = now if any(now.sectors_pct.values()) else later
        if any(shown.sectors_pct.values()):
            rose = draw_rose(
                shown.sectors_pct, size_mm=33,
                structural_share=impact.zone.structural_radius_m / impact.zone.radius_m
                if impact.zone.radius_m > 0 else None,
                north=reading.labels("plan")["north"],
            )  # fmt: skip
            out["rose"] = as_data(rose, alt=reading.say("plan_alt.rose"))
    return out


def _crown(reading: Reading, impact: TreeImpact) -> list[str]:
    c = impact.crown
    out = []
    if c is not None and c.removed_pct is not None and c.removed_pct >= _LEAST_SHOWN_PCT:
        out.append(reading.say("paper.crown_removed", removed_pct=c.removed_pct))
    if c is None or c.clearance_m is None:
        return out
    if c.clearance_m <= 0:
        return [*out, reading.say("paper.crown_meets")]
    if c.clash_in_years is not None and math.isfinite(c.clash_in_years):
        out.append(reading.say("paper.crown_clear", clearance_m=c.clearance_m))
        years = max(1, round(c.clash_in_years))
        out.append(reading.say("paper.crown_years", years_count=years))
    return out


def _cuts(reading: Reading, impact: TreeImpact) -> list[dict[str, Any]]:
    cut = impact.nearest_cut
    if cut is None:
        return []
    amounts, words = reading.speaker.amounts, reading.labels("report")
    rows = []
    for level, distances in (("keep", cut.keep), ("keep_if", cut.keep_if)):
        cells = [distances.get(c) for c in COMPASS]
        if any(c is not None for c in cells):
            rows.append({
                "label": words[f"level_{level}"],
                "cells": [DASH if c is None else amounts.length_number(c) for c in cells],
            })  # fmt: skip
    return rows


def _methods(reading: Reading) -> list[str]:
    f = reading.findings
    out = []
    if f.survey.method.root_zone_defaulted:
        out.append(reading.say("paper.method_default"))
    by: Counter[tuple[str, str]] = Counter()
    for t in f.trees:
        if t.impact.zone is not None:
            by[t.impact.zone.method, "; ".join(t.impact.zone.sources)] += 1
    for (method, source), n in sorted(by.items()):
        out.append(
            reading.say("paper.source_zone", method=method, source=source or DASH, trees_count=n)
        )
    if by:
        out += [
            reading.say(f"paper.source_{k}") for k in ("roots", "stems", "structural")
        ]  # fmt: skip
    notes = reading.texts(n for t in f.trees if t.impact.zone for n in t.impact.zone.notes)
    return out + notes
