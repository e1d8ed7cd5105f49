"""The return visit on paper: what was known, said, chosen and refused, then and now."""

from collections import Counter
from typing import TYPE_CHECKING, Any

from bolewalk.papers.front import cautions, common_data, front_rows
from bolewalk.papers.reading import DASH, Reading, plain_date

if TYPE_CHECKING:
    from bolewalk.survey import TreeFinding
    from bolewalk.visits.assumptions import Assumed
    from bolewalk.visits.compare import Reading as TreeReading
    from bolewalk.visits.compare import ReturnVisit, TreeReturn
    from bolewalk.visits.record import Choice, Done, EarlierVisit

__all__ = ["choice_text", "done_text", "return_data"]


def return_data(reading: Reading) -> dict[str, Any] | None:
    """Give the paper as JSON values; None where there is no earlier visit."""
    back = reading.findings.returned
    if back is None:
        return None
    words = reading.labels("visit_paper")
    advised = [t for t in back.trees if t.advice is not None and t.standing != "none"]
    lost = [t for t in back.trees if t.state == "not_found"]
    today = {t.tree.id: t for t in reading.findings.trees}
    return {
        **common_data(reading),
        "title": words["title"],
        "v": words,
        "cover": front_rows(reading),
        "urgent": reading.urgent(),
        "visits": [
            *(_visit(reading, v) for v in back.visits),
            {"date": plain_date(back.today), "by": _today_by(reading), "source": words["today"],
             "issue": DASH, "drawings": reading.drawings_named() or DASH},
        ],
        "short": _short(reading, back),
        "notes": reading.texts(back.notes),
        "ended": [_assumed(reading, a) for a in back.assumptions if a.state != "holds"],
        "holds": [_assumed(reading, a) for a in back.assumptions if a.state == "holds"],
        "advice": [_advice(reading, t) for t in advised],
        "unasked": reading.texts(t.advice for t in lost if t.advice and t.standing == "none"),
        "trees": [_tree(reading, t, today.get(t.tree)) for t in back.trees if t.state != "new"],
        "new": [{"id": t.tree, "says": reading.texts(t.match)} for t in back.trees
                if t.state == "new"],
        "cautions": cautions(reading),
    }  # fmt: skip


def _visit(reading: Reading, v: "EarlierVisit") -> dict[str, str]:
    seal = v.issue
    issue = reading.labels("visit_paper")["unsealed"]
    if seal is not None:
        day = seal.at[:10]
        issue = reading.say("visit_says.issue", number=seal.number, day=day)
    return {
        "date": plain_date(v.date),
        "by": v.assessor or DASH,
        "source": v.source,
        "issue": issue,
        "hash": "" if seal is None else seal.sha256,
        "drawings": "; ".join(d.label for d in v.drawings) or DASH,
    }


def _today_by(reading: Reading) -> str:
    a = reading.findings.survey.people.assessor
    return DASH if a is None else a.name


def _short(reading: Reading, back: "ReturnVisit") -> list[str]:
    states = Counter(t.state for t in back.trees)
    standing = Counter(t.standing for t in back.trees)
    out = [
        reading.say(
            "visit_says.compared", today=plain_date(back.today), then=plain_date(back.then.date)
        )
    ]
    counted = [
        ("found", "trees_count", states["same"] + states["doubtful"]),
        *((s, "trees_count", states[s]) for s in ("doubtful", "new", "not_found")),
        *((s, "advice_count", standing[s])
          for s in ("followed", "refused", "postponed", "overdue", "open")),
        ("expired", "things_count", sum(a.state != "holds" for a in back.assumptions)),
    ]  # fmt: skip
    return out + [reading.say(f"visit_says.{k}", **{name: n}) for k, name, n in counted if n]


def _assumed(reading: Reading, a: "Assumed") -> dict[str, Any]:
    return {"says": reading.speaker.text(a.says), "trees": list(a.trees)}


def _advice(reading: Reading, t: "TreeReturn") -> dict[str, Any]:
    assert t.then is not None
    assert t.advice is not None
    return {
        "id": t.tree or t.was,
        "was": t.was if t.tree and t.was != t.tree else "",
        "name": reading.species(t.then.tree)["name"],
        "standing": reading.word("standing", t.standing),
        "says": reading.speaker.text(t.advice),
        "choice": "" if t.choice is None else choice_text(reading, t.choice),
        "done": [done_text(reading, d) for d in t.done],
    }


def choice_text(reading: Reading, c: "Choice") -> str:
    """Say what was chosen, by whom, when, why."""
    code = "choice_reason" if c.reason else "choice"
    return reading.say(
        f"visit_says.{code}", choice=c.choice, by=c.by, day=plain_date(c.date), reason=c.reason
    )


def done_text(reading: Reading, d: "Done") -> str:
    """Say what was done, when, by whom."""
    said = reading.say(
        "visit_says.done_by" if d.by else "visit_says.done", act_done=d.act,
        day=plain_date(d.date), by=d.by,
    )  # fmt: skip
    return f"{said}: {d.note}" if d.note else said


def _tree(reading: Reading, t: "TreeReturn", now: "TreeFinding | None") -> dict[str, Any]:
    then = t.then
    assert then is not None
    kind = (then if now is None else now).tree
    return {
        "id": t.tree or t.was,
        "was": t.was if t.tree and t.was != t.tree else "",
        **reading.species(kind),
        "state": "" if t.state == "same" else reading.word("match", t.state),
        "match": reading.texts(t.match),
        "readings": [_reading(reading, r) for r in t.readings],
        "changes": reading.texts((*t.changes, *t.verdict)),
        "advice": "" if t.advice is None else reading.speaker.text(t.advice),
        "notes_then": then.tree.notes,
        "notes_now": "" if now is None else now.tree.notes,
        "because": [*then.because[:2], *then.reasons],
        "done": [done_text(reading, d) for d in t.done],
    }


def _reading(reading: Reading, r: "TreeReading") -> dict[str, str]:
    amounts = reading.speaker.amounts
    trunk = DASH if r.trunk_cm is None else amounts.trunk_number(r.trunk_cm)
    return {
        "date": plain_date(r.date),
        "trunk": trunk,
        "height": DASH if r.height_m is None else amounts.length_number(r.height_m),
        "crown": DASH if r.crown_m is None else amounts.length_number(r.crown_m),
        "health": r.health or DASH,
        "structure": r.structure or DASH,
        "decision": reading.word("decision", r.decision),
        "verdict": reading.word("verdict_short", r.verdict),
    }
