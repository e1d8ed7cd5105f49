"""The draft tree table of a walk: what was said of each tree, with the moments behind it.

    cues -> sentences -> names -> the part each name plays -> trees, plantings
         -> sizes, decisions, owners -> questions, prices, dangers, works

Rules over words, no model and no list of phrases from one walk. The draft is a proposal: what is
unsure is marked, the words as heard stay, and a person accepts or corrects.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from bolewalk.model.trees import Species
from bolewalk.model.words import Decision, Owner
from bolewalk.walk.asides import (
    CostSaid,
    HazardSaid,
    WorkSaid,
    find_costs,
    find_hazards,
    find_promises,
    find_works,
)
from bolewalk.walk.cues import Cue
from bolewalk.walk.entities import DecisionSaid, Named, SizeOf, TreeFound
from bolewalk.walk.linking import read_walk_through
from bolewalk.walk.names import name_runs
from bolewalk.walk.questions import Question, find_questions
from bolewalk.walk.sentences import Moment, Sentence, read_sentences
from bolewalk.walk.state import Reading

__all__ = [
    "DOUBTFUL_BELOW", "Draft", "DraftPlanting", "DraftTree", "Leftovers", "Measure", "ReadBack",
    "Unplaced", "draft",
]  # fmt: skip

DOUBTFUL_BELOW = 0.5
"""A species with less confidence stays as heard, with its candidates."""


@dataclass(frozen=True, slots=True)
class Measure:
    """One size as said.

    `what` is height, diameter, spread, girth or stems; `unit` ft, in, m, cm, mm or "" for stems.
    `unit_said` is False where the unit was inferred; `readings` holds every (value, unit) the
    words allow when they allow more than one. `first_said` is the size before a correction.
    """

    what: str
    value: float
    unit: str
    moment: Moment
    unit_said: bool = True
    readings: tuple[tuple[float, str], ...] = ()
    first_said: str = ""

    @property
    def ambiguous(self) -> bool:
        """Whether the number cannot be read without asking."""
        return len(self.readings) > 1


@dataclass(frozen=True, slots=True)
class DraftTree:
    """One standing tree, row or group.

    `decision_moments` are the words behind the decision; `decisions_before` earlier decisions
    that it replaced. `count_first` is the number said before a correction; `said_number` the
    number the speaker gave the tree ("tree four"), "" where none.
    """

    id: str
    species: Species
    count: int
    decision: Decision | None
    decision_moments: tuple[Moment, ...]
    decisions_before: tuple[Decision, ...]
    reasons: tuple[str, ...]
    measures: tuple[Measure, ...]
    owner: Owner
    moments: tuple[Moment, ...]
    first_names: tuple[str, ...] = ()
    count_first: int | None = None
    said_number: str = ""


@dataclass(frozen=True, slots=True)
class DraftPlanting:
    """A plant proposed, not standing."""

    species: Species
    moments: tuple[Moment, ...]


@dataclass(frozen=True, slots=True)
class Unplaced:
    """A plant's name that was not made a tree, and why."""

    species: Species
    moment: Moment
    why: str


@dataclass(frozen=True, slots=True)
class ReadBack:
    """One question to put to the speaker: a number that can be read in two ways."""

    ask: str
    tree: str
    moments: tuple[Moment, ...]


@dataclass(frozen=True, slots=True)
class Leftovers:
    """What must not be lost: ids of trees without decision or size, promises, prices without a
    tree, warnings."""

    unassessed: tuple[str, ...]
    promises: tuple[Moment, ...]
    prices: tuple[CostSaid, ...]
    warnings: tuple[HazardSaid, ...]


