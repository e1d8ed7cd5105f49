"""Plant names in what was said: exact ones, garbled ones, and words that only look like one."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from functools import lru_cache
from importlib import resources

from metaphone import doublemetaphone
from rapidfuzz import fuzz, process

from bolewalk.reference.plants import Plant, known_names, load_plants, name_key
from bolewalk.walk.meanings import other_meaning
from bolewalk.walk.nicknames import NameFound, epithet_apart, short_forms, sound_alikes
from bolewalk.walk.phrases import word_set
from bolewalk.walk.sentences import Token

__all__ = ["NameFound", "exact_names", "find_names", "name_runs"]

_LONGEST = 5
_SHORTEST_GARBLED = 6
_SHORTEST_NAME = 5
SURE = 0.80
"""From here on a garbled name is taken for the plant; below it is only a candidate."""
DOUBTFUL = 0.74
"""Below this nothing is made of a garbled name."""
_WIDENED = 0.85
_ALL_ORDINARY = 0.72
_WORD_LIKE, _HARDLY, _MANY = 0.57, 0.45, 3
"""Where a word of the name is less like the one heard, the name is no more than a candidate."""
_LETTERS, _LONG = 0.88, 10
"""A long name most letters of which were heard is taken though ordinary words stand in it."""
SEVERAL = 0.785
"""A garbled name of several words counts from here on, or when it sounds the same."""


def find_names(
    tokens: Sequence[Token], *, expect: bool, also: Mapping[str, tuple[Plant, ...]] | None = None
) -> list[NameFound]:
    """Find the plant names in one sentence, left to right, none overlapping.

    Parameters
    ----------
    tokens : sequence of Token
    expect : bool
        Whether the surroundings speak of a tree (a size, a part of a tree, work to be done).
        Only then are words that merely sound like a name looked at.
    also : mapping of str to tuple of Plant, optional
        Short forms this walk has earned by saying the whole name: "the queens".
    """
    found = list(_exact(tokens))
    taken = {i for f in found for i in range(f.start, f.end)}
    found += [
        f
        for f in short_forms(tokens, also or {})
        if f.start not in taken and not _epithet_of(tokens, f, found)
    ]
    if expect:
        taken = {i for f in found for i in range(f.start, f.end)}
        found += [f for f in sound_alikes(tokens, _names()) if not taken & {f.start, f.end - 1}]
    found = [_widened(tokens, _with_epithet(tokens, f)) for f in found]
    if expect:
        taken = {i for f in found for i in range(f.start, f.end)}
        found += _garbled(tokens, taken)
    found.sort(key=lambda f: f.start)
    return [
        replace(f, other=other_meaning(tokens, f.start, f.end))
        for f in found
    ]  # fmt: skip


def _epithet_of(tokens: Sequence[Token], short: NameFound, found: Sequence[NameFound]) -> bool:
    """Whether a short form belongs to a name said before it: "spruce, Norway"."""
    word = tokens[short.start].word
    return any(f.end <= short.start and name_key(f"{word} {f.key}") in _names() for f in found)


def exact_names(tokens: Sequence[Token]) -> list[NameFound]:
    """Find the names in a run of any length, garbled ones only where part of the name is clear."""
    return [_widened(tokens, f) for f in _exact(tokens)]


def name_runs(tokens: Sequence[Token]) -> list[tuple[int, int]]:
    """Tell at which tokens a plant's name begins and ends, garbled ones of several words too."""
    found = exact_names(tokens)
    taken = {i for f in found for i in range(f.start, f.end)}
    found += [f for f in _garbled(tokens, taken) if f.end - f.start > 1]
    return [(f.start, f.end) for f in found]


def _exact(tokens: Sequence[Token]) -> Iterable[NameFound]:
    names = _names()
    i = 0
    while i < len(tokens):
        for end in range(_reach(tokens, i), i, -1):
            key = _key(tokens, i, end)
            if key in names and _plainly(tokens, i, end):
                yield NameFound(i, end, key, names[key])
                i = end
                break
        else:
            i += 1


def _reach(tokens: Sequence[Token], i: int) -> int:
    """Tell how far a name that begins at i may run: not over a comma or full stop."""
    end = i + 1
    while end < min(len(tokens), i + _LONGEST) and not tokens[end - 1].after:
        end += 1
    return end


def _key(tokens: Sequence[Token], i: int, end: int) -> str:
    return _token_key(" ".join(t.word for t in tokens[i:end]))


@lru_cache(maxsize=20_000)
def _token_key(words: str) -> str:
    # name_key leaves out "the" and "x"; said aloud they are words of their own.
    first, last = words.partition(" ")[0], words.rpartition(" ")[2]
    return (
        ""
        if first in _NEVER_FIRST or first[:1].isdigit() or last in _NEVER_LAST
        else name_key(words)
    )


_NEVER_FIRST = word_set("names.never_first")
_NEVER_LAST = {"the", "x"}


def _plainly(tokens: Sequence[Token], i: int, end: int) -> bool:
    """Refuse a name made by chance of ordinary words ("be" + "ech")."""
    return end - i == 1 or not all(t.word in _FILLERS for t in tokens[i:end])


