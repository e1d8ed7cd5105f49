"""Groups of which some trees are treated otherwise than the rest: "two go, the rest stay"."""

import re
from dataclasses import dataclass

from bolewalk.walk.decisions import DecisionHit
from bolewalk.walk.entities import SizeOf, TreeFound, content
from bolewalk.walk.labels import labels_in
from bolewalk.walk.numbers import find_numbers
from bolewalk.walk.phrases import phrase
from bolewalk.walk.sentences import Sentence, Token
from bolewalk.walk.state import Group, Share, Walk

__all__ = ["Said", "ends_group", "governing", "shares_said", "split_off"]

_COUNTED = phrase("group_parts.counted")
_ONE = phrase("group_parts.one")
_ONE_OF = phrase("group_parts.one_of")
_REST = phrase("group_parts.rest")
_WHOLE = phrase("group_parts.whole")
_OF_NAMED = phrase("group_parts.of_named")
_EXCEPT = phrase("group_parts.except")
_ENDS = phrase("group_parts.ends")
_ALL_BUT = phrase("group_parts.all_but")
_HALF = phrase("group_parts.half")
_STOPPED = phrase("group_parts.stopped")
_IS_SO = re.compile(r"one (?:is|thats|has)$")
_KEPT_SENTENCES = 6
_OF_ALL = 7  # words of "all but two of" before the group's own name


@dataclass(frozen=True, slots=True)
class Said:
    """Where in a sentence part of a group is named; `share` None for the whole of it.

    `excepted` marks a part that is left out, `whole` that all the others are named with it: "all
    but two". `rest` marks what is left beside the parts named before.
    """

    start: int
    end: int
    share: Share | None
    excepted: bool = False
    whole: bool = False
    rest: bool = False


