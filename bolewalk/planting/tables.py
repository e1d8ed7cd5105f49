"""The figures this room runs on, read once from its data files; sources stand beside them there."""

import csv
import tomllib
from functools import lru_cache
from pathlib import Path
from typing import Any

__all__ = ["read_csv", "rules"]

_DATA = Path(__file__).with_name("data")


@lru_cache(maxsize=8)
def rules(name: str) -> dict[str, Any]:
    """Read one table of figures, "fire_spacing" for `data/fire_spacing.toml`.

    Raises
    ------
    FileNotFoundError
        No such table.
    """
    return tomllib.loads((_DATA / f"{name}.toml").read_text(encoding="utf-8"))


@lru_cache(maxsize=8)
def read_csv(name: str) -> tuple[dict[str, str], ...]:
    """Read one table of rows, "palette" for `data/palette.csv`.

    Raises
    ------
    FileNotFoundError
        No such table.
    """
    with (_DATA / f"{name}.csv").open(encoding="utf-8", newline="") as f:
        return tuple(csv.DictReader(f))
