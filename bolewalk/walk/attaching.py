"""Sizes, owners and states put to the tree spoken of."""

import re
from dataclasses import replace

from bolewalk.model.words import Owner
from bolewalk.walk import cases
from bolewalk.walk.entities import (
    SizeOf,
    TreeFound,
)
from bolewalk.walk.inventory import bare_number
from bolewalk.walk.measures import SizeSaid, find_sizes, trunk_without_unit
from bolewalk.walk.mentions import Mention
from bolewalk.walk.numbers import find_numbers
from bolewalk.walk.phrases import phrase
from bolewalk.walk.sentences import Sentence
from bolewalk.walk.sizes_after import as_wide_as_high, kind_told, label_after, size_by_label
from bolewalk.walk.state import Walk

__all__ = ["attach_sizes", "attach_state", "tree_at"]

_SLIPPED = phrase("attaching.slipped")
_POINTED = phrase("attaching.pointed")

_HOW_MANY = re.compile(r"\b(?:how many|of them|of those)\b")
_COUNTING = re.compile(r"\b(?:let me|ill|lets) (?:just )?count\b|\bcounting (?:them|up)\b")
_SIZE_ASKED = re.compile(r"\b(?:measure|diameter|size|tape|across|dbh|calli?per)\b")
_SAID_BEFORE = re.compile(r"\bi (?:said|had|told|put|called|wrote)\b")
_MORE_LIKE = re.compile(r"\b(?:more like|tape says|its really|its actually|closer to|reads)\b")
_MAKES = re.compile(r"\bmake (?:it|that|the)\b|\bcorrection\b|\bshould be\b")
_CORRECTS = phrase("attaching.corrects")

_MOST_COUNTED, _LEAST_TRUNK = 60, 4

_OWNERS: dict[str, Owner] = {"neighbour": "neighbour", "public": "public", "shared": "shared"}


def tree_at(
    w: Walk, spoken: list[tuple[Mention, TreeFound]], at: int, entered: TreeFound | None
) -> TreeFound | None:
    """Give the tree spoken of at a token: the last one named before it, else the one at hand."""
    before = [t for m, t in spoken if m.start < at and not m.place]
    if before:
        return before[-1]
    ahead = [t for m, t in spoken if not m.place and m.start < at + 8]
    if entered is None or (ahead and not entered.moments):
        return ahead[0] if ahead else w.focus
    if (
        ahead
        and spoken
        and spoken[0][0].start >= at
        and ahead[0].sentence == w.out.trees[-1].sentence
    ):
        return ahead[0] if ahead[0].moments and len(ahead[0].moments) == 1 else entered
    return entered


def attach_sizes(
    w: Walk, s: Sentence, spoken: list[tuple[Mention, TreeFound]], entered: TreeFound | None
) -> None:
    if s.index in w.out.money and not any(w in ("tall", "inch", "metres") for w in s.words):
        return
    if kind_told(w, s) or size_by_label(w, s) or _bare(w, s, spoken) or _held(w, s, spoken):
        return
    about_tree = w.focus is not None and (bool(spoken) or s.index - w.focus.last <= 2)
    sizes = find_sizes(s, system=w.out.system, trees=about_tree)
    if _corrected(w, s, spoken, entered):
        return
    for size in sizes:
        tree = tree_at(w, spoken, size.start, entered) or w.focus
        counted = tree is not None and tree.count > 1 and size.value == tree.count
        if counted and not size.unit_said and size.what == "diameter":
            continue
        if tree is not None and not size.unit_said and _counts_again(s, size, tree):
            tree.count_first, tree.count = tree.count, int(size.value)
            tree.add_moment(s)
            continue
        if tree is not None and _replaced(s, size, tree):
            continue
        if tree is None:
            continue
        if not spoken and s.index - tree.last > 6 and not w.recap:
            continue
        if w.recap and (not size.unit_said or any(x.size.what == size.what for x in tree.sizes)):
            continue
        if any(x.size.what == size.what and x.moment != s.moment for x in tree.sizes):
            if not size.unit_said:
                continue
            if size.what in ("height", "stems", "spread"):
                continue
        tree.sizes.append(SizeOf(size, s.moment))
        tree.add_moment(s)
        tree.last = s.index
    as_wide_as_high(w, s, spoken)


def _counts_again(s: Sentence, size: SizeSaid, tree: TreeFound) -> bool:
    """Whether a number is the count once more: "Twelve. No, thirteen, there's a wee one"."""
    led = s.words[0] in ("no", "sorry", "wait", "make") and size.start <= 2
    near = tree.count > 1 and size.value == int(size.value) and 0 < abs(size.value - tree.count) < 5
    return led and near and not tree.sizes and s.index - tree.last <= 1


