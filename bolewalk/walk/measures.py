"""Sizes of trees in what was said, told from distances, works and clearances."""

import math
import re
from collections.abc import Sequence
from dataclasses import replace

from bolewalk.walk.numbers import Spoken, find_numbers
from bolewalk.walk.phrases import phrase, word_set
from bolewalk.walk.sentences import Sentence, Token
from bolewalk.walk.size_kinds import (
    UNITS,
    SizeSaid,
    System,
    What,
    sides_said,
    stems_said,
    twin_said,
)

__all__ = ["SizeSaid", "System", "What", "find_sizes", "said_units", "trunk_without_unit"]

_CALLED = phrase("measures.called")

_TRUNK_AFTER = phrase("measures.trunk_after")

_AT_BASE = phrase("measures.at_base")

_SAID_OF_TREE = phrase("measures.said_of_tree")

_HEIGHT = phrase("measures.height")
_DIAMETER = phrase("measures.diameter")
_SPREAD = phrase("measures.spread")
_GIRTH = phrase("measures.girth")
_AWAY_AFTER = word_set("measures.away_after")
_AWAY_BEFORE = phrase("measures.away_before")
_OF_TREE_AFTER = phrase("measures.of_tree_after")
_SIDE_TO_SIDE = phrase("measures.side_to_side")
_THEN = phrase("measures.then")
_WORKS = phrase("measures.works")


def said_units(sentences: Sequence[Sentence]) -> System | None:
    """Tell which system of units a walk speaks, None where it names no unit or both alike."""
    imperial = metric = 0
    for s in sentences:
        for w in s.words:
            unit = UNITS.get(w)
            imperial += unit in ("in", "ft", "yd") and w != "in"
            metric += unit in ("mm", "cm", "m") and w != "m"
    if imperial == metric:
        return None
    return "imperial" if imperial > metric else "metric"


def find_sizes(sentence: Sentence, *, system: System | None, trees: bool) -> list[SizeSaid]:
    """Find the sizes of trees in one sentence.

    Parameters
    ----------
    sentence : Sentence
    system : System or None
        The units the walk speaks, for numbers that name none.
    trees : bool
        Whether the sentence speaks of a tree: only then is a number without unit looked at.

    Returns
    -------
    list of SizeSaid
        In order. Distances ("eight feet off the trunk"), heights to cut to ("lift it to ten
        foot"), sizes of works and years are left out.
    """
    tokens = sentence.tokens
    numbers = find_numbers(tokens)
    sizes: list[SizeSaid] = []
    stems = stems_said(tokens, numbers)
    if stems is not None:
        sizes.append(stems)
    sides = (
        sides_said(tokens, numbers, system) if trees and not _WORKS.search(sentence.text) else []
    )
    sizes += sides
    for k, number in enumerate(numbers):
        if any(x.start <= number.start < x.end for x in sides):
            continue
        if stems is not None and stems.start <= number.start < stems.end:
            continue
        if sizes and sizes[-1].start <= number.start < sizes[-1].end:
            continue
        after = numbers[k + 1] if k + 1 < len(numbers) else None
        size = _size(tokens, number, after, system, trees=trees)
        if size is None:
            continue
        before = numbers[k - 1] if k else None
        twin = twin_said(tokens, before, number, size)
        if twin is not None and not any(x.start <= twin.start < x.end for x in sizes):
            sizes.append(twin)
        if before is not None and [t.word for t in tokens[before.end : number.start]] == ["or"]:
            both = ((before.value, size.unit), (size.value, size.unit))
            size = replace(size, start=before.start, readings=both)
        sizes.append(size)
    return sorted(sizes, key=lambda s: s.start)


_LEAST_ALONE = 7.0  # a smaller number between commas is a count
_GIRTH_FROM_M = 1.8  # a tape round so much is read as girth; few trunks are so thick
_CROWN_AFTER = re.compile(r"(?:crown|canopy|spread)\b")
_GATE_BEFORE = re.compile(r"\bgates?(?: is)? (?:only|just|about|maybe)\b(?: \w+){0,2}$")
_GIRTH_SAID = re.compile(r"\b(?:girths?|circumference|around|round about)\b")


