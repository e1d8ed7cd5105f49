"""The drawings that survey.toml lists, as the desk finds and adds them."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

__all__ = ["DrawingEntry", "drawing_entries", "drawing_of", "listing"]

_KEY = "drawing"


@dataclass(frozen=True, slots=True)
class DrawingEntry:
    """One [[drawing]]: the keys that lead to it in survey.toml, and what stands there."""

    path: tuple[str | int, ...]
    told: Mapping[str, Any]

    @property
    def file(self) -> str:
        """Name of its file in the survey folder, "" where it names none."""
        return str(self.told.get("file", ""))


def drawing_entries(head: Mapping[str, Any]) -> tuple[DrawingEntry, ...]:
    """Give the entries of a survey.toml in their order.

    A single [drawing] table is one, as it is to the reader of the folder; what is no table is
    passed over.
    """
    listed = head.get(_KEY, [])
    if isinstance(listed, Mapping):
        return (DrawingEntry((_KEY,), listed),)
    if not isinstance(listed, list):
        return ()
    return tuple(DrawingEntry((_KEY, n), d) for n, d in enumerate(listed) if isinstance(d, Mapping))


def drawing_of(head: Mapping[str, Any], file: str) -> DrawingEntry | None:
    """Give the entry of a file, None where the survey lists no such drawing."""
    return next((d for d in drawing_entries(head) if d.file == file), None)


def listing(head: Mapping[str, Any], entry: Mapping[str, Any]) -> tuple[tuple[str | int, ...], Any]:
    """Give the key and the value that list one more drawing, for `set_toml`."""
    listed = head.get(_KEY, [])
    if isinstance(listed, Mapping):
        return (_KEY,), [dict(listed), dict(entry)]
    return (_KEY, len(listed)), dict(entry)
