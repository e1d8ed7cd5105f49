"""Settings of the tree methods: numbers that are choices, each with its source."""

from dataclasses import dataclass
from functools import lru_cache

from bolewalk.reference.tables import read_rows

__all__ = ["Setting", "setting", "settings"]


@dataclass(frozen=True, slots=True)
class Setting:
    """One setting: `source` is a key of `citations.csv` or the words "read-secondary"."""

    key: str
    value: float
    unit: str
    source: str
    note: str


@lru_cache(maxsize=8)
def settings(table: str) -> dict[str, Setting]:
    """Give all settings of one packaged file, `growth_settings.csv` and its siblings."""
    return {
        r["key"]: Setting(r["key"], float(r["value"]), r["unit"], r["source"], r["note"])
        for r in read_rows(table)
    }


def setting(table: str, key: str) -> float:
    """Give one setting's value.

    Raises
    ------
    KeyError
        No such setting.
    """
    return settings(table)[key].value
