"""Which tree a decision is about, and groups whose trees are treated differently."""

import re

from bolewalk.walk.attaching import tree_at
from bolewalk.walk.decisions import DecisionHit, find_decisions
from bolewalk.walk.entities import (
    DecisionSaid,
    TreeFound,
    content,
)
from bolewalk.walk.mentions import Mention
from bolewalk.walk.numbers import find_numbers
from bolewalk.walk.phrases import phrase, word_set
from bolewalk.walk.sentences import Sentence
from bolewalk.walk.state import Walk

__all__ = ["attach_decisions"]

_ONE_OF = phrase("deciding.one_of")

_ORDINALS = {
    w: i
    for i, w in enumerate(
        [
            "third",
            "fourth",
            "fifth",
            "sixth",
            "seventh",
            "eighth",
            "ninth",
            "tenth",
            "eleventh",
            "twelfth",
        ],
        start=3,
    )
}

_COUNTS = {"two", "three", "four", "five", "six", "seven", "eight", "nine", "ten"}
_TREE_NOUNS = word_set("deciding.tree_nouns")


def attach_decisions(
    w: Walk, s: Sentence, spoken: list[tuple[Mention, TreeFound]], entered: TreeFound | None
) -> None:
    hits = find_decisions(s)
    _one_apart(w, s, hits)
    if hits and not w.recap and _parted(w, s, hits, entered):
        return
    begin = 0
    for k, hit in enumerate(hits):
        stop = hits[k + 1].start if k + 1 < len(hits) else len(s.tokens)
        trees = _objects(w, s, hit, spoken, begin, stop, entered)
        begin = hit.end
        for tree in trees:
            _decision(w, s, hit, tree)


def _one_apart(w: Walk, s: Sentence, hits: list[DecisionHit]) -> None:
    """Note that one of a group is being spoken of, to be decided on in what follows."""
    tree = w.focus
    text = s.text
    if hits or tree is None or tree.count < 2 or w.recap:
        return
    if re.search(r"\bthe (?:\w+ ){1,3}one\b|\bthe one (?:on|at|by|nearest|with|in)\b", text):
        w.one_apart = s.index
        counted = _ORDINALS.get(next((w for w in s.words if w in _ORDINALS), ""), 0)
        w.beyond = counted == tree.count + 1


def _parted(w: Walk, s: Sentence, hits: list[DecisionHit], tree: TreeFound | None) -> bool:
    """Part a group when some of it is to be treated otherwise than the rest."""
    if tree is not None and _shared_out(w, s, hits, tree):
        return True
    if tree is None or tree.count < 2 or s.index - tree.last > 8:
        return False
    text = s.text
    pending = s.index - w.one_apart <= 2 and re.search(r"\b(?:that one|it|its)\b", text)
    rest = re.search(r"\b(?:the other|the rest|the others|other) ?(\w+)?", text)
    one = _ONE_OF.search(text)
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
    apart = _split(w, s, tree, tree.count - left, beyond=bool(pending and w.beyond))
    w.one_apart = -9
    pivot = text[: rest.start()].count(" ") if rest else len(s.words)
    for hit in hits:
        mine = tree if rest and hit.end > pivot - 3 and hit.start >= pivot - 4 else apart
        _decision(w, s, hit, mine)
    if not tree.decisions:
        _decision(w, s, DecisionHit("retain", 1.2, 0, 1, "before"), tree)
    w.focus = tree
    return True


def _split(w: Walk, s: Sentence, tree: TreeFound, n: int, *, beyond: bool = False) -> TreeFound:
    """Enter n trees of a group by themselves; `beyond`: they were never counted with it."""
    apart = TreeFound(len(w.out.trees), tree.named, s.index, count=n)
    apart.keys, apart.words = set(tree.keys), set(tree.words)
    apart.first_key = tree.first_key
    apart.near = content(s.words)
    apart.sizes, apart.moments = list(tree.sizes), dict(tree.moments)
    apart.owner, apart.last, apart.garbled = tree.owner, s.index, tree.garbled
    if not beyond:
        tree.count_first, tree.count = tree.count, tree.count - n
    w.out.trees.append(apart)
    return apart


