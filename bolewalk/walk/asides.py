"""What else is said on a walk: prices, dangers, works, promises."""

import re
from collections.abc import Mapping
from dataclasses import dataclass

from bolewalk.model.words import WorkKind
from bolewalk.walk.numbers import find_numbers
from bolewalk.walk.sentences import Moment, Sentence

__all__ = [
    "CostSaid", "HazardSaid", "WorkSaid", "find_costs", "find_hazards", "find_promises", "find_works",
]  # fmt: skip


@dataclass(frozen=True, slots=True)
class CostSaid:
    """One price as said: amount in whole money units, currency where named, ids of its trees."""

    amount: float
    currency: str
    trees: tuple[str, ...]
    moment: Moment
    first: float | None = None


@dataclass(frozen=True, slots=True)
class HazardSaid:
    """One danger. `urgent`: concerns people now and has nothing to do with the trees' order of
    work (gas, live wires, fire): somebody is to be called before anything else."""

    kind: str
    urgent: bool
    moments: tuple[Moment, ...]


@dataclass(frozen=True, slots=True)
class WorkSaid:
    """Works spoken of, by kind, with every moment."""

    kind: WorkKind
    moments: tuple[Moment, ...]


_URGENT: tuple[tuple[str, str], ...] = (
    ("gas smell", r"\b(?:smell\w*|whiff|stink\w*|reek\w*|odou?r|hiss\w*)\b.{0,40}\b(?:gas|propane)\b|\bgas (?:smell|leak|odou?r)\b|\b(?:gas|propane)\b.{0,25}\b(?:smell\w*|leak\w*|hiss\w*)\b"),
    ("live wire", r"\b(?:live|downed|down|bare|arcing|sparking|buzzing|broken|hanging|frayed) (?:wires?|cables?|lines?|power ?lines?)\b|\b(?:wires?|power ?lines?|cables?)\b.{0,15}\b(?:down on|arcing|sparking|buzzing|bare|hanging (?:down|low)|snapped)\b"),
    ("fire or smoke", r"\b(?:on fire|smou?ldering|smoke coming|burning smell|smell (?:of )?(?:burning|smoke))\b"),
    ("water leak", r"\b(?:burst|leaking) (?:main|pipe|water)\b|\bwater main\b.{0,20}\b(?:leak\w*|burst)\b|\bsewage\b"),
    ("carbon monoxide", r"\bcarbon monoxide\b"),
    ("open pit or collapse", r"\b(?:sink ?hole|open (?:pit|manhole|well|shaft)|about to collapse|collapsing|caving in)\b"),
    ("asbestos", r"\basbestos\b"),
)  # fmt: skip
_SITE: tuple[tuple[str, str], ...] = (
    ("hanging limb", r"\b(?:hangers?|hanging limb|still hanging|hung up|broken limb|cracked limb|limb .{0,20}hanging)\b"),
    ("wasps, hornets or bees", r"\b(?:hornets?|wasps?|bees?|yellow ?jackets?) ?(?:nests?|hive|swarm)?\b"),
    ("wires", r"\b(?:power ?lines?|that wire|the wires|overhead line|high voltage|low voltage|inside ten foot of)\b"),
    ("people under it", r"\b(?:going to get hurt|get somebody killed|kids? (?:play|swing)|footpath(?:s| is)? right under|over the (?:picnic table|swing|trampoline|bus stop|playground))\b"),
    ("dog", r"\bdog (?:bites|bit)\b|\bmind the dog\b|\bbad dog\b"),
    ("about to fail", r"\b(?:going to (?:fall|fail|come down)|could go any (?:time|day)|ready to (?:fall|go)|wont last the winter|soil lifting|root plate (?:lifting|moving))\b"),
)  # fmt: skip
_WORKS: tuple[tuple[WorkKind, str], ...] = (
    ("pile", r"\b(?:piles?|piers?|pier blocks?|post bases|deck posts?|screw piles?|auger|helical|caissons?)\b(?<!lumber pile)(?<!dirt piles)(?<!wood pile)"),
    ("trench", r"\btrench(?:es|ing)?\b"),
    ("excavation", r"\b(?:pool\b(?! man| job| guy)|excavat\w+|the dig\b|basement|trackhoe|backhoe|digger|deep end|pond)\b"),
    ("strip footing", r"\b(?:footings?|foundations?)\b"),
    ("slab", r"\bslab\b"),
    ("paving", r"\b(?:patio|paving|pavers|footpath|sidewalk|driveway works?|new (?:path|drive|driveway)|putting in a driveway|path out to|terrace)\b"),
    ("building", r"\b(?:extension|addition|pool house|bike shelter|the shelter|new (?:house|garage|building|shed|studio)|adu|granny flat|bird hide|conservatory|carport)\b"),
    ("utility", r"\b(?:cables?|conduit|gas line|water line|electric line|services|sewer line|power gets|ducts?)\b"),
    ("drain", r"\b(?:drains?|soakaway|french drain|storm ?water|septic)\b"),
    ("access", r"\b(?:lorry gets|bring (?:a|the) \w+ (?:in|through)|haul road|crane pad|access for the)\b"),
    ("storage", r"\b(?:store (?:his|their|the) materials|put (?:his|their) materials|dirt piles|spoil heap|stockpile|washout)\b"),
    ("wall", r"\b(?:retaining wall|new wall|walls rebuilt|rebuild the wall)\b"),
    ("fence", r"\bnew fence\b"),
    ("roof", r"\b(?:green roof|new roof|pergola)\b"),
    ("fill", r"\b(?:fill(?:ing)? (?:at|over|in|around)|raise the grade|raising the grade|grade change)\b"),
    ("utility", r"\bsprinkler lines?\b"),
)  # fmt: skip
_DECK = re.compile(r"\bdeck\b(?!ing)")
_CURRENCY = {
    "dollars": "USD",
    "dollar": "USD",
    "bucks": "USD",
    "pounds": "GBP",
    "quid": "GBP",
    "euros": "EUR",
}
_NOT_MONEY = {
    "inch", "inches", "foot", "feet", "metres", "metre", "mil", "millimetres", "centimetres", "cm", "mm",
    "years", "percent", "times", "hours", "cones", "acres", "yards", "meters", "meter", "winter", "months",
}  # fmt: skip
_PROMISE = re.compile(
    r"\b(?:ill (?:send|write|call|email|ring|get (?:you|that|it)|have (?:it|that)|talk|speak|holler|come back|bring|put|let you|be back)"
    r"|you(?:ll| will) have it|well (?:ring|call|send|write|be back|pull)|i told (?:him|her|them) (?:id|i would)|i promise\w*|i said id|im going to (?:call|send|write))\b"
)


