"""Reading a table of settings against the list of its keys, all problems at once.

The list is also what the documentation is compared with, so a key cannot exist unwritten.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Any, Literal

from bolewalk.model.money import to_minor
from bolewalk.model.problems import Problem

__all__ = ["Key", "Kind", "read_keys"]

Kind = Literal[
    "money",
    "number",
    "whole",
    "text",
    "texts",
    "flag",
    "date",
    "dates",
    "numbers",
    "place",
    "places",
]
"""numbers: a list of them. place: [east, north] on the survey's grid; places: a list of them."""


_NO_LIMIT = 1e9
"""Highest bound that only keeps nonsense out and is not worth telling."""


@dataclass(frozen=True, slots=True)
class Key:
    """One key of a settings file.

    `path` is dotted; a part "*" stands for a name: one of `names`, or the user's own where
    `names` is empty. `required` asks for the key wherever the table holding it exists (tables
    whose path has no "*" always count as existing). `low` and `high` bound numbers, both
    inclusive, and the length of a list of places; `choices` lists the words a text may be.
    """

    path: str
    kind: Kind
    required: bool = False
    low: float = 0.0
    high: float = math.inf
    choices: tuple[str, ...] = ()
    names: tuple[str, ...] = ()

    @property
    def parts(self) -> tuple[str, ...]:
        """The parts of the path."""
        return tuple(self.path.split("."))

    def expected(self) -> str:
        """Say what a value of this key may be."""
        if self.choices:
            return "one of " + ", ".join(self.choices)
        if self.kind in ("text", "texts"):
            return "a text" if self.kind == "text" else "a list of texts"
        if self.kind in ("flag", "date"):
            return "true or false" if self.kind == "flag" else "a date such as 2026-05-12"
        if self.kind == "dates":
            return "a list of dates such as 2026-05-12"
        if self.kind == "place":
            return "a place, [east, north]"
        if self.kind == "places":
            return f"a list of at least {self.low:g} places, [[east, north], ...]"
        if self.kind == "numbers":
            return f"a list of numbers of at least {self.low:g}"
        what = {"money": "an amount", "number": "a number", "whole": "a whole number"}[self.kind]
        upper = "" if self.high >= _NO_LIMIT else f", at most {self.high:g}"
        return f"{what} of at least {self.low:g}{upper}"


def _fits(path: Sequence[str], key: Key) -> bool:
    """Whether a path lies on the key's path (or is its beginning)."""
    return len(path) <= len(key.parts) and all(
        (want == "*" and (not key.names or have in key.names)) or want == have
        for have, want in zip(path, key.parts, strict=False)
    )


def _value(key: Key, raw: Any, minor_digits: int) -> Any:
    """Give the checked value; ValueError says why not."""
    if key.kind == "flag":
        if not isinstance(raw, bool):
            raise ValueError
        return raw
    if key.kind == "date":
        return _day(raw)
    if key.kind == "dates":
        if not isinstance(raw, list):
            raise ValueError
        return tuple(_day(x) for x in raw)
    if key.kind == "text":
        if not isinstance(raw, str) or (key.choices and raw not in key.choices) or not raw.strip():
            raise ValueError
        return raw
    if key.kind == "texts":
        if not isinstance(raw, list) or not all(isinstance(x, str) and x.strip() for x in raw):
            raise ValueError
        if key.choices and any(x not in key.choices for x in raw):
            raise ValueError
        return tuple(raw)
    if key.kind == "place":
        return _place(raw)
    if key.kind == "places":
        if not isinstance(raw, list) or len(raw) < key.low:
            raise ValueError
        return tuple(_place(xy) for xy in raw)
    if key.kind == "numbers":
        if not isinstance(raw, list) or not all(_is_number(x) for x in raw):
            raise ValueError
        if any(not key.low <= x <= key.high for x in raw):
            raise ValueError
        return tuple(float(x) for x in raw)
    if not _is_number(raw) or not key.low <= raw <= key.high:
        raise ValueError
    if key.kind == "whole":
        if raw != int(raw):
            raise ValueError
        return int(raw)
    if key.kind == "money":
        return to_minor(raw, minor_digits=minor_digits)
    return float(raw)


