"""Statements said in a reader's language, in whole sentences.

A catalogue is one or several TOML files, `en.toml`, `en-papers.toml`: the dotted code of a
statement leads through the tables to one whole sentence with its values in braces,
`"Cut {distance_m} from the trunk."`. Where the sentence changes with a number, its entry is a
table `{one = "...", other = "..."}` and the first value whose name ends in `_count` chooses.
`[words]` holds words for closed sets, by the value's name: `words.verdict.keep_if`. No sentence
is built by gluing words.
"""

import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from importlib import resources
from typing import Any

from bolewalk.model.statements import Statement, Value
from bolewalk.papers.amounts import Amounts

__all__ = ["Catalogue", "LanguageError", "Speaker", "load_catalogue"]

_FIELD = re.compile(r"\{([A-Za-z0-9_]+)\}")


class LanguageError(LookupError):
    """A statement that the catalogue cannot say. `code` is the statement's."""

    def __init__(self, code: str, language: str, why: str) -> None:
        super().__init__(f"{code!r} cannot be said in {language!r}: {why}")
        self.code = code
        self.language = language


@dataclass(frozen=True, slots=True)
class Catalogue:
    """The sentences of one language, as read from its file."""

    language: str
    tables: Mapping[str, Any] = field(repr=False)

    def sentence(self, code: str, values: tuple[tuple[str, Value], ...] = ()) -> str:
        """Give the sentence for a code, its fields unfilled.

        Raises
        ------
        LanguageError
            No such code, or a code that leads to a group of sentences.
        """
        found: Any = self.tables
        for key in code.split("."):
            if not isinstance(found, Mapping) or key not in found:
                raise LanguageError(code, self.language, f"the catalogue has no entry {key!r}")
            found = found[key]
        if isinstance(found, Mapping) and set(found) == {"one", "other"}:
            counts = [v for n, v in values if n == "count" or n.endswith("_count")]
            if not counts:
                raise LanguageError(code, self.language, "a value ending in _count must choose")
            found = found["one" if counts[0] == 1 else "other"]
        if not isinstance(found, str):
            raise LanguageError(code, self.language, "the code leads to a group of sentences")
        return found

    def labels(self, table: str) -> dict[str, str]:
        """Give the plain labels of one table (headings, column heads), sorted by key."""
        found = self.tables.get(table)
        if not isinstance(found, Mapping):
            raise LanguageError(table, self.language, "the catalogue has no such table")
        return {k: v for k, v in sorted(found.items()) if isinstance(v, str)}

    def word(self, name: str, value: str) -> str:
        """Give the word for a value of a closed set; the value itself where none is listed."""
        words = self.tables.get("words", {}).get(name, {})
        found = words.get(value, value)
        return found if isinstance(found, str) else value


@lru_cache(maxsize=8)
def load_catalogue(language: str = "en") -> Catalogue:
    """Read a catalogue that ships with the papers.

    Raises
    ------
    LanguageError
        No catalogue of that language.
    """
    if not re.fullmatch(r"[a-z]{2}", language):
        raise LanguageError("catalogue", language, "no catalogue of that language is installed")
    parts = re.compile(rf"{language}(-[a-z]+)?\.toml")
    sources = sorted(
        (f for f in resources.files(__package__).iterdir() if parts.fullmatch(f.name)),
        key=lambda f: f.name,
    )
    if not sources:
        raise LanguageError("catalogue", language, "no catalogue of that language is installed")
    tables: dict[str, Any] = {}
    for source in sources:
        _add(tables, tomllib.loads(source.read_text(encoding="utf-8")), language, "")
    return Catalogue(language, tables)


def _add(into: dict[str, Any], more: Mapping[str, Any], language: str, at: str) -> None:
    for key, value in more.items():
        if isinstance(value, Mapping) and isinstance(into.get(key), dict):
            _add(into[key], value, language, f"{at}{key}.")
        elif key in into:
            raise LanguageError(f"{at}{key}", language, "two files of the catalogue have it")
        else:
            into[key] = value


@dataclass(frozen=True, slots=True)
class Speaker:
    """Says statements to one reader: a language and a way to write amounts."""

    catalogue: Catalogue
    amounts: Amounts

    def text(self, statement: Statement) -> str:
        """Say one statement.

        Text values are put in as they are and never read again, so braces or markup in them
        mean nothing; what a paper does to show them harmlessly is the paper's affair.

        Raises
        ------
        LanguageError
            Unknown code, or a field of the sentence without a value.
        """
        values = dict(statement.values)
        sentence = self.catalogue.sentence(statement.code, statement.values)

        def fill(match: re.Match[str]) -> str:
            name = match.group(1)
            if name not in values:
                raise LanguageError(
                    statement.code, self.catalogue.language, f"no value for {{{name}}}"
                )
            return self.value(name, values[name])

        return _FIELD.sub(fill, sentence)

    def texts(self, statements: tuple[Statement, ...]) -> list[str]:
        """Say several statements, in their order."""
        return [self.text(s) for s in statements]

    def value(self, name: str, value: Value) -> str:
        """Write one value by its name: amounts by their ending, words of closed sets, text."""
        if isinstance(value, str | bool):
            return self.catalogue.word(name, str(value))
        return self.amounts.by_name(name, value)
