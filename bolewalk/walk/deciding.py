"""Which tree a decision is about, and groups whose trees are treated differently."""

from bolewalk.walk.attaching import tree_at
from bolewalk.walk.decisions import DecisionHit, find_decisions
from bolewalk.walk.entities import DecisionSaid, TreeFound, content
from bolewalk.walk.group_parts import Said, ends_group, governing, shares_said, split_off
from bolewalk.walk.inventory import trees_by_number
from bolewalk.walk.mentions import Mention
from bolewalk.walk.numbers import find_numbers
from bolewalk.walk.phrases import phrase, word_set
from bolewalk.walk.sentences import Sentence
from bolewalk.walk.state import Group, Share, Walk

__all__ = ["attach_decisions"]

_ALL_REST = phrase("deciding.all_rest")
_SAME_FOR = phrase("deciding.same_for")
_SAME_AGAIN = phrase("deciding.same_again")
_STILL_HEARD = 8
_REMAINDER = phrase("deciding.remainder")
_COUNTS = {"two", "three", "four", "five", "six", "seven", "eight", "nine", "ten"}
_BACK = {"that", "thats", "those", "they", "theyre", "it", "its", "them"}
_VERBS = word_set("deciding.verbs")
_TREE_NOUNS = word_set("deciding.tree_nouns")


def attach_decisions(
    w: Walk, s: Sentence, spoken: list[tuple[Mention, TreeFound]], entered: TreeFound | None
) -> None:
    hits = find_decisions(s)
    by_number = trees_by_number(w, s) if hits and not spoken else None
    if by_number is not None:
        for hit in hits:
            for tree in by_number:
                _decision(w, s, hit, tree, recap=True)
        return
    dealt = _shared(w, s, hits, spoken, entered) if not w.recap else set()
    begin = 0
    for k, hit in enumerate(hits):
        if k in dealt:
            begin = hit.end
            continue
        stop = hits[k + 1].start if k + 1 < len(hits) else len(s.tokens)
        trees = _objects(w, s, hit, spoken, begin, stop, entered)
        begin = hit.end
        for tree in trees:
            _decision(w, s, hit, tree)
    _carried_on(w, s, hits, spoken)
    if not hits and spoken == [] and _SAME_AGAIN.search(s.text) and w.focus is not None:
        last = _latest(w, w.focus)
        if not w.focus.decisions and last is not None and s.index - w.focus.sentence <= 1:
            _decision(w, s, DecisionHit(last.decision, 2.0, 0, 1, "before"), w.focus)


def _shared(
    w: Walk, s: Sentence, hits: list[DecisionHit], spoken: list[tuple[Mention, TreeFound]],
    entered: TreeFound | None,
) -> set[int]:  # fmt: skip
    """Give decisions on parts of a group to them; the indexes of the hits dealt with."""
    mine = [(m, t) for m, t in spoken if not m.place]
    root = mine[-1][1] if mine else entered
    since = mine[-1][0].end if mine else 0
    if ends_group(s) and not mine:
        w.group = None
        return set()
    said = shares_said(w, s, root, since)
    group = w.group
    if group is None:
        return set()
    carried = group.current if not mine else None
    done: set[int] = set()
    for k, hit in enumerate(hits):
        if mine and hit.start < since:
            continue
        named = governing(said, hit, s)
        if named is not None and _left_out(named, hit):
            back = _BACK & set(s.words[named.end : hit.end])
            if named.whole and back and named.share is not None and not hit.negated:
                _decision(w, s, hit, split_off(w, s, named.share))
                done.add(k)
                continue
            if named.whole and named.share is not None and not hit.negated:
                _decide_rest(w, s, hit, named.share)
                done.add(k)
                continue
            named = None
        share = named.share if named is not None else carried
        several = {"them", "those", "theyre", "they"} & set(s.words[hit.start : hit.end])
        if named is None and share is not None and share.count == 1 and several:
            share = None
        about_all = named is not None and named.share is None
        if share is not None:
            lonely = hit.decision == "retain" and share.tree is None and len(hits) < 2
            if hit.negated or lonely:
                share.fine = lonely and not hit.negated
                continue
            tree = split_off(w, s, share)
        elif about_all or group.shares:
            if hit.negated:
                continue
            if named is not None and named.rest:
                _enter_fine(w, s, group)
            tree = group.root
            w.focus = tree
        else:
            continue
        _decision(w, s, hit, tree)
        group.last = s.index
        done.add(k)
    if said:
        heads = [x for x in said if any(governing(said, h, s) is x for h in hits)]
        group.current = (heads or said[:1])[-1].share
        excepted = [x for x in said if x.excepted]
        if excepted:
            group.current = excepted[-1].share
        group.last = s.index
    _other_kept(w, s, group)
    return done


