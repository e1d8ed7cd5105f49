"""Reading the walk sentence by sentence: which tree is spoken of, and what is said of it."""

import re
from dataclasses import dataclass, field, replace

from bolewalk.model.words import Owner
from bolewalk.reference.plants import Region, name_key
from bolewalk.walk import cases
from bolewalk.walk.decisions import DecisionHit, find_decisions
from bolewalk.walk.entities import (
    DecisionSaid,
    Named,
    SizeOf,
    TreeFound,
    content,
    fits,
    name_it,
    pick,
)
from bolewalk.walk.measures import SizeSaid, System, find_sizes, said_units
from bolewalk.walk.mentions import Mention, read_mentions
from bolewalk.walk.names import NameFound, find_names
from bolewalk.walk.numbers import find_numbers
from bolewalk.walk.sentences import Moment, Sentence

__all__ = ["Planting", "Reading", "read_walk_through"]

_RENAME_S = 60.0
_ANAPHORA = 3


@dataclass(slots=True)
class Planting:
    """A plant to be planted, with every moment it was spoken of."""

    named: Named
    moments: list[Moment]


@dataclass(slots=True)
class Reading:
    """Everything the walk was found to say of trees and plantings.

    `topic` gives for each sentence the trees it speaks of; `money` the sentences that price.
    """

    region: Region | None
    system: System | None
    speakers: set[str]
    trees: list[TreeFound] = field(default_factory=list)
    plantings: list[Planting] = field(default_factory=list)
    unplaced: list[tuple[Named, Moment, str]] = field(default_factory=list)
    topic: dict[int, list[TreeFound]] = field(default_factory=dict)
    money: set[int] = field(default_factory=set)
    planting: set[int] = field(default_factory=set)
    recap_from: int | None = None


def read_walk_through(sentences: tuple[Sentence, ...]) -> Reading:
    """Read a walk from beginning to end.

    Parameters
    ----------
    sentences : tuple of Sentence

    Returns
    -------
    Reading
        Trees in the order they were met. Time grows with the number of words.
    """
    named = _names(sentences)
    reading = Reading(
        cases.guess_region(sentences, named), said_units(sentences),
        cases.assessors(sentences, named),
    )  # fmt: skip
    walker = _Walker(reading, sentences, named)
    for s in sentences:
        walker.read(s)
    return reading


def _names(sentences: tuple[Sentence, ...]) -> dict[int, list[NameFound]]:
    """Find the names; a garbled one met among words of trees counts wherever it comes again."""
    expected = {
        s.index
        for k, s in enumerate(sentences)
        if any(cases.expects_tree(a) for a in sentences[max(0, k - 1) : k + 3])
    }
    named = {s.index: find_names(s.tokens, expect=s.index in expected) for s in sentences}
    garbled = {
        _heard_key(s, f) for s in sentences for f in named[s.index] if f.likeness < 1
    }
    for s in sentences:
        if garbled and s.index not in expected:
            again = find_names(s.tokens, expect=True)
            named[s.index] = [f for f in again if f.likeness == 1 or _heard_key(s, f) in garbled]
    return {index: found for index, found in named.items() if found}


def _heard_key(s: Sentence, found: NameFound) -> str:
    return name_key(" ".join(s.words[found.start : found.end]))


