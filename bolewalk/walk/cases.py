"""Turns of speech that say what a stretch of the walk is about."""

from bolewalk.reference.plants import REGIONS, Region
from bolewalk.walk.measures import said_units
from bolewalk.walk.names import NameFound
from bolewalk.walk.phrases import phrase
from bolewalk.walk.sentences import Sentence

__all__ = [
    "asks_for_plant",
    "assessors",
    "begins_recap",
    "condition",
    "expects_tree",
    "guess_region",
    "in_its_place",
    "makes_room",
    "owner_in",
    "owner_said",
    "plans_planting",
    "plants_with",
    "refuses_planting",
    "region_points",
    "retracts",
    "speaks_of_money",
    "takes_up",
]  # fmt: skip

_RECAP = phrase("cases.recap")
_RECAP_LIST = phrase("cases.recap_list")
_PLANT = phrase("cases.plant")
# These plan a planting only where a plant follows at once: "put in a deck", "put a tape on it".
_PLANT_WITH = phrase("cases.plant_with")
_WOULD = phrase("cases.would")
_PLANT_OPENS = phrase("cases.plant_opens")
_PLANT_ASKED = phrase("cases.plant_asked")
_SUITS = phrase("cases.suits")
_REPLACES = phrase("cases.replaces")
_TAKES_UP = phrase("cases.takes_up")
_IN_ITS_PLACE = phrase("cases.in_its_place")
_MAKES_ROOM = phrase("cases.makes_room")
_NO_PLANT = phrase("cases.no_plant")
_MONEY = phrase("cases.money")
_RETRACT = phrase("cases.retract")
_PARTS = phrase("cases.parts")
_CONDITION = phrase("cases.condition")
_NEIGHBOUR = phrase("cases.neighbour")
_PUBLIC = phrase("cases.public")
_SHARED = phrase("cases.shared")


def begins_recap(sentence: Sentence, *, names: bool) -> bool:
    """Whether the speaker starts to go over it all again; `names`: whether plants are named."""
    text = sentence.text
    return bool(_RECAP.search(text) or (names and _RECAP_LIST.search(text)))


def plans_planting(sentence: Sentence) -> bool:
    """Whether the sentence is about what to plant."""
    text = sentence.text
    return any(p.search(text) for p in (_PLANT, _PLANT_OPENS, _SUITS, _REPLACES))


def asks_for_plant(sentence: Sentence) -> bool:
    """Whether it is asked what to plant: "what would you put there?"."""
    return bool(_PLANT_ASKED.search(sentence.text))


def takes_up(text: str) -> bool:
    """Whether a wish is taken up: "she asked for a rowan, and that's a good idea"."""
    return bool(_TAKES_UP.search(text))


def in_its_place(after: str) -> bool:
    """Whether the words after a name give it the place of one that goes: "where the ash was"."""
    return bool(_IN_ITS_PLACE.search(after))


def makes_room(before: str) -> bool:
    """Whether the words before a name tell of a place that falls free: "where the ash was"."""
    return bool(_MAKES_ROOM.search(before))


def plants_with(before: str, *, article: bool, going: bool) -> bool:
    """Whether the words straight before a plant's name make it one to be planted."""
    if not article and before in ("put", "set"):
        return False
    if not going and before.endswith(("said", "say", "want")):
        return False
    return bool(_PLANT_WITH.search(before)) and bool(_WOULD.search(before))


def refuses_planting(sentence: Sentence) -> bool:
    """Whether the sentence says what not to plant."""
    return bool(_NO_PLANT.search(sentence.text))


def speaks_of_money(sentence: Sentence) -> bool:
    """Whether the sentence has words of price."""
    return bool(_MONEY.search(sentence.text))


def retracts(sentence: Sentence) -> bool:
    """Whether the speaker takes something back."""
    return bool(_RETRACT.search(sentence.text))


