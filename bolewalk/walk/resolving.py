"""Which tree a phrase means: one already met, one more, or none."""

from dataclasses import replace

from bolewalk.walk import cases
from bolewalk.walk.choosing import choose
from bolewalk.walk.decisions import find_decisions
from bolewalk.walk.entities import (
    TreeFound,
    content,
    fits,
    name_it,
    pick,
)
from bolewalk.walk.labels import own_labels
from bolewalk.walk.measures import find_sizes
from bolewalk.walk.mentions import Mention
from bolewalk.walk.naming import (
    identifies,
    newly_told,
    note_name,
    of_focus,
    refine,
    refined,
    renamed,
    same_as_away,
)
from bolewalk.walk.numbers import find_numbers
from bolewalk.walk.phrases import phrase, word_key, word_set
from bolewalk.walk.sentences import Sentence
from bolewalk.walk.state import Walk

__all__ = ["resolve", "resolve_unnamed", "take_offered"]

_WISHED = phrase("resolving.wished")
_ONE_MORE = phrase("resolving.one_more")

_THEN_THE = phrase("resolving.then_the")
_SAME_AGAIN = phrase("resolving.same_again")

_ANAPHORA = 3
_PRICES = 50  # a price is hardly less
_HELD = 6  # sentences for which sizes of a tree without a name wait for the name

_GENERIC_AFTER = word_set("resolving.generic_after")
_INTRODUCING = word_set("resolving.introducing")

_OPENS = word_set("resolving.opens")


_PLAIN = 0.9  # a name that leaves no doubt has more confidence than this


def resolve(
    w: Walk, s: Sentence, m: Mention, *, own: bool, spoken: list[tuple[Mention, TreeFound]]
) -> TreeFound | None:
    """Find the tree a name means, or enter a new one; None where it means none."""
    if m.name.other:
        return None
    known = pick(m, s, w.out.trees, recap=w.recap or s.index in w.out.money)
    number = _said_number(s, m)
    known = next((t for t in w.out.trees if number and t.said_number == number), known)
    known = None if known is not None and known.not_listed else known
    if m.role in ("gone", "elsewhere", "generic"):
        return None
    if same_as_away(w, s, m):
        return None
    if m.role == "negated":
        w.refused[m.name.key] = s.index
        return None
    if m.hearsay and of_focus(w, s, m):
        return w.focus
    if m.hearsay and known is None and own and m.role == "stand" and not w.recap:
        if newly_told(w, s, m):
            return _enter(w, s, m)
        note_name(w, s, m)
        return None
    if m.role == "compare":
        return known if m.definite and known is not None else None
    if not own:
        pointed = (m.definite or s.asked) and not _WISHED.search(s.text)
        if known is None and pointed and m.role == "stand" and not m.place and not m.hearsay:
            w.offered = (s.index, m)
        if known is not None and known is w.focus and identifies(s, m):
            refine(w, s, m, known)
            return known
        return known if m.definite or not m.indefinite else None
    again = renamed(w, s, m, spoken)
    if again is not None:
        return again
    if known is not None and _of_its_kind(w, s, m):
        return None
    if known is not None and not _is_new(w, s, m, known):
        refine(w, s, m, known)
        return known
    if known is None and (narrower := refined(w, s, m)) is not None:
        return narrower
    if known is None and (_planned(w, s, m) or _refused(w, s, m)):
        return None
    if s.asked and m.definite and not m.place and known is None and not w.recap:
        w.offered = (s.index, m)
    if _refers(w, s, m) or _of_its_kind(w, s, m):
        note_name(w, s, m)
        return None
    return _enter(w, s, m)


def _is_new(w: Walk, s: Sentence, m: Mention, known: TreeFound) -> bool:
    """Whether a name already known is said of one more tree."""
    if _again(w, s, m):
        return True
    if _now_counted(s, m, known):
        return False
    if w.called and not w.recap and known.said_number:
        return str(w.called[0]) != known.said_number
    number = _said_number(s, m)
    if number and known.said_number:
        return number != known.said_number
    if known.kind_only and not known.sizes and not known.decisions and s.index - known.sentence < 3:
        return False
    if known.sentence == s.index and (known.bare or _apposed(s, m)):
        return False
    if _then_the(w, s, m, known):
        return True
    if w.recap or s.index in w.out.money or (m.definite and "this" not in m.words):
        return False
    close = known is w.focus and s.index - known.last <= 1
    identified = identifies(s, m)
    if m.hearsay or (close and (identified or not m.indefinite)):
        return False
    if m.count is not None and m.count == known.count and (close or not _sized_soon(w, s)):
        return False
    settled = bool(known.decisions) and known.sentence < s.index
    if settled and m.start == 0 and not m.definite and _placed(s, m):
        return True
    if close and not m.words and known.named.confidence < _PLAIN and known.sentence >= s.index - 1:
        return False
    if m.indefinite and not identified:
        return not close or _introduced(s, m) or _sized_soon(w, s)
    return bool(
        not m.indefinite and not m.definite and m.start == 0 and _sized_soon(w, s) and not close
    )


