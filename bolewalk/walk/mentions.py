"""What part a plant's name plays in a sentence: a tree that stands, a likeness, a wish, a plan."""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

from bolewalk.walk.counted_parts import parts_counted
from bolewalk.walk.names import NameFound
from bolewalk.walk.numbers import find_numbers
from bolewalk.walk.phrases import phrase, word_set
from bolewalk.walk.sentences import Sentence, Token

__all__ = ["Mention", "Role", "read_mentions"]

Role = Literal["stand", "compare", "negated", "gone", "elsewhere", "generic", "other"]
"""stand: may stand on the site. compare: only likened to. negated: "no palms", "it's not a ...".
gone: stood once. elsewhere: stands on another site. generic: a kind, no tree ("oaks hate
wet feet"). other: the word means something else."""


@dataclass(frozen=True, slots=True)
class Mention:
    """One plant's name with what stands around it.

    Attributes
    ----------
    name : NameFound
    start : int
        First token of the whole phrase, article and adjectives included.
    definite : bool
        "the", "that", a possessive: one already known or in sight.
    indefinite : bool
        "a", "another", "some", a number.
    fresh : bool
        Said as one more: another, second, next.
    count : int or None
        Number said with it ("three silver birch", "laurel, six of them").
    plural : bool
    place : bool
        Only tells where something else is ("under the fir").
    likened : bool
        Stands in a comparison whose other side is at hand.
    hearsay : bool
        The name was somebody's or an earlier guess ("I thought hazel", "label says").
    role : Role
    words : tuple of str
        The words of the phrase before the name: "the", "big", "old".
    """

    name: NameFound
    start: int
    definite: bool
    indefinite: bool
    fresh: bool
    count: int | None
    plural: bool
    place: bool
    hearsay: bool
    role: Role
    words: tuple[str, ...]

    @property
    def end(self) -> int:
        """The token after the name."""
        return self.name.end


_DEFINITE = word_set("mentions.definite")
_INDEFINITE = word_set("mentions.indefinite")
_FRESH = {"another", "second", "third", "more", "next"}
_STOP = word_set("mentions.stop")
_PREPOSITIONS = word_set("mentions.prepositions")
_PLACES = _PREPOSITIONS - {"of", "with", "to", "on", "in", "at"}
_NEXT = {"next", "close", "adjacent", "closest", "nearest", "opposite"}
_NEGATED = phrase("mentions.negated")
_COMPARED = phrase("mentions.compared")
_GONE_AFTER = phrase("mentions.gone_after")
_GONE = phrase("mentions.gone")
_ELSEWHERE = phrase("mentions.elsewhere")
_OFF_SITE = phrase("mentions.off_site")
_NOT_TAKEN = phrase("mentions.not_taken")
_HEARSAY = phrase("mentions.hearsay")
_WANTED = phrase("mentions.wanted")
_EXCEPTED = phrase("mentions.excepted")
_CONFIRMED = phrase("mentions.confirmed")
_DENIED = phrase("mentions.denied")
_ASKED_NAME = phrase("mentions.asked_name")
_WOULD_HAVE = phrase("mentions.would_have")
_RULE_FOR_KIND = phrase("mentions.rule_for_kind")
_VERBS_GENERIC = word_set("mentions.verbs_generic")


def read_mentions(sentence: Sentence, names: Sequence[NameFound]) -> list[Mention]:
    """Tell for each name found in a sentence what part it plays there."""
    tokens = sentence.tokens
    out = []
    for k, name in enumerate(names):
        floor = names[k - 1].end if k else 0
        ceiling = names[k + 1].start if k + 1 < len(names) else len(tokens)
        out.append(_mention(sentence, name, floor, ceiling))
    return out


def _mention(sentence: Sentence, name: NameFound, floor: int, ceiling: int) -> Mention:
    tokens = sentence.tokens
    start = _phrase_start(tokens, name.start, floor)
    words = tuple(t.word for t in tokens[start : name.start])
    plural = _is_plural(tokens, name)
    count = _count(tokens, start, name, ceiling)
    definite = bool(set(words) & _DEFINITE) or any(
        w.endswith("s") and w[:-1] in _OWNERS for w in words
    )
    if re.search(r"\bone of (?:those|these)$", " ".join(t.word for t in tokens[: start + 1])):
        definite = False
        words = ("one", *words)
    indefinite = not definite and (bool(set(words) & _INDEFINITE) or count is not None)
    before = " ".join(t.word for t in tokens[:start])
    previous = tokens[start - 1].word if start and not tokens[start - 1].after else ""
    beside = previous == "to" and start > 1 and tokens[start - 2].word in _NEXT
    place = definite and (previous in _PLACES or beside) and start > 1
    hearsay = bool(_HEARSAY.search(_clause(tokens, name.start)) or _denied(tokens, name)) or (
        sentence.asked and bool(_ASKED_NAME.search(_clause(tokens, start)))
    )
    role = _role(
        sentence, name, start, before, words, definite=definite, plural=plural, count=count
    )
    if hearsay and _CONFIRMED.search(" ".join(t.word for t in tokens[name.end :])):
        hearsay = False
    return Mention(
        name, start, definite, indefinite, bool(set(words) & _FRESH), count, plural, place,
        hearsay, role, words,
    )  # fmt: skip


