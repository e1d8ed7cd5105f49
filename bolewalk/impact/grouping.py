"""Open facts that are alike, taken together where there are too many to ask one by one."""

from collections.abc import Mapping, Sequence

from bolewalk.impact.fact import ChangeWork, Fact, FactValue
from bolewalk.impact.near import names_of
from bolewalk.model.statements import Statement, say
from bolewalk.model.works import Work

__all__ = ["grouped"]


def grouped(
    facts: Sequence[Fact], works: Sequence[Work], *, most: int
) -> tuple[tuple[Fact, ...], tuple[Statement, ...]]:
    """Put alike facts together where more than so many bear on one tree.

    Parameters
    ----------
    facts : sequence of Fact
    works : sequence of Work
        Those the facts are about, in order.
    most : int
        As many facts are left apart.

    Returns
    -------
    facts : tuple of Fact
        As given, up to `most` that touch anything. Else facts of one kind, about works of one kind
        and phase, with the same answers, are one: answered for all of its works alike.
    notice : tuple of Statement
        That this was done; empty where it was not.
    """
    if sum(bool(f.touches) for f in facts) <= most:
        return tuple(facts), ()
    by_id = {w.id: w for w in works}
    groups: dict[tuple[object, ...], list[Fact]] = {}
    for n, fact in enumerate(facts):
        about = [by_id[w] for w in fact.works if w in by_id]
        alike = {(w.kind, w.phase, w.made) for w in about}
        answers = tuple(v.answer.code for v in fact.values)
        key = (
            fact.kind,
            fact.of,
            fact.later,
            bool(fact.touches),
            answers,
            *sorted(map(str, alike)),
        )
        groups.setdefault(key if len(alike) == 1 else (n,), []).append(fact)
    found = tuple(g[0] if len(g) == 1 else _together(g, works) for g in groups.values())
    if len(found) == len(facts):
        return tuple(facts), ()
    return found, (say("not_needed.asked_together", facts_count=len(facts)),)


def _together(facts: Sequence[Fact], works: Sequence[Work]) -> Fact:
    of_work: dict[str, Fact] = {w: fact for fact in facts for w in fact.works}
    about = [w for w in works if w.id in of_work]
    told: dict[str, str | float] = {"works": names_of(about), "kind": about[0].kind}
    first = facts[0]
    if "offset_m" in dict(first.ask.values):
        told["offset_m"] = max(w.offset_m for w in about)
    values = tuple(
        FactValue(_farthest(k, facts), _changing(k, of_work)) for k in range(len(first.values))
    )
    return Fact(
        f"{'+'.join(w.id for w in about)}.{first.kind}",
        first.kind,
        say(first.ask.code, **told),
        say(first.settle.code, **told),
        say(first.not_needed.code, **told),
        first.of,
        values,
        frozenset().union(*(f.touches for f in facts)),
        works=frozenset(of_work),
        later=first.later,
    )


def _farthest(k: int, facts: Sequence[Fact]) -> Statement:
    """Give the answer with the largest figure; alike answers differ in a figure or in nothing."""

    def figure(s: Statement) -> float:
        return max((float(v) for _, v in s.values if not isinstance(v, str)), default=0.0)

    return max((f.values[k].answer for f in facts), key=figure)


def _changing(k: int, of_work: Mapping[str, Fact]) -> ChangeWork:
    def change(work: Work) -> Work | None:
        fact = of_work.get(work.id)
        return work if fact is None else fact.values[k].change(work)

    return change
