"""When a second name is the same tree's: corrections, doubts, plainer names."""

import re
from dataclasses import replace

from bolewalk.walk import cases
from bolewalk.walk.entities import (
    TreeFound,
    fits,
    name_it,
)
from bolewalk.walk.mentions import Mention, read_mentions
from bolewalk.walk.names import NameFound
from bolewalk.walk.phrases import phrase, word_set
from bolewalk.walk.sentences import Sentence
from bolewalk.walk.state import Walk

__all__ = [
    "identifies",
    "keep_both",
    "newly_told",
    "note_name",
    "of_focus",
    "refine",
    "refined",
    "renamed",
    "same_as_away",
    "second_name",
]

_IDENTIFIES = phrase("naming.identifies")

_OF_IT = phrase("naming.of_it")

_RENAME_S = 60.0

_MAKE_THAT = phrase("naming.make_that")
_DENIED = phrase("mentions.denied")
_NEW_PLACE = phrase("naming.new_place")
_POINTS = phrase("naming.points")
_TAKES_IT_FOR = phrase("naming.takes_it_for")

_ONE_MORE = re.compile(
    r"\b(?:theres|there is|there are|weve got|youve got|ive got|we have)(?: also)?$"
)
_OR_ELSE = word_set("naming.or_else")


def renamed(
    w: Walk, s: Sentence, m: Mention, spoken: list[tuple[Mention, TreeFound]]
) -> TreeFound | None:
    """Take a second name for the tree at hand after something was taken back."""
    tree = spoken[-1][1] if spoken else w.focus
    by_call = w.corrected is not None and w.corrected[0] == s.index and m.role == "stand"
    if by_call and w.corrected is not None:
        tree = w.corrected[1]
        plain = len(m.name.plants) == 1 and m.name.plants[0] != tree.named.plant
        if not m.hearsay and (not fits(m, tree) or plain):
            _rename(w, s, m, tree)
            return tree
    if tree is None or m.place or w.recap or (m.definite and "the" not in m.words) or m.fresh:
        return None
    if tree.named.plant is not None and fits(m, tree) and not _stricter(m, tree):
        return None
    if _ONE_MORE.search(" ".join(s.words[: m.start])) and (tree.decisions or tree.sizes):
        return None
    start = w.sentences[tree.sentence].start_s
    asked = range(tree.sentence + 1, s.index + 1)
    if any(_POINTS.search(w.sentences[i].text) for i in asked):
        return None
    if any(_NEW_PLACE.search(w.sentences[i].text) for i in asked if not w.named.get(i)):
        return None
    recent = s.start_s - start <= _RENAME_S and s.index - tree.sentence <= 8
    before = cases.retracts(replace(s, tokens=s.tokens[: m.start]))
    earlier = tree.sentence <= w.retracted_before and s.index - w.retracted_before <= 4
    flat = bool(m.start) and s.words[0] == "no" and bool(s.tokens[0].after) and m.start <= 2
    soon = identifies(s, m) or (m.start == 0 and not m.definite and m.count is None)
    told = tree.hearsay and s.index - tree.sentence <= 3 and soon
    made = bool(spoken) and bool(_MAKE_THAT.search(" ".join(s.words[: m.start])))
    before = before or flat or told
    if made:
        _rename(w, s, m, tree)
        return tree
    if not (recent and (before or earlier or _denies(w, s, m, tree))):
        return None
    # In a numbered inventory nothing but the next number brings the next tree.
    reach = 3 if w.numbered and not w.called else 1
    at_once = m.start == 0 and s.index - w.retracted_before <= reach
    if not (identifies(s, m) or at_once or before):
        return None
    if not before and _new_subject(s, m):
        return None
    if any(fits(m, t) for t in w.out.trees if t is not tree) and m.definite:
        return None
    _rename(w, s, m, tree)
    w.retracted = w.retracted_before = -9
    return tree


def _new_subject(s: Sentence, m: Mention) -> bool:
    """Whether something else than "it" is being named: "that big thing over the fence is a"."""
    lead = " ".join(s.words[: m.start])
    return not _OF_IT.search(lead) and m.start > 0


def _denies(w: Walk, s: Sentence, m: Mention, tree: TreeFound) -> bool:
    """Whether the tree's old name follows as denied: "a bitter cherry, not a chokecherry"."""
    names = [n for n in w.named.get(s.index, []) if n.start >= m.end]
    later = read_mentions(s, names)
    return any(x.role == "negated" and fits(x, tree) for x in later)


def _stricter(m: Mention, tree: TreeFound) -> bool:
    plant = tree.named.plant
    return plant is not None and plant.rank == "species" and len(m.name.plants) == 1 and (
        m.name.plants[0].rank == "species" and m.name.plants[0] != plant
    )  # fmt: skip


def _rename(w: Walk, s: Sentence, m: Mention, tree: TreeFound) -> None:
    heard = " ".join(t.text for t in s.tokens[m.name.start : m.name.end])
    tree.first_heard.append(tree.named.heard)
    tree.named = name_it(m, heard, w.out.region, w.out.points)
    if tree.hearsay:
        # What somebody only called it no longer stands for it: there may be a real one.
        tree.keys, tree.first_key = set(), m.name.key
    tree.keys.add(m.name.key)