_NUMBER_WORDS = word_set("mentions.number_words")
_TELLING = word_set("mentions.telling")
_OWNERS = word_set("mentions.owners")


def _denied(tokens: Sequence[Token], name: NameFound) -> bool:
    """Whether the name is taken back at once: "a poinciana, but it's not"."""
    return bool(_DENIED.search(" ".join(t.word for t in tokens[name.end :])))


def _phrase_start(tokens: Sequence[Token], at: int, floor: int) -> int:
    start = at
    while start > floor and at - start < 6 and not tokens[start - 1].after:
        word = tokens[start - 1].word
        if word in _STOP and word not in _DEFINITE and word not in _INDEFINITE:
            break
        start -= 1
        if word in ("the", "a", "an", "another", "that", "this"):
            break
        if word in _NUMBER_WORDS:
            lead = tokens[start - 1].word if start > floor and not tokens[start - 1].after else ""
            start -= lead in ("the", "those", "these", "all", "another", "other", "of")
            break
    told = start and tokens[start - 1].word in _TELLING
    if told and start < at and tokens[start].word in ("her", "them", "you"):
        start += 1
    # Words before an article belong to something else: "got the old ash" begins at "the".
    for i in range(start, at):
        if tokens[i].word in ("the", "a", "an", "another"):
            return i
    return start


def _is_plural(tokens: Sequence[Token], name: NameFound) -> bool:
    last = tokens[name.end - 1]
    own = {c.lower().replace("-", " ").split()[-1] for p in name.plants for c in p.common}
    if last.word in own:
        return False  # "sassafras" is one
    apostrophe = "'" in last.text or "’" in last.text
    return last.word.endswith("s") and not last.word.endswith("ss") and not apostrophe and (
        not name.key.endswith(last.word[-4:])
    )  # fmt: skip


def _clause(tokens: Sequence[Token], end: int) -> str:
    """Give the plain words of the clause up to a token."""
    begin = end
    while begin and not tokens[begin - 1].after:
        begin -= 1
    return " ".join(t.word for t in tokens[begin:end])


_GROUP_WORDS = {"row", "line", "group", "clump", "stand", "hedge", "run", "avenue", "belt"}
_FEW = 12  # a greater number after a name may be a size
_COUNTED = phrase("mentions.counted")
_NOT_COUNTED = word_set("mentions.not_counted")
_BEFORE_NAMES = word_set("mentions.before_names")


def _count(tokens: Sequence[Token], start: int, name: NameFound, ceiling: int) -> int | None:
    """Read how many: just before the name, or "N of them" after it before the next name."""
    begin = max(0, start - 4)
    for number in reversed(find_numbers(tokens[begin : name.start])):
        i, end = begin + number.start, begin + number.end
        if i and tokens[i - 1].word in _BEFORE_NAMES:
            continue
        if _EXCEPTED.search(" ".join(t.word for t in tokens[:i])):
            return None
        between = [t.word for t in tokens[end : name.start]]
        if any(t.after for t in tokens[i : name.start]) or set(between) & _NOT_COUNTED:
            continue
        whole = 1 <= number.value <= 500 and number.value == int(number.value)
        if whole and number.pair is None and not set(between) & (_STOP - {"of", "more", "these"}):
            return int(number.value)
    after = [t.word for t in tokens[name.end : min(ceiling, name.end + 3)]]
    if tokens[name.end - 1].after and after[:2] in (["a", "pair"], ["a", "couple"]):
        return 2
    parts = parts_counted(tokens[:ceiling], name.end)
    if parts and (_is_plural(tokens, name) or _GROUP_WORDS & {t.word for t in tokens[:start]}):
        return sum(n for n, _ in parts)
    sided = _sided(tokens, name, ceiling)
    if sided:
        return sided
    listed = find_numbers(tokens[:start])
    opens = len(listed) == 2 and listed[0].start == 0 and listed[1].end == start
    if opens and tokens[start - 1].after and listed[1].value == listed[0].value + 1:
        return 2  # "43 and 44, blue spruce" gives their numbers
    for number in find_numbers(tokens[name.end : ceiling]):
        end = name.end + number.end
        following = [t.word for t in tokens[end : end + 2]]
        whole = 1 < number.value <= 500 and number.value == int(number.value)
        led = tokens[name.end + number.start - 1].word if number.start else ""
        counted = led in ("count", "counted", "all")
        if whole and counted and not set(following[:1]) & _NOT_COUNTED:
            return int(number.value)
        if whole and following[:1] == ["of"] and following[1:] in (["them"], ["those"], ["these"]):
            return _put_right(tokens[:ceiling], end + 2) or int(number.value)
        stopped = end == len(tokens) or bool(tokens[end - 1].after)
        lead = tokens[name.end + number.start - 1].word if number.start else ""
        guessed = lead in ("say", "maybe", "about", "reckon", "all") and (stopped or lead == "all")
        guessed = guessed or (lead in ("got", "have", "has", "theres") and stopped)
        # "Vine maples, five." is how many, as a plural has no one size.
        guessed = guessed or (number.start == 0 and stopped and number.value <= _FEW)
        if whole and guessed and number.pair is None and _is_plural(tokens, name):
            return int(number.value)
        if whole and following[:1] == ["of"] and (end + 1 == len(tokens) or tokens[end].after):
            return int(number.value)
        if whole and following[:1] in (["plants"], ["trees"], ["altogether"], ["overall"]):
            return int(number.value)
        if whole and following[:2] in (["in", "all"], ["in", "total"]):
            return int(number.value)
        if whole and following[:2] in (["in", "a"], ["all", "told"]) and not number.pair:
            after = [t.word for t in tokens[end : end + 3]]
            if after[2:] in (["row"], ["line"], ["group"], ["clump"]):
                return int(number.value)
        if whole and number.start and tokens[name.end + number.start - 1].word in ("of",):
            before = [t.word for t in tokens[name.end : name.end + number.start]]
            grouped = {"row", "group", "line", "clump", "stand", "pair"} & set(before)
            if grouped and not set(following[:1]) & _NOT_COUNTED:
                return int(number.value)
    return None


