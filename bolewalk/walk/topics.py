"""What a stretch of the walk is about: prices, planting, or the trees themselves."""

import re
from dataclasses import replace

from bolewalk.walk import cases
from bolewalk.walk.decisions import find_decisions
from bolewalk.walk.entities import (
    fits,
    name_it,
)
from bolewalk.walk.measures import find_sizes
from bolewalk.walk.mentions import Mention
from bolewalk.walk.numbers import find_numbers
from bolewalk.walk.phrases import phrase, word_set
from bolewalk.walk.sentences import Sentence
from bolewalk.walk.state import Planting, Walk

__all__ = ["note_topic", "take_planting"]

_NO_PRICE = word_set("topics.no_price")

_PLACES = word_set("topics.places")

_PUTS = phrase("topics.puts")
_WISHED = phrase("topics.wished")
_OTHERS = phrase("topics.others")
_BEGGED_OFF = phrase("topics.begged_off")
_THINKS_OF = phrase("topics.thinks_of")
_CALLED = phrase("topics.called")

_LISTING = word_set("topics.listing")


def note_topic(w: Walk, s: Sentence, mentions: list[Mention]) -> None:
    text = s.text
    numbers = [n for n in find_numbers(s.tokens) if n.value >= 50]
    if (
        (cases.speaks_of_money(s) and (numbers or re.search(r"\b(?:costs?|money|prices?)\b", text)))
        or (w.money and numbers and not find_sizes(s, system=None, trees=False))
        or _priced(w, s, named=bool(mentions))
    ):
        w.money = 3
    else:
        w.money = max(0, w.money - 1)
    if w.money == 3:
        w.out.money.add(s.index)
    before = w.sentences[s.index - 1] if s.index else s
    if _BEGGED_OFF.search(text) and w.named.get(before.index) and _THINKS_OF.search(before.text):
        w.planting = 4
    if cases.asks_for_plant(s):
        w.planting = 4  # one less when this sentence is done
    plans = (cases.plans_planting(s) or _plants_with(w, s, mentions)) and not s.asked
    if plans and not cases.refuses_planting(s):
        w.planting = 3
        w.out.planting.add(s.index)
    elif w.planting and mentions and _goes_on(w, s, mentions):
        w.planting = max(w.planting, 2)
        w.out.planting.add(s.index)
    elif cases.refuses_planting(s) and (plans or w.planting or _refuses_for(s, mentions)):
        plans = plans or _refuses_for(s, mentions)
        w.out.planting.add(s.index)
        w.planting = 3 if plans else max(0, w.planting - 1)
    else:
        w.planting = max(0, w.planting - 1)
    if w.recap and s.index in w.out.planting and not plans:
        w.out.planting.discard(s.index)


def _refuses_for(s: Sentence, mentions: list[Mention]) -> bool:
    """Whether a plant is refused for a place, so that another may follow: "I wouldn't put a beech
    in"."""
    return any(
        m.indefinite and _PUTS.search(" ".join(s.words[max(0, m.start - 4) : m.start]))
        for m in mentions
    ) or bool(mentions and _WISHED.search(s.text))


def _priced(w: Walk, s: Sentence, *, named: bool) -> bool:
    """Whether a walk in feet and inches names a number only a price can be."""
    if w.out.system != "imperial" or not (named or _CALLED.search(s.text)):
        return False
    after = [(n, s.words[n.end] if n.end < len(s.words) else "") for n in find_numbers(s.tokens)]
    return any(n.value >= 150 and n.value % 5 == 0 and w not in _NO_PRICE for n, w in after)


def _plants_with(w: Walk, s: Sentence, mentions: list[Mention]) -> bool:
    return (
        not w.recap
        and any(
            not m.definite
            and not any(fits(m, t) for t in w.out.trees)
            and cases.makes_room(" ".join(s.words[: m.start]))
            for m in mentions
        )
    ) or (
        not w.recap
        and any(
            not m.definite
            and cases.plants_with(
                " ".join(s.words[max(0, m.start - 9) : m.start]),
                article=m.indefinite,
                going=w.planting > 0,
            )
            for m in mentions
        )
    )


