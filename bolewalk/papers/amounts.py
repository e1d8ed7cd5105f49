"""How figures are written on paper: one plain style for each kind of amount.

The kind is told by the ending of the value's name, so that a sentence and a table write the
same figure the same way. Core units in, the reader's units out.
"""

from collections.abc import Callable
from dataclasses import dataclass

from bolewalk.model.units import (
    CM_PER_IN,
    M_PER_FT,
    UnitSystem,
    length_unit,
    to_survey_length,
    to_survey_trunk,
    trunk_unit,
)

__all__ = ["COMPASS_16", "Amounts", "compass_point"]

COMPASS_16 = (
    "N", "NNE", "NE", "ENE", "E", "ESE", "SE", "SSE",
    "S", "SSW", "SW", "WSW", "W", "WNW", "NW", "NNW",
)  # fmt: skip

_L_PER_US_GAL = 3.785411784  # exact, 231 cubic inches
_INCHES_BELOW = 36
_KG_PER_LB = 0.45359237  # exact
_M3_PER_YD3 = 0.9144**3  # exact


def compass_point(bearing_deg: float) -> str:
    """Give the nearest of the 16 compass points for a bearing clockwise from north [deg]."""
    return COMPASS_16[round(bearing_deg / 22.5) % 16]


def _fixed(value: float, places: int) -> str:
    text = f"{value:,.{places}f}"
    # "-0.0" is a rounding of nothing and reads like a misprint.
    return text.removeprefix("-") if not text.strip("-0.,") else text


@dataclass(frozen=True, slots=True)
class Amounts:
    """Writes amounts for one reader.

    Attributes
    ----------
    units : UnitSystem
        imperial: ft to one decimal, trunks in inches; metric: m to two decimals, trunks in cm.
    currency : str
        ISO 4217 code of the money in the papers.
    minor_digits : int
        Digits of the minor unit: 2 for cents.
    """

    units: UnitSystem
    currency: str = "USD"
    minor_digits: int = 2

    @property
    def length_unit(self) -> str:
        """Unit after a length: "ft" or "m"."""
        return length_unit(self.units)

    @property
    def trunk_unit(self) -> str:
        """Unit after a trunk size: "in" or "cm"."""
        return trunk_unit(self.units)

    def length_number(self, value_m: float) -> str:
        """Write a length [m] without its unit, for a table column."""
        return _fixed(to_survey_length(value_m, self.units), 1 if self.units == "imperial" else 2)

    def length(self, value_m: float) -> str:
        """Write a length [m] in a sentence: "12.5 ft", "8 in", "3.81 m".

        Under three feet people think in inches.
        """
        inches = value_m * 100 / CM_PER_IN
        if self.units == "imperial" and abs(inches) < _INCHES_BELOW:
            return f"{_fixed(inches, 0)} in"
        return f"{self.length_number(value_m)} {self.length_unit}"

    def trunk_number(self, value_cm: float) -> str:
        """Write a trunk size [cm] without its unit."""
        return _fixed(to_survey_trunk(value_cm, self.units), 1)

    def trunk(self, value_cm: float) -> str:
        """Write a trunk size [cm]: "24.0 in", "61.0 cm"."""
        return f"{self.trunk_number(value_cm)} {self.trunk_unit}"

    def area(self, value_m2: float) -> str:
        """Write an area [m2]: "1,271 sq ft", "118.1 m²"."""
        if self.units == "imperial":
            return f"{_fixed(value_m2 / M_PER_FT**2, 0)} sq ft"
        return f"{_fixed(value_m2, 1)} m²"

    def volume(self, value_m3: float) -> str:
        """Write a volume [m3]: "55.0 cu yd", "42.1 m³"."""
        if self.units == "imperial":
            return f"{_fixed(value_m3 / _M3_PER_YD3, 1)} cu yd"
        return f"{_fixed(value_m3, 1)} m³"

    def mass(self, value_kg: float) -> str:
        """Write a mass [kg]: "1,240 lb", "562 kg"."""
        if self.units == "imperial":
            return f"{_fixed(value_kg / _KG_PER_LB, 0)} lb"
        return f"{_fixed(value_kg, 0)} kg"

    @property
    def water_unit(self) -> str:
        """Unit after a volume of water: "gal" or "l"."""
        return "gal" if self.units == "imperial" else "l"

    def water_number(self, value_l: float) -> str:
        """Write a volume of water [l] without its unit, for a table column."""
        return _fixed(value_l / _L_PER_US_GAL if self.units == "imperial" else value_l, 0)

    def water(self, value_l: float) -> str:
        """Write a volume of water [l]: "450 gal", "1,703 l"."""
        return f"{self.water_number(value_l)} {self.water_unit}"

    def percent(self, value_pct: float) -> str:
        """Write a share [percent]: "19.6 %"."""
        return f"{_fixed(value_pct, 1)} %"

    def bearing(self, value_deg: float) -> str:
        """Write a bearing [deg clockwise from north]: "ENE, 68°"."""
        return f"{compass_point(value_deg)}, {round(value_deg) % 360}°"

    def count(self, value: float) -> str:
        """Write a count: "1,204"."""
        return _fixed(value, 0) if float(value).is_integer() else f"{value:,g}"

    def years(self, value: float) -> str:
        """Write a number of years without a word after it: the sentence has the word."""
        return _fixed(value, 0) if float(value).is_integer() else _fixed(value, 1)

    def hours(self, value: float) -> str:
        """Write hours without a word after them, to a quarter of an hour's decimals."""
        return _fixed(value, 1)

    def money(self, value_minor: float) -> str:
        """Write money [minor units]: "$1,234.50"; a code stands before currencies but the dollar.

        A dollar sign alone is read as the reader's own dollar, so only USD is written with one.
        """
        return self._signed(_fixed(value_minor / 10**self.minor_digits, self.minor_digits))

    def _signed(self, whole: str) -> str:
        if self.currency == "USD":
            return f"-${whole[1:]}" if whole.startswith("-") else f"${whole}"
        return f"{self.currency} {whole}"

    def about(self, value_minor: float) -> str:
        """Write money [minor units] that is a likely figure, to the whole unit: "$1,235"."""
        return self._signed(_fixed(value_minor / 10**self.minor_digits, 0))

    def clock(self, value_s: float) -> str:
        """Write a moment of a recording [s]: "4:09"."""
        seconds = int(value_s)
        return f"{seconds // 60}:{seconds % 60:02d}"

    def by_name(self, name: str, value: float) -> str:
        """Write a number by the ending of its name; one without a known ending as it is."""
        for ending, write in self._writers():
            if name == ending[1:] or name.endswith(ending):
                return write(value)
        return f"{value:,g}"

    def _writers(self) -> tuple[tuple[str, Callable[[float], str]], ...]:
        return (
            ("_m", self.length),
            ("_cm", self.trunk),
            ("_m2", self.area),
            ("_m3", self.volume),
            ("_kg", self.mass),
            ("_l", self.water),
            ("_pct", self.percent),
            ("_deg", self.bearing),
            ("_years", self.years),
            ("_hours", self.hours),
            ("_count", self.count),
            ("_about_minor", self.about),
            ("_minor", self.money),
            ("_s", self.clock),
        )
