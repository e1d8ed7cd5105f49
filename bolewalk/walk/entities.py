"""The trees found so far on a walk, and which of them a phrase means."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache

from bolewalk.model.words import Decision, Owner
from bolewalk.reference.plants import Plant, Region, name_key, usual_plants
from bolewalk.walk.measures import SizeSaid
from bolewalk.walk.mentions import Mention
from bolewalk.walk.phrases import word_set
from bolewalk.walk.sentences import Moment, Sentence

__all__ = ["DecisionSaid", "Named", "SizeOf", "TreeFound", "fits", "fits_plant", "name_it", "pick"]


@dataclass(frozen=True, slots=True)
class Named:
    """A plant's name made definite for this walk.

    `plant` is None where the words fit several genera or sound too little like any name;
    `alternatives` are botanical names, likeliest first; `confidence` 0 to 1.
    """

    plant: Plant | None
    heard: str
    confidence: float
    alternatives: tuple[str, ...]
    plants: tuple[Plant, ...]


@dataclass(frozen=True, slots=True)
class DecisionSaid:
    """One decision with its strength, the sentence it stands in and its first token there."""

    decision: Decision
    strength: float
    sentence: int
    recap: bool
    moment: Moment
    kept: bool = False
    at: int = 0


@dataclass(slots=True)
class SizeOf:
    """One size with its moment; `first` keeps what was said before a correction."""

    size: SizeSaid
    moment: Moment
    first: str = ""
    count: int = 1


@dataclass(slots=True)
class TreeFound:
    """A standing tree, row or group while the walk is being read."""

    number: int
    named: Named
    sentence: int
    count: int = 1
    owner: Owner = "unknown"
    sizes: list[SizeOf] = field(default_factory=list)
    decisions: list[DecisionSaid] = field(default_factory=list)
    moments: dict[int, Moment] = field(default_factory=dict)
    reasons: dict[int, str] = field(default_factory=dict)
    first_heard: list[str] = field(default_factory=list)
    keys: set[str] = field(default_factory=set)
    words: set[str] = field(default_factory=set)
    near: set[str] = field(default_factory=set)
    stump: bool = False
    recapped: bool = False
    last: int = 0
    count_first: int | None = None
    inherited: bool = False
    garbled: bool = False
    bare: bool = False
    first_key: str = ""
    kind_only: bool = False
    kind_or_group: bool = False
    hearsay: bool = False
    said_number: str = ""
    said_numbers: tuple[str, ...] = ()
    mass: bool = False
    parted_from: int | None = None
    siblings: "list[TreeFound]" = field(default_factory=list)
    not_listed: bool = False

    def add_moment(self, sentence: Sentence) -> None:
        """Keep the sentence as one of the tree's moments."""
        self.moments.setdefault(sentence.index, sentence.moment)

    def part(self, number: int, sentence: Sentence, count: int) -> "TreeFound":
        """Give some trees of a group as an entry of their own, called as the group is."""
        apart = TreeFound(number, self.named, sentence.index, count=count)
        apart.keys, apart.words, apart.first_key = set(self.keys), set(self.words), self.first_key
        apart.parted_from, apart.last = self.number, sentence.index
        return apart


LOOSE = 0.55
"""Confidence of the likeliest of several plants a loose name usually means in the region."""


_MUCH_MORE = 1.15  # so much more must speak for another plant than the usual one
_LEVEL = 0.8  # regions for which so much speaks are level with the first


def _usual(key: str, region: Region | None, points: Mapping[Region, float]) -> tuple[Plant, ...]:
    """Give the plants a loose name usually means, the one that goes best with the walk first."""
    most = max(points.values(), default=0.0)
    level = sorted((r for r in points if points[r] >= _LEVEL * most > 0), key=lambda r: -points[r])
    regions = (region,) if region else tuple(level)
    usual: tuple[Plant, ...] = ()
    for name in (key, key.removesuffix("tree")):
        # "Ash trees" are what "ash" usually is.
        usual = usual or tuple(dict.fromkeys(p for r in regions for p in usual_plants(name, r)))

    def suits(p: Plant) -> float:
        return sum(points.get(r, 0.0) for r in p.regions)

    best = max(usual, key=suits, default=None)
    if best is not None and suits(best) > _MUCH_MORE * suits(usual[0]):
        usual = (best, *(p for p in usual if p is not best))
    return usual


def name_it(
    mention: Mention, heard: str, region: Region | None, points: Mapping[Region, float]
) -> Named:
    """Settle what a name means in the walk's region, never in silence.

    A plain name gives its plant. A loose one gives the plant it usually means in the region, with
    the others as alternatives and a lower confidence; without a region the genus all its plants
    share; else no plant, only alternatives.
    """
    plants = mention.name.plants
    sure = mention.name.likeness
    exact = sure >= 1.0
    base = 0.95 if exact else round(min(0.9, sure), 2)
    if len(plants) == 1 and plants[0].rank == "species":
        return Named(plants[0], heard, base, (), plants)
    usual = _usual(mention.name.key, region, points)
    if usual:
        others = [p.botanical for p in (*usual[1:], *plants) if p is not usual[0]]
        confidence = 0.8 if len(usual) == 1 and region else LOOSE
        return Named(usual[0], heard, confidence, tuple(dict.fromkeys(others)), (*usual, *plants))
    if len(plants) == 1:
        return Named(plants[0], heard, round(base * 0.8, 2), (), plants)
    here = [p for p in plants if region and region in p.regions]
    if len(here) == 1:
        others = [p.botanical for p in plants if p is not here[0]]
        return Named(here[0], heard, 0.7, tuple(others), plants)
    genus = [p for p in plants if p.rank == "genus"]
    if len({p.genus for p in plants}) == 1 and not genus:
        first = (here or list(plants))[0]
        others = [p.botanical for p in plants if p is not first]
        return Named(first, heard, 0.5, tuple(others), plants)
    if genus:
        others = [p.botanical for p in plants if p is not genus[0]]
        return Named(genus[0], heard, 0.6, tuple(others), plants)
    return Named(None, heard, 0.3, tuple(p.botanical for p in plants), plants)


