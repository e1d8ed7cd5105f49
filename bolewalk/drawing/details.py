"""The properties of works, as GeoJSON features and layer tables give them."""

import difflib
import json
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from bolewalk.drawing.settings import reading_settings
from bolewalk.model.figures import Figure
from bolewalk.model.problems import Level, Problem
from bolewalk.model.units import UnitError, UnitSystem, length_unit, parse_length
from bolewalk.model.words import (
    FOUNDATIONS,
    MAKINGS,
    PHASES,
    POSITION_BASES,
    PRESENCES,
    WORK_KINDS,
)  # fmt: skip
from bolewalk.model.works import Work

__all__ = ["AREA_KINDS", "PROPERTIES", "Place", "nearest", "read_details", "shown"]

PROPERTIES: dict[str, str] = {
    "id": "name of the feature in tables and papers",
    "kind": "what it is",
    "depth": "below grade",
    "width": "of a line",
    "diameter": "of a point",
    "made": "how the hole or trench is made",
    "founded": "what a building stands on",
    "low": "underside above grade",
    "high": "top above grade",
    "clearance": "kept free around it",
    "phase": "when",
    "basis": "how the position is known",
    "offset": "distance the position may be off",
    "present": "whether it is there at all",
    "label": "words printed beside it",
    "replaces": "id of the drawn work it stands for",
}
"""Property -> meaning. The documentation is tested against this table."""

AREA_KINDS = frozenset(
    {"excavation", "slab", "fill", "paving", "building", "roof", "access", "storage"}
)
"""Kinds that cover ground: their closed lines are areas."""

_LENGTHS = ("width", "diameter", "low", "high", "clearance", "offset")
_WORDS: dict[str, tuple[str, ...]] = {
    "made": MAKINGS,
    "founded": FOUNDATIONS,
    "phase": PHASES,
    "basis": POSITION_BASES,
    "present": PRESENCES,
}
_SHOWN = 120


@dataclass(slots=True)
class Place:
    """Where a problem stands, and the list it is written to."""

    file: str
    row: int | str | None
    problems: list[Problem] = field(default_factory=list)
    prefix: str = ""

    def tell(
        self, name: str | None, value: object, expected: str, *, level: Level = "fault"
    ) -> None:
        """Add one problem; `value` None = nothing was found."""
        where = None if name is None and not self.prefix else f"{self.prefix}{name or ''}"
        where = None if where is None else shown(where)
        row = shown(self.row) if isinstance(self.row, str) else self.row
        text = None if value is None else shown(value)
        self.problems.append(Problem(self.file, row, where, text, expected, level))

    def leaves_out(self, extent_m: Sequence[float] = ()) -> None:
        """Mark the problem told last as one for which a work is left out.

        `extent_m` is west, south, east, north of what could be read of its place [m].
        """
        self.problems[-1] = replace(self.problems[-1], left_out_m=tuple(extent_m))


def shown(value: object) -> str:
    """Give any value of a file as short text."""
    if isinstance(value, str):
        text = value
    elif isinstance(value, Mapping | list | tuple):
        text = json.dumps(value, ensure_ascii=False, default=str)
    elif isinstance(value, bool):
        text = str(value).lower()
    else:
        text = str(value)
    return text if len(text) <= _SHOWN else text[: _SHOWN - 1] + "…"


def nearest(word: str, known: Sequence[str]) -> str:
    """Give "; perhaps X" where a known word is spelled much like `word`, else ""."""
    lowered = {k.lower(): k for k in known}
    close = difflib.get_close_matches(word.lower(), list(lowered), n=1, cutoff=0.6)
    return f"; perhaps {lowered[close[0]]}" if close else ""