@dataclass(slots=True)
class _Walker:
    """The state carried from one sentence to the next."""

    out: Reading
    sentences: tuple[Sentence, ...]
    named: dict[int, list[NameFound]]
    focus: TreeFound | None = None
    recap: bool = False
    money: int = 0
    planting: int = 0
    planned: Planting | None = None
    retracted: int = -9
    retracted_before: int = -9
    one_apart: int = -9
    refused: dict[str, int] = field(default_factory=dict)
    beyond: bool = False

    def read(self, s: Sentence) -> None:
        """Take in one sentence."""
        mentions = read_mentions(s, self.named.get(s.index, []))
        if not self.recap and cases.begins_recap(s, names=bool(mentions)) and len(self.out.trees) > 1:
            self.recap = True
            self.out.recap_from = s.index
        self._modes(s, mentions)
        here = s.index in self.out.planting
        own = s.speaker in self.out.speakers
        if self.retracted != s.index:
            self.retracted_before = self.retracted
        if cases.retracts(s) and own:
            self.retracted = s.index
        entered = self.focus
        spoken: list[tuple[Mention, TreeFound]] = []
        used: set[int] = set()
        for k, m in enumerate(mentions):
            if k in used:
                continue
            other = self._either(s, mentions, k)
            if here and self._plan(s, m):
                continue
            tree = self._tree(s, m, own=own, spoken=spoken)
            if tree is None:
                continue
            if other is not None and not tree.named.alternatives:
                used.add(k + 1)
                self._doubt(s, tree, mentions[k + 1])
            elif other is not None:
                used.add(k + 1)
                self._doubt(s, tree, mentions[k + 1])
            spoken.append((m, tree))
            tree.add_moment(s)
            tree.last = s.index
            if not m.place:
                self.focus = tree
            if self.recap:
                tree.recapped = True
        if not spoken and not here:
            again = self._unnamed(s)
            if again is not None:
                self.focus = entered = again
                again.add_moment(s)
        topics = [t for _, t in spoken] or ([self.focus] if self.focus is not None else [])
        self.out.topic[s.index] = topics
        if here:
            return
        self._sizes(s, spoken, entered)
        if own:
            self._decide(s, spoken, entered)
        self._recount(s)
        self._about(s, spoken)

    def _modes(self, s: Sentence, mentions: list[Mention]) -> None:
        text = " ".join(s.words)
        numbers = [n for n in find_numbers(s.tokens) if n.value >= 50]
        if cases.speaks_of_money(s) and (
            numbers or re.search(r"\b(?:costs?|money|prices?)\b", text)
        ):
            self.money = 3
        elif self.money and numbers and not find_sizes(s, system=None, trees=False):
            self.money = 3
        elif mentions and self._priced(s):
            self.money = 3
        else:
            self.money = max(0, self.money - 1)
        if self.money == 3:
            self.out.money.add(s.index)
        plans = (cases.plans_planting(s) or self._plants_with(s, mentions)) and not s.asked
        if plans and not cases.refuses_planting(s):
            self.planting = 3
            self.out.planting.add(s.index)
        elif self.planting and mentions and self._goes_on(s, mentions):
            self.planting = max(self.planting, 2)
            self.out.planting.add(s.index)
        elif cases.refuses_planting(s) and (plans or self.planting):
            self.out.planting.add(s.index)
            self.planting = 3 if plans else max(0, self.planting - 1)
        else:
            self.planting = max(0, self.planting - 1)
        if self.recap and s.index in self.out.planting and not plans:
            self.out.planting.discard(s.index)

    def _priced(self, s: Sentence) -> bool:
        """Whether a walk in feet and inches names a number only a price can be."""
        if self.out.system != "imperial":
            return False
        after = [(n, s.words[n.end] if n.end < len(s.words) else "") for n in find_numbers(s.tokens)]
        return any(n.value >= 150 and n.value % 5 == 0 and w not in _NO_PRICE for n, w in after)

    def _plants_with(self, s: Sentence, mentions: list[Mention]) -> bool:
        return not self.recap and any(
            not m.definite
            and cases.plants_with(
                " ".join(s.words[max(0, m.start - 9) : m.start]),
                article=m.indefinite, going=self.planting > 0,
            )
            for m in mentions
        )

    def _goes_on(self, s: Sentence, mentions: list[Mention]) -> bool:
        """Whether a sentence after one on planting still lists plants to be planted."""
        first = s.words[0]
        if any(
            any(fits(m, t) for t in self.out.trees) and m.definite and m.role != "compare"
            for m in mentions[:1]
        ) and not any(m.indefinite for m in mentions[1:]):
            return False
        if find_decisions(s) or find_sizes(s, system=None, trees=False):
            return False
        opens = mentions[0].indefinite and mentions[0].start <= 1 and self.planting >= 1
        if opens and not {"theres", "is", "its", "got", "here", "heres"} & set(s.words):
            return True
        joined = any(
            m.indefinite and m.start and s.words[m.start - 1] in ("and", "or") for m in mentions
        )
        return joined or first in _LISTING or cases.refuses_planting(s)

    def _plan(self, s: Sentence, m: Mention) -> bool:
        """Take a name in a sentence on planting; False where it means a standing tree."""
        if m.name.other:
            return True
        standing = [t for t in self.out.trees if fits(m, t)]
        if standing and (m.definite or m.role == "compare" or self._after_where(s, m)):
            return False
        if m.role == "negated" or cases.refuses_planting(s):
            self.refused[m.name.key] = s.index
        if m.role in ("negated", "compare", "gone", "generic", "elsewhere") or m.definite:
            return m.role != "compare" or not standing
        if cases.refuses_planting(s) and not self._only_before(s, m):
            return True
        if s.speaker not in self.out.speakers:
            return True
        heard = " ".join(t.text for t in s.tokens[m.name.start : m.name.end])
        named = name_it(m, heard, self.out.region)
        for p in self.out.plantings:
            if p.named.plant is not None and p.named.plant == named.plant:
                p.moments.append(s.moment)
                return True
        self.out.plantings.append(Planting(named, [s.moment]))
        return True

    def _after_where(self, s: Sentence, m: Mention) -> bool:
        before = " ".join(s.words[: m.start])
        return bool(
            re.search(r"\b(?:where|when|once|after|for|under|behind|by|from)(?: \w+)?$", before)
        )

    def _only_before(self, s: Sentence, m: Mention) -> bool:
        """Whether the refusal comes after the name and has one of its own."""
        before = " ".join(s.words[: m.start])
        return not cases.refuses_planting(replace(s, tokens=s.tokens[: m.name.end])) and bool(
            before
        )

    def _either(self, s: Sentence, mentions: list[Mention], k: int) -> Mention | None:
        """Give the second of two names joined by "or" for one and the same tree."""
        if k + 1 >= len(mentions):
            return None
        a, b = mentions[k], mentions[k + 1]
        between = [t.word for t in s.tokens[a.end : b.start]]
        if "or" in between and len(between) <= 6 and not set(between) - _OR_ELSE and a.role != "other" and b.role != "other" and not a.definite:
            return b
        return None

    def _doubt(self, s: Sentence, tree: TreeFound, m: Mention) -> None:
        heard = " ".join(t.text for t in s.tokens[m.name.start : m.name.end])
        second = name_it(m, heard, self.out.region)
        names = ([second.plant.botanical] if second.plant else []) + list(second.alternatives)
        mine = tree.named
        tree.named = replace(
            mine,
            heard=f"{mine.heard} or {heard}",
            confidence=min(mine.confidence, 0.5),
            alternatives=tuple(dict.fromkeys((*names[:1], *mine.alternatives, *names[1:]))),
        )
        tree.keys.add(m.name.key)

    def _tree(
        self, s: Sentence, m: Mention, *, own: bool, spoken: list[tuple[Mention, TreeFound]]
    ) -> TreeFound | None:
        """Find the tree a name means, or enter a new one; None where it means none."""
        if m.name.other:
            return None
        known = pick(m, s, self.out.trees, recap=self.recap or s.index in self.out.money)
        if m.role in ("gone", "elsewhere", "generic"):
            return None
        if self._same_as_away(s, m):
            return None
        if m.role == "negated":
            return self._not_that(s, m)
        if m.hearsay and self._of_focus(s, m):
            return self.focus
        if m.role == "compare":
            return known if m.definite and known is not None else None
        if not own:
            return known if m.definite or not m.indefinite else None
        renamed = self._renamed(s, m, spoken)
        if renamed is not None:
            return renamed
        if known is not None and not self._is_new(s, m, known):
            self._refine(s, m, known)
            return known
        if known is None and (refined := self._refined(s, m)) is not None:
            return refined
        if known is None and (self._planned(s, m) or self._refused(s, m)):
            return None
        if self._refers(s, m):
            self._note(s, m)
            return None
        return self._enter(s, m)

    def _same_as_away(self, s: Sentence, m: Mention) -> bool:
        """Whether the name tells what a tree likened to or left elsewhere is."""
        earlier = [n for n in self.named.get(s.index, []) if n.end <= m.start]
        if not earlier or not self._identifies(s, m):
            return False
        last = read_mentions(s, earlier)[-1]
        return last.role in ("compare", "elsewhere", "gone") and not m.hearsay

    def _refused(self, s: Sentence, m: Mention) -> bool:
        """Whether the plant was just said not to be planted: "not that. They'll sell you one." """
        return s.index - self.refused.get(m.name.key, -9) <= _ANAPHORA

    def _of_focus(self, s: Sentence, m: Mention) -> bool:
        """Whether a name once given is told of the tree at hand: "I had it down as a larch"."""
        lead = " ".join(s.words[: m.start])
        if self.focus is None or s.index - self.focus.sentence > 2 or not re.search(
            r"\b(?:had|have|got|marked|called|took|put|calls|call) it\b", lead
        ):
            return False
        return not re.search(r"\b(?:next|first|another|then theres|number|tree) ?(?:one|tree|\w+)?\b", lead)

    def _planned(self, s: Sentence, m: Mention) -> bool:
        """Whether the name is that of a plant proposed a moment ago."""
        for p in self.out.plantings:
            if p.named.plant in m.name.plants and (m.definite or self.planting):
                p.moments.append(s.moment)
                return True
        return False

    def _is_new(self, s: Sentence, m: Mention, known: TreeFound) -> bool:
        """Whether a name already known is said of one more tree."""
        if self._again(s, m):
            return True
        if known.sentence == s.index and (known.bare or self._apposed(s, m)):
            return False
        if self.recap or s.index in self.out.money or m.definite and "this" not in m.words:
            return False
        close = known is self.focus and s.index - known.last <= 1
        identified = self._identifies(s, m)
        if m.hearsay or (close and (identified or not m.indefinite)):
            return False
        if m.count is not None and m.count == known.count and (close or not self._sized_soon(s)):
            return False
        if m.indefinite and not identified:
            return not close or self._introduced(s, m) or self._sized_soon(s)
        return bool(
            not m.indefinite
            and not m.definite
            and m.start == 0
            and self._sized_soon(s)
            and not close
        )

    def _again(self, s: Sentence, m: Mention) -> bool:
        if m.fresh and "next" not in m.words and not self.recap and s.index not in self.out.money:
            ordinal = {"second", "third"} & set(m.words)
            return not (
                ordinal and m.definite and any(fits(m, t) and t.count > 1 for t in self.out.trees)
            )
        text = " ".join(s.words)
        return not self.recap and bool(
            re.search(
                r"\b(?:its (?:neighbou?r|buddy|twin|mate)|same again|same species|also an?)\b|^also ",
                text,
            )
            and not m.definite
        )

    def _apposed(self, s: Sentence, m: Mention) -> bool:
        """Whether the name only follows a comma: "an apple by the well, a Baldwin apple"."""
        before = s.words[m.start - 1] if m.start else ""
        return bool(m.start and s.tokens[m.start - 1].after) and before not in ("and", "then") and not m.fresh

    def _introduced(self, s: Sentence, m: Mention) -> bool:
        before = s.words[m.start - 1] if m.start else ""
        return not m.start or before in _INTRODUCING or bool(s.tokens[m.start - 1].after)

    def _sized_soon(self, s: Sentence) -> bool:
        after = self.sentences[s.index : s.index + 2]
        return any(find_sizes(a, system=self.out.system, trees=False) for a in after)

    def _identifies(self, s: Sentence, m: Mention) -> bool:
        before = " ".join(s.words[max(0, m.start - 2) : m.start])
        return bool(
            re.search(
                r"(?:\bits|\bthats|\bis|\bit is|\bthis is|\btheyre|\bit was|\bare|\bcall it)$",
                before,
            )
        )

    def _renamed(
        self, s: Sentence, m: Mention, spoken: list[tuple[Mention, TreeFound]]
    ) -> TreeFound | None:
        """Take a second name for the tree at hand after something was taken back."""
        tree = spoken[-1][1] if spoken else self.focus
        if (
            tree is None
            or m.place
            or self.recap
            or (m.definite and "the" not in m.words)
            or m.fresh
        ):
            return None
        if tree.named.plant is not None and fits(m, tree) and not self._stricter(m, tree):
            return None
        start = self.sentences[tree.sentence].start_s
        asked = range(tree.sentence + 1, s.index + 1)
        if any(_POINTS.search(" ".join(self.sentences[i].words)) for i in asked):
            return None
        recent = s.start_s - start <= _RENAME_S and s.index - tree.sentence <= 8
        before = cases.retracts(replace(s, tokens=s.tokens[: m.start]))
        earlier = tree.sentence <= self.retracted_before and s.index - self.retracted_before <= 4
        if not (recent and (before or earlier or self._denies(s, m, tree))):
            return None
        if not (self._identifies(s, m) or m.start == 0):
            return None
        if not before and self._new_subject(s, m):
            return None
        if any(fits(m, t) for t in self.out.trees if t is not tree) and m.definite:
            return None
        self._rename(s, m, tree)
        self.retracted = self.retracted_before = -9
        return tree

    def _denies(self, s: Sentence, m: Mention, tree: TreeFound) -> bool:
        """Whether the tree's old name follows as denied: "a bitter cherry, not a chokecherry"."""
        names = [n for n in self.named.get(s.index, []) if n.start >= m.end]
        later = read_mentions(s, names)
        return any(x.role == "negated" and fits(x, tree) for x in later)

    def _new_subject(self, s: Sentence, m: Mention) -> bool:
        """Whether something else than "it" is being named: "that big thing over the fence is a"."""
        lead = " ".join(s.words[: m.start])
        return not re.search(r"(?:^|\b(?:no|sorry|okay|so|yes|and|but|well|right) )(?:its|thats|it is|that is|this is|they are|theyre|it was)$", lead) and m.start > 0

    def _stricter(self, m: Mention, tree: TreeFound) -> bool:
        plant = tree.named.plant
        return plant is not None and plant.rank == "species" and len(m.name.plants) == 1 and (
            m.name.plants[0].rank == "species" and m.name.plants[0] != plant
        )  # fmt: skip

    def _rename(self, s: Sentence, m: Mention, tree: TreeFound) -> None:
        heard = " ".join(t.text for t in s.tokens[m.name.start : m.name.end])
        tree.first_heard.append(tree.named.heard)
        tree.named = name_it(m, heard, self.out.region)
        tree.keys.add(m.name.key)

    def _refine(self, s: Sentence, m: Mention, tree: TreeFound) -> None:
        """Let a plain name said right after replace a loose one: "Ash. White ash." """
        tree.keys.add(m.name.key)
        loose = (
            tree.named.plant is None
            or tree.named.plant.rank == "genus"
            or tree.named.confidence < 0.9
        )
        plain = len(m.name.plants) == 1 and m.name.plants[0].rank == "species" and not m.hearsay
        if (
            loose
            and plain
            and s.index - tree.sentence <= 3
            and s.index not in self.out.money
            and m.role == "stand"
            and " or " not in tree.named.heard
            and not self.recap
        ):
            heard = " ".join(t.text for t in s.tokens[m.name.start : m.name.end])
            named = name_it(m, heard, self.out.region)
            if named.confidence >= tree.named.confidence:
                tree.named = replace(named, heard=tree.named.heard)
                tree.first_heard.append(heard)
        if m.count is not None and tree.count == 1 and not self.recap and m.count > 1:
            if s.index - tree.sentence <= 2:
                tree.count = m.count

    def _refined(self, s: Sentence, m: Mention) -> TreeFound | None:
        """A plainer name of the tree just met, which the looser one did not cover."""
        tree = self.focus
        if tree is None or s.index - tree.sentence > 1 or m.indefinite or m.definite:
            return None
        if tree.named.plant is None and len(m.name.plants) == 1:
            if m.name.plants[0].botanical in tree.named.alternatives:
                self._rename(s, m, tree)
                return tree
        return None

    def _refers(self, s: Sentence, m: Mention) -> bool:
        """Whether the name only refers, so that no tree may be entered for it."""
        if m.place or self.recap or s.index in self.out.money:
            return True
        if m.hearsay and any(cases.retracts(x) for x in self.sentences[s.index : s.index + 3]):
            return False
        if m.definite or m.indefinite:
            return s.asked and m.definite
        before = s.words[m.start - 1] if m.start else ""
        opens = m.start == 0 or bool(s.tokens[m.start - 1].after) or before in _OPENS
        return not opens or (m.start == 0 and m.plural and m.count is None and not self._sized_soon(s)
                             and not s.tokens[m.end - 1].after)  # fmt: skip

    def _note(self, s: Sentence, m: Mention) -> None:
        heard = " ".join(t.text for t in s.tokens[m.name.start : m.name.end])
        self.out.unplaced.append(
            (name_it(m, heard, self.out.region), s.moment, "named, not entered")
        )

    def _not_that(self, s: Sentence, m: Mention) -> TreeFound | None:
        return None

    def _enter(self, s: Sentence, m: Mention) -> TreeFound:
        heard = " ".join(t.text for t in s.tokens[m.name.start : m.name.end])
        tree = TreeFound(len(self.out.trees), name_it(m, heard, self.out.region), s.index)
        tree.count = m.count or 1
        tree.keys.add(m.name.key)
        tree.words = set(m.words)
        tree.near = content(s.words[max(0, m.start - 8) : m.end + 10])
        tree.stump = "stump" in s.words
        tree.last = s.index
        tree.said_number = _said_number(s, m)
        tree.garbled = m.name.likeness < 1
        tree.first_key = m.name.key
        tree.bare = not m.definite and not m.indefinite
        self.out.trees.append(tree)
        return tree

    def _unnamed(self, s: Sentence) -> TreeFound | None:
        """Follow phrases that name no plant: "its buddy", "three little ones", "another one"."""
        text = " ".join(s.words)
        if not self.recap:
            more = re.search(
                r"\b(?:another one|one more(?: of them)?|the one (?:next to|beside|behind) (?:it|that)"
                r"|(two|three|four|five) more(?: of them)?)\b", text
            )  # fmt: skip
            if more and self.focus is not None and self._sized_soon(s) and "same deal" not in text:
                mother = self.focus
                tree = TreeFound(len(self.out.trees), mother.named, s.index, inherited=True)
                tree.named = replace(mother.named, confidence=min(mother.named.confidence, 0.6))
                words = {"two": 2, "three": 3, "four": 4, "five": 5}
                tree.count = words.get(more.group(1) or "", 1)
                tree.keys, tree.first_key = set(mother.keys), mother.first_key
                tree.near = content(s.words)
                tree.last = s.index
                self.out.trees.append(tree)
                return tree
            return None
        opening = [t.word for t in s.tokens[: _first_stop(s)]][:5]
        local = content(opening) | ({"little"} if "little" in opening else set())
        local |= {name_key(w) for w in local}
        scored = []
        for t in self.out.trees:
            plant = t.named.plant
            own = {
                name_key(w)
                for n in (plant.common if plant else ())
                for w in n.replace("-", " ").split()
            }
            mine = t.near | t.words | {name_key(w) for w in t.near} | own
            scored.append((len(local & mine), t))
        best = max((n for n, _ in scored), default=0)
        able = [t for n, t in scored if n == best]
        if best == 0:
            return None
        numbers = [n.value for n in find_numbers(s.tokens[:4])]
        if len(able) > 1:
            counted = [t for t in able if numbers and t.count == numbers[0]]
            able = counted or [t for t in able if not t.recapped] or able
        if len(able) > 3:
            return None
        able[0].recapped = True
        return able[0]

    def _target(
        self, spoken: list[tuple[Mention, TreeFound]], at: int, entered: TreeFound | None
    ) -> TreeFound | None:
        """Give the tree spoken of at a token: the last one named before it, else the one at hand."""
        before = [t for m, t in spoken if m.start < at and not m.place]
        if before:
            return before[-1]
        ahead = [t for m, t in spoken if not m.place and m.start < at + 8]
        if entered is None or (ahead and not entered.moments):
            return ahead[0] if ahead else self.focus
        if (
            ahead
            and spoken
            and spoken[0][0].start >= at
            and ahead[0].sentence == self.out.trees[-1].sentence
        ):
            return ahead[0] if ahead[0].moments and len(ahead[0].moments) == 1 else entered
        return entered

    def _sizes(
        self, s: Sentence, spoken: list[tuple[Mention, TreeFound]], entered: TreeFound | None
    ) -> None:
        if s.index in self.out.money and not any(w in ("tall", "inch", "metres") for w in s.words):
            return
        about_tree = self.focus is not None and (bool(spoken) or s.index - self.focus.last <= 2)
        sizes = find_sizes(s, system=self.out.system, trees=about_tree)
        if self._corrected(s, spoken, entered):
            return
        for size in sizes:
            tree = self._target(spoken, size.start, entered) or self.focus
            if tree is None:
                continue
            if not spoken and s.index - tree.last > 6 and not self.recap:
                continue
            if self.recap and any(x.size.what == size.what for x in tree.sizes):
                continue
            if any(x.size.what == size.what and x.moment != s.moment for x in tree.sizes):
                if not size.unit_said:
                    continue
                if size.what in ("height", "stems", "spread"):
                    continue
            tree.sizes.append(SizeOf(size, s.moment))
            tree.add_moment(s)
            tree.last = s.index

    def _corrected(
        self, s: Sentence, spoken: list[tuple[Mention, TreeFound]], entered: TreeFound | None
    ) -> bool:
        """Replace a size said before where the sentence names the old number and a new one."""
        text = " ".join(s.words)
        if not re.search(
            r"\b(?:i (?:said|wrote|put|had|called|told|gave)|not|make (?:it|that)|scratch|sorry|should be|more like|correction)\b", text
        ):
            return False
        numbers = find_numbers(s.tokens)
        values = {n.value for n in numbers}
        trees = [t for m, t in spoken if not m.place] or ([entered] if entered else [])
        for tree in trees:
            for old in tree.sizes:
                if old.size.value not in values or len(values) < 2:
                    continue
                fresh = [n.value for n in numbers if n.value != old.size.value]
                new = fresh[-1]
                old.first = f"{old.size.value:g} {old.size.unit}".strip()
                old.size = replace(old.size, value=new, readings=())
                old.moment = s.moment
                tree.add_moment(s)
                return True
        return False

    def _decide(
        self, s: Sentence, spoken: list[tuple[Mention, TreeFound]], entered: TreeFound | None
    ) -> None:
        hits = find_decisions(s)
        self._one_apart(s, hits)
        if hits and not self.recap and self._parted(s, hits, entered):
            return
        begin = 0
        for k, hit in enumerate(hits):
            stop = hits[k + 1].start if k + 1 < len(hits) else len(s.tokens)
            trees = self._objects(s, hit, spoken, begin, stop, entered)
            begin = hit.end
            for tree in trees:
                self._decision(s, hit, tree)

    def _parted(self, s: Sentence, hits: list[DecisionHit], tree: TreeFound | None) -> bool:
        """Part a group when some of it is to be treated otherwise than the rest."""
        if tree is None or tree.count < 2 or s.index - tree.last > 8:
            return False
        text = " ".join(s.words)
        pending = s.index - self.one_apart <= 2 and re.search(r"\b(?:that one|it|its)\b", text)
        rest = re.search(r"\b(?:the other|the rest|the others|other) ?(\w+)?", text)
        one = re.search(r"\b(?:the|that|this) (?:\w+ ){0,3}?one\b|\bone of (?:them|those|these)\b", text)
        if not one and not rest and not pending:
            return False
        alone = (one and " one" in one.group() and one.group().count(" ") > 1) or pending
        if len(hits) < 2 and not (alone and hits[0].decision != "retain"):
            if alone:
                tree.near |= content(s.words)
            return False
        numbers = {n.start: n.value for n in find_numbers(s.tokens)}
        left = tree.count - 1
        if rest and rest.group(1):
            at = text[: rest.start(1)].count(" ")
            left = int(numbers.get(at, left))
        if not 0 < left < tree.count:
            return False
        apart = TreeFound(len(self.out.trees), tree.named, s.index, count=tree.count - left)
        apart.keys, apart.words = set(tree.keys), set(tree.words)
        apart.first_key = tree.first_key
        apart.near = content(s.words)
        apart.sizes, apart.moments = list(tree.sizes), dict(tree.moments)
        apart.owner, apart.last, apart.garbled = tree.owner, s.index, tree.garbled
        if not (pending and self.beyond):
            tree.count_first, tree.count = tree.count, left
        self.one_apart = -9
        self.out.trees.append(apart)
        pivot = text[: rest.start()].count(" ") if rest else len(s.words)
        for hit in hits:
            mine = tree if rest and hit.end > pivot - 3 and hit.start >= pivot - 4 else apart
            self._decision(s, hit, mine)
        if not tree.decisions:
            self._decision(s, DecisionHit("retain", 1.2, 0, 1, "before"), tree)
        self.focus = tree
        return True

    def _one_apart(self, s: Sentence, hits: list[DecisionHit]) -> None:
        """Note that one of a group is being spoken of, to be decided on in what follows."""
        tree = self.focus
        text = " ".join(s.words)
        if hits or tree is None or tree.count < 2 or self.recap:
            return
        if re.search(r"\bthe (?:\w+ ){1,3}one\b|\bthe one (?:on|at|by|nearest|with|in)\b", text):
            self.one_apart = s.index
            counted = _ORDINALS.get(next((w for w in s.words if w in _ORDINALS), ""), 0)
            self.beyond = counted == tree.count + 1

    def _objects(
        self, s: Sentence, hit: DecisionHit, spoken: list[tuple[Mention, TreeFound]],
        begin: int, stop: int, entered: TreeFound | None,
    ) -> list[TreeFound]:  # fmt: skip
        if self._of_a_thing(s, hit, spoken):
            return []
        inside = [t for m, t in spoken if hit.start <= m.name.start < hit.end and not m.place]
        if inside:
            return inside
        ahead = [(m, t) for m, t in spoken if hit.end <= m.name.start < stop]
        behind = [t for m, t in spoken if begin <= m.start < hit.start and not m.place]
        first = hit.start == 0 or bool(s.tokens[hit.start - 1].after)
        alone = first and bool(s.tokens[hit.end - 1].after)
        if alone and behind:
            return behind if self.recap and len(behind) > 1 else behind[-1:]
        if ahead and ahead[0][0].start - hit.end <= 4 and (hit.object == "after" or hit.start == 0):
            if hit.object == "after" or ahead[0][0].definite:
                return [t for m, t in ahead]
        if behind:
            return behind if self.recap and len(behind) > 1 else behind[-1:]
        tree = self._target(spoken, hit.start, entered)
        if tree is None:
            return []
        far = s.index - tree.last > 9 and not self.recap
        return [] if far and not spoken else [tree]

    def _of_a_thing(
        self, s: Sentence, hit: DecisionHit, spoken: list[tuple[Mention, TreeFound]]
    ) -> bool:
        """Whether the phrase's object is no tree: "leave the bench"."""
        words = s.words[hit.start : hit.end]
        if "the" not in words[:-1] or hit.decision == "prune" or hit.decision == "inspect":
            return False
        noun = words[words.index("the") + 1]
        named = any(hit.start <= m.name.start < hit.end + 4 for m, _ in spoken)
        return not named and noun not in _TREE_NOUNS

    def _decision(self, s: Sentence, hit: DecisionHit, tree: TreeFound) -> None:
        decision, strength = hit.decision, hit.strength
        if hit.negated:
            if decision != "remove":
                return
            decision, strength = "retain", 1.4
        if s.index in self.out.money:
            strength = min(strength, 1.05)
        tree.decisions.append(DecisionSaid(decision, strength, s.index, self.recap, s.moment))
        tree.add_moment(s)
        tree.last = s.index
        if self.recap:
            tree.recapped = True

    def _recount(self, s: Sentence) -> None:
        """Take "There's six." after "I told you five" as the better count."""
        tree = self.focus
        if tree is None:
            return
        text = " ".join(s.words)
        said = find_numbers(s.tokens[:3])
        stems = [x for x in tree.sizes if x.size.what == "stems"]
        if stems and said and said[0].start == 0 and len(s.words) <= said[0].end + 1:
            asked = any(x.asked and x.moment == stems[-1].moment for x in self.sentences[max(0, s.index - 5) : s.index])
            if asked and 1 < said[0].value < 40 and not find_sizes(s, system=None, trees=False):
                stems[-1].first = stems[-1].first or f"{stems[-1].size.value:g}"
                stems[-1].size = replace(stems[-1].size, value=said[0].value)
                return
        if tree.count == 1 and s.index - tree.sentence == 1 and said and said[0].start == 0:
            if s.words[said[0].end : said[0].end + 2] == ("of", "them") and said[0].value > 1:
                tree.count = int(said[0].value)
                return
        if tree.count < 2:
            return
        changed = re.search(r"\b(?:thats|its|make it|there are|theres|so) (\w+) not (\w+)\b", text)
        if changed:
            values = [n.value for n in find_numbers(s.tokens)]
            if len(values) >= 2 and values[-1] == tree.count and 0 < values[-2] < 200:
                tree.count_first, tree.count = tree.count, int(values[-2])
                tree.add_moment(s)
                return
        m = re.search(
            r"^(?:no )?(?:theres|there are|its|make (?:it|that)|actually)(?: actually)? (\w+)(?: of them)?$",
            text,
        )
        previous = " ".join(self.sentences[s.index - 1].words) if s.index else ""
        if m and re.search(r"\b(?:i said|i told|i counted|not|sorry)\b", previous + " " + text):
            numbers = find_numbers(s.tokens)
            if numbers and 1 < numbers[-1].value < 200 and numbers[-1].value != tree.count:
                tree.count_first = tree.count
                tree.count = int(numbers[-1].value)
                tree.add_moment(s)

    def _about(self, s: Sentence, spoken: list[tuple[Mention, TreeFound]]) -> None:
        trees = [t for m, t in spoken if not m.place]
        if not trees and self.focus is not None and s.index - self.focus.last <= 2:
            trees = [self.focus]
        if not trees:
            return
        owner = cases.owner_said(s)
        if owner and not self.recap:
            tree = trees[-1]
            if tree.owner == "unknown":
                tree.owner = _OWNERS[owner]
                tree.add_moment(s)
        if cases.condition(s) and not self.recap and s.index not in self.out.money and not s.asked:
            trees[-1].reasons.setdefault(s.index, s.said)
            trees[-1].add_moment(s)
            trees[-1].last = s.index