def refine(w: Walk, s: Sentence, m: Mention, tree: TreeFound) -> None:
    """Let a plain name said right after replace a loose one: "Ash. White ash." """
    tree.keys.add(m.name.key)
    loose = (
        tree.named.plant is None or tree.named.plant.rank == "genus" or tree.named.confidence < 0.9
    )
    plain = len(m.name.plants) == 1 and m.name.plants[0].rank == "species" and not m.hearsay
    if (
        loose
        and plain
        and s.index - tree.sentence <= 3
        and s.index not in w.out.money
        and m.role == "stand"
        and " or " not in tree.named.heard
        and not w.recap
    ):
        heard = " ".join(t.text for t in s.tokens[m.name.start : m.name.end])
        named = name_it(m, heard, w.out.region, w.out.points)
        if named.confidence >= tree.named.confidence:
            tree.named = replace(named, heard=tree.named.heard)
            tree.first_heard.append(heard)
    counted = m.count is not None and m.count > 1 and tree.count == 1 and not w.recap
    if counted and m.count is not None and s.index - tree.sentence <= 2:
        tree.count = m.count


def refined(w: Walk, s: Sentence, m: Mention) -> TreeFound | None:
    """A plainer name of the tree just met, which the looser one did not cover."""
    tree = w.focus
    if tree is None or s.index - tree.sentence > 1 or m.indefinite or m.definite:
        return None
    plain = tree.named.plant is None and len(m.name.plants) == 1
    if plain and m.name.plants[0].botanical in tree.named.alternatives:
        _rename(w, s, m, tree)
        return tree
    return None


def second_name(s: Sentence, mentions: list[Mention], k: int) -> Mention | None:
    """Give the second of two names joined by "or" for one and the same tree."""
    if k + 1 >= len(mentions):
        return None
    a, b = mentions[k], mentions[k + 1]
    between = [t.word for t in s.tokens[a.end : b.start]]
    if (
        "or" in between
        and len(between) <= 6
        and not set(between) - _OR_ELSE
        and a.role != "other"
        and b.role != "other"
        and not a.definite
    ):
        return b
    return None


def keep_both(w: Walk, s: Sentence, tree: TreeFound, m: Mention) -> None:
    heard = " ".join(t.text for t in s.tokens[m.name.start : m.name.end])
    second = name_it(m, heard, w.out.region, w.out.points)
    names = ([second.plant.botanical] if second.plant else []) + list(second.alternatives)
    mine = tree.named
    tree.named = replace(
        mine,
        heard=f"{mine.heard} or {heard}",
        confidence=min(mine.confidence, 0.5),
        alternatives=tuple(dict.fromkeys((*names[:1], *mine.alternatives, *names[1:]))),
    )
    tree.keys.add(m.name.key)


def identifies(s: Sentence, m: Mention) -> bool:
    before = " ".join(s.words[max(0, m.start - 2) : m.start])
    return bool(_IDENTIFIES.search(before))


def note_name(w: Walk, s: Sentence, m: Mention) -> None:
    heard = " ".join(t.text for t in s.tokens[m.name.start : m.name.end])
    w.out.unplaced.append(
        (name_it(m, heard, w.out.region, w.out.points), s.moment, "named, not entered")
    )


def of_focus(w: Walk, s: Sentence, m: Mention) -> bool:
    """Whether a name once given is told of the tree at hand: "I had it down as a larch"."""
    lead = " ".join(s.words[: m.start])
    if w.focus is None or s.index - w.focus.sentence > 2 or not _TAKES_IT_FOR.search(lead):
        return False
    if _NEW_PLACE.search(lead) and s.index > w.focus.sentence:
        return False
    return not re.search(
        r"\b(?:next|first|another|then theres|number|tree) ?(?:one|tree|\w+)?\b", lead
    )


def newly_told(w: Walk, s: Sentence, m: Mention) -> bool:
    """Whether a name somebody gave is that of a tree not met yet: "on the lawn, she says elm".

    A place or a pointing word leads to it, here or just before; or the tree at hand is settled
    and of another kind. A bare plural ("she says oaks are trouble") names none. What is taken
    back at once counts only where the right name follows.
    """
    if m.plural and m.count is None and not m.definite:
        return False
    following = [x for k in range(s.index, s.index + 4) for x in _names_at(w, k)]
    later = [x for x in following if (x[0], x[1].start) > (s.index, m.name.start)]
    right = any(x.key != m.name.key for _, x in later)
    retracted = any(cases.retracts(x) for x in w.sentences[s.index : s.index + 3])
    retracted = retracted or bool(_DENIED.search(" ".join(s.words[m.end :])))
    if retracted and not right:
        return False
    lead = " ".join(s.words[: m.start])
    before = w.sentences[s.index - 1] if s.index else s
    pointed = _NEW_PLACE.search(lead) or (
        not w.named.get(before.index) and before is not s and _NEW_PLACE.search(before.text)
    )
    if pointed or w.focus is None or any(x.end <= m.start for x in w.named.get(s.index, [])):
        return True
    plant = w.focus.named.plant
    other = plant is None or plant.genus not in {p.genus for p in m.name.plants}
    return other and bool(w.focus.decisions or w.focus.sizes)


def _names_at(w: Walk, index: int) -> list[tuple[int, NameFound]]:
    return [(index, x) for x in w.named.get(index, [])]


def same_as_away(w: Walk, s: Sentence, m: Mention) -> bool:
    """Whether the name tells what a tree likened to or left elsewhere is."""
    earlier = [n for n in w.named.get(s.index, []) if n.end <= m.start]
    if not earlier or not identifies(s, m):
        return False
    last = read_mentions(s, earlier)[-1]
    return last.role in ("compare", "elsewhere", "gone") and not m.hearsay
