"""Every sentence of the catalogue is said somewhere; one that nothing names has been forgotten."""

import ast
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import bolewalk
from bolewalk.papers.language import load_catalogue

ROOT = Path(bolewalk.__file__).parent


def named_in_code() -> tuple[set[str], re.Pattern[str]]:
    """Give every text and keyword in the code, and what f-strings with letters of their own can
    come to."""
    texts: set[str] = set()
    made: set[str] = set()
    for source in ROOT.rglob("*.py"):
        for node in ast.walk(ast.parse(source.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Constant) and isinstance(node.value, str):
                texts.add(node.value)
            elif isinstance(node, ast.keyword) and node.arg:
                texts.add(node.arg)
            elif isinstance(node, ast.JoinedStr):
                parts = [v.value if isinstance(v, ast.Constant) else None for v in node.values]
                if re.search("[a-z]{2}", "".join(p for p in parts if p)):
                    made.add("".join(".+" if p is None else re.escape(p) for p in parts))
    return texts, re.compile("|".join(f"(?:{m})" for m in sorted(made)))


def named_in_templates() -> set[str]:
    """Give what templates read of their data: `l.tree`."""
    return {
        name
        for ending in ("typ", "html")
        for source in ROOT.rglob(f"*.{ending}")
        for name in re.findall(r"\.([a-z_0-9]+)", source.read_text(encoding="utf-8"))
    }


def entries(table: dict[str, Any], at: tuple[str, ...] = ()) -> Iterator[tuple[str, ...]]:
    for key, value in table.items():
        if isinstance(value, dict) and set(value) != {"one", "other"}:
            yield from entries(value, (*at, key))
        else:
            yield (*at, key)


def test_every_sentence_is_named_somewhere() -> None:
    texts, made = named_in_code()
    # Labels also go by the last part of a code: why a verdict fell, in plain words.
    labels = named_in_templates() | {t.rsplit(".", 1)[-1] for t in texts}
    unused = []
    for path in entries(load_catalogue("en").tables):
        # Of words of a closed set the set is named, not each of its words.
        told = path[1] if path[0] == "words" else path[-1]
        code = ".".join(path)
        by_code = code in texts or bool(made.fullmatch(code))
        if not (by_code or told in texts or told in labels or made.fullmatch(told)):
            unused.append(code)
    assert unused == []
