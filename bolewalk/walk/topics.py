"""What a stretch of the walk is about: prices, planting, or the trees themselves."""

import re
from dataclasses import replace

from bolewalk.walk import cases
from bolewalk.walk.choosing import add_planting, choose, chosen_again
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
from bolewalk.walk.state import Walk

__all__ = ["note_topic", "take_planting"]

_NO_PRICE = word_set("topics.no_price")

_PLACES = word_set("topics.places")

_PUTS = phrase("topics.puts")
_WISHED = phrase("topics.wished")
_OTHERS = phrase("topics.others")
_BEGGED_OFF = phrase("topics.begged_off")
_THINKS_OF = phrase("topics.thinks_of")
_CALLED = phrase("topics.called")

_ROW_OF = phrase("topics.row_of")
_EXCUSED = phrase("topics.excused")
_STANDING = word_set("topics.standing")
_STOCK = word_set("topics.stock")

_SOON = 3
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
    if not w.recap and any(_takes_a_place(s, m) for m in mentions):
        return True
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
                _ROW_OF.sub("", " " + " ".join(s.words[max(0, m.start - 12) : m.start])).strip(),
                article=m.indefinite or s.words[max(0, m.start - 1) : m.start] == ("of",),
                going=w.planting > 0,
            )
            for m in mentions
        )
    )


def _takes_a_place(s: Sentence, m: Mention) -> bool:
    """Whether a plant is wished and taken up, or takes the place of one that goes."""
    after = " ".join(s.words[m.end :])
    if m.definite or m.role in ("negated", "gone", "compare", "elsewhere"):
        return False
    if m.role == "generic":
        return cases.takes_up(after)
    standing = _STANDING & set(s.words[: m.start])
    return not standing and m.start <= _SOON and cases.in_its_place(after)


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
    if find_decisions(s) or (_sized(s) and not _STOCK & set(s.words)) or s.index in w.numbered:
        return False
    first_named = mentions[0]
    stands = _stands(s, first_named)
    if first_named.indefinite and _opening(s, first_named) and not stands:
        return not _judged_next(w, s)
    bare = _opening(s, first_named) and not first_named.words and not stands
    bare = bare and first_named.name.likeness >= 1
    if bare and not any(fits(first_named, t) for t in w.out.trees) and not _judged_next(w, s):
        return True
    joined = any(
        m.indefinite and m.start and s.words[m.start - 1] in ("and", "or") for m in mentions
    )
    return joined or first in _LISTING or cases.refuses_planting(s)


def _sized(s: Sentence) -> bool:
    return bool(find_sizes(s, system=None, trees=False))


def _opening(s: Sentence, m: Mention) -> bool:
    """Whether a name opens its sentence but for "and then maybe"."""
    return not set(s.words[: m.start]) - _BEFORE_NAME


_BEFORE_NAME = {
    "and",
    "or",
    "no",
    "then",
    "maybe",
    "perhaps",
    "possibly",
    "plus",
    "also",
    "so",
    "say",
}


def _stands(s: Sentence, m: Mention) -> bool:
    """Whether the sentence speaks of a plant that is there, but for a reason why it suits."""
    for k, word in enumerate(s.words):
        if word in _STANDING and (k < m.start or k >= m.end):
            lead = " ".join(s.words[max(0, k - 3) : k]) + " "
            if k < m.start or not _EXCUSED.search(lead):
                return True
    return False


def _judged_next(w: Walk, s: Sentence) -> bool:
    """Whether the next sentence judges or measures, which only a standing tree is."""
    after = w.sentences[s.index + 1] if s.index + 1 < len(w.sentences) else None
    if after is None or w.named.get(after.index) or _STOCK & set(after.words):
        return False
    return bool(find_decisions(after)) or _sized(after)


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
    wished = m.role == "generic" and cases.takes_up(" ".join(s.words[m.end :]))
    if not wished and (_left_out(m) or m.definite):
        chosen_again(w, s, m)
        return m.role != "compare" or not standing
    if cases.refuses_planting(s) and not _only_before(s, m):
        return True
    others = _OTHERS.search(" ".join(s.words[: m.start])) and not wished
    if s.speaker not in w.out.speakers or others:
        return True
    heard = " ".join(t.text for t in s.tokens[m.name.start : m.name.end])
    named = name_it(m, heard, w.out.region, w.out.points)
    for p in w.out.plantings:
        if p.named.plant is not None and p.named.plant == named.plant:
            p.moments.append(s.moment)
            choose(w, s, p)
            return True
    add_planting(w, s, m, named)
    return True


def _left_out(m: Mention) -> bool:
    return m.role in ("negated", "compare", "gone", "generic", "elsewhere")


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