def _now_counted(s: Sentence, m: Mention, known: TreeFound) -> bool:
    """Whether a bare name is only now counted: "you've ash, ash, ash. Eleven ash trees"."""
    counted = m.count is not None and m.count > 1 and known.count == 1
    plain = known.bare and not (known.sizes or known.decisions)
    return counted and plain and s.index - known.sentence == 1 and not m.fresh


def _then_the(w: Walk, s: Sentence, m: Mention, known: TreeFound) -> bool:
    """Whether "then the old yew" goes on to one more, as the one known is several or of a kind."""
    if w.recap or not m.definite or m.place:
        return False
    if "next" in m.words and known.sentence < s.index:
        return True
    if "other" in m.words:
        kin = [t for t in w.out.trees if fits(m, t)]
        return kin == [known] and known.count == 1 and not m.plural and "the" in m.words
    led = bool(_THEN_THE.search(" ".join(s.words[: m.start])))
    differs = (known.count > 1 and not m.plural and m.count is None) or (
        m.name.key not in known.keys and known.first_key.endswith(m.name.key)
    )
    return led and differs and s.index - known.sentence > 0


def _again(w: Walk, s: Sentence, m: Mention) -> bool:
    if m.fresh and "next" not in m.words and not w.recap and s.index not in w.out.money:
        ordinal = {"second", "third"} & set(m.words)
        return not (ordinal and m.definite and any(fits(m, t) and t.count > 1 for t in w.out.trees))
    too = s.words[m.end : m.end + 2] == ("as", "well") or s.words[m.end : m.end + 1] == ("too",)
    return not w.recap and bool((_SAME_AGAIN.search(s.text) or too) and not m.definite)


def _placed(s: Sentence, m: Mention) -> bool:
    """Whether a place follows the name at once: "Ash by the pond, ..."."""
    following = s.words[m.end : m.end + 2]
    return len(following) == 2 and not s.tokens[m.end - 1].after and (
        following[0] in ("by", "at", "near", "beside", "behind", "along", "in", "on", "over")
        and following[1] in ("the", "a", "that", "this", "my", "your", "her", "his")
    )  # fmt: skip


def _sized_soon(w: Walk, s: Sentence) -> bool:
    after = w.sentences[s.index : s.index + 2]
    return any(find_sizes(a, system=w.out.system, trees=False) for a in after)


def _apposed(s: Sentence, m: Mention) -> bool:
    """Whether the name only follows a comma: "an apple by the well, a Baldwin apple"."""
    before = s.words[m.start - 1] if m.start else ""
    return (
        bool(m.start and s.tokens[m.start - 1].after)
        and before not in ("and", "then")
        and not m.fresh
    )


def _introduced(s: Sentence, m: Mention) -> bool:
    before = s.words[m.start - 1] if m.start else ""
    return not m.start or before in _INTRODUCING or bool(s.tokens[m.start - 1].after)


def _refers(w: Walk, s: Sentence, m: Mention) -> bool:
    """Whether the name only refers, so that no tree may be entered for it."""
    counted = m.count is not None and not any(n.value >= _PRICES for n in find_numbers(s.tokens))
    if m.place or w.recap or (s.index in w.out.money and not counted):
        return True
    if m.hearsay and any(cases.retracts(x) for x in w.sentences[s.index : s.index + 3]):
        return False
    if m.definite or m.indefinite:
        return s.asked and m.definite and not _placed(s, m)
    before = s.words[m.start - 1] if m.start else ""
    opens = m.start == 0 or bool(s.tokens[m.start - 1].after) or before in _OPENS
    return not opens or (m.start == 0 and m.plural and m.count is None and not _sized_soon(w, s)
                         and not s.tokens[m.end - 1].after)  # fmt: skip


def _of_its_kind(w: Walk, s: Sentence, m: Mention) -> bool:
    """Whether the kind of the tree at hand is meant: "I won't guess on an oak"."""
    before = s.words[m.start - 1] if m.start else ""
    article = m.words[-1:] in (("a",), ("an",)) and m.count is None
    return article and before in _GENERIC_AFTER and w.focus is not None and fits(m, w.focus) and (
        not _sized_soon(w, s)
    )  # fmt: skip


def _planned(w: Walk, s: Sentence, m: Mention) -> bool:
    """Whether the name is that of a plant proposed a moment ago."""
    for p in list(w.out.plantings):
        if p.named.plant in m.name.plants and (m.definite or w.planting):
            p.moments.append(s.moment)
            choose(w, s, p)
            return True
    return False


def _refused(w: Walk, s: Sentence, m: Mention) -> bool:
    """Whether the plant was just said not to be planted: "not that. They'll sell you one." """
    return s.index - w.refused.get(m.name.key, -9) <= _ANAPHORA


