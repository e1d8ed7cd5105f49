"""From cues to sentences of plain tokens, also where the transcript has no punctuation."""

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise
from typing import Protocol

from bolewalk.walk.cues import Cue
from bolewalk.walk.phrases import word_set
from bolewalk.walk.unpunctuated import guess_marks

__all__ = ["Moment", "Sentence", "Token", "read_sentences", "read_tokens"]


@dataclass(frozen=True, slots=True)
class Moment:
    """Where in the recording something was said, in seconds, and the words."""

    start: float
    end: float
    said: str


@dataclass(frozen=True, slots=True)
class Token:
    """One word.

    `text` is as said; `word` is in small letters without apostrophes, with dropped endings
    restored ("nothin'" is nothing); `after` is the punctuation that follows, "" where none.
    `capital` tells a capital letter that does not only open a sentence; `guessed` that `after` was
    not written but guessed from the words.
    """

    text: str
    word: str
    cue: int
    after: str = ""
    capital: bool = False
    guessed: bool = False


@dataclass(frozen=True, slots=True)
class Sentence:
    """Words up to a full stop, a change of speaker or, unpunctuated, a likely new thought.

    `asked` marks a question. `words` are the plain words and `text` the same in one string.
    """

    index: int
    tokens: tuple[Token, ...]
    start_s: float
    end_s: float
    speaker: str = ""
    asked: bool = False
    words: tuple[str, ...] = field(init=False)
    text: str = field(init=False)

    def __post_init__(self) -> None:
        words = tuple(t.word for t in self.tokens)
        object.__setattr__(self, "words", words)
        object.__setattr__(self, "text", " ".join(words))

    @property
    def said(self) -> str:
        """The words as said."""
        parts = [t.text if t.guessed else t.text + t.after for t in self.tokens]
        return "".join(
            p if not t.text else f" {p}" for p, t in zip(parts, self.tokens, strict=True)
        ).strip()

    @property
    def moment(self) -> Moment:
        """The sentence as a moment."""
        return Moment(self.start_s, self.end_s, self.said)


_WORD = re.compile(
    r"(?-i:\b[TGHWS]\d{1,4}\b)|\d+(?:,\d{3})*(?:\.\d+)?|[^\W\d_]+(?:['’][^\W\d_]+)*['’]?|['’](?:em|til|cause|fore|bout)\b"
    r"|[.?!;:,…—–]+|[-/\"″′“”()&%$£€]|['’](?!\w)",
    re.IGNORECASE,
)
_SLANG = {
    "em": "them", "aint": "aint", "gonna": "going to", "gotta": "got to", "wanna": "want to",
    "oughta": "ought to", "ol": "old", "cause": "because", "fore": "before", "til": "until",
    "bout": "about", "yeah": "yes", "yep": "yes", "nope": "no", "kinda": "kind of", "ya": "you",
    "youse": "you", "lemme": "let me", "gimme": "give me", "dunno": "dont know",
    "summat": "something", "owt": "anything", "nowt": "nothing", "hafta": "have to",
    "dinnae": "dont", "cannae": "cant", "havenae": "havent", "isnae": "isnt", "wasnae": "wasnt",
    "didnae": "didnt", "doesnae": "doesnt", "wouldnae": "wouldnt", "willnae": "wont",
    "shouldnae": "shouldnt", "arenae": "arent", "hasnae": "hasnt", "aye": "yes", "nae": "no",
    "&": "and", "%": "percent", "$": "dollars", "£": "pounds", "€": "euros", "thats": "thats",
}  # fmt: skip
_CODES = {"T": "tree", "G": "item", "H": "item", "W": "item", "S": "item"}
_CALLED_OUT = word_set("unpunctuated.numbers")
_SPLIT_UNITS = {"″": "inch", '"': "inch", "′": "foot"}
_MAX_SENTENCE = 120
_GAP_S = 4.0
_UNPUNCTUATED = 30
"""Words in a row without any mark from which on the marks are guessed."""
_UTTERANCES, _FEWEST_ENDS = 0.6, 8
"""Cues are utterances where this share of their ends, at least so many, has a guessed mark: on our
walks cut at pauses 0.68 and more, on those cut at a length 0.45 and less."""


class Runs(Protocol):
    """What tells where the names in a run of tokens begin, and the token after their last."""

    def __call__(self, tokens: Sequence[Token], /) -> Sequence[tuple[int, int]]: ...


