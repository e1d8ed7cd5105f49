"""A group counted by where its trees stand: "four on your side and two that are hers"."""

from collections.abc import Sequence

from bolewalk.walk.numbers import find_numbers
from bolewalk.walk.phrases import word_set
from bolewalk.walk.sentences import Token

__all__ = ["parts_counted"]

_NOT_COUNTED = word_set("mentions.not_counted")
_PLACED = word_set("counted_parts.placed")
_MOST = 200


def parts_counted(tokens: Sequence[Token], start: int) -> list[tuple[int, int]]:
    """Read a group's parts by their places: "four on your side and two that are hers".

    Gives (number, token) for each of two or more parts, else nothing.
    """
    found: list[tuple[int, int]] = []
    for n in find_numbers(tokens[start:]):
        at = start + n.start
        following = tokens[start + n.end].word if start + n.end < len(tokens) else ""
        whole = n.value == int(n.value) and 0 < n.value < _MOST and n.pair is None
        if not whole or following in _NOT_COUNTED:
            return []
        joined = at == start or bool(tokens[at - 1].after) or tokens[at - 1].word == "and"
        if following in _PLACED and joined:
            found.append((int(n.value), at))
    return found if len(found) > 1 else []
