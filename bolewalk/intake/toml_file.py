"""TOML files in, whatever is wrong with them."""

import re
import sys
import tomllib
from functools import cache
from pathlib import Path
from typing import Any

from bolewalk.intake.plausible import plausible

__all__ = ["TomlError", "parse_toml", "read_toml"]


class TomlError(ValueError):
    """A file that is not TOML; the text says why, in the reader's words."""


def read_toml(path: Path) -> dict[str, Any]:
    """Read a TOML file; a byte order mark and any line ends are fine.

    Raises
    ------
    TomlError
        Not to be opened, too large, not UTF-8, or not TOML (with line and column).
    """
    limit = plausible().toml_bytes
    try:
        if path.stat().st_size > limit:
            raise TomlError(f"larger than {limit:,} bytes")
        data = path.read_bytes()
    except OSError as e:
        raise TomlError(e.strerror or "not to be opened") from None
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as e:
        line = data[: e.start].count(b"\n") + 1
        raise TomlError(f"not UTF-8: byte 0x{data[e.start]:02x} in line {line}") from None
    return parse_toml(text)


def parse_toml(text: str) -> dict[str, Any]:
    """Read a TOML text; any line ends are fine.

    Raises
    ------
    TomlError
        Not TOML (with line and column), or made to exhaust the machine.
    """
    text = text.replace("\r\n", "\n")
    parts = plausible().toml_key_parts
    deep = _deep_key(parts).search(text)
    if deep is not None:
        line = text.count("\n", 0, deep.start()) + 1
        raise TomlError(f"a key of more than {parts} parts, in line {line}")
    try:
        return tomllib.loads(text)
    except RecursionError:
        raise TomlError("nested without end") from None
    except tomllib.TOMLDecodeError as e:
        raise TomlError(str(e)) from None
    except ValueError:
        # The limit on the digits of a whole number, which Python tells in words for programmers.
        digits = sys.get_int_max_str_digits()
        raise TomlError(f"a whole number of more than {digits:,} digits") from None


@cache
def _deep_key(parts: int) -> re.Pattern[str]:
    """Match a key of more parts than that, in time linear in the text.

    The parser keeps every beginning of a key, so that memory grows with the square of its parts.
    """
    part = r"""(?:(?<![\w-])[\w-]++|"(?:[^"\\\n]|\\.)*+"|'[^'\n]*+')"""
    return re.compile(rf"{part}(?:[ \t]*+\.[ \t]*+{part}){{{parts},}}")
