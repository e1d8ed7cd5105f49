"""What else is said on a walk: prices, dangers, works, promises."""

import re
from collections.abc import Mapping
from dataclasses import dataclass

from bolewalk.model.words import WORK_KINDS, WorkKind
from bolewalk.walk.numbers import find_numbers
from bolewalk.walk.phrases import labelled, phrase, word_set
from bolewalk.walk.sentences import Moment, Sentence

__all__ = [
    "CostSaid", "HazardSaid", "WorkSaid", "find_costs", "find_hazards", "find_promises",
    "find_works",
]  # fmt: skip


@dataclass(frozen=True, slots=True)
class CostSaid:
    """One price as said: amount in whole money units, currency where named, ids of its trees."""

    amount: float
    currency: str
    trees: tuple[str, ...]
    moment: Moment
    first: float | None = None


@dataclass(frozen=True, slots=True)
class HazardSaid:
    """One danger. `urgent`: concerns people now and has nothing to do with the trees' order of
    work (gas, live wires, fire): somebody is to be called before anything else."""

    kind: str
    urgent: bool
    moments: tuple[Moment, ...]


@dataclass(frozen=True, slots=True)
class WorkSaid:
    """Works spoken of, by kind, with every moment."""

    kind: WorkKind
    moments: tuple[Moment, ...]


_URGENT = labelled("asides.urgent")
_SITE = labelled("asides.site")
_WORKS = labelled("asides.works")
_DECK = phrase("asides.deck")
_NOT_BY_ASKING = ("about to fail",)  # clients ask it of any tree
_CURRENCY = {
    "dollars": "USD",
    "dollar": "USD",
    "bucks": "USD",
    "pounds": "GBP",
    "quid": "GBP",
    "euros": "EUR",
}
_NOT_MONEY = word_set("asides.not_money")
_PROMISE = phrase("asides.promise")


def find_costs(
    sentences: tuple[Sentence, ...], money: set[int], topics: Mapping[int, tuple[str, ...]]
) -> tuple[CostSaid, ...]:
    """Find prices in the sentences that speak of money.

    Parameters
    ----------
    sentences : tuple of Sentence
    money : set of int
        Indexes of the sentences that price.
    topics : mapping of int to tuple of str
        Ids of the trees each sentence speaks of, in order.
    """
    found: list[CostSaid] = []
    for s in sentences:
        if s.index not in money:
            continue
        words = s.words
        amounts = [
            n
            for n in find_numbers(s.tokens)
            if n.value >= 40 and not (n.end < len(words) and words[n.end] in _NOT_MONEY)
        ]
        currency = next((_CURRENCY[w] for w in words if w in _CURRENCY), "")
        trees = topics.get(s.index, ())
        for k, n in enumerate(amounts):
            if len(amounts) == len(trees):
                mine: tuple[str, ...] = (trees[k],)
            else:
                mine = trees if len(amounts) == 1 else trees[k : k + 1]
            again = re.search(r"\b(?:scratch that|make it|sorry|correction)\b", " ".join(words))
            earlier = next((c for c in reversed(found) if set(c.trees) & set(mine)), None)
            first = earlier.amount if again and earlier is not None else None
            if again and earlier is not None:
                found.remove(earlier)
            found.append(CostSaid(n.value, currency, mine, s.moment, first))
    return tuple(found)


def find_hazards(sentences: tuple[Sentence, ...]) -> tuple[HazardSaid, ...]:
    """Find dangers: first those that need a call now, whatever the walk is about, then by time."""
    urgent = _gather(sentences, _URGENT, urgent=True)
    site = _gather(sentences, _SITE, urgent=False)
    return (*urgent, *site)


def _gather(
    sentences: tuple[Sentence, ...], rules: tuple[tuple[str, re.Pattern[str]], ...], *, urgent: bool
) -> list[HazardSaid]:
    moments: dict[str, list[Moment]] = {}
    for s in sentences:
        text = s.text
        for kind, pattern in rules:
            if s.asked and kind in _NOT_BY_ASKING:
                continue
            if pattern.search(text) and not re.search(r"\bno (?:smell|gas|wires|nests?)\b", text):
                moments.setdefault(kind, []).append(s.moment)
    return sorted(
        (HazardSaid(kind, urgent, tuple(m)) for kind, m in moments.items()),
        key=lambda h: (h.moments[0].start, h.kind),
    )


def find_works(sentences: tuple[Sentence, ...]) -> tuple[WorkSaid, ...]:
    """Find works spoken of, one entry a kind, by first moment."""
    moments: dict[WorkKind, list[Moment]] = {}
    for s in sentences:
        text = s.text
        said = {label for label, pattern in _WORKS if pattern.search(text)}
        kinds: list[WorkKind] = [kind for kind in WORK_KINDS if kind in said]
        if _DECK.search(text):
            kinds.append("building")
        for kind in dict.fromkeys(kinds):
            moments.setdefault(kind, []).append(s.moment)
    return tuple(
        sorted(
            (WorkSaid(kind, tuple(m)) for kind, m in moments.items()),
            key=lambda w: (w.moments[0].start, w.kind),
        )
    )


def find_promises(sentences: tuple[Sentence, ...], speakers: set[str]) -> tuple[Moment, ...]:
    """Find what the speaker said they would do: to be kept, or written down as not done."""
    return tuple(
        s.moment
        for s in sentences
        if s.speaker in speakers and _PROMISE.search(s.text) and not s.asked
    )
