"""The arborist report: what a plan checker asks for, in the order they look for it."""

from collections import Counter
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from bolewalk.impact.fill import fill_told
from bolewalk.impact.limits_told import limits_told
from bolewalk.impact.results import TreeImpact
from bolewalk.impact.thresholds import thresholds
from bolewalk.model.statements import Statement
from bolewalk.model.words import DECISIONS, OWNERS, VERDICTS
from bolewalk.papers.conditions import (
    WayOfWorking,
    decisive,
    nearest_flips,
    ways_data,
    ways_of,
    weightiest,
)
from bolewalk.papers.cut_rows import cut_notes, cut_rows
from bolewalk.papers.drawings import as_data
from bolewalk.papers.front import cautions, common_data, front_rows
from bolewalk.papers.plan_sheet import site_plan
from bolewalk.papers.price import price_data
from bolewalk.papers.questions import not_asked, questions_data
from bolewalk.papers.reading import DASH, Reading, plain_date, stays
from bolewalk.papers.report_more import more_data
from bolewalk.papers.rules_texts import rules_data
from bolewalk.papers.section_drawings import crown_texts, sections_data
from bolewalk.papers.tables import id_width_mm, loss_row, tree_row
from bolewalk.papers.tree_rose import tree_rose
from bolewalk.papers.years import futures_data, phases_data

if TYPE_CHECKING:
    from bolewalk.survey import TreeFinding


__all__ = ["report_data"]


def report_data(reading: Reading) -> dict[str, Any]:
    """Give the whole report as JSON values for its template."""
    f = reading.findings
    s = f.survey
    faults = [p for p in f.problems if p.level == "fault"]
    ways = ways_of(reading, reading.met)
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
        "rule_counts": _rule_counts(reading),
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
        "verdicts": [_verdict(reading, t, ways) for t in reading.met],
        "untouched": [
            {
                "id": t.tree.id, **reading.species(t.tree),
                "zone": reading.speaker.amounts.length(t.impact.zone.radius_m)
                if t.impact.zone else DASH,
                "decision": reading.word("decision", t.tree.decision),
            }
            for t in reading.unmet
        ],
        "ways": ways_data(ways),
        "sections": sections_data(reading, width_mm=176.0),
        "to_remove": [
            {
                "id": t.tree.id, **reading.species(t.tree), "why": t.tree.notes or DASH,
                "works": reading.works_on_removed(t),
            }
            for t in reading.removed
        ],
        "urgent": reading.urgent(),
        "questions": questions_data(reading),
        "not_needed": not_asked(reading),
        "rules": rules_data(reading),
        "rules_l": reading.labels("local_rules"),
        "price": price_data(reading),
        "phases": phases_data(reading),
        "futures": futures_data(reading),
        "defaults": _assumed(reading),
        "methods": _methods(reading),
        "cautions": cautions(reading),
        **more_data(reading),
    }  # fmt: skip


def _verdict_counts(reading: Reading) -> list[dict[str, Any]]:
    out = []
    words = reading.labels("report")
    kept = [t for t in reading.findings.trees if stays(t.tree)]
    for v in (*VERDICTS, None):
        ids = [
            t.tree.id for t in kept
            if (t.impact.verdict.now if t.impact.verdict else None) == v
        ]  # fmt: skip
        if ids:
            label = words["not_judged"] if v is None else reading.word("verdict", v)
            out.append({"mark": v or "none", "label": label, "n": len(ids), "ids": ids})
    if gone := [t.tree.id for t in reading.removed]:
        label = reading.labels("plan")["mark_remove"]
        out.append({"mark": "remove", "label": label, "n": len(gone), "ids": gone})
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


def _rule_counts(reading: Reading) -> list[dict[str, Any]]:
    """Count the trees by what the local rules on file make of them; empty without rules."""
    rules = reading.findings.rules
    if rules is None or not rules.tables:
        return []
    by: dict[str, list[str]] = {}
    for t in rules.trees:
        by.setdefault(t.protection.status, []).append(t.tree)
    return [
        {"label": reading.word("protection", s), "n": len(ids), "ids": ids}
        for s, ids in sorted(by.items())
    ]


def _not_viable(reading: Reading) -> list[str]:
    """Name the trees that are dead, or poor in health and structure both: our reading of what
    is not viable, no source."""
    return [
        t.tree.id for t in reading.findings.trees
        if t.tree.health == "dead" or (t.tree.health == t.tree.structure == "poor")
    ]  # fmt: skip


def _read_first(reading: Reading, faults: int) -> list[str]:
    f = reading.findings
    trees = f.trees
    questions = len({q.fact for t in trees if stays(t.tree) for q in t.impact.questions})
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
    if gone := _not_viable(reading):
        out.append(
            reading.say("viable_says.not_viable", trees_count=len(gone), trees=", ".join(gone))
        )
    out += [reading.say(f"paper.{code}", **{name: n}) for code, name, n in counted if n]
    return out


def _verdict(reading: Reading, t: "TreeFinding", ways: Sequence[WayOfWorking]) -> dict[str, Any]:
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
        "because": reading.texts((*weightiest(v), *_about_fill(reading, impact))) if v else [],
        "conditions": reading.texts(decisive(v)),
        "ways": [w.letter for w in ways if t.tree.id in w.trees],
        "flips_if": reading.texts(nearest_flips(v)) if v else [],
        "missing": reading.texts(impact.missing),
        "notes": reading.texts(impact.zone.notes) if impact.zone else [],
        "questions": [q.fact for q in impact.questions],
        "crown": crown_texts(reading, t),
        "cuts": cut_rows(reading, impact),
        "rose": None,
        "figures": "",
    }
    rose = tree_rose(reading, impact, size_mm=33)
    if rose is not None:
        out["rose"] = as_data(rose, alt=reading.say("plan_alt.rose"))
    return out


def _about_fill(reading: Reading, impact: TreeImpact) -> tuple[Statement, ...]:
    return fill_told(impact.fill, reading.findings.limits or thresholds())


def _assumed(reading: Reading) -> list[str]:
    """Say what was assumed; hours that are not the firm's in one sentence, whatever the tasks."""
    hours = [s for s in reading.findings.defaults if s.code == "price.hours_default"]
    out = reading.texts(tuple(s for s in reading.findings.defaults if s not in hours))
    if hours:
        tasks = ", ".join(reading.word("task", str(dict(s.values)["task"])) for s in hours)
        out.append(reading.say("report_says.hours", tasks=tasks))
    return out


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
    out += reading.texts(limits_told(f.limits or thresholds()))
    out += cut_notes(reading, [t.impact for t in f.trees])
    notes = reading.texts(n for t in f.trees if t.impact.zone for n in t.impact.zone.notes)
    return out + notes
