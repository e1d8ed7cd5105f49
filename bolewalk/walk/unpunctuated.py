"""Where a transcript without punctuation would have had its commas and full stops.

Each gap between two words is weighed by the words around it, their kinds, the plant names near and
the words since the last mark: the sum of the weights in `data/pauses.csv` gives the odds of a
comma and of a full stop. The weights were fitted once, by `bench/pauses.py`, to walks of ours that
have punctuation; nothing is learned when a walk is read.
"""

import csv
import io
import math
from collections.abc import Collection, Iterator, Sequence
from functools import lru_cache
from importlib import resources

from bolewalk.walk.phrases import word_set

__all__ = ["gap_features", "guess_marks", "past_features"]

_NUMBERS = word_set("unpunctuated.numbers")
_UNITS = word_set("unpunctuated.units")
_KINDS = {
    kind: word_set(f"unpunctuated.{kind}")
    for kind in (
        "subject", "opening", "object", "determiner", "preposition", "joining", "auxiliary",
        "order", "particle", "adverb", "filler", "size", "quality",
    )
}  # fmt: skip
_NAME, _EDGE = "NAME", "EDGE"
_MARK_FROM = 0.4
"""A mark is set where comma and full stop together are this likely (best sum of precision and
recall on walks the weights had not seen)."""
_STOP_SHARE = 0.4
"""It is a full stop where that has this share of the two."""


def guess_marks(
    words: Sequence[str], *, starts: Collection[int], ends: Collection[int],
    joined: Collection[int] = (), parted: Collection[int] = (),
) -> list[str]:  # fmt: skip
    """Guess the mark after each word.

    Parameters
    ----------
    words : sequence of str
        Plain words in small letters, without punctuation.
    starts, ends : collection of int
        Where the plants' names begin, and the word after their last. No mark is set within.
    joined, parted : collection of int
        Words after which no mark stands whatever the weights say, and a full stop does.

    Returns
    -------
    list of str
        "", "," or "." for each word; the last has "". Time grows with the number of words.
    """
    begin, end = set(starts), set(ends)
    marks: list[str] = []
    last, named, within = -1, False, False
    for i, features in enumerate(gap_features(words, starts=begin, ends=end)):
        if i in begin:
            named = within = True
        if i + 1 in end:
            within = False
        if within or i in joined:
            marks.append("")
            continue
        past = past_features(i, last=last, named=named, starts=begin, following=words[i + 1])
        comma, stop = (0.0, 1.0) if i in parted else _odds([*features, *past])
        if comma + stop <= _MARK_FROM:
            marks.append("")
            continue
        full = stop > _STOP_SHARE * (comma + stop)
        marks.append("." if full else ",")
        last = i
        named = named and not full
    return marks + [""] * (len(words) - len(marks))


def gap_features(
    words: Sequence[str], *, starts: Collection[int], ends: Collection[int]
) -> Iterator[list[str]]:
    """Yield for the gap after each word but the last what the words around it are."""
    plain = [_symbol(w) for w in words]
    kinds = [_kinds(plain, k, starts, ends) for k in range(len(plain))]
    begins = [_NAME if k in starts else w for k, w in enumerate(plain)]
    finishes = [_NAME if k + 1 in ends else w for k, w in enumerate(plain)]
    edge = [_EDGE]
    for i in range(len(plain) - 1):
        before, last = (plain[i - 1] if i else _EDGE), finishes[i]
        following = begins[i + 1]
        after = begins[i + 2] if i + 2 < len(plain) else _EDGE
        found = [
            f"l={last}", f"n={following}", f"p={before}", f"nn={after}",
            f"ln={last}|{following}", f"nnn={following}|{after}",
        ]  # fmt: skip
        if i + 1 in starts or i + 2 in starts:
            found += ["name2", f"l>name={plain[i]}"]
        for a in kinds[i]:
            found += [f"L={a}", f"Lw={a}|{plain[i + 1]}"]
            found += [f"LN={a}|{b}" for b in kinds[i + 1]]
            found += [f"ZL={z}|{a}" for z in (kinds[i - 1] if i else edge)]
        for b in kinds[i + 1]:
            found += [f"N={b}", f"lN={plain[i]}|{b}"]
            found += [f"NN={b}|{c}" for c in (kinds[i + 2] if i + 2 < len(plain) else edge)]
        yield found


def past_features(
    i: int, *, last: int, named: bool, starts: Collection[int], following: str
) -> list[str]:
    """Tell what went before the gap after word i: words since the last mark, a name since."""
    since = i - last
    bucket = next((b for b in (1, 2, 4, 8, 14) if since <= b), 15)
    found = [f"len={bucket}", f"len{bucket}={_symbol(following)}"]
    if named:
        found.append("named")
    if any(i + k in starts for k in (1, 2, 3)):
        found.append(f"next{int(named)}={bucket}")
    return found


def _symbol(word: str) -> str:
    if word in _NUMBERS or word[:1].isdigit():
        return "#"
    return "@" if word in _UNITS else word


def _kinds(
    plain: Sequence[str], k: int, starts: Collection[int], ends: Collection[int]
) -> list[str]:
    if k in starts or k + 1 in ends:
        return [_NAME]
    word = plain[k]
    if word in ("#", "@"):
        return [word]
    return [kind for kind, words in _KINDS.items() if word in words] or ["other"]


def _odds(features: Sequence[str]) -> tuple[float, float]:
    """Give how likely a comma and a full stop are."""
    weights = _weights()
    comma, stop = weights["always"]
    for f in features:
        pair = weights.get(f)
        if pair is not None:
            comma += pair[0]
            stop += pair[1]
    a, b = math.exp(min(comma, 30.0)), math.exp(min(stop, 30.0))
    return a / (1.0 + a + b), b / (1.0 + a + b)


@lru_cache(maxsize=1)
def _weights() -> dict[str, tuple[float, float]]:
    path = resources.files("bolewalk.walk").joinpath("data", "pauses.csv")
    rows = csv.DictReader(io.StringIO(path.read_text(encoding="utf-8"), newline=""))
    return {r["feature"]: (float(r["comma"]), float(r["stop"])) for r in rows}
