"""Reading the walk sentence by sentence: which tree is spoken of, and what is said of it."""

from bolewalk.walk import cases
from bolewalk.walk.attaching import attach_sizes, attach_state
from bolewalk.walk.deciding import attach_decisions
from bolewalk.walk.entities import TreeFound, pick
from bolewalk.walk.inventory import numbered_trees
from bolewalk.walk.labels import by_number, corrected_by_number
from bolewalk.walk.measures import said_units
from bolewalk.walk.mentions import Mention, read_mentions
from bolewalk.walk.names import NameFound, find_names
from bolewalk.walk.naming import keep_both, second_name
from bolewalk.walk.nicknames import earned_forms
from bolewalk.walk.phrases import word_key
from bolewalk.walk.recounting import count_ahead, count_up, leave_out, part_by_owner, recount
from bolewalk.walk.resolving import (
    resolve,
    resolve_unnamed,
    take_offered,
)
from bolewalk.walk.sentences import Sentence
from bolewalk.walk.state import Reading, Walk
from bolewalk.walk.topics import note_topic, take_planting

__all__ = ["read_walk_through"]

# Three short sentences in a row that each open with a tree already met make a recap.
_RUN, _TERSE, _FEWEST_LISTED = 3, 8, 3


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
    reading.points = cases.region_points(sentences, named)
    walk = Walk(reading, sentences, named)
    walk.numbered = numbered_trees(sentences, named)
    for s in sentences:
        _read(walk, s)
    return reading


def _names(sentences: tuple[Sentence, ...]) -> dict[int, list[NameFound]]:
    """Find the names; a garbled one met among words of trees counts wherever it comes again."""
    expected = {
        s.index
        for k, s in enumerate(sentences)
        if any(cases.expects_tree(a) for a in sentences[max(0, k - 1) : k + 3])
    }
    named = {s.index: find_names(s.tokens, expect=s.index in expected) for s in sentences}
    full = [f for found in named.values() for f in found if f.end - f.start > 1]
    also = earned_forms(full)
    if also:
        for s in sentences:
            if any(word_key(word) in also for word in s.words):
                named[s.index] = find_names(s.tokens, expect=s.index in expected, also=also)
    garbled = {_heard_key(s, f) for s in sentences for f in named[s.index] if f.likeness < 1}
    for s in sentences:
        if garbled and s.index not in expected:
            again = find_names(s.tokens, expect=True)
            named[s.index] = [f for f in again if f.likeness == 1 or _heard_key(s, f) in garbled]
    return {index: found for index, found in named.items() if found}


def _heard_key(s: Sentence, found: NameFound) -> str:
    return word_key(" ".join(s.words[found.start : found.end]))


def _listed(w: Walk, s: Sentence) -> bool:
    """Whether a list of trees already met begins unannounced: "Oak, thin. Ash, out." """
    if len(w.out.trees) < _FEWEST_LISTED:
        return False
    met: list[TreeFound] = []
    for each in w.sentences[s.index : s.index + _RUN]:
        names = w.named.get(each.index, [])
        if len(each.words) > _TERSE or not names or names[0].start > 1:
            return False
        mention = read_mentions(each, names)[0]
        tree = pick(mention, each, w.out.trees, recap=True)
        if tree is None or mention.indefinite or tree is w.focus:
            return False
        met.append(tree)
    return len({t.number for t in met}) == _RUN


def _read(w: Walk, s: Sentence) -> None:
    """Take in one sentence."""
    mentions = read_mentions(s, w.named.get(s.index, []))
    if s.index in w.numbered:
        w.called = w.numbered[s.index]
    told = cases.begins_recap(s, names=bool(mentions)) and len(w.out.trees) > 1
    if not w.recap and (told or _listed(w, s)):
        w.recap = True
        w.out.recap_from = s.index
    note_topic(w, s, mentions)
    here = s.index in w.out.planting
    own = s.speaker in w.out.speakers
    if w.retracted != s.index:
        w.retracted_before = w.retracted
    if cases.retracts(s) and own:
        w.retracted = s.index
    if not mentions and (numbered := by_number(w, s)) is not None:
        w.focus = numbered
    if own and (corrected := corrected_by_number(w, s)) is not None:
        w.focus, w.corrected = corrected, (s.index, corrected)
    entered = w.focus
    spoken: list[tuple[Mention, TreeFound]] = []
    used: set[int] = set()
    for k, m in enumerate(mentions):
        if k in used:
            continue
        other = second_name(s, mentions, k)
        if here and take_planting(w, s, m):
            continue
        tree = resolve(w, s, m, own=own, spoken=spoken)
        if tree is None:
            continue
        if other is not None:
            used.add(k + 1)
            keep_both(w, s, tree, mentions[k + 1])
        spoken.append((m, tree))
        tree.add_moment(s)
        tree.last = s.index
        part_by_owner(w, s, m, tree)
        if not m.place:
            w.focus = tree
        if w.recap:
            tree.recapped = True
    if s.index in w.numbered and mentions and all(m.role == "elsewhere" for m in mentions):
        w.called = ()  # "Ten's a hedge, not counting that"
    if spoken and own:
        w.offered = None
    if not spoken and not here and own and (offered := take_offered(w, s)) is not None:
        w.focus = entered = offered
        offered.add_moment(w.sentences[offered.sentence])
        offered.add_moment(s)
        offered.last = s.index
    elif not spoken and not here:
        again = resolve_unnamed(w, s)
        if again is not None:
            w.focus = entered = again
            again.add_moment(s)
    topics = [t for _, t in spoken] or ([w.focus] if w.focus is not None else [])
    w.out.topic[s.index] = topics
    if here:
        return
    for m, tree in spoken:
        if m.plural and not w.recap:
            count_ahead(w, s, tree)
    attach_sizes(w, s, spoken, entered)
    past = bool(mentions) and all(m.role in ("gone", "elsewhere") for m in mentions)
    if own and not past:
        attach_decisions(w, s, spoken, entered)
    if own:
        leave_out(w, s)
    if not count_up(w, s):
        recount(w, s)
    attach_state(w, s, spoken)
