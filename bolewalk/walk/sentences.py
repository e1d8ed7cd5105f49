"""From cues to sentences of plain tokens, also where the transcript has no punctuation."""

import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field, replace

from bolewalk.walk.cues import Cue
from bolewalk.walk.phrases import word_set

__all__ = ["Moment", "Sentence", "Token", "read_sentences"]


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
    `capital` tells a capital letter that does not only open a sentence.
    """

    text: str
    word: str
    cue: int
    after: str = ""
    capital: bool = False


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
        return " ".join(t.text + t.after for t in self.tokens)

    @property
    def moment(self) -> Moment:
        """The sentence as a moment."""
        return Moment(self.start_s, self.end_s, self.said)


_WORD = re.compile(
    r"\d+(?:,\d{3})*(?:\.\d+)?|[^\W\d_]+(?:['’][^\W\d_]+)*['’]?|['’](?:em|til|cause|fore|bout)\b"
    r"|[.?!;:,…—–]+|[-/\"″′“”()&%$£€]|['’](?!\w)",
    re.IGNORECASE,
)
_SLANG = {
    "em": "them", "aint": "aint", "gonna": "going to", "gotta": "got to", "wanna": "want to",
    "oughta": "ought to", "ol": "old", "cause": "because", "fore": "before", "til": "until",
    "bout": "about", "yeah": "yes", "yep": "yes", "nope": "no", "kinda": "kind of", "ya": "you",
    "youse": "you", "lemme": "let me", "gimme": "give me", "dunno": "dont know",
    "summat": "something", "owt": "anything", "nowt": "nothing", "hafta": "have to",
    "&": "and", "%": "percent", "$": "dollars", "£": "pounds", "€": "euros", "thats": "thats",
}  # fmt: skip
_SPLIT_UNITS = {"″": "inch", '"': "inch", "′": "foot"}
_MAX_SENTENCE = 120
_GAP_S = 4.0
_UNPUNCTUATED = 45.0


def _no_names(_: Sequence[Token]) -> set[int]:
    """Know no plants."""
    return set()


def read_sentences(
    cues: Sequence[Cue], *, names: Callable[[Sequence[Token]], set[int]] = _no_names
) -> tuple[Sentence, ...]:
    """Part the cues into sentences.

    `names` tells where in a run of tokens a plant's name begins: without punctuation a new tree is
    often the only sign of a new sentence.

    Linear in the number of words. A sentence never runs over a change of speaker, a silence of
    more than four seconds, or 120 words.
    """
    tokens = _capitals(list(_tokens(cues)))
    if not tokens:
        return ()
    ends = sum(t.after[:1] in ".?!" for t in tokens if t.after)
    loose = len(tokens) / max(ends, 1) > _UNPUNCTUATED
    named = _named_starts(tokens, names(tokens)) if loose else set()
    sentences: list[Sentence] = []
    first = 0
    for i, token in enumerate(tokens):
        last = i + 1 == len(tokens)
        if (
            last
            or i + 1 in named
            or _ends(token, tokens[i + 1], cues, i + 1 - first, tokens, i, loose=loose)
        ):
            sentences.append(_sentence(len(sentences), tokens[first : i + 1], cues))
            first = i + 1
    return tuple(sentences)


_COUNTS = word_set("sentences.counts")


def _named_starts(tokens: list[Token], names: set[int]) -> set[int]:
    """Give the tokens at which a bare or counted plant's name opens a new thought."""
    starts = set()
    for at in names:
        i = at - 1 if at and tokens[at - 1].word in _COUNTS else at
        if i and tokens[i - 1].word in ("the", "that") and i == at:
            i -= 1
            settled = i >= 2 and tokens[i - 1].word in _PARTICLES
            if settled and tokens[i - 2].word in ("it", "them", "that", "one", "of"):
                starts.add(i)
        elif i and (tokens[i - 1].word in _PARTICLES or tokens[i - 1].word in ("it", "them")):
            starts.add(i)
    return starts


def _sentence(index: int, tokens: list[Token], cues: Sequence[Cue]) -> Sentence:
    head, tail = cues[tokens[0].cue], cues[tokens[-1].cue]
    return Sentence(
        index, tuple(tokens), head.start_s, max(tail.end_s, head.end_s), head.speaker,
        "?" in tokens[-1].after,
    )  # fmt: skip


def _ends(
    token: Token, following: Token, cues: Sequence[Cue], length: int,
    tokens: list[Token], i: int, *, loose: bool,
) -> bool:  # fmt: skip
    if token.after and token.after[0] in ".?!…" and not _abbreviation(token):
        return True
    if length >= _MAX_SENTENCE:
        return True
    if token.cue != following.cue:
        a, b = cues[token.cue], cues[following.cue]
        if a.speaker != b.speaker or b.start_s - a.end_s > _GAP_S:
            return True
    return loose and length >= 2 and _new_thought(tokens, i)


def _abbreviation(token: Token) -> bool:
    return token.word in {"mr", "mrs", "ms", "dr", "st", "no", "ft", "approx"} and (
        token.after == "." and token.text[:1].isupper()
    )


_STRONG = word_set("sentences.strong")
_SUBJECTS = word_set("sentences.subjects")
_CLAUSES = word_set("sentences.clauses")
_AUXILIARIES = word_set("sentences.auxiliaries")
_BINDING = word_set("sentences.binding")
_MOVING = word_set("sentences.moving")
_PARTICLES = word_set("sentences.particles")


def _new_thought(tokens: list[Token], i: int) -> bool:
    """Guess a sentence boundary after token i of a transcript without punctuation."""
    last, following = tokens[i].word, tokens[i + 1].word
    after = tokens[i + 2].word if i + 2 < len(tokens) else ""
    if following in _STRONG:
        if following == "and":
            return last not in _BINDING and after in _CLAUSES | {"it", "i", "they", "then"}
        return last not in {"the", "a", "of", "to", "until", "just", "and", "right", "but", "by"}
    if following in ("down", "over", "out") and after in ("at", "by", "in", "along"):
        return last not in _BINDING - {"that"} and last not in _MOVING
    if last in _BINDING:
        return False
    if following in _SUBJECTS:
        return after in _AUXILIARIES
    if following in ("that", "the") and after in ("mess", "one", "big", "old"):
        return last in _PARTICLES or last == "first"
    return following in _CLAUSES


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
    if text in _SPLIT_UNITS:
        if held is not None and (held.word[:1].isdigit()):
            yield Token(text, _SPLIT_UNITS[text], cue)
        return
    low = text.lower().replace("’", "'")
    if low.endswith("in'") and len(low) > 4:
        low = low[:-1] + "g"
    if low == "one's":
        low = "one is"
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
