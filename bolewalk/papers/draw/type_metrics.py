"""Widths of words in the papers' own type, so that labels can be kept apart before setting.

The figures are read from the bundled fonts by `scripts/type_metrics.py` and kept as data, since
reading four fonts takes longer than setting a paper.
"""

import json
from bisect import bisect_right
from functools import lru_cache
from importlib import resources
from typing import Any

__all__ = ["MM_PER_PT", "covered", "printable", "width_mm", "wrapped"]

MM_PER_PT = 25.4 / 72


@lru_cache(maxsize=1)
def _metrics() -> dict[str, Any]:
    source = resources.files(__package__) / "data" / "type_metrics.json"
    found: dict[str, Any] = json.loads(source.read_text(encoding="utf-8"))
    return found


@lru_cache(maxsize=4)
def _advances(weight: str) -> dict[str, float]:
    em = _metrics()["units_per_em"]
    return {c: w / em for c, w in _metrics()["advances"][weight].items()}


def width_mm(text: str, size_pt: float, weight: str = "regular") -> float:
    """Give the width of a line of text [mm], kerning left out.

    A character that the papers' own family does not carry counts as one em.
    """
    widths = _advances(weight)
    return sum(widths.get(c, 1.0) for c in text) * size_pt * MM_PER_PT


@lru_cache(maxsize=1)
def covered() -> frozenset[int]:
    """Give every code point that one of the bundled fonts carries."""
    return frozenset(n for a, b in _metrics()["covered"] for n in range(a, b + 1))


_PLAIN = frozenset(range(0x20, 0x7F))


def printable(text: str) -> str:
    """Give text as it can be printed: nothing dropped, nothing invisible.

    Line breaks and tabs become spaces; control characters, marks that turn the direction of
    writing, and characters no bundled font carries are printed as their code point in brackets.
    """
    if text.isascii() and text.isprintable():
        return text
    out = []
    for c in text:
        n = ord(c)
        if n in _PLAIN or (n in covered() and c.isprintable()) or n == 0xA0:
            out.append(c)
        elif c in "\n\r\t\x0b\x0c\u2028\u2029 ":
            out.append(" ")
        else:
            out.append(f"[U+{n:04X}]")
    return "".join(out)


def _fitting(word: str, width: float, size_pt: float, weight: str) -> int:
    """Give how many letters of a word that is too wide fit into a line, one at least."""
    # Halved, not tried letter by letter: a word may have thousands.
    fits = bisect_right(
        range(1, len(word) + 1), width, key=lambda i: width_mm(word[:i], size_pt, weight)
    )
    return max(fits, 1)


def wrapped(
    text: str, width: float, size_pt: float, weight: str = "regular", *, lines: int
) -> list[str]:
    """Break text into lines no wider than `width` [mm]; what does not fit ends in an ellipsis."""
    text = printable(text)
    out = [""]
    for word in text.split():
        if len(out) > lines:
            break
        trial = f"{out[-1]} {word}".strip()
        if width_mm(trial, size_pt, weight) <= width:
            out[-1] = trial
            continue
        if out[-1]:
            out.append("")
        while len(out) <= lines and width_mm(word, size_pt, weight) > width:
            n = _fitting(word, width, size_pt, weight)
            out[-1] = word[:n]
            out.append("")
            word = word[n:]
        out[-1] = word
    if len(out) > lines:
        out = out[:lines]
        while out[-1] and width_mm(out[-1] + "…", size_pt, weight) > width:
            out[-1] = out[-1][:-1]
        out[-1] += "…"
    return [line for line in out if line]