def _put_right(tokens: Sequence[Token], at: int) -> int:
    """Read the number a count is put right to at once: "six of them, no, seven"."""
    said = find_numbers(tokens[at : at + 4])
    lead = [t.word for t in tokens[at : at + said[0].start]] if said else []
    right = lead in (["no"], ["sorry"], ["make", "that"], ["no", "sorry"], ["no", "wait"])
    return int(said[0].value) if right and said[0].value == int(said[0].value) else 0


def _sided(tokens: Sequence[Token], name: NameFound, ceiling: int) -> int:
    """Read "one each side", "six a side, so twelve", "let me count, seven, eight, nine"."""
    window = tokens[name.end : ceiling]
    text = " ".join(t.word for t in window[:9])
    if re.match(r"(?:(?:one|1) )?(?:on |at )?(?:either|each) (?:side|end)\b", text):
        return 2
    numbers = [n for n in find_numbers(window) if n.value == int(n.value) and n.pair is None]
    for n in numbers:
        following = tuple(t.word for t in window[n.end : n.end + 2])
        if following in (("a", "side"), ("each", "side"), ("either", "side"), ("per", "side")):
            return int(2 * n.value)
    run = [int(n.value) for n in numbers]
    rising = len(run) >= 3 and all(b == a + 1 for a, b in pairwise(run))
    apart = all(b.start == a.end for a, b in pairwise(numbers))
    if not (rising and apart):
        return 0
    after = {t.word for t in window[numbers[-1].end : numbers[-1].end + 1]}
    return 0 if after & _NOT_COUNTED else run[-1]


def _role(
    sentence: Sentence, name: NameFound, start: int, before: str, words: tuple[str, ...], *,
    definite: bool, plural: bool, count: int | None,
) -> Role:  # fmt: skip
    if name.other:
        return "other"
    tokens = sentence.tokens
    clause = _clause(tokens, start)
    lead = (
        (clause + " " + " ".join(words[:1])).strip() if words[:1] in (("no",), ("any",)) else clause
    )
    after = " ".join(t.word for t in tokens[name.end :])
    norm = sentence.text
    if _COMPARED.search(clause) and not re.search(r"\b(?:id like|would like)\b", clause):
        return "compare"
    if (
        {"no", "nor"} & set(words)
        or _NEGATED.search(lead)
        or re.fullmatch(r"(?:no|never|nope)", after)
    ):
        return "negated"
    if _GONE.search(clause) or _GONE_AFTER.match(after):
        return "gone"
    if _OFF_SITE.search(after[:60]) or (_OFF_SITE.search(before[-60:]) and not definite):
        return "elsewhere"
    if _ELSEWHERE.search(clause) and not definite:
        return "elsewhere"
    if _NOT_TAKEN.search(norm):
        return "elsewhere"
    if _WOULD_HAVE.search(clause) and not definite:
        return "generic"
    if {"a", "an"} & set(words) and _RULE_FOR_KIND.search(clause):
        return "generic"
    third = bool(
        re.search(
            r"\b(?:wants|wanted|loves|loved|likes|hates|keen on"
            r"|(?:asked|asking) (?:about|for|after))(?: an?)?$",
            clause,
        )
    )
    article = {"a", "an"} & set(words) and not third
    if _WANTED.search(clause) and not definite and count is None and not article:
        return "generic"
    following = tokens[name.end].word if name.end < len(tokens) else ""
    bare = plural and not words and count is None and not tokens[name.end - 1].after
    if bare and following in _VERBS_GENERIC:
        return "generic"
    if (
        following in ("will", "wont", "ll")
        and "a" in words
        and re.search(r"\bsay\b|\bsays\b", before)
    ):
        return "generic"
    return "stand"