def read_details(
    raw: Mapping[str, Any],
    *,
    units: UnitSystem,
    source: str,
    place: Place,
    noted: set[str] | None = None,
) -> Work | None:
    """Read the properties of one feature or layer.

    Parameters
    ----------
    raw : mapping
        Property -> value. Plain numbers are in feet or metres by `units`; texts may carry a unit.
    units : UnitSystem
    source : str
        What figures name as their source.
    place : Place
        Takes the problems.
    noted : set of str, optional
        Unknown properties told before, not told again; those told now are added.

    Returns
    -------
    Work or None
        Without parts, `id` "" where none was given. None where the kind is missing or unknown.
        A property that cannot be read is told and left out, and its default stands.
    """
    kind = _kind(raw, place)
    noted = set() if noted is None else noted
    for name in sorted(set(raw) - set(PROPERTIES) - noted):
        noted.add(name)
        place.tell(
            name,
            raw[name],
            "one of "
            + ", ".join(PROPERTIES)
            + nearest(name, list(PROPERTIES))
            + "; kept as a note",
            level="notice",
        )
    lengths = {n: _length(raw.get(n), n, units, place) for n in (*_LENGTHS, "depth")}
    words = {n: _word(raw.get(n), n, choices, place) for n, choices in _WORDS.items()}
    low, high = lengths["low"], lengths["high"]
    if low is not None and high is not None and low > high:
        place.tell("low", raw["low"], f"an underside below the top, high = {shown(raw['high'])}")
        low = high = None
    if kind is None:
        return None
    depth = lengths["depth"]
    given: dict[str, Any] = {n: w for n, w in words.items() if w is not None}
    return Work(
        id=_text(raw.get("id"), "id", place),
        kind=kind,
        parts=(),
        depth_m=None
        if depth is None
        else Figure(depth, "drawn", source=source, as_entered=shown(raw["depth"])),
        width_m=lengths["width"] or 0.0,
        diameter_m=lengths["diameter"],
        low_m=low,
        high_m=high,
        clearance_m=lengths["clearance"] or 0.0,
        offset_m=lengths["offset"] or 0.0,
        label=_text(raw.get("label"), "label", place),
        replaces=_text(raw.get("replaces"), "replaces", place),
        entered={n: shown(v) for n, v in raw.items() if v is not None},
        **given,
    )


def _kind(raw: Mapping[str, Any], place: Place) -> Any:
    value = raw.get("kind")
    known = ", ".join(WORK_KINDS)
    if not isinstance(value, str) or not value.strip():
        place.tell("kind", value, f"one of {known}; left out")
        return None
    word = " ".join(value.lower().replace("_", " ").replace("-", " ").split())
    if word not in WORK_KINDS:
        place.tell("kind", value, f"one of {known}{nearest(word, WORK_KINDS)}; left out")
        return None
    return word


def _length(value: object, name: str, units: UnitSystem, place: Place) -> float | None:
    if value is None or (isinstance(value, str) and not value.strip()):
        return None
    unit = length_unit(units)
    rest = "; left out" + (", and an unknown depth counts as deep" if name == "depth" else "")
    expected = f"a length of 0 or more, such as 3, 18in or 0.9 m (plain numbers are {unit}){rest}"
    if isinstance(value, str):
        try:
            return parse_length(value, default_unit=unit).value_m
        except UnitError:
            pass
    elif isinstance(value, int | float) and not isinstance(value, bool):
        # As parse_length does it: 3 ft must read 0.9144 m, not its neighbour.
        metres = _finite(value) * 3048 / 10000 if unit == "ft" else _finite(value)
        if metres >= 0:
            return metres
    place.tell(name, value, expected)
    return None


def _finite(value: float) -> float:
    try:
        number = float(value)
    except OverflowError:
        return math.nan
    return number if math.isfinite(number) else math.nan


def _word(value: object, name: str, choices: tuple[str, ...], place: Place) -> str | None:
    if value is None or value == "":
        return None
    word = " ".join(value.lower().replace("_", " ").split()) if isinstance(value, str) else ""
    if word in choices:
        return word
    # JSON and TOML have true and false of their own, plain enough for yes and no.
    if name == "present" and isinstance(value, bool):
        return "yes" if value else "no"
    place.tell(name, value, "one of " + ", ".join(choices) + nearest(word, choices) + "; left out")
    return None


def _text(value: object, name: str, place: Place) -> str:
    if value is None:
        return ""
    if isinstance(value, str | int | float) and not isinstance(value, bool):
        text = str(value).strip()
        limit = reading_settings().characters.get(name, math.inf)
        if len(text) <= limit:
            return text
        place.tell(name, text, f"at most {limit} characters; left out")
        return ""
    place.tell(name, value, "a text; left out")
    return ""