def _size(
    tokens: Sequence[Token], number: Spoken, after: Spoken | None, system: System | None, *,
    trees: bool,
) -> SizeSaid | None:  # fmt: skip
    words = [t.word for t in tokens]
    end = number.end
    value = number.value
    unit = ""
    if words[end : end + 1] == ["odd"] and words[end + 1 : end + 2] and words[end + 1] in UNITS:
        end += 1
    named = end < len(words) and not tokens[end - 1].after and words[end] in UNITS
    # "in" is a unit only where the clause ends with it.
    if named and (words[end] != "in" or end + 1 == len(words) or tokens[end].after):
        unit = UNITS[words[end]]
        end += 1
    if unit and after is not None and after.start == end and not tokens[end - 1].after:
        # "six foot two", "four metres forty"
        inches = _unit_at(words, after.end) and UNITS[words[after.end]] == "in"
        if unit == "ft" and after.value < 12 and (inches or not _unit_at(words, after.end)):
            value, end = value + after.value / 12, after.end + inches
        elif unit == "m" and after.value < 100 and not _unit_at(words, after.end):
            value, end = value + after.value / 100, after.end
    if unit and words[end : end + 3] == ["and", "a", "half"]:
        value, end = value + 0.5, end + 3
    if _away(tokens, number.start, end, unit):
        return None
    what = _what(tokens, number.start, end, unit, value, system)
    if what is None:
        return None
    if unit == "yd":
        return None
    if not unit:
        return _unitless(tokens, number, what, system) if trees else None
    if not _credible(what, value, unit):
        return None
    size = SizeSaid(what, round(value, 4), unit, number.start, end)
    unsure = value * _METRES[unit] < _GIRTH_FROM_M
    if what == "girth" and unsure and not _GIRTH_SAID.search(" ".join(words)):
        # "Seventy centimetres round the leg" may be the tape's reading or meant as across.
        across = (round(value / math.pi, 1), unit)
        return replace(size, readings=(across, (size.value, unit)))
    return size


def _unit_at(words: Sequence[str], i: int) -> bool:
    return i < len(words) and words[i] in UNITS


def _away(tokens: Sequence[Token], start: int, end: int, unit: str) -> bool:
    """Whether the number is a distance, a clearance, a size of works: anything but the tree's."""
    words = [t.word for t in tokens]
    begin = start
    while begin and not tokens[begin - 1].after:
        begin -= 1
    clause = " ".join(words[begin:start])
    joined = not tokens[end - 1].after
    following = words[end] if end < len(words) and joined else ""
    if following in _AWAY_AFTER:
        rest = " ".join(words[end : end + 4])
        if not re.match(r"(?:up|high|wide|across|down here)\b", rest) or following in ("up",):
            return not re.match(r"(?:at (?:chest|breast)|wide\b)", rest)
    # Also over commas: "the gate's only, what, forty inches".
    if _GATE_BEFORE.search(" ".join(words[max(0, start - 5) : start])):
        return True
    if _THEN.search(clause) or words[max(0, start - 2) : end] == _IF_A:
        return True
    if words[end : end + 2] == ["all", "round"]:
        return True
    if re.search(r"\bby (?:\w+ )?$", clause + " ") and unit:
        return True
    if unit and re.search(r"\bat (?:about |maybe |around |roughly )?$", clause + " "):
        return not re.search(r"\b(?:shot|sighted|make|put) (?:it|him|her|that)\b", clause)
    if joined and _OF_TREE_AFTER.match(" ".join(words[end : end + 3])):
        return bool(re.search(r"\b(?:limb|branch|fork|cavity|tear)\b(?: \w+)?$", clause))
    if following == "wide" and re.search(r"\b(?:high|tall|height)\b", clause):
        return False
    if _AWAY_BEFORE.search(clause) and not _said_of_tree(clause):
        return True
    if _dimension(tokens, end, joined) or (
        following in ("square", "percent", "years", "months", "weeks", "winters")
    ):
        return True
    return bool(_WORKS.search(" ".join(words[begin:end]))) and not _said_of_tree(clause)