def _shared_out(w: Walk, s: Sentence, hits: list[DecisionHit], tree: TreeFound) -> bool:
    """Part a group by two counts that make it up: "take out the two here, keep the three below"."""
    numbers = [n for n in find_numbers(s.tokens) if n.pair is None]
    if len(hits) < 2 or len(numbers) < 2 or numbers[0].value + numbers[1].value != tree.count:
        return False
    apart = _split(w, s, tree, int(numbers[0].value))
    for hit in hits:
        _decision(w, s, hit, tree if hit.end > numbers[1].start - 2 else apart)
    w.focus = tree
    return True


def _objects(w: Walk, s: Sentence, hit: DecisionHit, spoken: list[tuple[Mention, TreeFound]],
    begin: int, stop: int, entered: TreeFound | None,
) -> list[TreeFound]:  # fmt: skip
    if _of_a_thing(s, hit, spoken) or _of_nothing(s, hit, spoken):
        return []
    inside = [t for m, t in spoken if hit.start <= m.name.start < hit.end and not m.place]
    if inside:
        return inside
    ahead = [(m, t) for m, t in spoken if hit.end <= m.name.start < stop]
    behind = [t for m, t in spoken if begin <= m.start < hit.start and not m.place]
    first = hit.start == 0 or bool(s.tokens[hit.start - 1].after)
    alone = first and bool(s.tokens[hit.end - 1].after)
    if alone and behind:
        return behind if w.recap and len(behind) > 1 else behind[-1:]
    follows = bool(ahead) and ahead[0][0].start - hit.end <= 4
    if follows and (hit.object == "after" or (hit.start == 0 and ahead[0][0].definite)):
        return [t for _, t in ahead]
    if behind and not (w.recap and hit.start and s.words[hit.start - 1] in _COUNTS):
        return behind if w.recap and len(behind) > 1 else behind[-1:]
    tree = tree_at(w, spoken, hit.start, entered)
    if tree is None:
        return []
    counted = [n.value for n in find_numbers(s.tokens[: hit.start]) if n.end == hit.start]
    if counted and counted[0] != tree.count:
        kin = [t for t in w.out.trees if t.keys & tree.keys and t.count == counted[0]]
        tree = kin[0] if kin else tree
    far = s.index - tree.last > 9 and not w.recap
    return [] if far and not spoken else [tree]


def _of_nothing(s: Sentence, hit: DecisionHit, spoken: list[tuple[Mention, TreeFound]]) -> bool:
    """Whether work is only spoken of, for no tree: "fees and felling"."""
    words = s.words[hit.start : hit.end]
    bare = len(words) == 1 and words[0] in (
        "felling",
        "removal",
        "removing",
        "pruning",
        "reduction",
    )
    pointed = {"it", "that", "them", "this", "those"} & set(s.words)
    # "Removal." by itself is the judgement on the tree at hand.
    return bare and not spoken and not pointed and len(s.words) > 3


def _of_a_thing(s: Sentence, hit: DecisionHit, spoken: list[tuple[Mention, TreeFound]]) -> bool:
    """Whether the phrase's object is no tree: "leave the bench"."""
    words = s.words[hit.start : hit.end]
    if "the" not in words[:-1] or hit.decision in ("prune", "inspect", "monitor"):
        return False
    if (hit.object == "before" and hit.decision == "remove") or {"ground", "stump", "floor", "grade"} & set(words):
        return False
    noun = words[words.index("the") + 1]
    named = any(hit.start <= m.name.start < hit.end + 4 for m, _ in spoken)
    return not named and noun not in _TREE_NOUNS


def _decision(w: Walk, s: Sentence, hit: DecisionHit, tree: TreeFound) -> None:
    decision, strength = hit.decision, hit.strength
    if hit.negated:
        if decision != "remove":
            return
        decision, strength = "retain", 1.4
    if s.index in w.out.money:
        strength = min(strength, 1.05)
    tree.decisions.append(DecisionSaid(decision, strength, s.index, w.recap, s.moment))
    tree.add_moment(s)
    tree.last = s.index
    if w.recap:
        tree.recapped = True
