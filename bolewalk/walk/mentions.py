"""What part a plant's name plays in a sentence: a tree that stands, a likeness, a wish, a plan."""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from bolewalk.walk.names import NameFound
from bolewalk.walk.numbers import find_numbers
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


_DEFINITE = {
    "the", "that", "this", "these", "those", "his", "her", "their", "your", "our", "my", "whose",
    "both", "them",
}  # fmt: skip
_INDEFINITE = {"a", "an", "another", "some", "any", "one", "few", "several", "couple", "more", "no"}
_FRESH = {"another", "second", "third", "more", "next"}
_STOP = {
    "is", "are", "was", "were", "be", "and", "or", "but", "of", "to", "in", "on", "at", "by", "for",
    "from", "with", "as", "than", "like", "under", "over", "behind", "beside", "past", "near",
    "off", "along", "its", "thats", "theres", "heres", "it", "i", "you", "he", "she", "we", "they",
    "got", "get", "have", "has", "had", "plant", "put", "says", "thought", "want", "wants", "wanted",
    "like", "likes", "love", "loves", "loved", "liked", "hated", "specify",
    "suggest", "propose", "recommend", "choose", "pick", "prefer", "hate", "hates", "see", "saw", "seen", "use", "using", "eat",
    "eats", "call", "calls", "calling", "told", "tell", "think", "need", "needs", "know", "say", "said", "not", "if", "so",
    "youve", "weve", "ive", "theyve", "called", "then", "now", "into", "do", "dont", "take", "cut",
    "where", "when", "because", "fell", "test", "reduce", "trim", "watch", "keep", "leave", "us",
    "me", "him", "thin", "lift", "what", "which", "who", "until", "before", "after", "about", "id",
    "too", "out", "around", "between", "next to", "looks", "these",
}  # fmt: skip
_PREPOSITIONS = {
    "under", "over", "behind", "beside", "past", "near", "off", "from", "by", "between", "around",
    "toward", "towards", "against", "below", "above", "opposite", "on", "in", "at", "with", "of",
    "to", "along", "beneath", "underneath", "inside", "outside", "across",
}  # fmt: skip
_PLACES = _PREPOSITIONS - {"of", "with", "to", "on", "in", "at"}
_NEGATED = re.compile(
    r"(?:\bnot|\bno|\bno more|\bdont|\bdo not|\bwouldnt|\bnever|\bwithout|\brather than|\binstead of"
    r"|\baint no|\bisnt|\baint|\bneither|\bnor|\bhate|\bno to|\bother than)(?: \w+){0,3}$"
)
_COMPARED = re.compile(
    r"\b(?:as \w+(?: \w+){0,3} as|than|the size of|size of|the girth of|the height of|half of"
    r"|similar to|compared (?:to|with)|the same as|(?:looks|look|looked|bit|just|smells?|more|acts) like"
    r"|like|the way)(?: \w+){0,4}$"
)
_GONE = re.compile(
    r"\b(?:there was|there were|used to be|used to have|used to stand|was once|had been|once had"
    r"|we lost|they lost|lost the|took out|blew (?:down|over))(?: \w+){0,4}$"
)
_ELSEWHERE = re.compile(
    r"\b(?:i seen|i saw|ive seen|i once|one time|brother in law|my (?:mother|mum|mom|father|dad|gran"
    r"|grandmother|grandfather|uncle|aunt|neighbou?r|sister|brother|first boss|old boss|place|own)"
    r"|where i grew up|when i was|back home|at home|last week|the other day|yesterday|tomorrow"
    r"|next job|another job|other job|up at the|down at the (?:pub|church|courthouse|library|school)"
    r"|outside the (?:library|works|site|scope)|across town|in town|in the village|at the crossroads"
    r"|years ago (?:i|we) |remember)\b"
)
_OFF_SITE = re.compile(
    r"\b(?:up at the|over at the|down at the|outside the|in the|at the|back at the|by the) "
    r"(?:\w+ )?(?:courthouse|library|village|crossroads|town hall|museum|gas station|cemetery"
    r"|golf course|university|zoo|arboretum|botanic gardens?|old school|postcards?|town)\b"
    r"|\bwhere i grew up\b|\bone time\b|\bnothing to do with this\b|\bi m at\b|\bim at\b"
)
_NOT_TAKEN = re.compile(
    r"\b(?:not|isnt|arent|wont be) (?:recording|counting|listing|including|bothering with|doing)\b"
)
_HEARSAY = re.compile(
    r"\b(?:id|ive|i|had|was) (?:\w+ )?(?:written|wrote|put|noted|recorded|guessed|assumed|listed|marked)"
    r"(?: it| this| that)?(?: down)?(?: as)?(?: an?)?$|"
    r"\b(?:had|have|got|ive got|id) (?:it|this|that|these|them) (?:\w+ ){0,4}?as(?: an?)?$|"
    r"\b(?:i thought|i said|id this down as|had this down as|had it down as|had (?:it|this|that) as"
    r"|down as|says|said|calls? (?:it|that|this)|called (?:it|that|this)|told me it was|label (?:says|said)"
    r"|tag (?:says|said)|took it for|taken for|at first i|first i)(?: (?:its|it was|a|an|the|it))*$"
)
_WANTED = re.compile(
    r"\b(?:she|he|they|client|everybody|everyone|people|folks|wife|husband|i)"
    r" (?:really )?(?:love|loves|like|likes|want|wants|wanted|asked for|asks for)(?: \w+){0,2}$"
    r"|(?<!\bi )\b(?:loved|loves|likes|liked|wants|wanted|hates|hated|asked for)(?: an?)?$"
)
_VERBS_GENERIC = {
    "dont", "like", "likes", "hate", "hates", "are", "will", "do", "does", "have", "need", "grow",
    "grows", "tend", "can", "always", "never", "want", "wants", "drop", "get",
}  # fmt: skip


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
    count = _count(tokens, start, name, ceiling, plural=plural)
    definite = bool(set(words) & _DEFINITE) or any(
        w.endswith("s") and w[:-1] in _OWNERS for w in words
    )
    indefinite = not definite and (bool(set(words) & _INDEFINITE) or count is not None)
    before = " ".join(t.word for t in tokens[:start])
    previous = tokens[start - 1].word if start and not tokens[start - 1].after else ""
    place = definite and previous in _PLACES and not _leading(tokens, start)
    hearsay = bool(_HEARSAY.search(_clause(tokens, start)))
    role = _role(
        sentence, name, start, before, words, definite=definite, plural=plural, count=count
    )
    return Mention(
        name, start, definite, indefinite, bool(set(words) & _FRESH), count, plural, place,
        hearsay, role, words,
    )  # fmt: skip


