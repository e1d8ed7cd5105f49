"""Turns of speech that say what a stretch of the walk is about."""

import re

from bolewalk.reference.plants import REGIONS, Region
from bolewalk.walk.measures import said_units
from bolewalk.walk.names import NameFound
from bolewalk.walk.sentences import Sentence

__all__ = [
    "assessors", "begins_recap", "condition", "expects_tree", "guess_region", "owner_said",
    "plans_planting", "plants_with", "refuses_planting", "retracts", "speaks_of_money",
]  # fmt: skip

_RECAP = re.compile(
    r"\b(?:recap|summary|summing up|to sum (?:it )?up|sum(?:ming)? it up|run (?:it|that|through it) back"
    r"|run ?down|say it all (?:one|once)|once more for|one more time|let me go over|go over it again"
    r"|so that is|to go through it|go through (?:it|them) again|for the office|list again"
    r"|so to go back over|to finish|wrap(?:ping)? (?:it )?up|quick list|run through (?:it|them) again)\b"
    r"|\bto recap\b"
)
_RECAP_LIST = re.compile(
    r"^(?:all right |okay |right |and )?so thats (?:the|an?|one|two|three|four|five|six|seven|eight|nine|ten"
    r"|eleven|twelve|all|both) "
)
_PLANT = re.compile(
    r"\b(?:(?:id|ill|would|to|could|and|so|should|well|you|dont|lets|might|will|just|or|never|then) (?:re)?plant\b|(?<!the )plant (?:a|an|one|two|three|some|several|something)\b|replant|planting|replace (?:it|them|that|those) with|replacement|replacements"
    r"|replanting"
    r"|would be my pick|my pick"
    r"|something (?:\w+ ){0,2}?(?:there|decent|small|smaller|native|better|else|evergreen|for screening)|something back|want something in there|in its place|in their place"
    r"|swap (?:it|them) for|id like to see|new tree|new trees|understor(?:e)?y"
    r"|nursery)\b"
)
# These plan a planting only where a plant follows at once: "put in a deck", "put a tape on it".
_PLANT_WITH = re.compile(
    r"\b(?:put in|put|set|set out|go with|go for|have|do|use|choose|pick|recommend|room for|instead|try|specify|suggest|propose|said|say|want)$"
)
_WOULD = re.compile(
    r"\b(?:id|would|could|might|lets|ill|wed|well|you can|they can|i said|have said|^put|put in|room for|recommend|set)\b|^"
    r"(?:(?:and|so|then|maybe) )*(?:put|set|go|try|plant|use) "
)
_PLANT_OPENS = re.compile(r"^(?:(?:and|so|then|right|okay|dont|please) )*plant\b")
_NO_PLANT = re.compile(
    r"\b(?:dont (?:re ?)?plant|do not plant|not another|no more|please no|wouldnt (?:plant|do|put|use)"
    r"|never plant|id have said|would have said|would have put|id have put|not anywhere|wont have"
    r"|dont let|dont put|dont want|i said no|and no|without planting|not (?:a|an|to plant))\b"
)
_MONEY = re.compile(
    r"\b(?:dollars?|pounds|quid|bucks|euros?|cost|costs|costing|price|priced|prices|vat|plus tax|money"
    r"|estimate|budget|ballpark|invoice|quote|figure (?:a|on|\w+ hundred)|allow|write it up as|a visit"
    r"|grand|hundred (?:and \w+ )?(?:with|for|just|plus|if|together|the|each|a visit))\b|\bfigure\b"
)
_RETRACT = re.compile(
    r"\b(?:no sorry|sorry|no wait|wait|hang on|hold on|hold up|scratch that|scrap that|correction|tell a lie"
    r"|i lied|my mistake|my bad|actually|no its|no thats|it isnt|it aint|isnt a|aint no|aint a|not a"
    r"|but no|nonsense|wrong|crush a leaf|on second thought|i stand corrected|strike that|no hang on|let me look|beg your pardon|no no)\b"
)
_PARTS = re.compile(
    r"\b(?:trees?|trunks?|stems?|limbs?|branch(?:es)?|crown|canopy|bark|leaf|leaves|needles?|roots?|root"
    r"|acorns?|knees|sprouts?|stump|stumps|flare|dieback|leans?|leaning|hollow|cavity|conks?|bracket"
    r"|canker|dead|dying|deadwood|vigou?r|foliage|inch|foot|feet|tall|metres?|mil|millimetres?"
    r"|centimetres?|hedge|row|lean|fork|split|prune|pruned|topping|topped|thin|remove|fell|cut|grind"
    r"|plant|planted|fruit|berries|flowers|shade|twins?|coppice|pollard|healthy|rotten|leave|keep|watch)\b"
)
_CONDITION = re.compile(
    r"\b(?:seam|crack\w*|split|conks?|bracket\w*|decay\w*|rot|rotten|hollow|dead|dying|dieback|canker\w*"
    r"|lean\w*|cavity|included bark|bleeding|ooz\w+|fungus|borers?|beetles?|thin(?:ning)? (?:top|crown|canopy)"
    r"|theyre thin|girdling|mistletoe|ivy|topped|topping|lifting|over the (?:roof|drive\w*|house|path|road"
    r"|fence|wires?|garage|pool)|touching|contact with|on the roof|power ?line|wires?|healthy|healthiest"
    r"|good (?:vigou?r|tree|colou?r|form)|full (?:crown|vigou?r)|nothing wrong|no defects?|invasive"
    r"|because|on account of|in the way|hard against|bulging|soil|heav\w+|wound\w*|torn?|hanging|drooping"
    r"|brown\w*|sprouts|stump|hole|dug|scale|mites|anthracnose|hit|damage\w*|gum)\b"
)
_NEIGHBOUR = re.compile(
    r"\b(?:neighbou?rs? (?:has|have|got|own\w*|side|yard|garden|tree|\w+ tree)|the neighbou?rs got|next door"
    r"|that neighbou?rs|thats the neighbou?rs|over the (?:fence|wall|boundary)|third party|isnt ours|not ours"
    r"|aint ours|not our tree|isnt theirs|not theirs|thats his\b|thats hers\b|belongs to|on (?:his|her) side|not the \w+s tree"
    r"|not his to|not hers to|over the boundary|other side of the fence|aint none of my|private|not ours to|on the \w+s side"
    r"|watch the neighbou?rs|neighbou?rs (?!house|fence|trampoline|shed|wall|roof|drive|window)\w+$)"
)
_PUBLIC = re.compile(
    r"\b(?:council|city tree|citys tree|street trees?|town tree|right of way|highways|county tree"
    r"|in the park|municipal|parkway|public)\b"
)
_SHARED = re.compile(
    r"\b(?:could be both|on the (?:property |boundary )?line|shared|joint|co ?owned)\b"
)


