"""Numbered inventories read tersely: "One. Silver maple. Thirty four. Raise it." """

from collections.abc import Mapping, Sequence
from itertools import pairwise

from bolewalk.walk.entities import TreeFound
from bolewalk.walk.names import NameFound
from bolewalk.walk.numbers import find_numbers
from bolewalk.walk.phrases import word_set
from bolewalk.walk.sentences import Sentence
from bolewalk.walk.state import Walk

__all__ = ["bare_number", "numbered_trees", "trees_by_number"]

_FEWEST, _LEAP, _OPENS, _ASIDE = 3, 8, 3, 6
_JOINING = word_set("inventory.joining")
_EMPTY = word_set("inventory.empty")
_ROUGHLY = word_set("inventory.roughly")


def numbered_trees(
    sentences: Sequence[Sentence], named: Mapping[int, list[NameFound]]
) -> dict[int, tuple[int, ...]]:
    """Give the sentences that call out the number of the tree to come, with the numbers.

    A number counts where a name follows at once and where the numbers rise through the walk, at
    least three times; the other bare numbers are sizes.
    """
    found: dict[int, tuple[int, ...]] = {}
    last = 0
    for k, s in enumerate(sentences):
        numbers = _called_out(s)
        if not numbers or not last < numbers[0] <= last + _LEAP + (40 if not found else 0):
            continue
        following = sentences[k + 1] if k + 1 < len(sentences) else None
        here = any(n.start <= _OPENS + 2 for n in named.get(s.index, ()))
        alone = len(s.words) <= 2 * len(numbers) + 1
        after = following is not None and any(
            n.start <= _OPENS for n in named.get(following.index, ())
        )
        if alone and not after and following is not None and len(following.words) <= _ASIDE:
            # "Nine. What have we got. Amur maple."
            beyond = named.get(k + 2, ()) if not find_numbers(following.tokens) else ()
            after = any(n.start <= _OPENS for n in beyond) and not named.get(k + 1)
        if here or (alone and after) or (after and not here) or _EMPTY & set(s.words):
            found[s.index] = numbers
            last = numbers[-1]
    return found if len(found) >= _FEWEST else {}


def _called_out(s: Sentence) -> tuple[int, ...]:
    """Read the number or numbers a sentence opens with, set apart from what follows."""
    values: list[int] = []
    at = 0
    for n in find_numbers(s.tokens):
        if set(s.words[at : n.start]) - _JOINING or n.value != int(n.value) or n.pair:
            break
        if values and s.tokens[n.start - 1].after and n.value != values[-1] + 1:
            break
        values.append(int(n.value))
        at = n.end
    if not values:
        return ()
    apart = at == len(s.words) or bool(s.tokens[at - 1].after) or s.words[at] in ("is", "s")
    rising = all(b == a + 1 for a, b in pairwise(values))
    return tuple(values) if apart and rising else ()


def bare_number(s: Sentence) -> float | None:
    """Give the number where a sentence is nothing else: "Thirty four.", "Twelve and twelve"."""
    numbers = find_numbers(s.tokens)
    if not numbers or len({n.value for n in numbers}) != 1:
        return None
    covered = sum(n.end - n.start for n in numbers)
    joined = sum(w in _ROUGHLY for w in s.words)
    return numbers[0].value if covered + joined == len(s.words) else None


def trees_by_number(w: Walk, s: Sentence) -> list[TreeFound] | None:
    """Give the trees a summary names by their numbers: "three to remove, five, six, twelve".

    None where no number of a tree is said; an empty list where only how many is said ("one to
    watch"), so that nothing may be put to the tree at hand.
    """
    numbers = find_numbers(s.tokens)
    if not w.numbered or not numbers or s.asked:
        return None
    values = [n.value for n in numbers]
    following = s.words[numbers[0].end : numbers[0].end + 1]
    told = numbers[0].start == 0 and following in (("to",), ("removals",), ("prunes",), ("for",))
    if not (told or w.recap):
        return None
    if all(s.words[n.end : n.end + 1] in (("to",), ("removals",)) for n in numbers):
        return []
    if len(values) > 1 and values[0] == len(values) - 1:
        values = values[1:]
    elif told and len(values) <= 2:
        return []
    by = {t.said_number: t for t in w.out.trees if t.said_number}
    meant = [by[f"{v:g}"] for v in values if f"{v:g}" in by]
    apart = numbers[0].start == 0 and bool(s.tokens[numbers[0].end - 1].after)
    return meant or ([] if apart and w.recap else None)
