"""What the body of each kind of item must hold, checked before it is kept."""

import re
from collections.abc import Callable, Mapping
from typing import Any

from bolewalk.store.errors import StoreError
from bolewalk.store.items import KINDS, Body

__all__ = ["check_body", "is_sha256"]

_SHA256 = re.compile(r"[0-9a-f]{64}")


def _text(value: object) -> bool:
    return isinstance(value, str)


def _texts(value: object) -> bool:
    return isinstance(value, list) and all(isinstance(v, str) for v in value)


def _cells(value: object) -> bool:
    return isinstance(value, Mapping) and all(
        isinstance(k, str) and isinstance(v, str) for k, v in value.items()
    )


def _table(value: object) -> bool:
    return isinstance(value, Mapping)


def is_sha256(value: object) -> bool:
    """Tell a SHA-256 in hexadecimal, as kept files are named by."""
    return isinstance(value, str) and _SHA256.fullmatch(value) is not None


def _size(value: object) -> bool:
    return isinstance(value, int) and not isinstance(value, bool) and value >= 0


def _any(_: object) -> bool:
    return True


_Check = tuple[Callable[[object], bool], str]
_NEEDED: dict[str, dict[str, _Check]] = {
    "head": {"text": (_text, "a text")},
    "table": {"text": (_text, "a text")},
    "columns": {"columns": (_texts, "a list of texts")},
    "tree": {"cells": (_cells, "texts by column")},
    "works": {"top": (_table, "an object")},
    "work": {"file": (_text, "a text"), "feature": (_any, "a feature")},
    "file": {"sha256": (is_sha256, "a SHA-256"), "size": (_size, "a number of bytes")},
    "variant": {"name": (_text, "a text")},
}
_OPTIONAL: dict[str, dict[str, _Check]] = {
    "tree": {"beyond": (_texts, "a list of texts")},
    "work": {"variant": (_text, "a text"), "copy_of": (_text, "a text")},
}


def check_body(kind: str, key: str, body: Body | None) -> None:
    """Refuse a body that could not be read back as what its kind is.

    Raises
    ------
    StoreError
        Naming the item and what is missing or of another kind.
    """
    if kind not in KINDS:
        raise StoreError(f"{kind}: one of {', '.join(KINDS)}")
    if body is None:
        return
    item: Any = body
    if not isinstance(item, Mapping):
        raise StoreError(f"{kind} {key}: its body must be an object")
    for name, (fits, what) in _NEEDED.get(kind, {}).items():
        if name not in item or not fits(item[name]):
            raise StoreError(f"{kind} {key}: {name} must be {what}")
    for name, (fits, what) in _OPTIONAL.get(kind, {}).items():
        if name in item and not fits(item[name]):
            raise StoreError(f"{kind} {key}: {name} must be {what}")