@dataclass(frozen=True, slots=True)
class Draft:
    """The draft of one walk; every part in the order of the walk, urgent hazards first."""

    duration_s: float
    trees: tuple[DraftTree, ...]
    plantings: tuple[DraftPlanting, ...]
    works: tuple[WorkSaid, ...]
    questions: tuple[Question, ...]
    costs: tuple[CostSaid, ...]
    hazards: tuple[HazardSaid, ...]
    unplaced: tuple[Unplaced, ...]
    read_backs: tuple[ReadBack, ...]
    leftovers: Leftovers
    speakers: tuple[str, ...]
    region: str | None


def draft(cues: Sequence[Cue]) -> Draft:
    """Draft the tree table from the cues of a walk.

    Parameters
    ----------
    cues : sequence of Cue
        By start time, as `read_walk` gives them.

    Returns
    -------
    Draft
        Empty where no plant is named. The same cues give the same draft.
    """
    sentences = read_sentences(cues, names=name_runs)
    reading = read_walk_through(sentences)
    trees = [_tree(t, k) for k, t in enumerate(_kept(reading), start=1)]
    ids = {t.number: f"w{k}" for k, t in enumerate(_kept(reading), start=1)}
    topics = {
        index: tuple(ids[t.number] for t in found if t.number in ids)
        for index, found in reading.topic.items()
    }
    costs = find_costs(sentences, reading.money, topics)
    hazards = find_hazards(sentences)
    questions = find_questions(
        sentences, speakers=reading.speakers, skip=reading.planting | reading.money,
        until=reading.recap_from,
    )  # fmt: skip
    return Draft(
        duration_s=max((c.end_s for c in cues), default=0.0),
        trees=tuple(trees),
        plantings=tuple(
            DraftPlanting(_species(p.named), tuple(p.moments)) for p in reading.plantings
        ),
        works=find_works(sentences),
        questions=questions,
        costs=costs,
        hazards=hazards,
        unplaced=_unplaced(reading),
        read_backs=_read_backs(trees),
        leftovers=_leftovers(trees, sentences, reading, costs, hazards),
        speakers=tuple(sorted({s.speaker for s in sentences if s.speaker})),
        region=reading.region,
    )


def _kept(reading: Reading) -> list[TreeFound]:
    """Give the trees worth an entry, in the order met; parts of a group stand together, in the
    order they were decided on."""
    kept = [t for t in reading.trees if not _flimsy(t)]
    return sorted(kept, key=lambda t: (_met(t), _first_decided(t), -t.count, t.number))


def _first_decided(tree: TreeFound) -> tuple[int, int]:
    """Give where the decision that holds was first said."""
    final = _final(tree.decisions)
    said = [(d.sentence, d.at) for d in tree.decisions if final and d.decision == final.decision]
    return min(said, default=(tree.sentence, 0))


def _met(tree: TreeFound) -> int:
    return tree.number if tree.parted_from is None else tree.parted_from


def _flimsy(tree: TreeFound) -> bool:
    """Whether a garbled name or a mere kind ("hydrangeas") was never spoken of again."""
    if tree.not_listed:
        return not tree.sizes and not tree.decisions
    loose = tree.garbled or (tree.kind_only and tree.count == 1)
    return loose and not tree.sizes and not tree.decisions and len(tree.moments) < 2


def _tree(tree: TreeFound, k: int) -> DraftTree:
    decided = _final(tree.decisions)
    same = [d for d in tree.decisions if decided is not None and d.decision == decided.decision]
    before = [d.decision for d in tree.decisions if decided and d.sentence < decided.sentence]
    return DraftTree(
        id=f"w{k}",
        species=_species(tree.named),
        count=tree.count,
        decision=decided.decision if decided else None,
        decision_moments=tuple(d.moment for d in same),
        decisions_before=tuple(
            dict.fromkeys(d for d in before if decided and d != decided.decision)
        ),
        reasons=tuple(text for _, text in sorted(tree.reasons.items())),
        measures=_measures(tree),
        owner=tree.owner,
        moments=tuple(m for _, m in sorted(tree.moments.items())),
        first_names=tuple(dict.fromkeys(tree.first_heard)),
        count_first=tree.count_first,
        said_number=tree.said_number,
    )


