"""What happened to a thing, line by line, in words."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from bolewalk.store.items import Change

__all__ = ["ChangeLine", "change_lines"]

_ACTIONS = {"import": "brought in", "change": "changed", "undo": "taken back", "redo": "done again"}


@dataclass(frozen=True, slots=True)
class ChangeLine:
    """One change: when, by whom, and each entry with what it was and became."""

    at: str
    who: str
    action: str
    entries: tuple[tuple[str, str, str], ...]


def change_lines(changes: Sequence[Change]) -> tuple[ChangeLine, ...]:
    """Give changes newest first; what was brought in is one line without its entries."""
    return tuple(
        ChangeLine(
            c.at[:16].replace("T", " "),
            c.who,
            c.note or _ACTIONS.get(c.action, c.action),
            () if c.action == "import" else _entries(c.before, c.after),
        )
        for c in reversed(changes)
    )


def _entries(
    before: Mapping[str, Any] | None, after: Mapping[str, Any] | None
) -> tuple[tuple[str, str, str], ...]:
    was = (before or {}).get("cells", {})
    now = (after or {}).get("cells", {})
    names = [n for n in {**was, **now} if was.get(n, "") != now.get(n, "")]
    return tuple((n, str(was.get(n, "")), str(now.get(n, ""))) for n in names)