def _enter_fine(w: Walk, s: Sentence, group: Group) -> None:
    """Enter the trees only said to be sound once something is decided on the others."""
    for share in group.shares:
        if share.tree is None and share.fine and share.count < group.root.count:
            tree = split_off(w, s, share)
            _decision(w, s, DecisionHit("retain", 1.5, 0, 1, "before"), tree)


def _left_out(named: Said, hit: DecisionHit) -> bool:
    """Whether a decision is on the others than the part named: "keep all but two"."""
    return named.excepted and (named.whole or hit.start < named.start)


def _decide_rest(w: Walk, s: Sentence, hit: DecisionHit, share: Share) -> None:
    """Decide on all of a group but a part, which is kept where the others go."""
    group = w.group
    if group is None:
        return
    part = split_off(w, s, share)
    _decision(w, s, hit, group.root)
    if hit.decision == "remove" and part is not group.root and not part.decisions:
        _decision(w, s, DecisionHit("retain", 1.2, 0, 1, "before"), part)
    group.last = s.index


def _other_kept(w: Walk, s: Sentence, group: Group) -> None:
    """Keep what is left of a group of which some goes and nothing else was said."""
    apart = [x.tree for x in group.shares if x.tree is not None and x.tree is not group.root]
    if apart and not group.root.decisions and all(t.decisions for t in apart):
        _decision(w, s, DecisionHit("retain", 1.2, 0, 1, "before"), group.root)


def _objects(w: Walk, s: Sentence, hit: DecisionHit, spoken: list[tuple[Mention, TreeFound]],
    begin: int, stop: int, entered: TreeFound | None,
) -> list[TreeFound]:  # fmt: skip
    if _of_a_thing(s, hit, spoken) or _of_nothing(s, hit, spoken) or _of_price(w, s, hit, spoken):
        return []
    if _of_a_kind(w, s, hit, spoken):
        return []
    inside = [t for m, t in spoken if hit.start <= m.name.start < hit.end and not m.place]
    if inside:
        return inside
    if w.recap and (rest := _the_rest(w, s, hit, spoken)) is not None:
        return rest
    ahead = [(m, t) for m, t in spoken if hit.end <= m.name.start < stop]
    if w.recap and (pair := _counted_at(w, s, hit)) is not None:
        return [pair]
    behind = [t for m, t in spoken if begin <= m.start < hit.start and not m.place]
    if len(behind) > 1 and "both" in s.words[max(0, hit.start - 1) : hit.end]:
        return behind[-2:]
    first = hit.start == 0 or bool(s.tokens[hit.start - 1].after)
    alone = first and bool(s.tokens[hit.end - 1].after)
    if alone and behind:
        return behind if w.recap and len(behind) > 1 else behind[-1:]
    follows = bool(ahead) and ahead[0][0].start - hit.end <= 4
    if follows and (hit.object == "after" or (hit.start == 0 and ahead[0][0].definite)):
        return _listed(s, ahead)
    pronoun = {"it", "that", "them", "this", "those"} & set(s.words[hit.start : hit.end])
    if pronoun and not behind and entered is not None and ahead and not w.recap:
        return [entered]
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


def _listed(s: Sentence, ahead: list[tuple[Mention, TreeFound]]) -> list[TreeFound]:
    """Give the trees of a list, up to one of which something else is said: "the ash gets cut"."""
    out: list[TreeFound] = []
    for m, t in ahead:
        following = s.words[m.end] if m.end < len(s.words) and not s.tokens[m.end - 1].after else ""
        if out and following in _VERBS:
            break
        out.append(t)
    return out


def _the_rest(
    w: Walk, s: Sentence, hit: DecisionHit, spoken: list[tuple[Mention, TreeFound]]
) -> list[TreeFound] | None:
    """Give the trees a summary means by "the rest": those listed after it, else the undecided."""
    lead = " ".join(s.words[: hit.end])
    if not _ALL_REST.search(lead) or any(m.end <= hit.start for m, _ in spoken):
        return None
    listed = [t for m, t in spoken if m.start >= hit.end]
    return listed or [t for t in w.out.trees if not t.decisions and t.owner != "neighbour"]


