"""Lengths as the trade writes them, and their exact conversion to metres.

Inside the core every length is in metres and every trunk in centimetres; what a person
wrote is kept beside it and what a person reads is converted on the way out.
"""

import math
import re
from dataclasses import dataclass
from typing import Literal

__all__ = [
    "CM_PER_IN",
    "M_PER_FT",
    "M_PER_UNIT",
    "M_PER_US_SURVEY_FT",
    "Quantity",
    "UnitError",
    "UnitSystem",
    "length_unit",
    "parse_crown",
    "parse_length",
    "parse_stems",
    "to_survey_length",
    "to_survey_trunk",
    "trunk_unit",
]

UnitSystem = Literal["imperial", "metric"]
"""imperial: feet, trunk in inches. metric: metres, trunk in centimetres."""

M_PER_FT = 0.3048  # exact, international foot
M_PER_US_SURVEY_FT = 1200 / 3937  # exact by definition
CM_PER_IN = 2.54  # exact

M_PER_UNIT: dict[str, float] = {
    "mm": 0.001,
    "cm": 0.01,
    "m": 1.0,
    "in": 0.0254,
    "ft": M_PER_FT,
    "yd": 0.9144,
    "us-ft": M_PER_US_SURVEY_FT,
}

_SPELLINGS: dict[str, str] = {
    "mm": "mm", "millimetre": "mm", "millimetres": "mm", "millimeter": "mm", "millimeters": "mm",
    "cm": "cm", "centimetre": "cm", "centimetres": "cm", "centimeter": "cm", "centimeters": "cm",
    "m": "m", "metre": "m", "metres": "m", "meter": "m", "meters": "m",
    "in": "in", "in.": "in", "inch": "in", "inches": "in", '"': "in", "″": "in", "”": "in",
    "''": "in",
    "ft": "ft", "ft.": "ft", "foot": "ft", "feet": "ft", "'": "ft", "′": "ft", "’": "ft",
    "yd": "yd", "yard": "yd", "yards": "yd",
}  # fmt: skip

_NUMBER = r"\d+(?:\.\d+)?|\.\d+"
_UNIT = "|".join(sorted((re.escape(s) for s in _SPELLINGS), key=len, reverse=True))
_ONE = re.compile(rf"({_NUMBER})\s*({_UNIT})?", re.IGNORECASE)
_FEET_INCHES = re.compile(
    rf"({_NUMBER})\s*(?:ft\.?|feet|foot|'|′|’)\s*-?\s*({_NUMBER})\s*(?:in\.?|inches|inch|\"|″|”|'')?",
    re.IGNORECASE,
)


class UnitError(ValueError):
    """A length that cannot be read. `value` is the text, `expected` what would have been read."""

    def __init__(self, value: str, expected: str, why: str) -> None:
        super().__init__(f"{value!r} {why}; expected {expected}")
        self.value = value
        self.expected = expected
        self.why = why


@dataclass(frozen=True, slots=True)
class Quantity:
    """One length as it was written: value in metres, the unit used, and whether by eye."""

    value_m: float
    unit: str
    by_eye: bool
    text: str


def length_unit(system: UnitSystem) -> str:
    """Give the unit plain lengths are read and written in: "ft" or "m"."""
    return "ft" if system == "imperial" else "m"


def trunk_unit(system: UnitSystem) -> str:
    """Give the unit plain trunk sizes are read and written in: "in" or "cm"."""
    return "in" if system == "imperial" else "cm"


def to_survey_length(value_m: float, system: UnitSystem) -> float:
    """Convert metres to the survey's length unit (feet or metres)."""
    return value_m / M_PER_FT if system == "imperial" else value_m


def to_survey_trunk(value_cm: float, system: UnitSystem) -> float:
    """Convert centimetres to the survey's trunk unit (inches or centimetres)."""
    return value_cm / CM_PER_IN if system == "imperial" else value_cm


def _strip_by_eye(text: str) -> tuple[str, bool]:
    body = text.strip()
    if body.startswith("~"):
        return body[1:].strip(), True
    return body, False