def _dimension(tokens: Sequence[Token], end: int, joined: bool) -> bool:
    """Whether the number is one side of something, "sixteen by twenty"."""
    return joined and end + 1 < len(tokens) and tokens[end].word == "by" and (
        bool(find_numbers(tokens[end + 1 : end + 2]))
    )  # fmt: skip


def _said_of_tree(clause: str) -> bool:
    return bool(_SAID_OF_TREE.search(clause)) and not re.search(
        r"\b(?:reduce|lift|raise|cut|dig|down|within|off)\w*\b(?: \w+){0,3}$", clause
    )


def _what(
    tokens: Sequence[Token], start: int, end: int, unit: str, value: float, system: System | None
) -> What | None:
    words = [t.word for t in tokens]
    begin, stop = start, end
    while begin and not tokens[begin - 1].after and start - begin < 5:
        begin -= 1
    while stop < len(words) and not tokens[stop - 1].after and stop - end < 5:
        stop += 1
    left, right = " ".join(words[begin:start]), " ".join(words[end:stop])
    if _AT_CHEST.match(right):
        return "diameter"
    of_crown = "across" in right or _CROWN_AFTER.match(right)
    if (_GIRTH.search(right) and not of_crown) or re.search(r"\bgirths?\b", left):
        return "girth"
    if re.match(r"(?:of an? )?(?:inch|inches)?\b", right) and re.match(
        r"(?:tall|high|in height)\b", right
    ):
        return "height"
    if _TRUNK_AFTER.match(right) and right.startswith("at "):
        return "diameter"
    if re.match(r"(?:across|through) the (?:stem|trunk|butt|bole)\b", right):
        return "diameter"
    if _SIDE_TO_SIDE.match(right):
        return "spread"
    if re.match(r"(?:across|wide|spread|crown|canopy)\b", right):
        return "diameter" if unit in ("in", "mm") or (unit == "cm" and value < 300) else "spread"
    if _AT_BASE.match(right):
        return "base"
    if _TRUNK_AFTER.match(right):
        return "diameter"
    for pattern, what in ((_SPREAD, "spread"), (_DIAMETER, "diameter"), (_HEIGHT, "height")):
        m = list(pattern.finditer(left))
        if m and not (what == "spread" and unit in ("in", "mm")):
            if what == "height" and m[-1].group() == "up":
                continue
            if what == "diameter" and unit in ("ft", "m") and value > 5:
                continue
            return what  # type: ignore[return-value]
    headed = _previous_head(tokens, begin, start)
    if headed and not (headed == "diameter" and unit in ("ft", "m") and value > 5):
        return headed
    if _SPREAD.search(right) and unit in ("ft", "m", ""):
        return "spread"
    if _HEIGHT.search(right):
        return "height"
    if unit in ("in", "mm", "cm"):
        return "diameter"
    if unit in ("ft", "m"):
        return "height"
    if not unit and ((value >= 100 and system == "metric") or _called(left)):
        return "diameter"
    if not unit and value >= _LEAST_ALONE and _set_apart(tokens, start, end):
        return "diameter"
    return None


def _set_apart(tokens: Sequence[Token], start: int, end: int) -> bool:
    """Whether a number stands between commas after a name: "catalpa, thirty, hollow"."""
    end += end < len(tokens) and tokens[end].word in ("each", "apiece")
    return start > 0 and bool(tokens[start - 1].after) and (
        end == len(tokens) or bool(tokens[end - 1].after)
    )  # fmt: skip


def _called(left: str) -> bool:
    """Whether a bare number is said as the size: "and it's twenty-eight"."""
    return bool(_CALLED.search(left))