_NUMBER_WORDS = {
    "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve",
    "fifteen", "twenty", "dozen",
}  # fmt: skip
_TELLING = {"told", "tell", "give", "gave", "ask", "asked", "show", "showed", "sell", "sold"}
_OWNERS = {"neighbour", "neighbor", "client", "college", "church", "council", "city", "owner"}


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


def _leading(tokens: Sequence[Token], start: int) -> bool:
    """Whether the phrase opens the sentence but for its preposition ("On the ash, ...")."""
    return start <= 1


_COUNTED = re.compile(r"^(?:,? ?(?:of )?)$")
_NOT_COUNTED = {
    "inch", "inches", "foot", "feet", "metre", "metres", "meter", "meters", "mil", "millimetre",
    "millimetres", "centimetre", "centimetres", "mm", "cm", "m", "ft", "yards", "yard", "percent",
    "years", "year", "stems", "trunks", "stem", "trunk", "leaders", "limbs", "limb", "dollars",
    "hundred", "thousand", "months", "point", "pounds", "patches", "cuts", "poles", "winters",
}  # fmt: skip
_BEFORE_NAMES = {"tree", "number", "no", "item", "tag", "plot", "phase", "hole", "house"}


def _count(
    tokens: Sequence[Token], start: int, name: NameFound, ceiling: int, *, plural: bool
) -> int | None:
    """Read how many: just before the name, or "N of them" after it before the next name."""
    begin = max(0, start - 4)
    for number in reversed(find_numbers(tokens[begin : name.start])):
        i, end = begin + number.start, begin + number.end
        if i and tokens[i - 1].word in _BEFORE_NAMES:
            continue
        between = [t.word for t in tokens[end : name.start]]
        if any(t.after for t in tokens[i : name.start]) or set(between) & _NOT_COUNTED:
            continue
        if 1 <= number.value <= 500 and number.value == int(number.value) and number.pair is None:
            if not (set(between) & (_STOP - {"of", "more", "these", "next"})):
                return int(number.value)
    for number in find_numbers(tokens[name.end : ceiling]):
        end = name.end + number.end
        following = [t.word for t in tokens[end : end + 2]]
        whole = 1 < number.value <= 500 and number.value == int(number.value)
        if whole and following[:1] == ["of"] and following[1:] in (["them"], ["those"], ["these"]):
            return int(number.value)
        if whole and following[:2] in (["in", "a"], ["all", "told"]) and not number.pair:
            after = [t.word for t in tokens[end : end + 3]]
            if after[2:] in (["row"], ["line"], ["group"], ["clump"]):
                return int(number.value)
        if (
            whole
            and number.start
            and tokens[name.end + number.start - 1].word in ("of",)
        ):
            before = [t.word for t in tokens[name.end : name.end + number.start]]
            if {"row", "group", "line", "clump", "stand", "pair"} & set(before):
                if not following or following[0] not in _NOT_COUNTED:
                    return int(number.value)
    return None


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
    norm = " ".join(sentence.words)
    if _COMPARED.search(clause) and not re.search(r"\b(?:id like|would like)\b", clause):
        return "compare"
    if "no" in words or _NEGATED.search(lead) or re.fullmatch(r"(?:no|never|nope)", after):
        return "negated"
    if _GONE.search(clause) or re.match(r"(?:used to|here once|was here)", after):
        return "gone"
    if _OFF_SITE.search(after[:60]) or _OFF_SITE.search(before[-60:]) and not definite:
        return "elsewhere"
    if _ELSEWHERE.search(clause) and not definite:
        return "elsewhere"
    if _NOT_TAKEN.search(norm):
        return "elsewhere"
    third = bool(re.search(r"\b(?:wants|wanted|loves|loved|likes|hates)(?: an?)?$", clause))
    article = {"a", "an"} & set(words) and not third
    if _WANTED.search(clause) and not definite and count is None and not article:
        return "generic"
    following = tokens[name.end].word if name.end < len(tokens) else ""
    if plural and not words and count is None and not tokens[name.end - 1].after:
        if following in _VERBS_GENERIC and "they" not in norm[:0]:
            return "generic"
    if (
        following in ("will", "wont", "ll")
        and "a" in words
        and re.search(r"\bsay\b|\bsays\b", before)
    ):
        return "generic"
    return "stand"