def _goes_on(w: Walk, s: Sentence, mentions: list[Mention]) -> bool:
    """Whether a sentence after one on planting still lists plants to be planted."""
    first = s.words[0]
    if any(
        any(fits(m, t) for t in w.out.trees) and m.definite and m.role != "compare"
        for m in mentions[:1]
    ) and not any(m.indefinite for m in mentions[1:]):
        return False
    if w.planting >= 2 and _one_more_place(w, s, mentions):
        return True
    if find_decisions(s) or find_sizes(s, system=None, trees=False):
        return False
    opens = mentions[0].indefinite and mentions[0].start <= 1 and w.planting >= 1
    if opens and not {"theres", "is", "its", "got", "here", "heres"} & set(s.words):
        return True
    first_named = mentions[0]
    bare = first_named.start == 0 and not first_named.words and w.planting >= 1
    if bare and not any(fits(first_named, t) for t in w.out.trees):
        return True
    joined = any(
        m.indefinite and m.start and s.words[m.start - 1] in ("and", "or") for m in mentions
    )
    return joined or first in _LISTING or cases.refuses_planting(s)


def _one_more_place(w: Walk, s: Sentence, mentions: list[Mention]) -> bool:
    """Whether a place and a plant not met yet go on with a proposal: "and by the gate a rowan"."""
    standing = {"theres", "is", "its", "got", "here", "heres", "has", "have", "weve", "this"}
    last = mentions[-1]
    lead = s.words[: last.start]
    return (
        last.indefinite
        and bool(lead)
        and lead[0] in _PLACES
        and not standing & set(lead)
        and not any(fits(last, t) for t in w.out.trees)
    )


def take_planting(w: Walk, s: Sentence, m: Mention) -> bool:
    """Take a name in a sentence on planting; False where it means a standing tree."""
    if m.name.other:
        return True
    standing = [t for t in w.out.trees if fits(m, t)]
    if standing and (m.definite or m.role == "compare" or _after_where(s, m)):
        return False
    if m.count is not None and any(t.count == m.count for t in standing):
        return False
    if _taken_back(s, m):
        w.refused[m.name.key] = s.index
        return True
    if m.role == "negated" or cases.refuses_planting(s):
        w.refused[m.name.key] = s.index
    if m.role in ("negated", "compare", "gone", "generic", "elsewhere") or m.definite:
        return m.role != "compare" or not standing
    if cases.refuses_planting(s) and not _only_before(s, m):
        return True
    if s.speaker not in w.out.speakers or _OTHERS.search(" ".join(s.words[: m.start])):
        return True
    heard = " ".join(t.text for t in s.tokens[m.name.start : m.name.end])
    named = name_it(m, heard, w.out.region, w.out.points)
    for p in w.out.plantings:
        if p.named.plant is not None and p.named.plant == named.plant:
            p.moments.append(s.moment)
            return True
    w.out.plantings.append(Planting(named, [s.moment]))
    return True


def _taken_back(s: Sentence, m: Mention) -> bool:
    """Whether the plant is dropped as soon as named: "put a rowan, no, a hornbeam"."""
    paused = bool(s.tokens[m.end - 1].after)
    following = s.words[m.end : m.end + 2]
    return paused and bool(following) and (
        following[0] in ("no", "nope") or following in (("scratch", "that"), ("forget", "it"))
        or following in (("or", "no"), ("well", "no"), ("scrap", "that"), ("sorry", "no"))
    )  # fmt: skip


def _after_where(s: Sentence, m: Mention) -> bool:
    before = " ".join(s.words[: m.start])
    return bool(
        re.search(r"\b(?:where|when|once|after|for|under|behind|by|from)(?: \w+)?$", before)
    )


def _only_before(s: Sentence, m: Mention) -> bool:
    """Whether the refusal comes after the name and has one of its own."""
    before = " ".join(s.words[: m.start])
    return not cases.refuses_planting(replace(s, tokens=s.tokens[: m.name.end])) and bool(before)