def parse_length(text: str, *, default_unit: str) -> Quantity:
    """Read one length.

    Parameters
    ----------
    text : str
        A number with or without a unit ("24in", "61 cm", "3.2 m", "6'6\\"", "12"); a leading
        "~" marks it as estimated by eye.
    default_unit : str
        A key of `M_PER_UNIT`, used where the text names no unit.

    Returns
    -------
    Quantity
        Finite, >= 0.

    Raises
    ------
    UnitError
        The text is not a length. NaN, infinities and signs are not lengths, and neither is
        "12,5": a comma may mean tenths or thousands.

    Examples
    --------
    >>> parse_length("6'6\\"", default_unit="ft").value_m
    1.9812
    >>> parse_length("~61cm", default_unit="ft")
    Quantity(value_m=0.61, unit='cm', by_eye=True, text='~61cm')
    """
    expected = (
        f"a length such as 12, 24in, 6'6\", 61 cm or 3.2 m (plain numbers are {default_unit})"
    )
    body, by_eye = _strip_by_eye(text)
    if "," in body:
        raise UnitError(text, expected, "has a comma, which may mean tenths or thousands")
    both = _FEET_INCHES.fullmatch(body)
    if both:
        inches = float(both.group(1)) * 12 + float(both.group(2))
        return Quantity(_scaled(inches, "in"), "ft", by_eye, text)
    one = _ONE.fullmatch(body)
    if not one:
        why = "is negative" if body.startswith(("-", "−")) else "is not a length"
        raise UnitError(text, expected, why)
    unit = _SPELLINGS[one.group(2).lower()] if one.group(2) else default_unit
    value = _scaled(float(one.group(1)), unit)
    if not math.isfinite(value):
        raise UnitError(text, expected, "is not finite")
    return Quantity(value, unit, by_eye, text)


def _scaled(value: float, unit: str) -> float:
    # 61 cm must read 0.61 m, not 0.61 plus the rounding of 0.01: divide where the factor is 1/n.
    if unit in ("mm", "cm"):
        return value / (1000 if unit == "mm" else 100)
    if unit == "in":
        return value * 254 / 10000
    if unit == "ft":
        return value * 3048 / 10000
    return value * M_PER_UNIT[unit]


def parse_stems(text: str, *, default_unit: str) -> tuple[Quantity, ...]:
    """Read the stems of one trunk entry, "8+6+5" or "61cm".

    A unit after the last stem holds for those before it that name none: "8+6+5 in". A leading
    "~" holds for all stems.

    Raises
    ------
    UnitError
        A part is not a length, or is zero.
    """
    expected = f"trunk sizes such as 24, 61cm or 8+6+5 (plain numbers are {default_unit})"
    body, by_eye = _strip_by_eye(text)
    parts = [p.strip() for p in body.split("+")]
    if any(not p for p in parts):
        raise UnitError(text, expected, "has an empty stem")
    last = _ONE.fullmatch(_strip_by_eye(parts[-1])[0])
    shared = _SPELLINGS[last.group(2).lower()] if last and last.group(2) else default_unit
    stems = []
    for part in parts:
        try:
            q = parse_length(part, default_unit=shared)
        except UnitError as e:
            raise UnitError(text, expected, e.why) from None
        if q.value_m == 0:
            raise UnitError(text, expected, "has a stem of zero")
        stems.append(Quantity(q.value_m, q.unit, q.by_eye or by_eye, text))
    return tuple(stems)


def parse_crown(text: str, *, default_unit: str) -> tuple[Quantity, Quantity, Quantity, Quantity]:
    """Read a crown as one mean radius or as north/east/south/west radii, "12/15/10/14".

    Returns
    -------
    tuple of four Quantity
        North, east, south, west; four times the same where one radius was given.

    Raises
    ------
    UnitError
        Not one or four lengths.
    """
    expected = (
        f"one mean radius or north/east/south/west, 12/15/10/14 (plain numbers are {default_unit})"
    )
    body, by_eye = _strip_by_eye(text)
    parts = [p.strip() for p in body.split("/")]
    if len(parts) not in (1, 4):
        raise UnitError(text, expected, f"has {len(parts)} radii")
    last = _ONE.fullmatch(_strip_by_eye(parts[-1])[0])
    shared = _SPELLINGS[last.group(2).lower()] if last and last.group(2) else default_unit
    radii = []
    for part in parts:
        try:
            q = parse_length(part, default_unit=shared)
        except UnitError as e:
            raise UnitError(text, expected, e.why) from None
        radii.append(Quantity(q.value_m, q.unit, q.by_eye or by_eye, text))
    if len(radii) == 1:
        radii *= 4
    north, east, south, west = radii
    return north, east, south, west
