"""The draft of a walk as plain values for JSON."""

from typing import Any

from bolewalk.model.trees import Species
from bolewalk.walk.draft import Draft, DraftTree, Measure
from bolewalk.walk.sentences import Moment

__all__ = ["draft_json"]


def draft_json(draft: Draft) -> dict[str, Any]:
    """Give the draft as dictionaries, lists, texts and numbers.

    Times in seconds from the start of the first recording, numbers as said, missing = null.
    Keys beyond those of the tree table: `read_back` (numbers to be asked about), `leftovers`,
    `speakers`, `region`.
    """
    return {
        "duration": draft.duration_s,
        "trees": [_tree(t) for t in draft.trees],
        "plantings": [
            {"species": _species(p.species), "moments": _moments(p.moments)}
            for p in draft.plantings
        ],
        "works": [{"kind": w.kind, "moments": _moments(w.moments)} for w in draft.works],
        "questions": [{"about": q.about, "moments": _moments(q.moments)} for q in draft.questions],
        "costs": [
            {
                "amount": c.amount, "currency": c.currency or None, "trees": list(c.trees),
                "first_said": c.first, "moments": [_moment(c.moment)],
            }
            for c in draft.costs
        ],
        "hazards": [
            {"kind": h.kind, "urgent": h.urgent, "moments": _moments(h.moments)}
            for h in draft.hazards
        ],
        "unplaced": [
            {"species": _species(u.species), "why": u.why, "moments": [_moment(u.moment)]}
            for u in draft.unplaced
        ],
        "read_back": [
            {"ask": r.ask, "tree": r.tree, "moments": _moments(r.moments)} for r in draft.read_backs
        ],
        "leftovers": {
            "unassessed": list(draft.leftovers.unassessed),
            "promises": _moments(draft.leftovers.promises),
            "prices": [
                {"amount": c.amount, "moments": [_moment(c.moment)]} for c in draft.leftovers.prices
            ],
            "warnings": [
                {"kind": h.kind, "moments": _moments(h.moments)} for h in draft.leftovers.warnings
            ],
        },
        "speakers": list(draft.speakers),
        "region": draft.region,
    }  # fmt: skip


def _tree(tree: DraftTree) -> dict[str, Any]:
    return {
        "id": tree.id,
        "species": _species(tree.species),
        "first_names": list(tree.first_names),
        "said_number": tree.said_number or None,
        "count": tree.count,
        "count_first": tree.count_first,
        "decision": tree.decision,
        "decision_moments": _moments(tree.decision_moments),
        "decisions_before": list(tree.decisions_before),
        "reasons": list(tree.reasons),
        "measures": [_measure(m) for m in tree.measures],
        "owner": tree.owner,
        "moments": _moments(tree.moments),
    }


def _measure(m: Measure) -> dict[str, Any]:
    return {
        "what": m.what,
        "value": m.value,
        "unit": m.unit,
        "unit_said": m.unit_said,
        "ambiguous": m.ambiguous,
        "readings": [{"value": v, "unit": u} for v, u in m.readings],
        "first_said": m.first_said or None,
        "start": m.moment.start,
        "end": m.moment.end,
        "said": m.moment.said,
    }


def _species(species: Species) -> dict[str, Any]:
    return {
        "botanical": species.botanical,
        "common": species.common,
        "as_heard": species.as_heard,
        "confidence": species.confidence,
        "alternatives": list(species.alternatives),
    }


def _moments(moments: tuple[Moment, ...]) -> list[dict[str, Any]]:
    return [_moment(m) for m in moments]


def _moment(moment: Moment) -> dict[str, Any]:
    return {"start": moment.start, "end": moment.end, "said": moment.said}