def begins_recap(sentence: Sentence, *, names: bool) -> bool:
    """Whether the speaker starts to go over it all again; `names`: whether plants are named."""
    text = " ".join(sentence.words)
    return bool(_RECAP.search(text) or (names and _RECAP_LIST.search(text)))


def plans_planting(sentence: Sentence) -> bool:
    """Whether the sentence is about what to plant."""
    text = " ".join(sentence.words)
    return bool(_PLANT.search(text) or _PLANT_OPENS.search(text))


def plants_with(before: str, *, article: bool, going: bool) -> bool:
    """Whether the words straight before a plant's name make it one to be planted."""
    if not article and before in ("put", "set"):
        return False
    if not going and before.endswith(("said", "say", "want")):
        return False
    return bool(_PLANT_WITH.search(before)) and bool(_WOULD.search(before))


def refuses_planting(sentence: Sentence) -> bool:
    """Whether the sentence says what not to plant."""
    return bool(_NO_PLANT.search(" ".join(sentence.words)))


def speaks_of_money(sentence: Sentence) -> bool:
    """Whether the sentence has words of price."""
    return bool(_MONEY.search(" ".join(sentence.words)))


def retracts(sentence: Sentence) -> bool:
    """Whether the speaker takes something back."""
    return bool(_RETRACT.search(" ".join(sentence.words)))


def condition(sentence: Sentence) -> bool:
    """Whether the sentence tells what state the tree is in, or why something is done."""
    return bool(_CONDITION.search(" ".join(sentence.words)))


def expects_tree(sentence: Sentence) -> bool:
    """Whether the sentence speaks of a tree, so that a garbled name may stand in it."""
    return bool(_PARTS.search(" ".join(sentence.words)))


def owner_said(sentence: Sentence) -> str:
    """Give neighbour, public, shared or "": whose the sentence says the tree is."""
    text = " ".join(sentence.words)
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


_WORDS_OF: dict[str, Region] = {
    "kerb": "au", "verge": "au", "mulga": "au", "council": "au", "arvo": "au", "ute": "au",
    "youse": "au", "lorry": "uk", "quad": "uk", "spinney": "uk", "copse": "uk", "whilst": "uk",
    "hedgerow": "uk", "tpo": "uk", "vat": "uk", "estates": "uk", "yall": "us-s", "fixing": "us-s",
    "sidewalk": "us-e",
}  # fmt: skip


def guess_region(
    sentences: tuple[Sentence, ...], named: dict[int, list[NameFound]]
) -> Region | None:
    """Guess the region from plants whose name leaves no doubt, units and turns of speech.

    None where nothing speaks for any region, or two are level.
    """
    points = dict.fromkeys(REGIONS, 0.0)
    for found in named.values():
        for name in found:
            if name.other or len(name.plants) != 1 or not name.plants[0].regions:
                continue
            for region in name.plants[0].regions:
                points[region] += 1.0 / len(name.plants[0].regions)
    for s in sentences:
        for w in s.words:
            if w in _WORDS_OF:
                points[_WORDS_OF[w]] += 1.0
    units = said_units(sentences)
    if units == "metric":
        points = {r: p * (0.2 if r.startswith("us") else 1.0) for r, p in points.items()}
    elif units == "imperial":
        points = {r: p * (1.0 if r.startswith("us") else 0.3) for r, p in points.items()}
    ranked = sorted(REGIONS, key=lambda r: -points[r])
    if points[ranked[0]] < 0.5 or points[ranked[0]] - points[ranked[1]] < 0.05:
        return None
    return ranked[0]
