"""Kinds of sizes, and those said in a way of their own: stems, "forty by thirty", twins."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Literal

from bolewalk.walk.numbers import Spoken
from bolewalk.walk.phrases import word_set
from bolewalk.walk.sentences import Token

__all__ = ["UNITS", "SizeSaid", "System", "What", "sides_said", "stems_said", "twin_said"]

What = Literal["height", "diameter", "spread", "girth", "stems", "base"]
System = Literal["imperial", "metric"]


@dataclass(frozen=True, slots=True)
class SizeSaid:
    """One size: what, value and unit, and whether the unit was said.

    `readings` are (value, unit) pairs that the words also allow; more than one means the number
    cannot be read without asking. `start`, `end` are tokens.
    """

    what: What
    value: float
    unit: str
    start: int
    end: int
    unit_said: bool = True
    readings: tuple[tuple[float, str], ...] = ()


UNITS = {
    "inch": "in", "inches": "in", "in": "in", "foot": "ft", "feet": "ft", "ft": "ft", "mil": "mm",
    "mils": "mm", "millimetre": "mm", "millimetres": "mm", "millimeter": "mm", "millimeters": "mm",
    "mm": "mm", "centimetre": "cm", "centimetres": "cm", "centimeter": "cm", "centimeters": "cm",
    "cm": "cm", "cms": "cm", "metre": "m", "metres": "m", "meter": "m", "meters": "m", "m": "m",
    "yard": "yd", "yards": "yd", "footer": "ft", "footers": "ft", "inchers": "in", "incher": "in",
}  # fmt: skip
_STEMS = word_set("measures.stems")
_COUNTING = word_set("measures.counting")
_MULTIPLES = {"twin": 2.0, "double": 2.0, "triple": 3.0, "quadruple": 4.0}


def stems_said(tokens: Sequence[Token], numbers: Sequence[Spoken]) -> SizeSaid | None:
    words = [t.word for t in tokens]
    for i, w in enumerate(words):
        if w in _MULTIPLES and words[i + 1 : i + 2] and words[i + 1] in _STEMS:
            return SizeSaid("stems", _MULTIPLES[w], "", i, i + 2)
    for number in reversed(numbers):
        following = words[number.end : number.end + 4]
        for j, w in enumerate(following):
            plural = w in ("stems", "trunks", "leaders", "poles", "leads") and number.value < 40
            plural = plural and tokens[number.end + j].text[-2:] not in ("'s", "’s")
            one_word = w in ("stem", "trunk", "stemmed", "trunked") and j == 0
            ends = number.end + 1 == len(words) or bool(tokens[number.end].after)
            plural = plural or (one_word and ends and 2 <= number.value <= 12)
            if plural and not set(following[:j]) & ({"of", "the", "on"} | set(UNITS)):
                back = number.start
                while back and words[back - 1] in _COUNTING:
                    back -= 1
                return SizeSaid("stems", number.value, "", back, number.end + j + 1)
    return None


def sides_said(
    tokens: Sequence[Token], numbers: Sequence[Spoken], system: System | None
) -> list[SizeSaid]:  # fmt: skip
    """Read "forty five by forty" as height and spread where no smaller thing can be meant."""
    least = 15.0 if system == "imperial" else 5.0
    for a, b in pairwise(numbers):
        if b.start != a.end + 1 or tokens[a.end].word != "by" or min(a.value, b.value) < least:
            continue
        named = b.end < len(tokens) and not tokens[b.end - 1].after
        unit = UNITS.get(tokens[b.end].word, "") if named else ""
        said = unit in ("ft", "m")
        if (unit and not said) or max(a.value, b.value) > 150:
            continue
        unit = unit or ("ft" if system == "imperial" else "m")
        return [
            SizeSaid("height", a.value, unit, a.start, a.end, said),
            SizeSaid("spread", b.value, unit, b.start, b.end + said, said),
        ]
    return []


def twin_said(
    tokens: Sequence[Token], before: Spoken | None, number: Spoken, size: SizeSaid
) -> SizeSaid | None:  # fmt: skip
    """Read the first of two trees' sizes said with one unit: "nine and eleven inches"."""
    if before is None or size.what == "stems" or (size.readings and size.unit_said):
        return None
    between = [t.word for t in tokens[before.end : number.start]]
    if between != ["and"] or before.pair or not 0.2 <= before.value / number.value <= 5:
        return None
    readings = tuple((before.value, u) for _, u in size.readings)
    return replace(
        size, value=before.value, start=before.start, end=before.end, readings=readings
    )  # fmt: skip
