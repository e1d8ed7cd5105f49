"""Numbers as people say them: thirty-one, eleven-twenty, six-oh-five, a hundred and ten."""

from collections.abc import Sequence
from dataclasses import dataclass

from bolewalk.walk.sentences import Token

__all__ = ["Spoken", "find_numbers"]


@dataclass(frozen=True, slots=True)
class Spoken:
    """One number in a run of tokens: first token, the one after its last, value.

    `pair` holds the two parts where the number was said as two ("six forty" is 640), so that a
    reader can take them apart where that makes better sense.
    """

    start: int
    end: int
    value: float
    pair: tuple[float, float] | None = None


_NEVER_SAID = 1e12
_UNITS = {
    w: i
    for i, w in enumerate(
        [
            "zero",
            "one",
            "two",
            "three",
            "four",
            "five",
            "six",
            "seven",
            "eight",
            "nine",
            "ten",
            "eleven",
            "twelve",
            "thirteen",
            "fourteen",
            "fifteen",
            "sixteen",
            "seventeen",
            "eighteen",
            "nineteen",
        ]
    )
}
_TENS = {
    w: 10 * i
    for i, w in enumerate(
        ["twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety"], start=2
    )
} | {"fourty": 40}  # fmt: skip
_MEASURED = {"foot", "feet", "metres", "meters", "mil", "millimetres"}
_GROUPS = {"couple": 2.0, "pair": 2.0, "dozen": 12.0, "trio": 3.0}


def find_numbers(tokens: Sequence[Token]) -> list[Spoken]:
    """Find every number in a run of tokens, left to right, none overlapping.

    "One" is found like any other number; whether it counts is for the reader of the sentence.
    A comma or full stop parts numbers; "one two three" are three numbers, "eleven twenty" is
    1120 and "six oh five" 605, as trunk sizes and prices are said.
    """
    found: list[Spoken] = []
    i = 0
    while i < len(tokens):
        number = _number(tokens, i)
        if number is None:
            i += 1
        else:
            found.append(number)
            i = number.end
    return found


def _number(tokens: Sequence[Token], i: int) -> Spoken | None:
    word = tokens[i].word
    if word[:1].isdigit():
        # A run of digits nobody has said: a number beyond any float would be none.
        value = float(word.replace(",", "") or 0)
        return _halves(tokens, i, i + 1, value) if value < _NEVER_SAID else None
    if word in ("a", "an") and i + 1 < len(tokens):
        following = tokens[i + 1].word
        if following in _MEASURES_OF_ONE and _goes_on(tokens, i + 2):
            return Spoken(i, i + 1, 1.0)
        if following in ("hundred", "thousand"):
            return _scaled(tokens, i, i + 1, 1.0)
        if following in _GROUPS and _says_of(tokens, i + 2, following):
            return Spoken(i, i + 2, _GROUPS[following])
        return None
    if word == "hundred" and i + 1 < len(tokens):
        # "Hundred and twelve", "hundred foot": the "a" is often left out.
        if tokens[i + 1].word in _MEASURED:
            return Spoken(i, i + 1, 100.0)
        more = _small(tokens, i + 2) if tokens[i + 1].word == "and" else None
        if more is not None and more[0]:
            return Spoken(i, more[1], 100.0 + more[0])
    if word == "half" and _words(tokens, i, 3) == ("half", "a", "dozen"):
        return Spoken(i, i + 3, 6.0)
    if word in ("pair", "trio") and _says_of(tokens, i + 1, word):
        return Spoken(i, i + 1, _GROUPS[word])
    if word == "dozen":
        return Spoken(i, i + 1, 12.0)
    first = _small(tokens, i)
    return None if first is None else _scaled(tokens, i, first[1], first[0])


_MEASURES_OF_ONE = {"metre", "meter", "foot", "yard"}


def _goes_on(tokens: Sequence[Token], i: int) -> bool:
    """Whether "a metre" is a size: "a metre eighty", "a metre and a half", "a metre round"."""
    if i >= len(tokens):
        return False
    if _small(tokens, i) is not None or _words(tokens, i, 3) == ("and", "a", "half"):
        return True
    return tokens[i].word in ("round", "through", "across", "thick", "diameter", "girth")


def _says_of(tokens: Sequence[Token], i: int, word: str) -> bool:
    return word == "dozen" or (i < len(tokens) and tokens[i].word in ("of", "more"))


def _words(tokens: Sequence[Token], i: int, n: int) -> tuple[str, ...]:
    return tuple(t.word for t in tokens[i : i + n])


def _small(tokens: Sequence[Token], i: int) -> tuple[float, int] | None:
    """Read 0 to 99 at i."""
    if i >= len(tokens):
        return None
    word = tokens[i].word
    if word in _UNITS:
        return float(_UNITS[word]), i + 1
    if word in _TENS:
        if i + 1 < len(tokens) and not tokens[i].after:
            unit = _UNITS.get(tokens[i + 1].word, 0)
            if 0 < unit < 10:
                return float(_TENS[word] + unit), i + 2
        return float(_TENS[word]), i + 1
    return None


def _scaled(tokens: Sequence[Token], start: int, at: int, value: float) -> Spoken:
    """Go on after the first small number: hundred, thousand, a second half, a fraction."""
    total, current, pair = 0.0, value, None
    i = at
    while i < len(tokens) and not tokens[i - 1].after:
        word = tokens[i].word
        if word == "hundred" and current < 100:
            current *= 100
            i += 1
        elif word == "thousand":
            total, current = (total + current) * 1000, 0.0
            i += 1
        elif word == "dozen":
            return Spoken(start, i + 1, current * 12)
        elif word == "and" and current % 100 == 0 and (current or total):
            more = _small(tokens, i + 1)
            if more is None or more[0] == 0:
                break
            # "nine hundred and one" but "six hundred and one of them" is left to the reader.
            i = i + 1
        elif word in ("oh", "o") and 1 <= current < 100 and pair is None and i + 1 < len(tokens):
            unit = _UNITS.get(tokens[i + 1].word, 0)
            if not 0 < unit < 10:
                break
            return Spoken(start, i + 2, current * 100 + unit, (current, float(unit)))
        else:
            more = _small(tokens, i)
            if more is None:
                break
            if (current % 100 == 0 and current >= 100) or (current == 0 and total):
                current += more[0]
                i = more[1]
            elif total == 0 and 1 <= current < 100 and more[0] >= 10 and pair is None:
                pair = (current, more[0])
                current = current * 100 + more[0]
                i = more[1]
            else:
                break
    spoken = _halves(tokens, start, i, total + current)
    return Spoken(spoken.start, spoken.end, spoken.value, pair)


def _halves(tokens: Sequence[Token], start: int, i: int, value: float) -> Spoken:
    """Add "point two" and "and a half"."""
    if i < len(tokens) and not tokens[i - 1].after:
        if tokens[i].word == "point" and i + 1 < len(tokens):
            digits = ""
            k = i + 1
            while k < len(tokens) and 0 <= _UNITS.get(tokens[k].word, -1) < 10:
                digits += str(_UNITS[tokens[k].word])
                k += 1
            if digits:
                return Spoken(start, k, value + float("0." + digits))
        if _words(tokens, i, 3) == ("and", "a", "half"):
            times = {"thousand": 1000.0, "hundred": 100.0}
            word = tokens[i + 3].word if i + 3 < len(tokens) and not tokens[i + 2].after else ""
            if word in times:
                return Spoken(start, i + 4, (value + 0.5) * times[word])
            return Spoken(start, i + 3, value + 0.5)
    return Spoken(start, i, value)
