"""The limits a verdict is read against, each with its value, unit, source and provenance."""

import math
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path
from typing import Any, Literal, get_args

from bolewalk.model.problems import Problem
from bolewalk.model.survey import ROOT_ZONE_METHODS, RootZoneMethod
from bolewalk.model.units import CM_PER_IN
from bolewalk.model.words import AGES, Age, Tolerance

__all__ = [
    "PROVENANCES", "Provenance", "SetOver", "Threshold", "Thresholds", "read_thresholds",
    "thresholds", "thresholds_over",
]  # fmt: skip

Provenance = Literal["read", "read (secondary)", "read (weak)", "memory", "ours"]
PROVENANCES: tuple[Provenance, ...] = get_args(Provenance)

_DATA = Path(__file__).parent / "data" / "thresholds.toml"
_UNIT_RANGE: dict[str, tuple[float, float]] = {
    "pct": (0.0, 100.0),
    "trunk": (0.0, 100.0),
    "m": (0.0, 100.0),
    "m2": (0.0, 100.0),
    "m3": (0.1, 100.0),
    "cm": (0.0, 1000.0),
    "deg": (0.0, 180.0),
    "share": (0.0, 1.0),
    "years": (1.0, 200.0),
}


@dataclass(frozen=True, slots=True)
class Threshold:
    """One limit. `unit` is pct, trunk (trunk diameters), m, m2, m3, cm, deg, share or years.
    `method` and `age` None = every method, every age."""

    key: str
    value: float
    unit: str
    source: str
    provenance: Provenance
    method: RootZoneMethod | None = None
    age: Age | None = None


@dataclass(frozen=True, slots=True)
class SetOver:
    """A file of limits set over the packaged ones: its name, its version and where it comes from
    ("" where it does not say), and its rows in the order of the file."""

    file: str
    version: str
    source: str
    rows: tuple[Threshold, ...]


@dataclass(frozen=True, slots=True)
class Thresholds:
    """All limits, those that decide a verdict unpacked because they are asked thousands of times.

    Shares in percent. `rows` holds the row in force for every key.
    """

    severed_keep_pct: float
    severed_keep_if_pct: Mapping[Tolerance | None, float]
    best_half_pct: float
    covered_keep_pct: float
    crown_removed_keep_pct: float
    rows: Mapping[str, Threshold]
    special: tuple[Threshold, ...] = ()
    """Rows that hold for one method or one age class only."""
    version: str = ""
    """Of the packaged limits."""
    own: SetOver | None = None

    def value(self, key: str) -> float:
        """Give one limit in the unit of its row."""
        return self.rows[key].value

    def by_trunk_m(self, prefix: str, diameter_cm: float) -> float:
        """Give the distance [m] a table sets for a trunk, from rows "<prefix>.<least>in".

        The class with the largest least diameter not above the trunk counts; the first class for
        thinner trunks.
        """
        classes = sorted(
            (float(key.removeprefix(f"{prefix}.").removesuffix("in")), row.value)
            for key, row in self.rows.items()
            if key.startswith(f"{prefix}.")
        )
        inches = diameter_cm / CM_PER_IN
        return max((c for c in classes if c[0] <= inches), default=classes[0])[1]

    def for_tree(
        self, *, method: RootZoneMethod | None = None, age: Age | None = None
    ) -> "Thresholds":
        """Give the limits in force under one method and for one age class.

        A row naming both wins over one naming the method, which wins over one naming the age.
        """
        fitting = [
            row for row in self.special if row.method in (None, method) and row.age in (None, age)
        ]
        if not fitting:
            return self
        fitting.sort(key=lambda r: (r.method is not None) * 2 + (r.age is not None))
        found = _unpacked(dict(self.rows) | {row.key: row for row in fitting}, self.special)
        return replace(found, version=self.version, own=self.own)


def _unpacked(rows: Mapping[str, Threshold], special: tuple[Threshold, ...]) -> Thresholds:
    def at(key: str) -> float:
        return rows[key].value

    return Thresholds(
        severed_keep_pct=at("severed.keep"),
        severed_keep_if_pct={
            "poor": at("severed.keep_if.poor"),
            "moderate": at("severed.keep_if.moderate"),
            "good": at("severed.keep_if.good"),
            None: at("severed.keep_if.unknown"),
        },
        best_half_pct=at("best_half.keep_if"),
        covered_keep_pct=at("covered.keep"),
        crown_removed_keep_pct=at("crown.removed_keep"),
        rows=rows,
        special=special,
    )


def _parsed(
    entries: list[Any], file: str, known: Mapping[str, Threshold] | None
) -> tuple[list[Threshold], list[Problem]]:
    rows: list[Threshold] = []
    problems: list[Problem] = []
    for number, entry in enumerate(entries, start=1):
        wrong = _fault(entry, known)
        if wrong is not None:
            field, value, expected = wrong
            found = None if value is None else str(value)
            problems.append(Problem(file, number, field, found, expected))
            continue
        rows.append(
            Threshold(
                entry["key"], float(entry["value"]), entry["unit"], entry["source"],
                entry["provenance"], entry.get("method"), entry.get("age"),
            )
        )  # fmt: skip
    return rows, problems


