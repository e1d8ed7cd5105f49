"""Names said otherwise than in full: short forms, sound-alikes, an epithet set apart."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

from bolewalk.reference.plants import Plant, known_names
from bolewalk.walk.phrases import read_table, word_key, word_set
from bolewalk.walk.sentences import Token

__all__ = ["NameFound", "earned_forms", "epithet_apart", "short_forms", "sound_alikes"]

_ALIKE = 0.9  # likeness given to a word that only sounds like the name


@dataclass(frozen=True, slots=True)
class NameFound:
    """A run of tokens that names a plant.

    `plants` are the plants it may mean: one, or several for a loose name. `likeness` is 1 for an
    exact name. `other` is "" or what the words mean instead ("wood", "place").
    """

    start: int
    end: int
    key: str
    plants: tuple[Plant, ...]
    likeness: float = 1.0
    other: str = ""


_DETERMINERS = word_set("nicknames.determiners")
_GOES_ON = word_set("nicknames.goes_on")
_COLOURS = word_set("nicknames.not_alone")


def earned_forms(found: Sequence[NameFound]) -> dict[str, tuple[Plant, ...]]:
    """Give the first words that may stand for plants named in full: queen palm, "the queens"."""
    forms: dict[str, tuple[Plant, ...]] = {}
    for f in found:
        if f.other or len(f.plants) != 1 or f.plants[0].rank != "species":
            continue
        for common in f.plants[0].common:
            words = common.lower().replace("-", " ").split()
            plain = len(words) > 1 and word_key(common) == f.key and words[0] not in _COLOURS
            key = word_key(words[0])
            if plain and len(key) > 3 and key not in known_names():
                forms[key] = f.plants
    return forms


@lru_cache(maxsize=1)
def _usual_short() -> dict[str, tuple[Plant, ...]]:
    names = known_names()
    rows = read_table("short_names.csv")
    return {
        word_key(r["short"]): names[word_key(r["name"])]
        for r in rows
        if word_key(r["name"]) in names
    }


def short_forms(tokens: Sequence[Token], also: Mapping[str, tuple[Plant, ...]]) -> list[NameFound]:
    """Find plants called by the first word of their name: "the royal by the pole", "two queens".

    Only after an article, a number or at the head of the sentence, and where no noun follows.
    """
    forms = {**_usual_short(), **also}
    out = []
    for i, t in enumerate(tokens):
        key = word_key(t.word)
        if key not in forms:
            continue
        led = i == 0 or bool(tokens[i - 1].after) or tokens[i - 1].word in _DETERMINERS
        led = led or (i > 1 and not tokens[i - 2].after and tokens[i - 2].word in _DETERMINERS)
        following = tokens[i + 1].word if i + 1 < len(tokens) and not t.after else ""
        if led and (not following or following in _GOES_ON):
            out.append(NameFound(i, i + 1, key, forms[key]))
    return out


@lru_cache(maxsize=1)
def _alikes() -> dict[str, tuple[str, frozenset[str], frozenset[str]]]:
    return {
        r["heard"]: (
            word_key(r["name"]),
            frozenset(w.replace("_", " ") for w in r["before"].split()),
            frozenset(r["not_near"].split()),
        )
        for r in read_table("sound_alikes.csv")
    }


def sound_alikes(
    tokens: Sequence[Token], names: Mapping[str, tuple[Plant, ...]]
) -> list[NameFound]:
    """Find ordinary words a recogniser writes for a plant of the same sound: "a big old beach"."""
    out = []
    around = {t.word for t in tokens}
    for i, t in enumerate(tokens):
        row = _alikes().get(t.word)
        if row is None:
            continue
        hedge = i + 1 < len(tokens) and tokens[i + 1].word in ("hedge", "hedging", "tree", "trees")
        if hedge and (not i or tokens[i - 1].after) and t.word not in ("line", "pair", "plain"):
            out.append(NameFound(i, i + 1, row[0], names[row[0]], _ALIKE))
            continue
        if not i or tokens[i - 1].after:
            continue
        key, before, against = row
        pair = f"{tokens[i - 2].word} {tokens[i - 1].word}" if i > 1 else ""
        if not {tokens[i - 1].word, pair} & before or around & against:
            continue
        following = tokens[i + 1].word if i + 1 < len(tokens) and not t.after else ""
        if following and following not in _GOES_ON:
            continue
        whole = word_key(f"{tokens[i - 1].word} {key}")
        wide = whole in names
        out.append(NameFound(i - wide, i + 1, whole if wide else key,
                             names[whole if wide else key], _ALIKE))  # fmt: skip
    return out


def _kind_apart(
    tokens: Sequence[Token], found: NameFound, names: Mapping[str, tuple[Plant, ...]]
) -> NameFound | None:
    """Read "a juniper, the Rocky Mountain one", "fan palms, the skinny Mexican kind"."""
    for i in range(found.end + 1, min(found.end + 7, len(tokens))):
        if tokens[i].word in ("not", "no", "isnt", "than", "and"):
            break
        if tokens[i].word not in _KIND_OF:
            continue
        for n in (1, 2):
            epithet = " ".join(t.word for t in tokens[max(found.end, i - n) : i])
            key = word_key(f"{epithet} {found.key}")
            plants = names.get(key, ())
            if len(plants) == 1 and plants[0].rank == "species":
                return replace(found, key=key, plants=plants)
    return None


_KIND_OF = {"one", "ones", "kind", "kinds", "sort", "type", "variety", "species"}


def epithet_apart(
    tokens: Sequence[Token], found: NameFound, names: Mapping[str, tuple[Plant, ...]]
) -> NameFound:
    """Let a word set apart make a loose name plain: "the spruce at the yard, Sitka, twenty"."""
    kind = _kind_apart(tokens, found, names)
    if kind is not None:
        return kind
    for i in range(found.end, len(tokens)):
        apart = bool(tokens[i - 1].after) and (i + 1 == len(tokens) or bool(tokens[i].after))
        if not apart or tokens[i].word in _COLOURS:
            continue
        key = word_key(f"{tokens[i].word} {found.key}")
        plants = names.get(key, ())
        if len(plants) == 1 and plants[0].rank == "species":
            return replace(found, key=key, plants=plants)
    return found