def _bare(w: Walk, s: Sentence, spoken: list[tuple[Mention, TreeFound]]) -> bool:
    """Take a sentence that is nothing but a number as a size, or as the size said right."""
    value = bare_number(s) or (0.0 if _two(s) else None)
    tree = w.focus
    if value is None or tree is None or spoken or s.index in w.numbered or w.recap:
        return False
    previous = w.sentences[s.index - 1]
    if tree.sizes and s.index - tree.last <= 3 and _SLIPPED.search(previous.text):
        old = tree.sizes[-1]
        old.first = old.first or f"{old.size.value:g} {old.size.unit}".strip()
        old.size, old.moment = replace(old.size, value=value, readings=()), s.moment
        tree.add_moment(s)
        return True
    counting = previous.asked and _HOW_MANY.search(previous.text)
    if (counting or _COUNTING.search(previous.text)) and 1 < value == int(value) < 200:
        tree.count_first, tree.count = tree.count, int(value)
        tree.add_moment(s)
        return True
    if (previous.asked and not _SIZE_ASKED.search(previous.text)) or s.index - tree.last > 2:
        return False
    if label_after(w, s, tree, value):
        return True
    if tree.count > 1 and value == tree.count:
        return True
    whole = value == int(value) and 1 < value <= _MOST_COUNTED
    if tree.mass and whole and s.index - tree.sentence <= 2 and not tree.sizes:
        tree.count_first = tree.count if tree.count > 1 else tree.count_first
        tree.count = int(value)
        tree.add_moment(s)
        return True
    if w.numbered == {} and tree.count == 2 and not tree.sizes and _two(s):
        for n in find_numbers(s.tokens):
            tree.sizes.append(SizeOf(trunk_without_unit(n.value, w.out.system), s.moment))
        tree.add_moment(s)
        return True
    have = {x.size.what for x in tree.sizes}
    if "diameter" in have or (not w.numbered and s.index - tree.sentence > 2):
        return False
    if not value:
        return False
    size = trunk_without_unit(value, w.out.system)
    tree.sizes.append(SizeOf(size, s.moment))
    tree.add_moment(s)
    tree.last = s.index
    return True


def _two(s: Sentence) -> bool:
    """Whether a sentence is nothing but two trunks: "thirty and thirty three"."""
    numbers = find_numbers(s.tokens)
    covered = sum(n.end - n.start for n in numbers)
    return len(numbers) == 2 and covered + 1 == len(s.words) and (
        s.words[numbers[0].end] in ("and", "by") and min(n.value for n in numbers) >= _LEAST_TRUNK
    )  # fmt: skip


def _held(w: Walk, s: Sentence, spoken: list[tuple[Mention, TreeFound]]) -> bool:
    """Keep the sizes of a tree that is pointed at before it is named."""
    if spoken or w.recap or s.index in w.out.planting:
        return False
    if w.focus is not None and (s.index - w.focus.last < 2 or not w.focus.sizes):
        return False
    before = w.sentences[s.index - 1].text if s.index else ""
    pointed = _POINTED.search(s.text) or (_POINTED.search(before) and not w.named.get(s.index - 1))
    if not pointed and not (w.held and s.index - w.held_at <= 1):
        return False
    soon = any(w.named.get(k) for k in range(s.index + 1, s.index + 7))
    sizes = find_sizes(s, system=w.out.system, trees=True) if soon else []
    if not sizes:
        return False
    w.held += [SizeOf(x, s.moment) for x in sizes]
    w.held_at = s.index
    return True


def _corrected(
    w: Walk, s: Sentence, spoken: list[tuple[Mention, TreeFound]], entered: TreeFound | None
) -> bool:
    """Replace a size said before where the sentence names the old number and a new one."""
    if not _CORRECTS.search(s.text) and not _MORE_LIKE.search(s.text):
        return False
    numbers = find_numbers(s.tokens)
    previous = w.sentences[s.index - 1] if s.index else s
    if len(numbers) == 1 and not spoken and _SAID_BEFORE.search(previous.text):
        # "I said twenty. It's more like twenty four."
        numbers = [*find_numbers(previous.tokens), *numbers]
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


def _replaced(s: Sentence, size: SizeSaid, tree: TreeFound) -> bool:
    """Let a size said as a correction take the place of the one before: "make the height 15"."""
    old = next((x for x in tree.sizes if x.size.what == size.what and x.moment != s.moment), None)
    if old is None or not _MAKES.search(s.text):
        return False
    old.first = old.first or f"{old.size.value:g} {old.size.unit}".strip()
    old.size, old.moment = size, s.moment
    tree.add_moment(s)
    return True


def attach_state(w: Walk, s: Sentence, spoken: list[tuple[Mention, TreeFound]]) -> None:
    trees = [t for m, t in spoken if not m.place]
    if not trees and w.focus is not None and s.index - w.focus.last <= 2:
        trees = [w.focus]
    if not trees:
        return
    owner = cases.owner_said(s)
    if owner and not w.recap:
        tree = trees[-1]
        if tree.owner == "unknown":
            tree.owner = _OWNERS[owner]
            tree.add_moment(s)
    if cases.condition(s) and not w.recap and s.index not in w.out.money and not s.asked:
        trees[-1].reasons.setdefault(s.index, s.said)
        trees[-1].add_moment(s)
        trees[-1].last = s.index
