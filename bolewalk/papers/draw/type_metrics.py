"""Widths of words in the papers' own type, so that labels can be kept apart before setting."""

from functools import lru_cache
from importlib import resources

from fontTools.ttLib import TTFont

__all__ = ["MM_PER_PT", "covered", "printable", "width_mm"]

MM_PER_PT = 25.4 / 72

_FILES = {
    "regular": "SourceSans3-Regular.otf",
    "semibold": "SourceSans3-Semibold.otf",
    "bold": "SourceSans3-Bold.otf",
}
_FALLBACKS = ("DejaVuSans.ttf", "DroidSansFallback.ttf")


@lru_cache(maxsize=8)
def _advances(file: str) -> tuple[dict[int, float], frozenset[int]]:
    source = resources.files("bolewalk.papers") / "fonts" / file
    with resources.as_file(source) as path, TTFont(path, lazy=True) as font:
        cmap, metrics, em = font.getBestCmap(), font["hmtx"].metrics, font["head"].unitsPerEm
        # Only what is common is kept by width; a rare character is taken as one em wide.
        widths = {c: metrics[g][0] / em for c, g in cmap.items() if c < 0x2500}
        return widths, frozenset(cmap)


def width_mm(text: str, size_pt: float, weight: str = "regular") -> float:
    """Give the width of a line of text [mm], kerning left out."""
    widths, _ = _advances(_FILES[weight])
    return sum(widths.get(ord(c), 1.0) for c in text) * size_pt * MM_PER_PT


@lru_cache(maxsize=1)
def covered() -> frozenset[int]:
    """Give every code point that one of the bundled fonts carries."""
    files = (_FILES["regular"], *_FALLBACKS)
    return frozenset().union(*(_advances(f)[1] for f in files))


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