def find_costs(
    sentences: tuple[Sentence, ...], money: set[int], topics: Mapping[int, tuple[str, ...]]
) -> tuple[CostSaid, ...]:
    """Find prices in the sentences that speak of money.

    Parameters
    ----------
    sentences : tuple of Sentence
    money : set of int
        Indexes of the sentences that price.
    topics : mapping of int to tuple of str
        Ids of the trees each sentence speaks of, in order.
    """
    found: list[CostSaid] = []
    for s in sentences:
        if s.index not in money:
            continue
        words = s.words
        amounts = [
            n
            for n in find_numbers(s.tokens)
            if n.value >= 40 and not (n.end < len(words) and words[n.end] in _NOT_MONEY)
        ]
        currency = next((_CURRENCY[w] for w in words if w in _CURRENCY), "")
        trees = topics.get(s.index, ())
        for k, n in enumerate(amounts):
            if len(amounts) == len(trees):
                mine: tuple[str, ...] = (trees[k],)
            else:
                mine = trees if len(amounts) == 1 else trees[k : k + 1]
            again = re.search(r"\b(?:scratch that|make it|sorry|correction)\b", " ".join(words))
            earlier = next((c for c in reversed(found) if set(c.trees) & set(mine)), None)
            first = earlier.amount if again and earlier is not None else None
            if again and earlier is not None:
                found.remove(earlier)
            found.append(CostSaid(n.value, currency, mine, s.moment, first))
    return tuple(found)


def find_hazards(sentences: tuple[Sentence, ...]) -> tuple[HazardSaid, ...]:
    """Find dangers: first those that need a call now, whatever the walk is about, then by time."""
    urgent = _gather(sentences, _URGENT, urgent=True)
    site = _gather(sentences, _SITE, urgent=False)
    return (*urgent, *site)


def _gather(
    sentences: tuple[Sentence, ...], rules: tuple[tuple[str, str], ...], *, urgent: bool
) -> list[HazardSaid]:
    moments: dict[str, list[Moment]] = {}
    for s in sentences:
        text = " ".join(s.words)
        for kind, pattern in rules:
            if re.search(pattern, text) and not re.search(
                r"\bno (?:smell|gas|wires|nests?)\b", text
            ):
                moments.setdefault(kind, []).append(s.moment)
    return sorted(
        (HazardSaid(kind, urgent, tuple(m)) for kind, m in moments.items()),
        key=lambda h: (h.moments[0].start, h.kind),
    )


def find_works(sentences: tuple[Sentence, ...]) -> tuple[WorkSaid, ...]:
    """Find works spoken of, one entry a kind, by first moment."""
    moments: dict[WorkKind, list[Moment]] = {}
    for s in sentences:
        text = " ".join(s.words)
        kinds: list[WorkKind] = [kind for kind, pattern in _WORKS if re.search(pattern, text)]
        if _DECK.search(text):
            kinds.append("building")
        for kind in dict.fromkeys(kinds):
            moments.setdefault(kind, []).append(s.moment)
    return tuple(
        sorted(
            (WorkSaid(kind, tuple(m)) for kind, m in moments.items()),
            key=lambda w: (w.moments[0].start, w.kind),
        )
    )


def find_promises(sentences: tuple[Sentence, ...], speakers: set[str]) -> tuple[Moment, ...]:
    """Find what the speaker said they would do: to be kept, or written down as not done."""
    return tuple(
        s.moment
        for s in sentences
        if s.speaker in speakers and _PROMISE.search(" ".join(s.words)) and not s.asked
    )