def _no_names(_: Sequence[Token]) -> Sequence[tuple[int, int]]:
    """Know no plants."""
    return ()


def read_tokens(cues: Sequence[Cue]) -> list[Token]:
    """Give the words of all cues in order, with the punctuation written."""
    return _capitals(list(_tokens(cues)))


def read_sentences(cues: Sequence[Cue], *, names: Runs = _no_names) -> tuple[Sentence, ...]:
    """Part the cues into sentences.

    `names` tells where in a run of tokens plants' names stand. Where the transcript has no
    punctuation, the marks are guessed from the words around.

    Linear in the number of words. A sentence never runs over a change of speaker, a silence of
    more than four seconds, or 120 words.
    """
    tokens = read_tokens(cues)
    if not tokens:
        return ()
    tokens = _with_marks(tokens, cues, names)
    sentences: list[Sentence] = []
    first = 0
    for i, token in enumerate(tokens):
        last = i + 1 == len(tokens)
        if last or _ends(token, tokens[i + 1], cues, i + 1 - first):
            sentences.append(_sentence(len(sentences), tokens[first : i + 1], cues))
            first = i + 1
    return tuple(sentences)


def _with_marks(tokens: list[Token], cues: Sequence[Cue], names: Runs) -> list[Token]:
    """Guess the marks of every long run of words that has none.

    Where most cues end with a guessed mark, the cues are utterances, and each ends a sentence.
    """
    out = _guessed(tokens, cues, names, utterances=False)
    ends = [
        b.after for a, b, c in zip(tokens, out, tokens[1:], strict=False)
        if not a.after and a.cue != c.cue
    ]  # fmt: skip
    marked = sum(bool(after) for after in ends)
    if len(ends) >= _FEWEST_ENDS and marked >= _UTTERANCES * len(ends):
        return _guessed(tokens, cues, names, utterances=True)
    return out


def _guessed(
    tokens: list[Token], cues: Sequence[Cue], names: Runs, *, utterances: bool
) -> list[Token]:
    out = list(tokens)
    begin = 0
    for i, token in enumerate(tokens):
        if not (i + 1 == len(tokens) or token.after or _breaks(token, tokens[i + 1], cues)):
            continue
        if i + 1 - begin >= _UNPUNCTUATED:
            run = tokens[begin : i + 1]
            found = names(run)
            words = [t.word for t in run]
            parted = _goes_on_to(words, found)
            if utterances:
                parted |= {k for k, (a, b) in enumerate(pairwise(run)) if a.cue != b.cue}
            marks = guess_marks(
                words, starts={a for a, _ in found}, ends={b for _, b in found},
                joined=_counted(words, found), parted=parted,
            )  # fmt: skip
            for k, mark in enumerate(marks[:-1]):
                if mark:
                    out[begin + k] = replace(run[k], after=mark, guessed=True)
        begin = i + 1
    return out


def _counted(words: Sequence[str], names: Sequence[tuple[int, int]]) -> set[int]:
    """Give the numbers that count the plants named right after: no mark follows them."""
    plural = {
        a for a, b in names
        if words[b - 1].endswith(("s", "ii")) and not words[b - 1].endswith("ss")
    }  # fmt: skip
    grouped = {a for a, _ in names if words[max(0, a - 2) : a - 1] == ["of"]}
    counted = {a for a, _ in names if a > 1 and words[a - 2] in _LEADS_COUNT}
    few = {a - 1 for a, _ in names if a and words[a - 1] in ("few", "couple", "some", "several")}
    said = {a - 1 for a in plural | grouped | counted if a and words[a - 1] in _COUNTS}
    return said | few | _bound(words)


def _bound(words: Sequence[str]) -> set[int]:
    """Give the words no mark follows: "are | okay", "check it | next spring"."""
    found = set()
    for i, (word, following) in enumerate(pairwise(words)):
        after = words[i + 2] if i + 2 < len(words) else ""
        state = word in _STATES and following in _STATE_WORDS
        if state or (following in ("next", "every", "each") and after in _TERMS):
            found.add(i)
    return found