def shares_said(w: Walk, s: Sentence, root: TreeFound | None, since: int) -> list[Said]:
    """Find the parts of the group at hand that a sentence names, in order.

    Parameters
    ----------
    w : Walk
    s : Sentence
    root : TreeFound or None
        The tree at hand.
    since : int
        First token after the group's own name in this sentence, 0 where it is not named here.
    """
    group = _group(w, s, root)
    if group is None:
        return []
    text, starts = s.text, _starts(s)
    found: list[Said] = []
    excepting = [m.end() for m in _EXCEPT.finditer(text)]

    def put(m: re.Match[str], share: Share | None, *, whole: bool = False) -> None:
        start, end = _token(starts, m.start()), _token(starts, max(m.start(), m.end() - 1)) + 1
        if start >= since and all(end <= f.start or start >= f.end for f in found):
            apart = any(0 <= m.start() - e <= 1 for e in excepting)
            found.append(Said(start, end, share, apart, rest=share is None and not whole))

    for m in _ALL_BUT.finditer(text):
        n = _number(m.group("n"))
        if 0 < n < group.total:
            start, end = _token(starts, m.start()), _token(starts, m.end() - 1) + 1
            share = _of(group, n, "")
            if share is not None and start >= since - _OF_ALL:
                found.append(Said(start, end, share, excepted=True, whole=True))
    for m in _HALF.finditer(text):
        put(m, _of(group, group.total // 2, m.group()))
    found += _by_label(s, group)
    for m in _ONE_OF.finditer(text):
        put(m, _of(group, 1, m.group()))
    for m in _REST.finditer(text):
        first = next((x for x in _ONE.finditer(text) if x.end() <= m.start()), None)
        if first is not None and group.shares and not _beyond(first, group):
            # "The split one comes out and the other one stays": the other than the one just named.
            group.current = _of(group, 1, first.group()) or group.current
        put(m, group.rest(_number(m.group("n"))))
    for m in _WHOLE.finditer(text):
        put(m, None, whole=True)
    for m in _COUNTED.finditer(text):
        n = _number(m.group("n"))
        if n == group.total:
            put(m, None, whole=True)
        elif 0 < n < group.total:
            put(m, _of(group, n, m.group()))
    for start, end in _stops(s):
        said = _STOPPED.match(" ".join(s.words[start:end]))
        n = _number(said.group("n")) if said and end - start > 1 else 0
        clear = all(end <= f.start or start >= f.end for f in found)
        if said and start >= since and clear and 0 < n < group.total:
            found.append(Said(start, end, _of(group, n, said.group())))
    for m in _ONE.finditer(text):
        if not _beyond(m, group):
            # "One is fine and one is split" are two, told apart by what is said of them.
            state = text[m.end() :].split()[:1] if _IS_SO.match(m.group()) else []
            put(m, _of(group, 1, " ".join([m.group(), *state])))
    named = since and not any(f.whole for f in found)
    for m in _OF_NAMED.finditer(" ".join(s.words[:since])) if named else ():
        n = _number(m.group("n"))
        if 0 < n < group.total:
            found.append(Said(0, since, _of(group, n, m.group())))
    order = max((k for word, k in _ORDER.items() if word in s.words), default=0)
    if order == group.total + 1 and found and found[0].share and found[0].share.tree is None:
        # "The last one, the ninth" of eight was not counted with them.
        found[0].share.beyond = True
    return sorted(found, key=lambda f: f.start)


def _stops(s: Sentence) -> list[tuple[int, int]]:
    """Give the clauses: runs of tokens between marks."""
    ends = [i + 1 for i, t in enumerate(s.tokens) if t.after or i + 1 == len(s.tokens)]
    return list(zip([0, *ends[:-1]], ends, strict=True))


def _by_label(s: Sentence, group: Group) -> list[Said]:
    """Find the trees of a group called by their numbers: "T4 to be removed, T5 can stay"."""
    numbers = group.root.said_numbers
    known = len(numbers) > 1
    found = []
    for x in labels_in(s, loose=not known and not group.root.said_number):
        if x.number in numbers or (
            not known and s.words[x.start] == "number" and int(x.number) <= group.total
        ):
            mark = f"number {x.number}"
            share = next((g for g in group.shares if mark in g.near), None)
            if share is None:
                share = Share(1, {mark})
                group.shares.append(share)
            found.append(Said(x.start, x.end, share))
    return found


def split_off(w: Walk, s: Sentence, share: Share) -> TreeFound:
    """Give the tree entry of a part of the group, entering it where it has none yet."""
    group = w.group
    if share.tree is not None or group is None:
        return share.tree or (group.root if group else w.out.trees[-1])
    root = group.root
    if share.count >= root.count:
        share.tree = root
        return root
    apart = root.part(len(w.out.trees), s, share.count)
    apart.near = content(s.words) | share.near
    apart.sizes, apart.moments = _own_sizes(root, share), dict(root.moments)
    apart.owner, apart.garbled = root.owner, root.garbled
    if not share.beyond:
        root.count_first, root.count = root.count_first or root.count, root.count - share.count
    w.out.trees.append(apart)
    share.tree = apart
    return apart


_LITTLE = {"little", "small", "smaller", "thin", "thinner", "skinny", "younger", "smallest"}
_BIG = {"big", "bigger", "large", "larger", "biggest", "fat", "older", "taller", "main"}


def _own_sizes(root: TreeFound, share: Share) -> list[SizeOf]:
    """Give a part its own of two trees' sizes: "nine and eleven, pull the little one"."""
    across = [x for x in root.sizes if x.size.what == "diameter"]
    by_label = [k for k, n in enumerate(root.said_numbers) if f"number {n}" in share.near]
    if share.count > 1 or len(across) < 2 or len(across) != root.count:
        return list(root.sizes)
    ranked = sorted(across, key=lambda x: x.size.value)
    mine = ranked[0] if share.near & _LITTLE else ranked[-1] if share.near & _BIG else None
    mine = across[by_label[0]] if by_label and by_label[0] < len(across) else mine
    if mine is None:
        return list(root.sizes)
    apart = [x for x in root.sizes if x.size.what != "diameter" or x is mine]
    root.sizes = [x for x in root.sizes if x is not mine]
    if by_label:
        number = root.said_numbers[by_label[0]]
        root.said_numbers = tuple(n for n in root.said_numbers if n != number)
    return apart


def _group(w: Walk, s: Sentence, root: TreeFound | None) -> Group | None:
    """Give the group at hand, beginning a new one where the tree at hand is several."""
    group = w.group
    if group is not None:
        members = {group.root.number, *(x.tree.number for x in group.shares if x.tree)}
        lately = s.index - group.last <= _KEPT_SENTENCES + 2
        if root is not None and root.number in members and lately:
            return group
        w.group = None
    if root is None or root.count < 2 or s.index - root.last > _KEPT_SENTENCES + 2:
        return None
    w.group = Group(root, root.count, s.index)
    return w.group


def _of(group: Group, n: int, said: str) -> Share | None:
    """Give the part meant: one already named with the same number, the rest, or a new one."""
    words = content(said.split())
    same = [x for x in group.shares if x.count == n]
    for x in same:
        if x.near & words or said.startswith(("those", "these", "the two", "them")):
            return x
    if same and not words:
        return same[-1]
    taken = sum(x.count for x in group.shares)
    if group.shares and not same and n == group.total - taken:
        return group.rest(n)
    if same and n > 1 and taken + n > group.total:
        return same[-1]
    if same and n == 1 and words <= {"one", "dead"} and "of" not in said.split():
        return same[-1]
    share = Share(n, set(words))
    group.shares.append(share)
    return share


def _beyond(m: re.Match[str], group: Group) -> bool:
    """Whether "the third one" of two is a tree that stood there or stands besides."""
    order = next((k for word, k in _ORDER.items() if word in m.group().split()), 0)
    return order > group.total


_ORDER = {
    "third": 3, "fourth": 4, "fifth": 5, "sixth": 6, "seventh": 7, "eighth": 8, "ninth": 9,
    "tenth": 10, "eleventh": 11, "twelfth": 12,
}  # fmt: skip


def governing(said: list[Said], hit: DecisionHit, s: Sentence) -> Said | None:
    """Give the part a decision is about: the one named within, right after, or last before it."""
    inside = [x for x in said if hit.start <= x.start < hit.end]
    if inside:
        return inside[0]
    reach = 2 if hit.object == "after" else 0
    after = [x for x in said if 0 <= x.start - hit.end <= reach]
    joined = after and not any(t.after for t in s.tokens[hit.end - 1 : after[0].start])
    if joined and hit.object != "before":
        return after[0]
    before = [x for x in said if x.end <= hit.start or x.start < hit.start < x.end]
    return before[-1] if before else None


def ends_group(s: Sentence) -> bool:
    """Whether the walk goes on to something else: "next", "this one"."""
    return bool(_ENDS.search(s.text))


def _starts(s: Sentence) -> list[int]:
    starts, at = [], 0
    for word in s.words:
        starts.append(at)
        at += len(word) + 1
    return starts


def _token(starts: list[int], at: int) -> int:
    return max(i for i, x in enumerate(starts) if x <= at)


_COUPLES = {"couple": 2, "pair": 2}


def _number(word: str | None) -> int:
    if not word:
        return 0
    if word.isdigit() or word in _COUPLES:
        return _COUPLES.get(word) or int(word)
    said = find_numbers([Token(word, word, 0)])
    return int(said[0].value) if said else 0