_OWNERS: dict[str, Owner] = {"neighbour": "neighbour", "public": "public", "shared": "shared"}
_NO_PRICE = {"inch", "inches", "foot", "feet", "years", "year", "old", "yards", "percent", "acres"}
_POINTS = re.compile(r"\bwhats (?:that|this)\b|\bwhat about\b|\bnext (?:one|to)\b")
_ORDINALS = {
    w: i
    for i, w in enumerate(
        "third fourth fifth sixth seventh eighth ninth tenth eleventh twelfth".split(), start=3
    )
}
_TREE_NOUNS = {
    "tree", "trees", "hedge", "row", "group", "clump", "lot", "stump", "pair", "whole", "one",
    "big", "little", "old", "other", "two", "three", "dead", "rest", "first", "second", "last",
}
_OR_ELSE = {
    "or", "i", "think", "maybe", "possibly", "perhaps", "could", "be", "it", "might", "else", "its",
    "even", "guess", "a", "an", "just",
}
_INTRODUCING = {"theres", "heres", "got", "have", "has", "then", "and", "plus", "is", "find", "see", "got to"}
_LISTING = {"and", "or", "maybe", "not", "no", "plus", "also", "perhaps", "i"}
_OPENS = {
    "is", "are", "its", "thats", "also", "of", "theres", "heres", "got", "be", "was", "number", "two",
    "another", "okay", "right", "now", "left", "and", "sevens",
}  # fmt: skip


def _said_number(s: Sentence, m: Mention) -> str:
    """Read the number given to a tree just before its name: "Tree four, horse chestnut"."""
    for n in find_numbers(s.tokens[: m.start]):
        if n.start and s.words[n.start - 1] in ("tree", "number") and n.value == int(n.value):
            return str(int(n.value))
    return ""


def _first_stop(s: Sentence) -> int:
    for i, t in enumerate(s.tokens):
        if t.after:
            return i + 1
    return len(s.tokens)