def _fault(
    entry: Any, known: Mapping[str, Threshold] | None
) -> tuple[str | None, object, str] | None:
    if not isinstance(entry, dict):
        return None, entry, "a [[threshold]] table"
    key = entry.get("key")
    if not isinstance(key, str) or (known is not None and key not in known):
        names = ", ".join(sorted(known)) if known is not None else "a name"
        return "key", key, f"one of {names}"
    unit = entry.get("unit")
    wanted = sorted(_UNIT_RANGE) if known is None else [known[key].unit]
    if unit not in wanted:
        return "unit", unit, f"one of {', '.join(wanted)}"
    value: Any = entry.get("value")
    low, high = _UNIT_RANGE[unit]
    sound = isinstance(value, int | float) and not isinstance(value, bool)
    if not sound or not math.isfinite(float(value)) or not low <= float(value) <= high:
        return "value", value, f"a number from {low:g} to {high:g} ({unit})"
    if not isinstance(entry.get("source"), str) or not entry["source"].strip():
        return "source", entry.get("source"), "where the value was read, or why it was chosen"
    if entry.get("provenance") not in PROVENANCES:
        return "provenance", entry.get("provenance"), f"one of {', '.join(PROVENANCES)}"
    if entry.get("method") not in (None, *ROOT_ZONE_METHODS):
        return "method", entry.get("method"), f"one of {', '.join(ROOT_ZONE_METHODS)}"
    if entry.get("age") not in (None, *AGES):
        return "age", entry.get("age"), f"one of {', '.join(AGES)}"
    return None


def _disorder(t: Thresholds) -> str | None:
    by = t.severed_keep_if_pct
    if not t.severed_keep_pct <= min(by.values()):
        return "severed.keep at or below every severed.keep_if"
    if not by["poor"] <= by["moderate"] <= by["good"]:
        return "severed.keep_if rising from poor over moderate to good"
    if not by["poor"] <= by[None] <= by["good"]:
        return "severed.keep_if.unknown between poor and good"
    return None


def _disorder_anywhere(t: Thresholds) -> str | None:
    """Give what is out of order for trees at large, or for those a special row is for."""
    each = (t, *(t.for_tree(method=r.method, age=r.age) for r in t.special))
    return next((found for found in map(_disorder, each) if found is not None), None)


@lru_cache(maxsize=1)
def thresholds() -> Thresholds:
    """Give the packaged limits (`data/thresholds.toml`).

    Raises
    ------
    ValueError
        The packaged file is damaged.
    """
    with _DATA.open("rb") as f:
        table = tomllib.load(f)
    rows, problems = _parsed(table["threshold"], _DATA.name, None)
    if problems:
        raise ValueError(problems[0].line())
    general = {r.key: r for r in rows if r.method is None and r.age is None}
    special = tuple(r for r in rows if r.method is not None or r.age is not None)
    result = _unpacked(general, special)
    disorder = _disorder_anywhere(result)
    if disorder is not None:
        raise ValueError(f"{_DATA.name}: expected {disorder}")
    return replace(result, version=str(table["version"]))


def read_thresholds(
    path: Path, *, name: str | None = None
) -> tuple[Thresholds, tuple[Problem, ...]]:
    """Read a file of limits set over the packaged ones.

    Parameters
    ----------
    path : Path
        TOML with [[threshold]] tables of the packaged file's form; keys left out keep their
        packaged row.
    name : str, optional
        How problems name the file; its own name where left out.

    Returns
    -------
    Thresholds
        The packaged limits with every sound row of the file over them. Where the file's rows
        contradict one another (keep above keep_if), the packaged limits alone.
    tuple of Problem
        One for each row that was left out.
    """
    file = name or path.name
    try:
        with path.open("rb") as f:
            table = tomllib.load(f)
    except (OSError, tomllib.TOMLDecodeError, UnicodeDecodeError) as e:
        return thresholds(), (Problem(file, None, None, str(e), "a TOML file of limits"),)
    return thresholds_over(table, file=file)


def thresholds_over(
    table: Mapping[str, Any], *, file: str
) -> tuple[Thresholds, tuple[Problem, ...]]:
    """Set the rows of an open file of limits over the packaged ones, as `read_thresholds` does.

    A general row of the file wins over packaged rows of one method or age with the same key: who
    sets a limit means it for every tree, unless the file says otherwise itself. Packaged rows of
    one method or age that contradict the file give way altogether.
    """
    packaged = thresholds()
    problems: list[Problem] = []
    for key in sorted(set(table) - {"version", "source", "threshold"}):
        known = "version, source or [[threshold]] tables; left out"
        problems.append(Problem(file, None, key, None, known, "notice"))
    told = {"version": "", "source": ""}
    for key, what in (("version", 'such as "2026-05"'), ("source", "who set these limits, or why")):
        value = table.get(key)
        if isinstance(value, str) and value.strip():
            told[key] = value.strip()
        else:
            found = None if value is None else str(value)
            problems.append(Problem(file, None, key, found, f"a text, {what}", "notice"))
    entries = table.get("threshold", [])
    if not isinstance(entries, list):
        problems.append(Problem(file, None, "threshold", None, "[[threshold]] tables"))
        return packaged, tuple(problems)
    rows, bad = _parsed(entries, file, packaged.rows)
    problems += bad
    general = {r.key: r for r in rows if r.method is None and r.age is None}
    special = tuple(r for r in rows if r.method is not None or r.age is not None)
    kept = tuple(r for r in packaged.special if r.key not in general)
    # Packaged rows for one age or method give way where the file's own limits contradict them.
    for special_rows in (kept + special, special):
        result = _unpacked(dict(packaged.rows) | general, special_rows)
        disorder = _disorder_anywhere(result)
        if disorder is None:
            break
    if disorder is not None:
        problems.append(Problem(file, None, "threshold", None, disorder))
        return packaged, tuple(problems)
    own = SetOver(file, told["version"], told["source"], tuple(rows))
    return replace(result, version=packaged.version, own=own if rows else None), tuple(problems)