def _day(raw: Any) -> date:
    if isinstance(raw, datetime) or not isinstance(raw, date):
        raise ValueError
    return raw


def _is_number(raw: Any) -> bool:
    if not isinstance(raw, int | float | Decimal) or isinstance(raw, bool):
        return False
    try:
        return math.isfinite(raw)
    except OverflowError:
        # A whole number of hundreds of digits.
        return False


def _place(raw: Any) -> tuple[float, float]:
    if not isinstance(raw, list) or len(raw) != 2 or not all(_is_number(x) for x in raw):
        raise ValueError
    return float(raw[0]), float(raw[1])


def read_keys(
    table: Mapping[str, Any],
    keys: Sequence[Key],
    *,
    file: str,
    minor_digits: int = 2,
    row: str | int | None = None,
    prefix: str = "",
) -> tuple[dict[str, Any], tuple[Problem, ...]]:
    """Check a settings table against its keys.

    Parameters
    ----------
    table : mapping
        As read from TOML; nested tables allowed, lists of tables are not looked into.
    keys : sequence of Key
    file : str
        Name for the problems.
    minor_digits : int
        Digits after the point of money.
    row, prefix
        Where the table stands: `row` of the problems, text before their key path.

    Returns
    -------
    values : dict
        Dotted path (names in place of "*") -> checked value; money in minor units.
    problems : tuple of Problem
        Unknown keys, wrong values, required keys missing; in the order of the file, missing last.
    """
    values: dict[str, Any] = {}
    problems: list[Problem] = []
    tables: set[tuple[str, ...]] = {()}

    def fault(path: Sequence[str], value: str | None, expected: str) -> None:
        problems.append(Problem(file, row, prefix + ".".join(path), value, expected))

    def walk(node: Mapping[str, Any], at: tuple[str, ...]) -> None:
        for name, raw in node.items():
            path = (*at, str(name))
            fitting = [k for k in keys if _fits(path, k)]
            leaf = next((k for k in fitting if len(k.parts) == len(path)), None)
            if not fitting:
                known = _known_here(keys, at)
                fault(path, _show(raw), "a known key: " + ", ".join(known))
            elif leaf is None:
                if isinstance(raw, Mapping):
                    tables.add(path)
                    walk(raw, path)
                else:
                    fault(path, _show(raw), "a table with " + ", ".join(_known_here(keys, path)))
            else:
                try:
                    values[".".join(path)] = _value(leaf, raw, minor_digits)
                except ValueError:
                    fault(path, _show(raw), _expected(leaf, minor_digits))

    walk(table, ())
    seen = {p.field for p in problems}
    for key in keys:
        if not key.required:
            continue
        for holder in sorted(_holders(key, tables)):
            path = (*holder, key.parts[-1])
            dotted = ".".join(path)
            if dotted not in values and prefix + dotted not in seen:
                fault(path, None, _expected(key, minor_digits))
    return values, tuple(problems)


def _expected(key: Key, minor_digits: int) -> str:
    text = key.expected()
    if key.kind == "money":
        text += f" with at most {minor_digits} digits after the point"
    return text


def _holders(key: Key, tables: set[tuple[str, ...]]) -> set[tuple[str, ...]]:
    holder = key.parts[:-1]
    if "*" not in holder:
        return {holder}
    return {t for t in tables if len(t) == len(holder) and _fits(t, key)}


def _known_here(keys: Sequence[Key], at: tuple[str, ...]) -> list[str]:
    names: dict[str, None] = {}
    for k in keys:
        if len(k.parts) > len(at) and _fits(at, k):
            part = k.parts[len(at)]
            names.update(dict.fromkeys(k.names if part == "*" and k.names else (part,)))
    return ["any name" if n == "*" else n for n in names]


def _show(raw: Any) -> str:
    if isinstance(raw, Mapping):
        return "a table"
    return "a list" if isinstance(raw, list) else str(raw)
