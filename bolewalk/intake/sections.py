"""Tables of survey.toml read key by key, every problem told with the key's full name."""

import contextlib
import math
from collections.abc import Mapping, Sequence
from datetime import date, datetime
from typing import Any

from bolewalk.drawing.details import Place, nearest
from bolewalk.intake.plausible import plausible
from bolewalk.model.units import UnitError, UnitSystem, length_unit, parse_length

__all__ = ["Section"]


class Section:
    """One table: gives its values, tells what is wrong, and what it does not know.

    Parameters
    ----------
    raw : object
        What stands in the file; anything but a table is told and read as empty.
    name : str
        Full name, "survey" or "people.assessor".
    known : mapping
        Known key -> meaning.
    place : Place
        Takes the problems.
    """

    def __init__(self, raw: object, name: str, known: Mapping[str, str], place: Place) -> None:
        self.name = name
        self._place = place
        self.raw: Mapping[str, Any] = {}
        if isinstance(raw, Mapping):
            self.raw = raw
        elif raw is not None:
            place.tell(name, raw, f"a table [{name}]")
        for key in self.raw:
            if key not in known:
                self.tell(
                    key,
                    f"one of {', '.join(known)}{nearest(key, list(known))}; left out",
                    level="notice",
                )

    def tell(self, key: str, expected: str, *, level: Any = "fault") -> None:
        """Tell of the value of one key."""
        name = f"{self.name}.{key}" if self.name else key
        self._place.tell(name, self.raw.get(key), expected, level=level)

    def text(self, key: str) -> str:
        """Give a text, "" where there is none."""
        value = self.raw.get(key)
        if value is None:
            return ""
        if isinstance(value, str):
            return value.strip()
        if isinstance(value, int | float) and not isinstance(value, bool):
            return str(value)
        self.tell(key, "a text in quotes; left out")
        return ""

    def texts(self, key: str) -> tuple[str, ...]:
        """Give a list of texts; one text counts as a list of one."""
        value = self.raw.get(key)
        if value is None:
            return ()
        if isinstance(value, str):
            return (value,)
        if not isinstance(value, list):
            self.tell(key, 'a list of file names, such as ["a.geojson"]; left out')
            return ()
        bad = [v for v in value if not isinstance(v, str)]
        if bad:
            self.tell(key, "a list of texts only; the others are left out")
        return tuple(v for v in value if isinstance(v, str))

    def choice(self, key: str, choices: Sequence[str]) -> Any:
        """Give one of some words, None where there is none of them."""
        value = self.raw.get(key)
        if value is None:
            return None
        word = " ".join(value.lower().split()) if isinstance(value, str) else ""
        if word in choices:
            return word
        self.tell(key, "one of " + ", ".join(choices) + nearest(word, choices) + "; left out")
        return None

    def date(self, key: str) -> date | None:
        """Give a date, written 2026-05-12 with or without quotes."""
        value = self.raw.get(key)
        if isinstance(value, datetime):
            value = value.date()
        if isinstance(value, str):
            with contextlib.suppress(ValueError):
                value = date.fromisoformat(value.strip())
        p = plausible()
        if isinstance(value, date) and p.first_year <= value.year <= p.last_year:
            return value
        if isinstance(value, date):
            expected = f"a date from {p.first_year} to {p.last_year}"
            self.tell(key, f"{expected}; left out")
        elif value is not None:
            self.tell(key, "a date such as 2026-05-12; left out")
        return None

    def number(self, key: str, *, low: float, high: float, what: str) -> float | None:
        """Give a number within bounds, both inclusive."""
        value = self.raw.get(key)
        if value is None:
            return None
        if isinstance(value, int | float) and not isinstance(value, bool) and low <= value <= high:
            return float(value)
        upper = "" if math.isinf(high) else f" and at most {high:g}"
        self.tell(key, f"{what} of at least {low:g}{upper}; left out")
        return None

    def length_m(self, key: str, units: UnitSystem) -> float | None:
        """Give a length in metres; plain numbers are in the survey's unit."""
        value = self.raw.get(key)
        if value is None:
            return None
        unit = length_unit(units)
        if isinstance(value, str):
            try:
                return parse_length(value, default_unit=unit).value_m
            except UnitError:
                pass
        elif isinstance(value, int | float) and not isinstance(value, bool):
            # As parse_length does it: 3 ft must read 0.9144 m, not its neighbour.
            try:
                metres = value * 3048 / 10000 if unit == "ft" else float(value)
            except OverflowError:
                metres = math.inf
            if math.isfinite(metres) and metres >= 0:
                return metres
        self.tell(key, f"a length, such as 12 or 3.5 m (plain numbers are {unit}); left out")
        return None

    def flag(self, key: str) -> bool:
        """Give true or false; false where there is none."""
        value = self.raw.get(key)
        if isinstance(value, bool):
            return value
        if value is not None:
            self.tell(key, "true or false; left out")
        return False
