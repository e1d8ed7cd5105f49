"""Trunk sizes as tree inventories write them: numbers, stems, girths, size classes, nothing."""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from bolewalk.intake.plausible import plausible
from bolewalk.model.figures import Figure
from bolewalk.model.units import UnitError, parse_length, parse_stems
from bolewalk.region.settings import settings
from bolewalk.trees.stems import diameter_from_girth_cm

__all__ = ["SizeBasis", "Trunk", "read_trunk"]

SizeBasis = Literal["measured", "class", "missing"]


@dataclass(frozen=True, slots=True)
class Trunk:
    """One trunk entry read.

    Attributes
    ----------
    stems_cm : tuple of Figure
        Diameters; with low and high where the size is only known between two ends.
    basis : SizeBasis
        missing: nothing usable was written and the figures are the packaged stand-ins.
    by_girth : bool
    why : str
        "" or what was wrong with the entry, as the end of "expected ...".
    level : "fault" or "notice"
        Of that problem.
    """

    stems_cm: tuple[Figure, ...]
    basis: SizeBasis
    by_girth: bool = False
    why: str = ""
    level: Literal["fault", "notice"] = "notice"


_N = r"(\d+(?:\.\d+)?)"
_U = r"(?:\s*(in\.?|inch(?:es)?|\"|″|”|cm|mm|m|ft))?"
_BETWEEN = re.compile(rf"{_N}{_U}\s*(?:-|–|—|to|\.\.)\s*<?{_N}{_U}", re.IGNORECASE)
_ABOVE = re.compile(
    rf"(?:(?:>=?|≥|over|above|more than)\s*{_N}{_U}|{_N}{_U}\s*(?:\+|and (?:over|above|up)))",
    re.IGNORECASE,
)
_BELOW = re.compile(rf"(?:<=?|≤|under|below|less than|up to)\s*{_N}{_U}", re.IGNORECASE)
_NOTHING = {"", "0", "0.0", "nan", "none", "null", "n/a", "na", "unknown", "-", "?"}


def read_trunk(diameter: str, girth: str, *, unit: str, classes: Mapping[str, str]) -> Trunk:
    """Read the trunk of one row.

    Parameters
    ----------
    diameter, girth : str
        Cells as written; the diameter counts where both are given.
    unit : str
        Of plain numbers, "in" or "cm".
    classes : mapping
        Word of a size class -> its range.

    Returns
    -------
    Trunk
        A class stands for its middle and carries both ends. An entry that is missing, unreadable
        or larger than any trunk known is the packaged stand-in, from a sapling to an old tree.

    Examples
    --------
    >>> read_trunk("6-12 in", "", unit="cm", classes={}).stems_cm[0].high
    30.48
    """
    text, by_girth = (
        (diameter, False) if diameter.strip().lower() not in _NOTHING else (girth, True)
    )
    text = text.strip()
    if text.lower() in _NOTHING:
        return Trunk(_stand_in(), "missing", why="a trunk size; judged from small to large")
    text = classes.get(text, text)
    ends = _class(text, unit)
    figures: tuple[Figure, ...]
    try:
        if ends is not None:
            low, high = sorted(ends)
            # A trunk of nothing has no root zone: "0-6" begins where "under 6" does.
            low = max(low, high * settings().open_below_times) if low == 0 else low
            figures = (Figure((low + high) / 2, "estimated", "size class", low, high, text),)
        else:
            figures = tuple(
                Figure(q.value_m * 100, "estimated" if q.by_eye else "measured", as_entered=text)
                for q in parse_stems(text, default_unit=unit)
            )
    except UnitError:
        return _unusable(
            f"a trunk size such as 24, 61cm, 8+6+5 or 6-12 in (plain numbers are {unit}); "
            "judged from small to large"
        )
    if by_girth:
        figures = tuple(f.scaled(diameter_from_girth_cm(1.0)) for f in figures)
    widest = max(max(f.value, f.high or 0.0) for f in figures)
    p = plausible()
    if widest > p.trunk_never_cm or widest <= 0:
        return _unusable(
            f"a trunk above 0 and below {p.trunk_never_cm:.0f} cm, the widest known; judged from "
            "small to large"
        )
    basis: SizeBasis = "measured" if ends is None else "class"
    if widest > p.trunk_doubt_cm:
        why = (
            f"a trunk below {p.trunk_doubt_cm:.0f} cm across, or a second look: girth given as "
            "diameter, or another unit? Kept"
        )
        return Trunk(figures, basis, by_girth, why)
    return Trunk(figures, basis, by_girth)


def _unusable(why: str) -> Trunk:
    return Trunk(_stand_in(), "missing", why=why, level="fault")


def _stand_in() -> tuple[Figure, ...]:
    low, middle, high = settings().missing_cm
    return (Figure(middle, "default", "trunk not measured", low, high),)


def _class(text: str, unit: str) -> tuple[float, float] | None:
    """Ends of a size class [cm], None where the text is no class."""

    def cm(number: str, written: str | None) -> float:
        name = {"″": "in", "”": "in"}.get(written or "", written or unit)
        return parse_length(f"{number}{name}", default_unit=unit).value_m * 100

    between = _BETWEEN.fullmatch(text)
    if between:
        a, ua, b, ub = between.groups()
        return cm(a, ua or ub), cm(b, ub or ua)
    above = _ABOVE.fullmatch(text)
    if above:
        g = above.groups()
        start = cm(g[0] or g[2], g[1] if g[0] else g[3])
        return start, start * settings().open_above_times
    below = _BELOW.fullmatch(text)
    if below:
        end = cm(below.group(1), below.group(2))
        return end * settings().open_below_times, end
    return None