_FILLERS = word_set("names.fillers")


@lru_cache(maxsize=1)
def _names() -> dict[str, tuple[Plant, ...]]:
    names = {key: plants for key, plants in known_names().items() if len(key) > 2}
    for key in _NOT_NAMES:
        names.pop(key, None)
    return names


# Names of the gazetteer that in speech are nearly always something else.
_NOT_NAMES = word_set("names.not_names")


@lru_cache(maxsize=1)
def _garble_list() -> tuple[list[str], list[str]]:
    keys = sorted(
        {
            name_key(name)
            for plant in load_plants()
            for name in plant.common
            if len(name_key(name)) >= _SHORTEST_NAME
            and name_key(name) in _names()
            # "Tree" sounds like too much else, and the rest of the name is enough to go by.
            and not name_key(name).endswith("tree")
        }
    )
    return keys, [doublemetaphone(k)[0] for k in keys]


@lru_cache(maxsize=4096)
def _best(heard: str, *, head: str = "") -> tuple[str, float]:
    """Give the name most like what was heard, and how like: letters and sound, half and half."""
    keys, sounds = _garble_list()
    sound = doublemetaphone(heard)[0]
    best_key, best = "", 0.0
    for key, _, k in process.extract(heard, keys, scorer=fuzz.ratio, limit=12, score_cutoff=45):
        if head and not key.endswith(head):
            continue
        score = _likeness(heard, sound, key, sounds[k])
        if score > best or (score == best and key < best_key):
            best_key, best = key, score
    for k in _same_sound().get(sound, ()):
        if head and not keys[k].endswith(head):
            continue
        score = _likeness(heard, sound, keys[k], sounds[k])
        if score > best:
            best_key, best = keys[k], score
    return best_key, best


def _likeness(heard: str, sound: str, key: str, key_sound: str) -> float:
    # Short sounds agree by chance: "plan" and "plane", "older" and "alder".
    letters = fuzz.ratio(heard, key) / 100
    return 0.5 * letters + 0.5 * fuzz.ratio(sound, key_sound) / 100


def _enough(words: Sequence[str], heard: str, key: str, score: float) -> bool:
    """Ask more of what could be chance: one word, or an ordinary word among several."""
    if score < DOUBTFUL or any(w in _NUMBERS for w in words) or words[0] in _PRONOUNS:
        return False
    same = doublemetaphone(heard)[0] == doublemetaphone(key)[0]
    if len(key) < _SHORTEST_GARBLED and fuzz.ratio(heard, key) < 75:
        return False
    letters = fuzz.ratio(heard, key) / 100
    if len(words) == 1 and (heard in key or len(key) < _SHORTEST_GARBLED):
        # A part of a name is no garbled name: "western" is no western yew.
        return False
    if len(words) == 1:
        return letters > 0.82 and score >= SURE
    if any(w in _ordinary() for w in words):
        least = _ALL_ORDINARY if all(w in _ordinary() for w in words) else 0.6
        plain = same or (letters >= _LETTERS and len(key) >= _LONG)
        return letters >= least and plain and len(doublemetaphone(key)[0]) >= 3
    return same or score >= SEVERAL


def _as_heard(words: Sequence[str], key: str, score: float) -> float:
    """Lower the likeness where one of the words is quite another: "pale oak" for blue oak.

    Such a name stays as heard, with what it may mean as a candidate, unless the other words leave
    few names to choose from ("crepe murders").
    """
    for name in _spelt().get(key, ()):
        if len(name) != len(words):
            return score
        alike = [_alike(a, b) for a, b in zip(words, name, strict=True)]
        k = alike.index(min(alike))
        if alike[k] >= _WORD_LIKE or _with_others(name, k) < _MANY:
            return score
    return min(score, _HARDLY)


@lru_cache(maxsize=1024)
def _with_others(name: tuple[str, ...], k: int) -> int:
    """Count the names that have all the words of a name but the k-th."""
    like = (*name[:k], *name[k + 1 :])
    return len(
        {
            key
            for key, names in _spelt().items()
            for n in names
            if len(n) == len(name) and (*n[:k], *n[k + 1 :]) == like
        }
    )


def _alike(heard: str, word: str) -> float:
    return 1.0 if len(heard) == 1 else fuzz.ratio(heard, word) / 100


@lru_cache(maxsize=1)
def _spelt() -> dict[str, tuple[tuple[str, ...], ...]]:
    """Give the words of the names behind a key."""
    spelt: dict[str, tuple[tuple[str, ...], ...]] = {}
    for plant in load_plants():
        for common in plant.common:
            words = tuple(common.lower().replace("-", " ").replace("'", "").split())
            key = name_key(common)
            spelt[key] = (*spelt.get(key, ()), words)
    return spelt


@lru_cache(maxsize=1)
def _same_sound() -> dict[str, tuple[int, ...]]:
    index: dict[str, list[int]] = {}
    for k, sound in enumerate(_garble_list()[1]):
        if len(sound) >= 3:
            index.setdefault(sound, []).append(k)
    return {sound: tuple(ks) for sound, ks in index.items()}


