"""The return visit in findings.json: trees then and now, advice, assumptions."""

from typing import TYPE_CHECKING, Any

from bolewalk.model.units import UnitSystem, to_survey_length, to_survey_trunk
from bolewalk.papers.language import Speaker

if TYPE_CHECKING:
    from bolewalk.visits.compare import Reading, ReturnVisit, TreeReturn

__all__ = ["visits_json"]

Json = dict[str, Any]


def visits_json(back: "ReturnVisit | None", speaker: Speaker, *, units: UnitSystem) -> Json | None:
    """Give the return visit; None where there is no earlier visit. Lengths in feet or metres,
    trunks in inches or centimetres."""
    if back is None:
        return None
    return {
        "today": back.today.isoformat(),
        "visits": [
            {
                "source": v.source, "date": v.date.isoformat(), "name": v.name or None,
                "assessor": v.assessor or None,
                "issue": None if v.issue is None else {
                    "number": v.issue.number, "title": v.issue.title, "at": v.issue.at,
                    "who": v.issue.who, "sha256": v.issue.sha256,
                },
            }
            for v in back.visits
        ],
        "notes": [speaker.text(n) for n in back.notes],
        "trees": [_tree(t, speaker, units) for t in back.trees],
        "assumptions": [
            {"state": a.state, "trees": list(a.trees), "text": speaker.text(a.says),
             "code": a.says.code, "values": dict(a.says.values)}
            for a in back.assumptions
        ],
    }  # fmt: skip


def _tree(t: "TreeReturn", speaker: Speaker, units: UnitSystem) -> Json:
    return {
        "tree": t.tree or None, "was": t.was or None, "state": t.state,
        "match": [speaker.text(s) for s in t.match],
        "readings": [_reading(r, units) for r in t.readings],
        "changes": [
            {"text": speaker.text(s), "code": s.code, "values": dict(s.values)}
            for s in (*t.changes, *t.verdict)
        ],
        "standing": t.standing,
        "advice": None if t.advice is None else speaker.text(t.advice),
        "choice": None if t.choice is None else {
            "choice": t.choice.choice, "by": t.choice.by, "date": t.choice.date.isoformat(),
            "until": None if t.choice.until is None else t.choice.until.isoformat(),
            "reason": t.choice.reason or None, "how": t.choice.how or None,
        },
        "done": [
            {"act": d.act, "date": d.date.isoformat(), "by": d.by or None, "note": d.note or None}
            for d in t.done
        ],
        "then": None if t.then is None else {
            "verdict": t.then.verdict, "with_later": t.then.verdict_later,
            "because": list(t.then.because), "conditions": list(t.then.conditions),
            "reasons": list(t.then.reasons), "decision": t.then.tree.decision,
            "notes": t.then.tree.notes or None,
        },
    }  # fmt: skip


def _reading(r: "Reading", units: UnitSystem) -> Json:
    def length(value: float | None) -> float | None:
        return None if value is None else to_survey_length(value, units)

    return {
        "date": r.date.isoformat(), "stems": r.stems,
        "trunk": None if r.trunk_cm is None else to_survey_trunk(r.trunk_cm, units),
        "height": length(r.height_m), "crown": length(r.crown_m), "health": r.health,
        "structure": r.structure, "decision": r.decision, "verdict": r.verdict,
    }  # fmt: skip
