"""Words in a quote that mean something else to each reader, and block it until spelled out."""

import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

from bolewalk.model.statements import Statement, say

__all__ = ["VagueWord", "check_words", "scope_words"]


@cache
def scope_words() -> Mapping[str, Any]:
    """Give the scope words, as in their data file."""
    text = files("bolewalk.pricing").joinpath("data/scope_words.toml").read_text("utf-8")
    return tomllib.loads(text)


@dataclass(frozen=True, slots=True)
class VagueWord:
    """One undefined word: as it stands in the text, where it begins, what to spell out."""

    word: str
    start: int
    ask: Statement


def _whole(word: str) -> re.Pattern[str]:
    inner = re.escape(word).replace(r"\ ", r"[\s-]+")
    return re.compile(rf"(?<!\w){inner}(?!\w)", re.IGNORECASE)


def check_words(text: str) -> tuple[VagueWord, ...]:
    """Find scope words that the text itself does not define.

    Parameters
    ----------
    text : str
        One line of a quote as a person wrote it, in English.

    Returns
    -------
    tuple of VagueWord
        In reading order; empty = the line may be issued. "Clean up" alone is found, "clean up:
        rake, and haul chips" is not.
    """
    found: dict[int, VagueWord] = {}
    for entry in scope_words()["vague"]:
        if any(_whole(d).search(text) for d in entry["defined_by"]):
            continue
        for word in (entry["word"], *entry["also"]):
            for hit in _whole(word).finditer(text):
                known = found.get(hit.start())
                if known is None or len(hit.group()) > len(known.word):
                    found[hit.start()] = VagueWord(
                        hit.group(), hit.start(), say(f"scope.ask_{entry['ask']}", word=hit.group())
                    )
    return tuple(found[k] for k in sorted(found))
