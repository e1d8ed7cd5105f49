"""Reading the packaged reference tables, and the sources they stand on."""

import csv
from dataclasses import dataclass
from functools import lru_cache
from importlib import resources

__all__ = ["Citation", "cite", "number", "read_rows"]


@dataclass(frozen=True, slots=True)
class Citation:
    """Where a table's figures come from.

    `provenance` is read (the document was read), read-secondary (a copy or summary was read),
    memory (recalled, not read), derived (computed from the others) or common practice.
    """

    key: str
    text: str
    licence: str
    provenance: str


def read_rows(name: str) -> list[dict[str, str]]:
    """Read one packaged CSV file of `bolewalk/reference/data` as a list of rows.

    Raises
    ------
    FileNotFoundError
        No such table.
    """
    path = resources.files("bolewalk.reference").joinpath("data", name)
    rows = csv.reader(path.read_text(encoding="utf-8").splitlines())
    head = next(rows)
    return [dict(zip(head, row, strict=True)) for row in rows]


def number(text: str) -> float:
    """Read a table cell as a number; an empty cell is NaN."""
    return float(text) if text else float("nan")


@lru_cache(maxsize=1)
def _citations() -> dict[str, Citation]:
    return {r["key"]: Citation(**r) for r in read_rows("citations.csv")}


def cite(key: str) -> Citation:
    """Give the source a table names by its key.

    Raises
    ------
    KeyError
        No such source.
    """
    return _citations()[key]