def _carried_on(
    w: Walk, s: Sentence, hits: list[DecisionHit], spoken: list[tuple[Mention, TreeFound]]
) -> None:
    """Let "and so does the cascara" and "same for the ash" repeat the decision before."""
    for m, tree in spoken:
        lead = " ".join(s.words[max(0, m.name.start - 7) : m.name.start])
        before = [h for h in hits if h.end <= m.start and not h.negated]
        if not _SAME_FOR.search(lead) or any(h.start >= m.end for h in hits):
            continue
        if before:
            _decision(w, s, before[-1], tree)
        elif not tree.decisions and (last := _latest(w, tree)) is not None:
            _decision(w, s, DecisionHit(last.decision, 2.0, 0, 1, "before"), tree)


def _latest(w: Walk, tree: TreeFound) -> DecisionSaid | None:
    """Give the last decision on any other tree in the sentences just before."""
    said = [d for t in w.out.trees if t is not tree for d in t.decisions]
    last = max(said, key=lambda d: d.sentence, default=None)
    return last if last is not None and tree.sentence - last.sentence <= _STILL_HEARD else None


def _counted_at(w: Walk, s: Sentence, hit: DecisionHit) -> TreeFound | None:
    """Give the group a summary means by number and place alone: "the two by the bridge stay"."""
    numbers = find_numbers(s.tokens[: hit.start])
    if not numbers or numbers[0].start > 1 or s.words[0] not in ("the", "those"):
        return None
    local = content(s.words[numbers[0].end : hit.start])
    able = [t for t in w.out.trees if t.count == numbers[0].value]
    best = max(able, key=lambda t: len(local & t.near), default=None)
    if best is not None and local & best.near:
        return best
    left = [t for t in able if not t.recapped]
    return left[0] if len(left) == 1 else None


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


def _of_price(
    w: Walk, s: Sentence, hit: DecisionHit, spoken: list[tuple[Mention, TreeFound]]
) -> bool:
    """Whether work is only what a price is for: "takedown's about nine hundred"."""
    pointed = {"it", "that", "them", "this", "those"} & set(s.words[: hit.end])
    priced = s.index in w.out.money and not spoken and not pointed
    return priced and not w.recap


def _of_a_kind(
    w: Walk, s: Sentence, hit: DecisionHit, spoken: list[tuple[Mention, TreeFound]]
) -> bool:
    """Whether a rule for a kind is told: "nobody cuts an oak in spring"."""
    if hit.decision != "retain" or spoken:
        return False
    names = [n for n in w.named.get(s.index, ()) if hit.end <= n.start <= hit.end + 2]
    between = s.words[hit.end : names[0].start] if names else ()
    if not names or any(t.after for t in s.tokens[hit.start : names[0].start]):
        return False
    return set(between) <= {"a", "an", "any"}


def _of_a_thing(s: Sentence, hit: DecisionHit, spoken: list[tuple[Mention, TreeFound]]) -> bool:
    """Whether the phrase's object is no tree: "leave the bench"."""
    words = s.words[hit.start : hit.end]
    if "the" not in words[:-1] or hit.decision in ("prune", "inspect", "monitor"):
        return False
    if (hit.object == "before" and hit.decision == "remove") or {
        "ground",
        "stump",
        "floor",
        "grade",
    } & set(words):
        return False
    noun = words[words.index("the") + 1]
    named = any(hit.start <= m.name.start < hit.end + 4 for m, _ in spoken)
    return not named and noun not in _TREE_NOUNS


def _only_the_rest(s: Sentence, hit: DecisionHit, tree: TreeFound) -> bool:
    """Whether only what is left of a tree after the work is kept: "leave the rest alone"."""
    if tree.count > 1 or not tree.decisions:
        return False
    worked = tree.decisions[-1]
    phrased = " ".join(s.words[max(0, hit.start - 2) : hit.end + 3])
    near = s.index - worked.sentence <= 2 and worked.decision == "prune"
    return near and bool(_REMAINDER.search(phrased))


def _decision(
    w: Walk, s: Sentence, hit: DecisionHit, tree: TreeFound, *, recap: bool = False
) -> None:
    decision, strength = hit.decision, hit.strength
    if decision == "retain" and _only_the_rest(s, hit, tree):
        return
    if hit.negated:
        if decision not in ("remove", "prune"):
            return
        strength = 1.4 if decision == "remove" else 1.05
        decision = "retain"
    if s.index in w.out.money:
        strength = min(strength, 1.05)
    told = DecisionSaid(
        decision, strength, s.index, w.recap or recap, s.moment, hit.kept, hit.start
    )
    tree.decisions.append(told)
    tree.add_moment(s)
    tree.last = s.index
    if w.recap:
        tree.recapped = True
    for apart in tree.siblings:
        if all(d.sentence == s.index for d in apart.decisions):
            _decision(w, s, hit, apart, recap=recap)