def _enter(w: Walk, s: Sentence, m: Mention) -> TreeFound:
    heard = " ".join(t.text for t in s.tokens[m.name.start : m.name.end])
    tree = TreeFound(len(w.out.trees), name_it(m, heard, w.out.region, w.out.points), s.index)
    tree.count = m.count or 1
    ones = _ONES.search(" ".join(s.words[: m.start]))
    if m.count is None and (m.plural or ones):
        tree.count = _pointed_at(w, s, m)
    tree.keys.add(m.name.key)
    tree.words = set(m.words)
    tree.near = content(s.words[max(0, m.start - 8) : m.end + 10])
    tree.stump = "stump" in s.words
    tree.last = s.index
    before = w.sentences[s.index - 1].words if s.index else ()
    alone = len(before) == 1 and before[0].isdigit() and m.start == 0
    tree.said_number = before[0] if alone else _said_number(s, m)
    tree.said_numbers = own_labels(s, m.start)
    tree.count = max(tree.count, len(tree.said_numbers))
    tree.mass = not m.plural and not m.words and m.start > 0 and (
        s.words[m.start - 1] in ("its", "all", "theyre", "just", "mostly", "are")
    )  # fmt: skip
    tree.garbled = m.name.likeness < 1
    tree.first_key = m.name.key
    tree.kind_only = m.plural and m.count is None and not m.words
    tree.bare = not m.definite and not m.indefinite
    # "Along the wall, ash": a name without an article may be of several.
    tree.kind_or_group = m.plural or m.count is not None or tree.bare
    tree.hearsay = m.hearsay
    if w.called and not w.recap:
        tree.said_number = tree.said_number or str(w.called[0])
        tree.count = max(tree.count, len(w.called))
        w.called = ()
    if w.held and s.index - w.held_at <= _HELD:
        tree.sizes += w.held
        for x in w.held:
            tree.moments.setdefault(w.held_at, x.moment)
    w.held = []
    w.out.trees.append(tree)
    return tree


def _pointed_at(w: Walk, s: Sentence, m: Mention) -> int:
    """Read how many were pointed at before their name: "the pair by the door, they're elms"."""
    previous = w.sentences[s.index - 1] if s.index else s
    for text in (" ".join(s.words[: m.start]), previous.text if previous.asked else ""):
        said = list(_POINTED_AT.finditer(text))
        if said:
            return _FEW.get(said[-1].group(1), 1)
    return 1


_ONES = phrase("resolving.ones")
_POINTED_AT = phrase("resolving.pointed_at")
_FEW = {"pair": 2, "two": 2, "both": 2, "three": 3, "trio": 3, "four": 4, "five": 5, "six": 6}


def take_offered(w: Walk, s: Sentence) -> TreeFound | None:
    """Enter the tree another speaker named just before, where it is now judged or measured."""
    if w.offered is None or w.recap:
        return None
    index, m = w.offered
    if s.index - index > _ANAPHORA:
        w.offered = None
        return None
    if not find_decisions(s) and not find_sizes(s, system=w.out.system, trees=True):
        return None
    if cases.retracts(s):
        w.offered = None
        return None
    w.offered = None
    return _enter(w, w.sentences[index], m)


def resolve_unnamed(w: Walk, s: Sentence) -> TreeFound | None:
    """Follow phrases that name no plant: "its buddy", "three little ones", "another one"."""
    number = _number_in(s, len(s.tokens))
    if number:
        met = (t for t in w.out.trees if number in (t.said_number, *t.said_numbers))
        return next(met, None)
    text = s.text
    if not w.recap:
        more = _ONE_MORE.search(text)  # fmt: skip
        if more and w.focus is not None and _sized_soon(w, s) and "same deal" not in text:
            mother = w.focus
            tree = TreeFound(len(w.out.trees), mother.named, s.index, inherited=True)
            tree.named = replace(mother.named, confidence=min(mother.named.confidence, 0.6))
            words = {"two": 2, "three": 3, "four": 4, "five": 5}
            tree.count = words.get(more.group(1) or "", 1)
            tree.keys, tree.first_key = set(mother.keys), mother.first_key
            tree.near = content(s.words)
            tree.last = s.index
            w.out.trees.append(tree)
            return tree
        return None
    opening = [t.word for t in s.tokens[: _first_stop(s)]][:5]
    local = content(opening) | ({"little"} if "little" in opening else set())
    local |= {word_key(w) for w in local}
    scored = []
    for t in w.out.trees:
        plant = t.named.plant
        own = {
            word_key(w)
            for n in (plant.common if plant else ())
            for w in n.replace("-", " ").split()
        }
        mine = t.near | t.words | {word_key(w) for w in t.near} | own
        # What stood near the tree when it was met says more than what its kind may be called.
        scored.append((2 * len(local & (mine - own)) + len(local & own), t))
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


def _said_number(s: Sentence, m: Mention) -> str:
    """Read the number given to a tree just before its name: "Tree four, horse chestnut"."""
    number = _number_in(s, m.start)
    opens = m.start == 1 and s.tokens[0].after and s.words[0].isdigit()
    return s.words[0] if not number and opens else number


def _number_in(s: Sentence, end: int) -> str:
    for n in find_numbers(s.tokens[:end]):
        # "Number five" may be a house.
        if n.start and s.words[n.start - 1] == "tree" and n.value == int(n.value):
            return str(int(n.value))
    return ""


def _first_stop(s: Sentence) -> int:
    for i, t in enumerate(s.tokens):
        if t.after:
            return i + 1
    return len(s.tokens)
