"""Assumptions of an earlier visit: which have run out, which today's survey contradicts."""

import calendar
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Literal

from bolewalk.model.statements import Statement, say
from bolewalk.model.survey import Survey
from bolewalk.model.works import Work
from bolewalk.visits.earlier_json import default_key
from bolewalk.visits.record import Assumption, EarlierVisit

__all__ = ["Assumed", "AssumedState", "assumptions_now", "default_keys", "months_later"]

AssumedState = Literal["expired", "ended", "holds"]
_HOLDS_MONTHS = 12
"""How long observations are said to hold on every paper (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Assumed:
    """One assumption and what it is today. expired: its day has passed; ended: it is known to
    hold no longer; holds: neither. `trees` are those it was made for, none = the whole site."""

    state: AssumedState
    says: Statement
    trees: tuple[str, ...] = ()


def default_keys(defaults: Iterable[Statement]) -> frozenset[str]:
    """Give the keys by which values nobody gave are known again at the next visit."""
    return frozenset(default_key(d.code, dict(d.values)) for d in defaults)


def months_later(day: date, months: int) -> date:
    """Give the same day some months on, the last of a month that has none such; no later than
    the calendar's last day."""
    year, month = divmod(day.year * 12 + day.month - 1 + months, 12)
    if year > date.max.year:
        return date.max
    last = calendar.monthrange(year, month + 1)[1]
    return date(year, month + 1, min(day.day, last))


def assumptions_now(
    then: EarlierVisit,
    survey: Survey,
    noted: Sequence[Assumption],
    *,
    defaults: Collection[str],
    asked: Sequence[str],
) -> tuple[Assumed, ...]:
    """Hold the assumptions of an earlier visit against today.

    Parameters
    ----------
    then : EarlierVisit
    survey : Survey
        Its date is today.
    noted : sequence of Assumption
        Those written down, with their days.
    defaults : collection of str
        Keys of the values nobody gave today (`default_keys`).
    asked : sequence of str
        Facts still open today.

    Returns
    -------
    tuple of Assumed
        ended first, then expired, then what holds; within each in this order: those noted, the
        papers' own term, price and credential, drawings, works, values nobody gave, questions.
    """
    today = survey.date
    found = [_noted(a, today) for a in noted]
    found += _terms(then, today)
    found += _drawings(then, survey)
    found += _works(then, survey.works)
    for key, text in then.defaults.items():
        still = key in defaults
        code = "default_stays" if still else "default_gone"
        found.append(Assumed("holds" if still else "ended", say(f"visit.{code}", text=text)))
    open_then: dict[tuple[str, str], list[str]] = {}
    for t in then.trees:
        for question in t.asked:
            open_then.setdefault(question, []).append(t.tree.id)
    for (fact, ask), trees in open_then.items():
        still = fact in asked
        state: AssumedState = "holds" if still else "ended"
        code = "question_open" if still else "question_closed"
        found.append(Assumed(state, say(f"visit.{code}", ask=ask), tuple(trees)))
    order = ("ended", "expired", "holds")
    return tuple(sorted(found, key=lambda a: order.index(a.state)))


def _noted(a: Assumption, today: date) -> Assumed:
    text = {"text": a.text}
    if a.ended is not None and a.ended <= today:
        said = say("visit.assumption_ended", **text, day=a.ended.isoformat())
        return Assumed("ended", said, a.trees)
    if a.until is None:
        return Assumed("holds", say("visit.assumption_undated", **text), a.trees)
    day = a.until.isoformat()
    if a.until < today:
        return Assumed("expired", say("visit.assumption_expired", **text, day=day), a.trees)
    return Assumed("holds", say("visit.assumption_holds", **text, day=day), a.trees)


def _terms(then: EarlierVisit, today: date) -> list[Assumed]:
    terms = [("report", months_later(then.date, _HOLDS_MONTHS))]
    if then.price_until is not None:
        terms.append(("price", then.price_until))
    if then.credential_until is not None:
        terms.append(("credential", then.credential_until))
    return [
        Assumed(
            "expired" if day < today else "holds",
            say(
                f"visit.{name}_{'expired' if day < today else 'holds'}", day=day.isoformat(),
                name=then.assessor,
            ),
        )
        for name, day in terms
    ]  # fmt: skip


def _drawings(then: EarlierVisit, survey: Survey) -> list[Assumed]:
    made = []
    for d in then.drawings:
        same = [x for x in survey.drawings if (x.title or x.file) == (d.title or d.file)]
        if not same:
            made.append(Assumed("ended", say("visit.drawing_not_read", drawing=d.label)))
        elif all((x.revision, x.date) != (d.revision, d.date) for x in same):
            now = "; ".join(x.label for x in same)
            made.append(Assumed("ended", say("visit.drawing_changed", drawing=d.label, now=now)))
        else:
            made.append(Assumed("holds", say("visit.drawing_same", drawing=d.label)))
    return made


def _works(then: EarlierVisit, works: Sequence[Work]) -> list[Assumed]:
    """Tell of works that came, went or were settled since."""
    before = {w.id: w for w in then.works}
    by_label = {w.label: w for w in then.works if w.label}
    made, met = [], set()
    for w in works:
        name = w.label or w.id
        was = before.get(w.id) or by_label.get(name)
        if was is None:
            if then.works and w.present != "no":
                code = f"work_new_{w.phase.replace(' ', '_')}"
                made.append(Assumed("ended", say(f"visit.{code}", works=name, kind=w.kind)))
            continue
        met.add(was.id)
        values = {"works": name, "kind": w.kind, "was": was.phase, "now": w.phase}
        if was.present != w.present:
            code = {"yes": "work_there", "no": "work_not_there"}.get(w.present, "work_in_doubt")
            made.append(Assumed("ended", say(f"visit.{code}", **values)))
        elif was.phase != w.phase:
            built = w.phase == "existing"
            code = "work_built" if built else "work_phase"
            made.append(Assumed("ended", say(f"visit.{code}", **values)))
    gone = [w for w in then.works if w.id not in met]
    made += [Assumed("ended", say("visit.work_gone", works=w.label, kind=w.kind)) for w in gone]
    # Works of one name (piles of a row) are told of once.
    return list({a.says: a for a in made}.values())
