"""Turns of speech as regular expressions over plain words, kept as data.

`data/phrases.csv` holds them by name; a name may have several lines, told apart by their label.
They are general ways of speaking (memory, no source), never sentences of one walk.
"""

import csv
import io
import re
from functools import lru_cache
from importlib import resources

from bolewalk.reference.plants import name_key

__all__ = ["labelled", "phrase", "read_table", "word_key", "word_set"]


@lru_cache(maxsize=16)
def read_table(name: str) -> tuple[dict[str, str], ...]:
    """Read one CSV file of `walk/data` as rows.

    Raises
    ------
    FileNotFoundError
        No such table.
    """
    text = resources.files("bolewalk.walk").joinpath("data", name).read_text(encoding="utf-8")
    return tuple(csv.DictReader(io.StringIO(text, newline="")))


@lru_cache(maxsize=256)
def labelled(name: str) -> tuple[tuple[str, re.Pattern[str]], ...]:
    """Give the label and pattern of each line of a name, in the order of the table.

    Raises
    ------
    KeyError
        No such name.
    """
    rows = [r for r in read_table("phrases.csv") if r["name"] == name]
    if not rows:
        raise KeyError(f"phrases.csv has no line named {name!r}")
    return tuple((r["label"], re.compile(r["pattern"])) for r in rows)


def phrase(name: str) -> re.Pattern[str]:
    """Give the one pattern of a name.

    Raises
    ------
    KeyError
        No such name.
    """
    return labelled(name)[0][1]


@lru_cache(maxsize=256)
def word_set(name: str) -> frozenset[str]:
    """Give the plain words of one line of `data/word_sets.csv`; "_" there stands for a space.

    Raises
    ------
    KeyError
        No such name.
    """
    for row in read_table("word_sets.csv"):
        if row["name"] == name:
            return frozenset(w.replace("_", " ") for w in row["words"].split())
    raise KeyError(f"word_sets.csv has no line named {name!r}")


@lru_cache(maxsize=20_000)
def word_key(words: str) -> str:
    """Give the key of words as of a plant's name; a long walk asks for the same ones often."""
    return name_key(words)
