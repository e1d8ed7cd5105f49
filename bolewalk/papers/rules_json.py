"""The rules' part of findings.json: each tree's protection, and the cautions of the whole."""

from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

from bolewalk.model.statements import Statement
from bolewalk.model.units import UnitSystem, to_survey_length, to_survey_trunk
from bolewalk.papers.language import Speaker
from bolewalk.rules.protection import reading_says

if TYPE_CHECKING:
    from bolewalk.rules.consent import TreeConsent
    from bolewalk.rules.dates import ActDate
    from bolewalk.rules.findings import RuleFindings, TreeRules
    from bolewalk.rules.protection import RuleStatus

__all__ = ["cautions_json", "protection_json"]

Json = dict[str, Any]


def protection_json(
    rules: "RuleFindings | None", tree: str, speaker: Speaker, *, units: UnitSystem
) -> Json | None:
    """Give what the rules say of one tree; None where they were not consulted. Trunks in inches
    or centimetres, lengths in feet or metres."""
    found = None if rules is None else rules.of(tree)
    if found is None:
        return None
    return {
        "status": found.protection.status,
        "text": _texts(found.protection.says, speaker),
        "rules": [_rule(s, speaker, units) for s in found.protection.rules],
        "questions": _texts(found.asks, speaker),
        "acts": list(found.acts),
        "dates": [_date(d, speaker) for d in found.dates],
        "consent": _consent(found.consent, speaker, units),
        "fire": [
            {"citation": a.rule.citation, "asks": a.rule.asks, "text": speaker.text(a.says)}
            for a in found.fire
        ],
        "notes": _texts(found.says, speaker),
        "cautions": _texts(found.cautions, speaker),
        "conflicts": _conflicts(rules, found, speaker),
        "permits": list(found.permits),
    }


def cautions_json(rules: "RuleFindings | None", speaker: Speaker) -> Json | None:
    """Give what concerns the site as a whole; None where the rules were not consulted.

    `urgent` heads every paper, `always` stands on every paper.
    """
    if rules is None:
        return None
    return {
        "urgent": _texts(rules.urgent, speaker),
        "site": _texts(rules.cautions, speaker),
        "always": _texts(rules.always, speaker),
        "duties": _texts(rules.duties, speaker),
        "deposit": _texts(rules.deposit, speaker),
        "conflicts": [
            {"tree": c.tree, "kind": c.kind, "text": speaker.text(c.says)} for c in rules.conflicts
        ],
        "tables": [
            {
                "file": t.file, "place": t.place or None, "source": t.source or None,
                "checked": t.checked.isoformat() if t.place else None,
                "version": t.version or None, "example": t.example,
                "rules": len(t.rules), "left_out": {k: list(v) for k, v in t.left_out.items()},
            }
            for t in rules.tables
        ],
    }  # fmt: skip


def _texts(statements: Iterable[Statement], speaker: Speaker) -> list[str]:
    return [speaker.text(s) for s in statements]


def _rule(s: "RuleStatus", speaker: Speaker, units: UnitSystem) -> Json:
    rule, cm = s.rule, None if s.threshold_cm is None else to_survey_trunk(s.threshold_cm, units)
    return {
        "rule": rule.id, "place": rule.place, "citation": rule.citation,
        "checked": rule.checked.isoformat(), "acts": list(rule.acts), "status": s.status,
        "because": _texts(s.because, speaker), "notes": _texts(s.says, speaker),
        "threshold": cm, "deciding": s.deciding, "heritage": s.heritage,
        "readings": {
            r.name: {
                "size": to_survey_trunk(r.size_cm, units),
                "over": to_survey_trunk(r.over_cm, units),
                "meets": r.meets, "decides": r.decides,
            }
            for r in s.readings
        },
        "readings_text": _texts(reading_says(s), speaker),
        "permit": None if rule.permit is None else {
            "from": rule.permit.body, "fee_minor": rule.permit.fee_minor,
            "wait_days": rule.permit.wait_days, "author": rule.permit.author or None,
        },
        "replacement": None if rule.replacement is None else {
            "ratio": rule.replacement.ratio, "stock": rule.replacement.stock or None,
        },
        "bond": None if rule.bond is None else {
            "years": rule.bond.years, "amount_minor": rule.bond.amount_minor,
        },
    }  # fmt: skip


def _date(d: "ActDate", speaker: Speaker) -> Json:
    return {
        "act": d.act,
        "earliest": None if d.earliest is None else d.earliest.isoformat(),
        "decided_by": None if d.decided_by is None else speaker.text(d.decided_by),
        "waits": [{"until": w.until.isoformat(), "text": speaker.text(w.says)} for w in d.waits],
        "open": _texts(d.open, speaker),
    }


def _consent(c: "TreeConsent", speaker: Speaker, units: UnitSystem) -> Json:
    line = c.line
    return {
        "owner": c.owner,
        "signers": [
            {"as": s.party, "name": s.name or None, "signed": list(s.signed)} for s in c.signers
        ],
        "blocked": {act: speaker.text(why) for act, why in c.blocks.items()},
        "text": _texts(c.says, speaker),
        "meanwhile": _texts(c.meanwhile, speaker),
        "line": None if line is None else {
            "on": line.on, "share_beyond_pct": line.share_beyond_pct,
            "gap": to_survey_length(line.gap_m, units),
            "years_to_line": line.years_to_line, "surveyed": line.surveyed, "line": line.line,
        },
    }  # fmt: skip


def _conflicts(rules: "RuleFindings | None", found: "TreeRules", speaker: Speaker) -> list[str]:
    every = () if rules is None else rules.conflicts
    return [speaker.text(c.says) for c in every if c.tree == found.tree]
