"""Which columns of the trees and the works mean what: a small TOML file, and its defaults."""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from bolewalk.drawing.details import PROPERTIES, nearest
from bolewalk.model.units import UnitSystem

__all__ = ["MAPPING_KEYS", "TREE_COLUMNS", "Columns", "ColumnsError", "read_columns"]

TREE_COLUMNS: dict[str, str] = {
    "tree": "id",
    "species": "botanical or common name",
    "x": "east or longitude, where there is no geometry",
    "y": "north or latitude, where there is no geometry",
    "diameter": "trunk at breast height: a number, stems 8+6+5, or a class 6-12 in",
    "girth": "trunk circumference, may stand instead",
    "age": "young, semi-mature, mature, over-mature",
    "tolerance": "good, moderate, poor",
    "crown": "mean radius or north/east/south/west",
    "form": "crown form",
    "position_error": "metres the position may be off",
    "place": "street and number, printed in the visit list",
}
"""Meaning of each column; a column of the same name is read without being mapped."""

MAPPING_KEYS: dict[str, tuple[str, ...]] = {
    "": ("units", "mixed_crs", "trees", "works"),
    "trees": (*TREE_COLUMNS, "crs", "trunk_unit", "position_error_m", "classes"),
    "works": (*PROPERTIES, "crs", "defaults"),
}
"""Keys of each table of a column mapping; "" is the file itself."""


class ColumnsError(ValueError):
    """A column mapping that cannot be used; the text says what to change."""


@dataclass(frozen=True, slots=True)
class Columns:
    """Names of columns by meaning, and what the files do not say themselves.

    Attributes
    ----------
    units : "imperial", "metric" or None
        Of plain numbers; None = not told.
    trees, works : mapping
        Meaning -> column of the file.
    trees_crs, works_crs : str or None
        Reference system of a file that names none.
    trunk_unit : "in", "cm" or None
        Of plain trunk numbers, where it is not that of `units`.
    position_error_m : float
        How far any tree may stand from where it is drawn [m].
    classes : mapping
        Word of a size class -> its range, {"small" = "0-6 in"}.
    work_defaults : mapping
        Property -> value where the feature has none.
    mixed_crs : bool
        Works are carried over to the trees' reference system where the two differ.
    """

    units: UnitSystem | None = None
    trees: Mapping[str, str] = field(default_factory=dict)
    works: Mapping[str, str] = field(default_factory=dict)
    trees_crs: str | None = None
    works_crs: str | None = None
    trunk_unit: str | None = None
    position_error_m: float = 0.0
    classes: Mapping[str, str] = field(default_factory=dict)
    work_defaults: Mapping[str, Any] = field(default_factory=dict)
    mixed_crs: bool = False

    def tree_column(self, meaning: str) -> str:
        """Give the column of a meaning: the mapped one, else the one of that name."""
        return self.trees.get(meaning, meaning)


def read_columns(path: Path) -> Columns:
    """Read a column mapping.

    Raises
    ------
    ColumnsError
        Not TOML, an unknown key or a value of another sort.
    """
    try:
        raw = tomllib.loads(path.read_text(encoding="utf-8"))
    except OSError as e:
        raise ColumnsError(f"{path.name}: cannot be read ({e.strerror})") from None
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as e:
        raise ColumnsError(f"{path.name}: not TOML in UTF-8 ({e})") from None
    _known(raw, MAPPING_KEYS[""], path.name, "")
    trees, works = _table(raw, "trees", path.name), _table(raw, "works", path.name)
    _known(trees, MAPPING_KEYS["trees"], path.name, "trees.")
    _known(works, MAPPING_KEYS["works"], path.name, "works.")
    units = raw.get("units")
    if units not in (None, "imperial", "metric"):
        raise ColumnsError(f'{path.name}: units is {units!r}; expected "imperial" or "metric"')
    trunk = trees.get("trunk_unit")
    if trunk not in (None, "in", "cm"):
        raise ColumnsError(f'{path.name}: trees.trunk_unit is {trunk!r}; expected "in" or "cm"')
    error = trees.get("position_error_m", 0.0)
    if isinstance(error, bool) or not isinstance(error, int | float) or not 0 <= error < 1000:
        raise ColumnsError(
            f"{path.name}: trees.position_error_m is {error!r}; expected metres from 0 up"
        )
    classes = _texts(trees.get("classes", {}), path.name, "trees.classes")
    defaults = works.get("defaults", {})
    if not isinstance(defaults, dict):
        raise ColumnsError(f"{path.name}: works.defaults must be a table of properties")
    _known(defaults, tuple(PROPERTIES), path.name, "works.defaults.")
    return Columns(
        units=units,
        trees=_texts({k: v for k, v in trees.items() if k in TREE_COLUMNS}, path.name, "trees"),
        works=_texts({k: v for k, v in works.items() if k in PROPERTIES}, path.name, "works"),
        trees_crs=_text(trees.get("crs"), path.name, "trees.crs"),
        works_crs=_text(works.get("crs"), path.name, "works.crs"),
        trunk_unit=trunk,
        position_error_m=float(error),
        classes=classes,
        work_defaults=defaults,
        mixed_crs=raw.get("mixed_crs", False) is True,
    )


def _table(raw: Mapping[str, Any], name: str, file: str) -> dict[str, Any]:
    table = raw.get(name, {})
    if not isinstance(table, dict):
        raise ColumnsError(f"{file}: [{name}] must be a table")
    return table


def _known(raw: Mapping[str, Any], known: tuple[str, ...], file: str, prefix: str) -> None:
    for key in raw:
        if key not in known:
            raise ColumnsError(
                f"{file}: unknown key {prefix}{key}; expected one of {', '.join(known)}"
                f"{nearest(key, known)}"
            )


def _texts(raw: Any, file: str, name: str) -> dict[str, str]:
    if not isinstance(raw, dict) or not all(isinstance(v, str) for v in raw.values()):
        raise ColumnsError(f"{file}: {name} must map names to texts")
    return dict(raw)


def _text(value: Any, file: str, name: str) -> str | None:
    if value is not None and not isinstance(value, str):
        raise ColumnsError(f"{file}: {name} is {value!r}; expected a text")
    return value
