"""How many there are, said after the name: "let me count, nine", "call that five trees"."""

import re

from bolewalk.walk import cases
from bolewalk.walk.entities import TreeFound, content
from bolewalk.walk.mentions import Mention
from bolewalk.walk.numbers import find_numbers
from bolewalk.walk.parts import parts_counted
from bolewalk.walk.phrases import phrase
from bolewalk.walk.sentences import Sentence, Token
from bolewalk.walk.state import Walk

__all__ = ["count_up", "leave_out", "part_by_owner"]

_COUNTS_UP = phrase("recounting.counts_up")
_SO_MANY = phrase("recounting.so_many")
_NOT_TAKEN = phrase("mentions.not_taken")
_PRONOUN = re.compile(r"\b(?:it|that|them|those|these|this)\b")
_MOST, _NEAR, _SOON = 200, 4, 2


def count_up(w: Walk, s: Sentence) -> bool:
    """Take a count said in a sentence of its own for the plant just named; whether one was."""
    tree = w.focus
    if tree is None or w.named.get(s.index) or w.recap or s.index - tree.last > _NEAR:
        return False
    if w.group is not None and w.group.shares:
        return False
    said = _SO_MANY.search(s.text)
    loose = tree.kind_or_group and tree.count == 1 and not tree.decisions
    loose = loose and s.index - tree.sentence <= _SOON
    said = said or (_COUNTS_UP.search(s.text) if loose else None)
    n = _number(said.group("n")) if said else 0
    if not 1 < n < _MOST or n == tree.count:
        return False
    tree.count_first, tree.count = (tree.count if tree.count > 1 else tree.count_first), n
    tree.sizes = [x for x in tree.sizes if x.size.what != "stems" or x.size.value != n]
    tree.add_moment(s)
    tree.last = s.index
    return True


def _number(word: str) -> int:
    said = find_numbers([Token(x, x, 0) for x in word.split()])
    return int(said[0].value) if said else 0


def part_by_owner(w: Walk, s: Sentence, m: Mention, tree: TreeFound) -> None:
    """Enter apart the trees of a group that are said to be somebody else's."""
    parts = parts_counted(s.tokens, m.end)
    if not parts or tree.sentence != s.index or tree.count != sum(n for n, _ in parts):
        return
    ends = [at for _, at in parts[1:]] + [len(s.tokens)]
    for (n, at), end in zip(parts, ends, strict=True):
        said = s.words[at:end]
        if cases.owner_in(" ".join(said)) != "neighbour" or n >= tree.count:
            continue
        apart = TreeFound(len(w.out.trees), tree.named, s.index, count=n)
        apart.keys, apart.words, apart.first_key = set(tree.keys), set(tree.words), tree.first_key
        apart.parted_from, apart.owner, apart.last = tree.number, "neighbour", s.index
        apart.near = content(said)
        apart.add_moment(s)
        tree.count -= n
        tree.owner = "client" if tree.owner == "unknown" else tree.owner
        tree.siblings.append(apart)
        w.out.trees.append(apart)


def leave_out(w: Walk, s: Sentence) -> None:
    """Leave out a plant just named that the speaker will not list: "I'm not counting those"."""
    tree = w.focus
    if tree is None or w.named.get(s.index) or s.index - tree.sentence > 2:
        return
    told = _NOT_TAKEN.search(s.text)
    if told and _PRONOUN.search(s.text) and not (tree.sizes or tree.decisions):
        tree.not_listed = True
