"""How many there are, said before or after the name: "let me count, nine", "no, there's six"."""

import re
from dataclasses import replace

from bolewalk.walk import cases
from bolewalk.walk.counted_parts import parts_counted
from bolewalk.walk.entities import TreeFound, content
from bolewalk.walk.measures import find_sizes
from bolewalk.walk.mentions import Mention
from bolewalk.walk.numbers import find_numbers
from bolewalk.walk.phrases import phrase
from bolewalk.walk.sentences import Sentence, Token
from bolewalk.walk.state import Walk

__all__ = ["count_ahead", "count_up", "leave_out", "part_by_owner", "recount"]

_RECOUNTS = phrase("recounting.recounts")
_GROUPED = phrase("recounting.grouped")
_IN_ALL = phrase("recounting.in_all")
_ALL_BUT = phrase("group_parts.all_but")
_COUNTS_UP = phrase("recounting.counts_up")
_SO_MANY = phrase("recounting.so_many")
_NOT_TAKEN = phrase("mentions.not_taken")
_PRONOUN = re.compile(r"\b(?:it|that|them|those|these|this)\b")
_MOST, _NEAR, _SOON = 200, 4, 2
_MOST_IN_ALL = 60


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


def recount(w: Walk, s: Sentence) -> None:
    """Take "There's six." after "I told you five" as the better count."""
    tree = w.focus
    if tree is None:
        return
    text = s.text
    said = find_numbers(s.tokens[:9])
    stems = [x for x in tree.sizes if x.size.what == "stems"]
    if stems and said and said[0].start == 0 and len(s.words) <= said[0].end + 1:
        asked = any(
            x.asked and x.moment == stems[-1].moment
            for x in w.sentences[max(0, s.index - 5) : s.index]
        )
        if asked and 1 < said[0].value < 40 and not find_sizes(s, system=None, trees=False):
            stems[-1].first = stems[-1].first or f"{stems[-1].size.value:g}"
            stems[-1].size = replace(stems[-1].size, value=said[0].value)
            return
    parted = w.group is not None and bool(w.group.shares)
    opens = (
        tree.count == 1
        and not parted
        and s.index - tree.sentence == 1
        and said
        and said[0].start == 0
    )
    if opens and said[0].value > 1 and s.words[said[0].end : said[0].end + 2] == ("of", "them"):
        tree.count = int(said[0].value)
        return
    told = _GROUPED.search(text)
    if told and not parted and tree.kind_or_group and s.index - tree.sentence <= 2 and said:
        last = find_numbers(s.tokens)[-1].value
        if 1 < last < 200 and last == int(last):
            tree.count = int(last)
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
    m = _RECOUNTS.search(text)
    previous = w.sentences[s.index - 1].text if s.index else ""
    if m and re.search(r"\b(?:i said|i told|i counted|not|sorry)\b", previous + " " + text):
        numbers = find_numbers(s.tokens)
        if numbers and 1 < numbers[-1].value < 200 and numbers[-1].value != tree.count:
            tree.count_first = tree.count
            tree.count = int(numbers[-1].value)
            tree.add_moment(s)


def count_ahead(w: Walk, s: Sentence, tree: TreeFound) -> None:
    """Look ahead for how many there are in all where only some are excepted: "all but two of" """
    if tree.count > 1 or not _ALL_BUT.search(s.text):
        return
    for later in w.sentences[s.index : s.index + 4]:
        if _IN_ALL.search(later.text) and (later is s or not w.named.get(later.index)):
            values = [int(n.value) for n in find_numbers(later.tokens) if n.value == int(n.value)]
            excepted = _ALL_BUT.search(later.text)
            if values and not excepted and 2 < values[-1] <= _MOST_IN_ALL:
                tree.count = values[-1]
                return


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
        apart = tree.part(len(w.out.trees), s, n)
        apart.owner = "neighbour"
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