def condition(sentence: Sentence) -> bool:
    """Whether the sentence tells what state the tree is in, or why something is done."""
    return bool(_CONDITION.search(sentence.text))


def expects_tree(sentence: Sentence) -> bool:
    """Whether the sentence speaks of a tree, so that a garbled name may stand in it."""
    return bool(_PARTS.search(sentence.text))


def owner_said(sentence: Sentence) -> str:
    """Give neighbour, public, shared or "": whose the sentence says the tree is."""
    return owner_in(sentence.text)


def owner_in(text: str) -> str:
    """Give what `owner_said` does for a stretch of plain words."""
    if _SHARED.search(text) and "not on the line" not in text:
        return "shared"
    if _NEIGHBOUR.search(text):
        return "neighbour"
    return "public" if _PUBLIC.search(text) else ""


def assessors(sentences: tuple[Sentence, ...], named: dict[int, list[NameFound]]) -> set[str]:
    """Tell which speakers judge: the one who says most, and those who read the tape for them.

    Without labels there is one speaker, "". Somebody labelled client, owner, resident or
    neighbour is never one.
    """
    weight: dict[str, float] = {}
    for s in sentences:
        weight[s.speaker] = (
            weight.get(s.speaker, 0) + len(s.words) + 20 * len(named.get(s.index, ()))
        )
    if not weight:
        return {""}
    first = max(sorted(weight), key=lambda k: weight[k])
    return {first, ""}


_WORDS_OF: dict[str, tuple[Region, ...]] = {
    "kerb": ("au", "uk"), "verge": ("au", "uk"), "council": ("au", "uk"), "councils": ("au", "uk"),
    "mulga": ("au",), "arvo": ("au",), "ute": ("au",), "youse": ("au",), "nature strip": ("au",),
    "eucalypt": ("au",), "reckon": ("au", "uk"), "bloke": ("au", "uk"), "mate": ("au", "uk"),
    "lorry": ("uk",), "quad": ("uk",), "spinney": ("uk",), "copse": ("uk",), "whilst": ("uk",),
    "hedgerow": ("uk",), "tpo": ("uk",), "vat": ("uk",), "estates": ("uk",), "vicarage": ("uk",),
    "lane": ("uk",), "burn": ("uk",), "quid": ("uk",), "wee": ("uk",), "bungalow": ("uk",),
    "conservatory": ("uk",), "yall": ("us-s",), "fixing": ("us-s",), "sidewalk": ("us-e",),
}  # fmt: skip


def guess_region(
    sentences: tuple[Sentence, ...], named: dict[int, list[NameFound]]
) -> Region | None:
    """Guess the region from plants whose name leaves no doubt, units and turns of speech.

    None where nothing speaks for any region, or two are level.
    """
    points = region_points(sentences, named)
    ranked = sorted(REGIONS, key=lambda r: -points[r])
    if points[ranked[0]] < 0.5 or points[ranked[0]] - points[ranked[1]] < 0.05:
        return None
    return ranked[0]


def region_points(
    sentences: tuple[Sentence, ...], named: dict[int, list[NameFound]]
) -> dict[Region, float]:
    """Give how much speaks for each region: plants, words and units."""
    points = dict.fromkeys(REGIONS, 0.0)
    for found in named.values():
        for name in found:
            if name.other or len(name.plants) != 1 or not name.plants[0].regions:
                continue
            for region in name.plants[0].regions:
                points[region] += 1.0 / len(name.plants[0].regions)
    for s in sentences:
        for w in s.words:
            for region in _WORDS_OF.get(w, ()):
                points[region] += 1.0 / len(_WORDS_OF[w])
    units = said_units(sentences)
    if units == "metric":
        points = {r: p * (0.2 if r.startswith("us") else 1.0) for r, p in points.items()}
    elif units == "imperial":
        points = {r: p * (1.0 if r.startswith("us") else 0.3) for r, p in points.items()}
    return points
