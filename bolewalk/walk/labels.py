"""Numbers that trees are called by: "tree four", "T4 and T5", "number six"."""

import re
from collections.abc import Sequence
from dataclasses import dataclass

from bolewalk.walk import cases
from bolewalk.walk.entities import TreeFound
from bolewalk.walk.numbers import find_numbers
from bolewalk.walk.phrases import phrase
from bolewalk.walk.sentences import Sentence
from bolewalk.walk.state import Walk

__all__ = ["Label", "by_number", "corrected_by_number", "labels_in", "own_labels"]

_GOES_BACK = phrase("labels.goes_back")
_CALLS = {"tree", "trees", "tag", "tags"}
_JOINS = {"and", "to", "through", "tree", "number", "tag"}
_LOOSE = {"number", "numbers", "on", "for", "item"}
_MOST = 12  # trees called by one phrase


@dataclass(frozen=True, slots=True)
class Label:
    """One number of a tree, as said at tokens `start` to `end`."""

    start: int
    end: int
    number: str


def labels_in(s: Sentence, *, loose: bool = False) -> list[Label]:
    """Find the numbers of trees in a sentence, a run "five, six and seven" one by one.

    `loose` takes "number four" and "on 46", too, which may be a house or a size.
    """
    found: list[Label] = []
    numbers = find_numbers(s.tokens)
    calls = _CALLS | _LOOSE if loose else _CALLS
    reach = -1
    through = False
    for n in numbers:
        before = s.words[n.start - 1] if n.start else ""
        between = set(s.words[reach : n.start]) if reach >= 0 else {"-"}
        led = before in calls
        run = reach >= 0 and not between - _JOINS and n.start - reach <= 2
        if n.value != int(n.value) or not (led or run):
            reach = -1
            continue
        value = int(n.value)
        through = (run and "to" in between) or "through" in between
        first = int(found[-1].number) + 1 if through and found else value
        if through and 0 < value - first < _MOST:
            found += [Label(n.start, n.end, str(k)) for k in range(first, value)]
        found.append(Label(n.start - led, n.end, str(value)))
        reach = n.end
    return found


def own_labels(s: Sentence, start: int) -> tuple[str, ...]:
    """Give the numbers of the tree named at a token: "T4 and T5, both wild cherry"."""
    return tuple(dict.fromkeys(x.number for x in labels_in(s) if x.end <= start))


def _labelled_tree(s: Sentence, trees: Sequence[TreeFound], *, loose: bool) -> TreeFound | None:
    """Give the one tree a sentence calls by its number, None where there is none or several."""
    said = {x.number for x in labels_in(s, loose=loose)}
    met = [t for t in trees if said & {t.said_number, *t.said_numbers}]
    return met[0] if len(met) == 1 else None


def corrected_by_number(w: Walk, s: Sentence) -> TreeFound | None:
    """Give the tree something is taken back of by its number: "number four, I said ash"."""
    if not (_GOES_BACK.search(s.text) or cases.retracts(s)):
        return None
    return _labelled_tree(s, w.out.trees, loose=True)


def by_number(w: Walk, s: Sentence) -> TreeFound | None:
    """Give the tree a correction means by its number: "on 46, I had 400, it's 460"."""
    if not re.search(r"\bmake (?:it|that|the)\b|\bcorrection\b|\bi had\b|\bback to\b", s.text):
        return None
    for n in find_numbers(s.tokens):
        before = s.words[n.start - 1] if n.start else ""
        if before in ("on", "for", "and", "tree", "to", ""):
            for t in w.out.trees:
                if t.said_number == f"{n.value:g}":
                    return t
    return None