@lru_cache(maxsize=2048)
def _call_names(botanical: str, common: tuple[str, ...]) -> frozenset[str]:
    """Give the keys a plant may be called by: whole names and their last words."""
    keys = {name_key(c) for c in common}
    keys |= {name_key(c.replace("-", " ").split()[-1]) for c in common}
    keys.add(name_key(botanical))
    return frozenset(k for k in keys if k not in {"tree", "hedge", "leaf"})


@lru_cache(maxsize=2048)
def _last_words(common: tuple[str, ...]) -> frozenset[str]:
    """Give the last words of names of several words: what the plant is called for short."""
    return frozenset(name_key(c.split()[-1]) for c in common if " " in c) - {"tree", "hedge"}


def fits(mention: Mention, tree: TreeFound) -> bool:
    """Whether the phrase can mean the tree, going by the name alone."""
    key = mention.name.key
    if key in tree.keys:
        return True
    plant = tree.named.plant
    if plant is None:
        return bool({p.botanical for p in mention.name.plants} & set(tree.named.alternatives))
    plants = mention.name.plants
    if plant in plants or key in _last_words(plant.common):
        return True
    if tree.first_key in _EUCALYPT and plant.rank == "genus":
        return all(p.genus.lower() in _EUCALYPTS for p in plants)
    if len(plants) == 1 and plants[0].rank == "species":
        narrower = key.endswith(tree.first_key)
        kind = name_key(plant.genus) == tree.first_key
        loose = plant.rank == "genus" or kind or (tree.named.confidence < 0.9 and narrower)
        return (loose and plants[0].genus == plant.genus) or plants[
            0
        ].botanical in tree.named.alternatives
    if plant.rank == "genus" and any(p.genus == plant.genus for p in plants):
        return True
    if any(p.rank == "genus" and p.genus == plant.genus for p in plants):
        return True
    return key in _call_names(plant.botanical, plant.common)


def fits_plant(mention: Mention, plant: Plant | None) -> bool:
    """Whether the phrase can mean the plant, going by the name alone."""
    if plant is None:
        return False
    return plant in mention.name.plants or mention.name.key in _call_names(
        plant.botanical, plant.common
    )


_EUCALYPT = word_set("entities.eucalypt")
_EUCALYPTS = word_set("entities.eucalypts")
_SIZES = {
    "big": "big", "bigger": "big", "large": "big", "huge": "big", "old": "big", "main": "big",
    "little": "little", "small": "little", "young": "little", "smaller": "little", "baby": "little",
}  # fmt: skip
_ORDER = {"first": 0, "second": 1, "third": 2, "fourth": 3, "fifth": 4}
_DULL = word_set("entities.dull")


def content(words: Iterable[str]) -> set[str]:
    """Leave out the words that tell no tree from another; sides are kept as sides."""
    listed = list(words)
    kept = {w for w in listed if w not in _DULL and len(w) > 2 and w != "left"}
    for before, w, after in zip(["", *listed], listed, [*listed[1:], ""], strict=False):
        if w in ("left", "right") and (before in ("the", "on", "far") or after in ("hand", "side")):
            kept.add(w + " side")
    return kept


def pick(
    mention: Mention, sentence: Sentence, trees: Sequence[TreeFound], *, recap: bool
) -> TreeFound | None:  # fmt: skip
    """Choose the tree a phrase means among those it fits.

    Order words ("the second plane"), a count, words that stood near one tree only, and whether
    it was recapped already decide; else the one spoken of last.
    """
    able = [t for t in trees if fits(mention, t)]
    if len(able) < 2:
        return able[0] if able else None
    by_name = [t for t in able if mention.name.key in t.keys]
    exact = by_name if 0 < len(by_name) < len(able) and not mention.words else able
    words = set(mention.words)
    for word, place in _ORDER.items():
        if word in words and place < len(able):
            return able[place]
    local = content(_nearby(mention, sentence))
    wanted = {_SIZES[w] for w in words if w in _SIZES}
    latest = max(t.last for t in able)

    def score(t: TreeFound) -> tuple[float, int]:
        others: set[str] = set().union(*(u.near for u in able if u is not t))
        points = 1.5 * len(local & (t.near - others))
        mine = {_SIZES[w] for w in t.words if w in _SIZES}
        points += 2.0 * len(wanted & mine) - 1.0 * len(wanted - mine if mine else set())
        if mention.count is not None:
            points += 3.0 if mention.count == t.count else -2.0
        elif mention.plural:
            points += 1.0 if t.count > 1 else -1.0
        elif t.count > 1 and not mention.plural:
            points -= 0.7
        if "other" in words:
            points += -3.0 if t.last == latest else 1.0
        if recap and t.last == sentence.index:
            points -= 2.0
        if recap and t.recapped:
            points -= 1.0
        if t in exact:
            points += 0.5
        return points, (-t.number if recap else t.last)

    return max(able, key=score)


def _nearby(mention: Mention, sentence: Sentence) -> list[str]:
    words = sentence.words
    stop = mention.end
    while stop < min(len(words), mention.end + 7) and not sentence.tokens[stop - 1].after:
        stop += 1
    return list(words[max(0, mention.start - 3) : mention.start]) + list(
        words[mention.start : mention.name.start]
    ) + list(words[mention.end : stop])  # fmt: skip