def _goes_on_to(words: Sequence[str], names: Sequence[tuple[int, int]]) -> set[int]:
    """Give the words before "beside it is a ..." with a plant named: a mark follows them."""
    starts = {a for a, _ in names}
    found = set()
    for i in range(1, len(words) - 2):
        pair, after = (words[i], words[i + 1]), words[i + 2]
        led = (
            (pair in (("next", "is"), ("next", "up"), ("then", "theres"), ("then", "a")))
            or (pair[0] in _BESIDE and pair[1] in ("it", "that", "them") and after in _IS)
            or (pair == ("next", "to") and after in ("it", "that", "them"))
        )
        summed = pair in (("so", "thats"), ("so", "that")) and after in _SUMMED
        if summed and words[i - 1] not in ("and", "or", "is"):
            found.add(i - 1)
        if led and starts & set(range(i + 2, i + 8)) and words[i - 1] not in _LEADS_ON:
            found.add(i - 1)
    return found


_COUNTS = word_set("sentences.counts")
_STATES = {"are", "is", "theyre", "its", "looks", "look"}
_STATE_WORDS = {"okay", "ok", "fine", "good", "alright", "dead", "sound", "healthy"}
_TERMS = {"spring", "summer", "autumn", "fall", "winter", "year", "month", "season"}
_LEADS_COUNT = word_set("sentences.leads_count")
_BESIDE = {"beside", "behind", "past", "after", "beyond"}
_IS = {"is", "are", "theres", "a", "an", "the", "weve", "youve", "i", "its"}
_SUMMED = _COUNTS | {"the", "is", "all", "both", "one"}
_LEADS_ON = {"and", "so", "then", "okay", "but", "the", "right", "the one", "one", "just", "now"}


def _sentence(index: int, tokens: list[Token], cues: Sequence[Cue]) -> Sentence:
    head, tail = cues[tokens[0].cue], cues[tokens[-1].cue]
    return Sentence(
        index, tuple(tokens), head.start_s, max(tail.end_s, head.end_s), head.speaker,
        "?" in tokens[-1].after,
    )  # fmt: skip


def _ends(token: Token, following: Token, cues: Sequence[Cue], length: int) -> bool:
    if token.after and token.after[0] in ".?!…" and not _abbreviation(token):
        return True
    return length >= _MAX_SENTENCE or _breaks(token, following, cues)


def _breaks(token: Token, following: Token, cues: Sequence[Cue]) -> bool:
    """Whether the speaker changes or is silent after a token."""
    a, b = cues[token.cue], cues[following.cue]
    return a is not b and (a.speaker != b.speaker or b.start_s - a.end_s > _GAP_S)


def _abbreviation(token: Token) -> bool:
    return token.word in {"mr", "mrs", "ms", "dr", "st", "no", "ft", "approx"} and (
        token.after == "." and token.text[:1].isupper()
    )


def _tokens(cues: Sequence[Cue]) -> Iterable[Token]:
    held: Token | None = None
    for number, cue in enumerate(cues):
        for text in _WORD.findall(cue.text):
            if text[0] in ".?!;:,…—–" and text not in ("'", "’"):
                if held is not None:
                    held = replace(held, after=held.after + text)
                continue
            for token in _read(text, number, held):
                if held is not None:
                    yield held
                held = token
    if held is not None:
        yield held


def _read(text: str, cue: int, held: Token | None) -> Iterable[Token]:
    if text in "-/()“”'’":
        if text in "'’" and held is not None and held.word[:1].isdigit():
            yield Token(text, "foot", cue)
        elif text == "/" and held is not None:
            yield Token(text, "or", cue)
        return
    if text[:1] in _CODES and text[1:].isdigit():
        # "T4" is tree 4 of a plan, "G2" its second group.
        yield Token(text, _CODES[text[0]], cue)
        yield Token("", text[1:], cue)
        return
    if text in _SPLIT_UNITS:
        if held is not None and (held.word[:1].isdigit()):
            yield Token(text, _SPLIT_UNITS[text], cue)
        return
    low = text.lower().replace("’", "'")
    if low.endswith("in'") and len(low) > 4:
        low = low[:-1] + "g"
    if low == "one's":
        low = "one is"
    elif low.endswith("'s") and low[:-2] in _CALLED_OUT:
        # "Ten's a crab apple" calls out a tree by its number.
        yield Token(text, low[:-2], cue)
        yield Token("", "is", cue)
        return
    word = low.replace("'", "") if not low[0].isdigit() else low.replace(",", "")
    yield Token(text, _SLANG.get(word, word), cue)


def _capitals(tokens: list[Token]) -> list[Token]:
    """Mark capitals inside a sentence, which may be names of people and places."""
    out = []
    opens = True
    for t in tokens:
        out.append(replace(t, capital=t.text[:1].isupper() and not opens))
        opens = bool(t.after) and t.after[0] in ".?!…:"
    return out