def _final(decisions: Sequence[DecisionSaid]) -> DecisionSaid | None:
    """Let the last plain decision win; praise and the recap fill gaps but overturn nothing."""
    best: DecisionSaid | None = None
    for d in decisions:
        if best is None:
            best = d
        elif d.recap and d.strength < 2 and d.strength <= best.strength:
            continue
        elif d.kept and best.strength >= 2 and best.decision in ("prune", "monitor", "inspect"):
            # What is pruned or looked at again is kept, too.
            continue
        elif _looked_after(d, best):
            # "Reduce it, and look at it every year": the work is the decision.
            continue
        elif d.strength >= 2 or d.strength >= best.strength:
            best = d
    return best


def _looked_after(d: DecisionSaid, work: DecisionSaid) -> bool:
    """Whether a look is only what follows work decided in the same breath."""
    worked = work.decision in ("prune", "remove") and work.strength >= 2
    return worked and d.decision == "monitor" and d.sentence == work.sentence


def _species(named: Named) -> Species:
    plant = named.plant if named.confidence >= DOUBTFUL_BELOW else None
    alternatives = named.alternatives
    if plant is None and named.plant is not None:
        alternatives = (named.plant.botanical, *alternatives)
    return Species(
        botanical=plant.botanical if plant else None,
        common=plant.common[0] if plant else None,
        as_heard=named.heard,
        confidence=named.confidence,
        alternatives=alternatives,
    )


def _measures(tree: TreeFound) -> tuple[Measure, ...]:
    """Give the sizes as said, and the diameter that follows from a girth where none was said."""
    said = tuple(_measure(x) for x in tree.sizes)
    girth = next((m for m in said if m.what == "girth" and not m.ambiguous), None)
    if girth is None or any(m.what == "diameter" for m in said):
        return said
    scale, unit = (100.0, "cm") if girth.unit == "m" else (1.0, girth.unit)
    if girth.unit == "ft":
        scale, unit = 12.0, "in"
    across = round(girth.value * scale / math.pi, 1)
    return (*said, Measure("diameter", across, unit, girth.moment, False, (), ""))


def _measure(x: SizeOf) -> Measure:
    s = x.size
    return Measure(s.what, s.value, s.unit, x.moment, s.unit_said, s.readings, x.first)


def _unplaced(reading: Reading) -> tuple[Unplaced, ...]:
    loose = [Unplaced(_species(named), moment, why) for named, moment, why in reading.unplaced]
    flimsy = [
        Unplaced(_species(t.named), next(iter(t.moments.values())), "said once, and no more of it")
        for t in reading.trees
        if _flimsy(t)
    ]
    return tuple(sorted((*loose, *flimsy), key=lambda u: u.moment.start))


def _read_backs(trees: Sequence[DraftTree]) -> tuple[ReadBack, ...]:
    names = {"in": "inches", "cm": "centimetres", "ft": "feet", "m": "metres", "mm": "millimetres"}
    out = []
    for tree in trees:
        for m in tree.measures:
            if m.ambiguous:
                ways = " or ".join(f"{v:g} {names.get(u, u)}" for v, u in m.readings)
                if m.what == "girth":
                    ways = f"{m.value:g} {names[m.unit]} as girth, or across"
                out.append(
                    ReadBack(f"{tree.species.label}, {m.what}: {ways}?", tree.id, (m.moment,))
                )
    return tuple(out)


def _leftovers(
    trees: Sequence[DraftTree], sentences: tuple[Sentence, ...], reading: Reading,
    costs: tuple[CostSaid, ...], hazards: tuple[HazardSaid, ...],
) -> Leftovers:  # fmt: skip
    return Leftovers(
        unassessed=tuple(t.id for t in trees if t.decision is None),
        promises=find_promises(sentences, reading.speakers),
        prices=tuple(c for c in costs if not c.trees),
        warnings=hazards,
    )