def _with_epithet(tokens: Sequence[Token], found: NameFound) -> NameFound:
    """Add a species' epithet said after a comma: "an Amelanchier, lamarckii"."""
    if found.end >= len(tokens) or found.end - found.start > 1:
        return found
    if tokens[found.end].word[:1].isdigit():
        return epithet_apart(tokens, found, _names())
    if len(found.plants) != 1 or found.plants[0].rank != "genus":
        return epithet_apart(tokens, found, _names())
    key = _token_key(f"{found.plants[0].genus} {tokens[found.end].word}".lower())
    if key not in _names():
        return epithet_apart(tokens, found, _names())
    return NameFound(found.start, found.end + 1, key, _names()[key])


def _widened(tokens: Sequence[Token], found: NameFound) -> NameFound:
    """Let a loose name take in a garbled word beside it: "ball cypress", "cedar L"."""
    if found.end - found.start != 1:
        return found
    best: tuple[float, int, int, str] | None = None
    for left, right in ((1, 0), (2, 0), (0, 1)):
        start, end = found.start - left, found.end + right
        if start < 0 or end > len(tokens) or any(tokens[i].after for i in range(start, end - 1)):
            continue
        extra = [t.word for t in (*tokens[start : found.start], *tokens[found.end : end])]
        if any(w[0].isdigit() for w in extra):
            continue
        heard = _key(tokens, start, end)
        key, score = _best(heard, head=found.key if left else "")
        if any(w in _ordinary() for w in extra) and (
            extra[0] in _NUMBERS | _ARTICLES | _CLOSED
            or len(key) < _LONG
            or fuzz.ratio(heard, key) < 100 * _LETTERS
        ):
            continue
        enough = score >= _WIDENED or doublemetaphone(heard)[0] == doublemetaphone(key)[0]
        if score >= SURE and enough and key != found.key and (best is None or score > best[0]):
            best = (score, start, end, key)
    if best is None:
        return found
    score, start, end, key = best
    score = _as_heard([t.word for t in tokens[start:end]], key, score)
    return NameFound(start, end, key, _names()[key], round(score, 3))


def _garbled(tokens: Sequence[Token], taken: set[int]) -> list[NameFound]:
    tried: list[tuple[float, NameFound]] = []
    for i in range(len(tokens)):
        if i in taken or not _slot(tokens, i):
            continue
        for end in range(i + 1, min(_reach(tokens, i), i + 4) + 1):
            if any(k in taken for k in range(i, end)):
                break
            words = [t.word for t in tokens[i:end]]
            if words[-1] in _CLOSED | _NO_PLANT or any(w[0].isdigit() for w in words):
                continue
            if any(_contracted(t.text) for t in tokens[i:end]) or _proper(tokens, i, end):
                continue
            if len(words) == 1 and words[0] in _ordinary():
                continue
            heard = _key(tokens, i, end)
            if len(heard) < _SHORTEST_GARBLED:
                continue
            key, score = _best(heard)
            if key and _enough(words, heard, key, score):
                score = _as_heard(words, key, score)
                tried.append((score, NameFound(i, end, key, _names()[key], round(score, 3))))
    tried.sort(key=lambda s: (-s[0], s[1].start, s[1].end))
    chosen: list[NameFound] = []
    for _, found in tried:
        if all(found.end <= c.start or found.start >= c.end for c in chosen):
            chosen.append(found)
    return chosen


def _proper(tokens: Sequence[Token], start: int, end: int) -> bool:
    """Whether the words are written as the name of a person or place: "Mrs Oakes"."""
    titled = start and tokens[start - 1].word in _TITLES
    return bool(titled) or any(t.word in _TITLES for t in tokens[start:end]) or (
        end - start > 1 and all(t.capital for t in tokens[start:end])
    )  # fmt: skip


def _contracted(text: str) -> bool:
    """Whether the word is two run together, "you're", and no possessive."""
    return ("'" in text or "’" in text) and not text.lower().replace("’", "'").endswith(
        ("'s", "s'")
    )


_NO_PLANT = word_set("names.no_plant")
_TITLES = word_set("meanings.titles")
_CLOSED = word_set("names.closed")
_PRONOUNS = word_set("names.pronouns")
_NUMBERS = word_set("names.numbers")
_ARTICLES = word_set("names.articles")
_LEADS = word_set("names.leads")


def _slot(tokens: Sequence[Token], i: int) -> bool:
    """Whether a plant name is likely to begin at token i: after an article, a number, a stop."""
    if tokens[i].word in _CLOSED:
        return False
    if i == 0 or bool(tokens[i - 1].after) or tokens[i - 1].word in _LEADS:
        return True
    described = i >= 2 and not tokens[i - 2].after and tokens[i - 1].word not in _CLOSED
    return described and tokens[i - 2].word in _ARTICLES


@lru_cache(maxsize=1)
def _ordinary() -> frozenset[str]:
    path = resources.files("bolewalk.walk").joinpath("data", "ordinary_words.txt")
    lines = path.read_text(encoding="utf-8").splitlines()
    return frozenset(w for line in lines if not line.startswith("#") for w in line.split())
