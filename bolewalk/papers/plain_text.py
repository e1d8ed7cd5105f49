"""Text from outside made harmless for files that other programs open."""

import re

__all__ = ["cell_text", "one_line"]

_CONTROL = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f\x85\u2028\u2029]")
_FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n", "|", "%", "＝", "＋", "－", "＠")


def _sound(text: str) -> str:
    # A lone surrogate can come out of a JSON escape and belongs to no encoding.
    return text.encode("utf-8", "replace").decode("utf-8")


def one_line(text: str) -> str:
    """Give text on one line, without control characters; nothing visible is lost."""
    return _CONTROL.sub("\ufffd", re.sub(r"\s*[\r\n\t]+\s*", " ", _sound(text))).strip()


def cell_text(text: str) -> str:
    """Give text for a cell of a table that a spreadsheet may open.

    A text that a spreadsheet could take for a formula gets an apostrophe before it, as a
    spreadsheet itself marks text. Numbers must not be sent through here: "-3" as text is marked.
    """
    body = _CONTROL.sub("\ufffd", _sound(text))
    # Spreadsheets skip blanks before deciding what is a formula.
    return f"'{body}" if body.lstrip(" \u00a0").startswith(_FORMULA_STARTS) else body
