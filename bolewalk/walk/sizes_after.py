"""Sizes told of after they were said: which kind it was, a label, "about the same across"."""

from dataclasses import replace

from bolewalk.walk.entities import SizeOf, TreeFound
from bolewalk.walk.mentions import Mention
from bolewalk.walk.numbers import find_numbers
from bolewalk.walk.phrases import phrase
from bolewalk.walk.sentences import Sentence
from bolewalk.walk.size_kinds import What
from bolewalk.walk.state import Walk

__all__ = ["as_wide_as_high", "kind_told", "label_after", "size_by_label"]

_KIND_TOLD = phrase("sizes_after.kind_told")
_SAME_ACROSS = phrase("sizes_after.same_across")
_KINDS: dict[str, What] = {
    "diameter": "diameter", "dbh": "diameter", "through": "diameter", "across": "diameter",
    "height": "height", "spread": "spread", "girth": "girth", "circumference": "girth",
    "around": "girth", "round": "girth",
}  # fmt: skip
_SPREAD_FROM_M = 3.0  # "across" so many metres is the crown, not the trunk
_BACK = 2


def kind_told(w: Walk, s: Sentence) -> bool:
    """Take "that's the diameter" as the kind of the size just said; whether it was."""
    told = _KIND_TOLD.search(s.text)
    tree = w.focus
    if told is None or tree is None or not tree.sizes or find_numbers(s.tokens):
        return False
    last = tree.sizes[-1]
    recent = [x.moment for x in w.sentences[max(0, s.index - _BACK) : s.index]]
    if last.moment not in recent or last.size.what == "stems":
        return False
    what = _KINDS[told.group("kind")]
    far = last.size.unit in ("ft", "m") and last.size.value >= _SPREAD_FROM_M
    if told.group("kind") == "across" and far:
        what = "spread"
    last.size = replace(last.size, what=what, readings=())
    tree.add_moment(s)
    return True


def size_by_label(w: Walk, s: Sentence) -> bool:
    """Correct the trunk of a tree called by its number: "six is five forty"; whether it was."""
    numbers = find_numbers(s.tokens)
    if len(numbers) != 2 or s.asked:
        return False
    label, size = numbers
    lead = set(s.words[: label.start]) - {"number", "tree", "no", "sorry", "so", "and", "that"}
    between = s.words[label.end : size.start]
    joined = between in (("is",), ("was",), ("should", "be"), ("to",), ("reads",), ("tapes",))
    ends = size.end == len(s.words) or bool(s.tokens[size.end - 1].after)
    if lead or not joined or not ends:
        return False
    tree = next((t for t in w.out.trees if t.said_number == f"{label.value:g}"), None)
    old = next((x for x in tree.sizes if x.size.what == "diameter"), None) if tree else None
    if tree is None or old is None:
        return False
    old.first = old.first or f"{old.size.value:g} {old.size.unit}".strip()
    old.size, old.moment = replace(old.size, value=size.value, readings=()), s.moment
    tree.add_moment(s)
    w.focus = tree
    return True


def label_after(w: Walk, s: Sentence, tree: TreeFound, value: float) -> bool:
    """Take a number after a name as the tree's, where the count of trees has come to it."""
    said = [int(t.said_number) for t in w.out.trees if t.said_number.isdigit()]
    said += [k for index, called in w.numbered.items() if index < s.index for k in called]
    if not w.numbered or not said or tree.said_number or tree.sizes:
        return False
    if value != max(said) + 1 or s.index - tree.sentence > _BACK:
        return False
    tree.said_number = f"{value:g}"
    tree.add_moment(s)
    return True


def as_wide_as_high(w: Walk, s: Sentence, spoken: list[tuple[Mention, TreeFound]]) -> None:
    """Give the spread of a tree said to be about the same across as it is high."""
    tree = spoken[-1][1] if spoken else w.focus
    if tree is None or not _SAME_ACROSS.search(s.text):
        return
    height = next((x.size for x in tree.sizes if x.size.what == "height"), None)
    if height is not None and all(x.size.what != "spread" for x in tree.sizes):
        tree.sizes.append(SizeOf(replace(height, what="spread"), s.moment))
        tree.add_moment(s)
