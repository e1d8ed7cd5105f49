"""What a stored survey is made of, and what a change of it says."""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any, Literal

from bolewalk.store.errors import StoreError

__all__ = [
    "KINDS", "Action", "Applied", "Body", "Change", "Clash", "Conflict", "Edit", "Item",
    "StoredSurvey", "SurveyEntry", "as_text", "from_text", "stamp",
]  # fmt: skip

Body = Mapping[str, Any]
Action = Literal["import", "change", "undo", "redo"]

KINDS: dict[str, str] = {
    "head": "text of survey.toml; key survey.toml; {text}",
    "table": "text of another TOML file (rates, rules, ...); key its name; {text}",
    "columns": "header of the tree table; key its file name; {columns: [as written]}",
    "tree": "one row of the tree table; {cells: {column: text}, beyond?: [cells without column]}",
    "works": "a GeoJSON file without its features; key its name; {top}",
    "work": "one feature; {file, feature, variant?, copy_of?}",
    "file": "a file as it came; key its path in the survey folder; {sha256, size}",
    "variant": "a what-if copy of the works; {name, note}",
    "correction": "what a person made of something found on the walk; {found, do, heard, ...}",
    "answer": "an answer to a question; {tree, ask, answer, of, ...}",
    "consent": "a consent or refusal; {who, about, given, ...}",
    "note": "anything else worth keeping; {text, ...}",
}
"""Kind of item -> what it is and what its body holds. Unknown keys of a body are kept."""


@dataclass(frozen=True, slots=True)
class Item:
    """One thing a person entered. `version` counts its changes, `place` orders its kind; `body`
    is None where it was removed."""

    kind: str
    key: str
    version: int
    place: float
    body: Body | None


@dataclass(frozen=True, slots=True)
class Edit:
    """What one item is to become.

    Attributes
    ----------
    kind : str
        One of KINDS.
    key : str
        Of the item; "" gives a new item a key of its own.
    body : mapping or None
        The whole new body; None removes the item.
    version : int
        The version it was made on, 0 for a new item or one made anew after it was removed.
    place : float or None
        New place in the order of its kind; None = as it was, a new item at the end.
    """

    kind: str
    key: str
    body: Body | None
    version: int = 0
    place: float | None = None


@dataclass(frozen=True, slots=True)
class Clash:
    """An edit that meets a change by someone else.

    `base` is the body the edit was made on, `now` the item as it is (None where it never was),
    changed by `who` at `at`.
    """

    edit: Edit
    base: Body | None
    now: Item | None
    who: str
    at: str


@dataclass(frozen=True, slots=True)
class Conflict:
    """Nothing was changed: each of these edits meets someone else's."""

    clashes: tuple[Clash, ...]


@dataclass(frozen=True, slots=True)
class Applied:
    """All edits are kept. `items` are those that changed, as they are now; `revision` is the
    survey's."""

    revision: int
    items: tuple[Item, ...]


@dataclass(frozen=True, slots=True)
class Change:
    """One entry of the history: what one item was and became.

    `of_revision` is the group an undo or redo is about; `before` is None where the item was not
    there, `after` where it was removed.
    """

    revision: int
    at: str
    who: str
    action: Action
    of_revision: int | None
    note: str
    kind: str
    key: str
    version: int
    before: Body | None
    after: Body | None


@dataclass(frozen=True, slots=True)
class SurveyEntry:
    """One line of the list of surveys. `visited` is the day of the visit, "" where not told."""

    id: int
    firm: str
    name: str
    visited: str
    created_at: str
    created_by: str
    revision: int


@dataclass(frozen=True, slots=True)
class StoredSurvey:
    """A survey as a person entered it, at one revision: the items that are there, in order."""

    id: int
    name: str
    revision: int
    items: tuple[Item, ...]

    def of(self, kind: str) -> tuple[Item, ...]:
        """Give the items of one kind, in order."""
        return tuple(i for i in self.items if i.kind == kind)

    def get(self, kind: str, key: str) -> Item | None:
        """Give one item, None where it is not there."""
        return next((i for i in self.items if i.kind == kind and i.key == key), None)

    def tree(self, name: str) -> Item | None:
        """Give the row of a tree by the id in its first column; the first where several bear it."""
        return next(
            (i for i in self.of("tree") if (i.body or {})["cells"].get("tree", "").strip() == name),
            None,
        )

    def works(self, variant: str = "") -> tuple[Item, ...]:
        """Give the features of the works, or those of a what-if copy by its key."""
        return tuple(i for i in self.of("work") if (i.body or {}).get("variant", "") == variant)


def as_text(body: Body | None) -> str | None:
    """Give a body as it is kept: the same body, the same text."""
    if body is None:
        return None
    try:
        return json.dumps(body, ensure_ascii=True, separators=(",", ":"))
    except (TypeError, ValueError) as e:
        raise StoreError(f"a body must be plain JSON: {e}") from None


def from_text(text: str | None) -> Body | None:
    """Give a body back."""
    if text is None:
        return None
    body: Body = json.loads(text)
    return body


def stamp(when: datetime) -> str:
    """Give a time as it is kept: ISO 8601 in UTC, to the microsecond."""
    if when.tzinfo is None:
        raise StoreError("a time must say its zone")
    return when.astimezone(UTC).isoformat(timespec="microseconds")