def _previous_head(tokens: Sequence[Token], begin: int, start: int) -> What | None:
    """Read a heading clause: "Stem, eleven-twenty mil", "the spread, oh, sixty feet"."""
    words = [t.word for t in tokens[max(0, start - 5) : start]]
    text = " ".join(words)
    if begin == start or len(words) - (start - begin) > 0:
        if re.search(r"\bgirths?\b", " ".join(t.word for t in tokens[max(0, start - 9) : start])):
            return "girth"
        if re.search(r"\bspreads?\b(?: \w+|(?: \w+)? (?:call|make) (?:it|that))?$", text):
            return "spread"
        if re.search(
            r"\b(?:stem|diameter|trunk)\b(?: \w+|(?: \w+)? (?:call|make) (?:it|that))?$", text
        ):
            return "diameter"
        if re.search(r"\bheight\b(?: \w+|(?: \w+)? (?:call|make) (?:it|that))?$", text):
            return "height"
    return None


def trunk_without_unit(value: float, system: System | None) -> SizeSaid:
    """Read a trunk's size that names no unit: millimetres from a hundred on, else two readings."""
    if value >= 100 and system != "imperial":
        return SizeSaid("diameter", value, "mm", 0, 0, unit_said=False)
    inches, cms = (value, "in"), (value, "cm")
    first = inches if system == "imperial" else cms
    return SizeSaid("diameter", first[0], first[1], 0, 0, False, (inches, cms))


def _unitless(
    tokens: Sequence[Token], number: Spoken, what: What, system: System | None
) -> SizeSaid | None:
    """Read a size that names no unit: the walk's own where only one makes sense, else two."""
    words = [t.word for t in tokens]
    following = words[number.end] if number.end < len(words) else ""
    ends = number.end == len(words) or bool(tokens[number.end - 1].after)
    if (
        not ends
        and following
        not in (
            "tall",
            "high",
            "at",
            "across",
            "wide",
            "through",
            "with",
            "and",
            "dbh",
            "diameter",
            "stem",
            "trunk",
            "girth",
            "odd",
            "estimated",
            "each",
            "apiece",
        )
        and words[number.end : number.end + 2] not in (["or", "so"], ["or", "thereabouts"])
        and not _TRUNK_AFTER.match(" ".join(words[number.end : number.end + 3]))
        and not _AT_CHEST.match(" ".join(words[number.end : number.end + 4]))
    ):
        return None
    value = number.value
    if value <= 1 or (number.pair is not None and 1900 <= value <= 2050):
        return None
    begin, end = _clause_of(tokens, number.start, number.end)
    clause = " ".join(words[begin:end])
    if _WORKS.search(clause) or re.search(r"\b(?:foot)?paths?\b", clause):
        return None
    if what == "diameter":
        return replace(trunk_without_unit(value, system), start=number.start, end=number.end)
    unit = "ft" if system == "imperial" else "m"
    if not _credible(what, value, unit):
        return None
    return SizeSaid(what, value, unit, number.start, number.end, unit_said=False)


def _clause_of(tokens: Sequence[Token], start: int, end: int) -> tuple[int, int]:
    """Give the clause around some tokens: up to the marks before and after."""
    while start and not tokens[start - 1].after:
        start -= 1
    while end < len(tokens) and not tokens[end - 1].after:
        end += 1
    return start, end


_AT_CHEST = re.compile(r"(?:a?round|about)(?: about)? (?:chest|breast) (?:height|high)\b")
_IF_A = ["if", "its", "a", "foot"]  # "ninety feet if it's a foot"
_METRES = {"in": 0.0254, "ft": 0.3048, "mm": 0.001, "cm": 0.01, "m": 1.0}
# Beyond the largest trees known and below a seedling a number is something else.
_LIMITS_M = {
    "height": (0.3, 116.0),
    "diameter": (0.01, 11.0),
    "spread": (0.3, 75.0),
    "girth": (0.05, 45.0),
    "base": (0.01, 20.0),
}


def _credible(what: What, value: float, unit: str) -> bool:
    low, high = _LIMITS_M[what]
    return low <= value * _METRES[unit] <= high
