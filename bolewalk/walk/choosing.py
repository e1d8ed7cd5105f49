"""Plants proposed: narrower names, and one chosen of several."""

from bolewalk.walk.entities import Named, fits_plant
from bolewalk.walk.mentions import Mention
from bolewalk.walk.phrases import phrase
from bolewalk.walk.sentences import Sentence
from bolewalk.walk.state import Planting, Walk

__all__ = ["add_planting", "choose", "chosen_again"]

_CHOOSES = phrase("choosing.chooses")
_REACH = 4  # sentences over which a choice among plants is still open


def add_planting(w: Walk, s: Sentence, m: Mention, named: Named) -> None:
    """Enter a plant to be planted; "oak, sessile oak" is one, "or a lime" an alternative."""
    last = w.out.plantings[-1] if w.out.plantings else None
    planting = Planting(named, [s.moment], key=m.name.key, sentence=s.index)
    if last is not None and last.sentence == s.index and _narrows(s, m, last):
        w.out.plantings[-1] = planting
        planting.alternatives = last.alternatives
        return
    before = s.words[m.start - 1] if m.start else ""
    if last is not None and before == "or" and s.index - last.sentence <= _REACH:
        planting.alternatives = [last, *last.alternatives]
    if last is not None and s.words[0] == "no" and s.index - last.sentence <= _REACH:
        # "A rowan. No, a totara": what was proposed last is taken back.
        dropped = [last, *last.alternatives]
        w.out.plantings = [q for q in w.out.plantings if q not in dropped]
    w.out.plantings.append(planting)
    choose(w, s, planting)


def choose(w: Walk, s: Sentence, p: Planting) -> None:
    """Drop the plants a chosen one was an alternative to: "or a lime. I'd go for the lime"."""
    if not _CHOOSES.search(s.text):
        return
    rivals = [q for q in w.out.plantings if q in p.alternatives or p in q.alternatives]
    if any(s.index - q.sentence <= _REACH for q in rivals) and s.index > p.sentence:
        w.out.plantings = [q for q in w.out.plantings if q not in rivals]


def chosen_again(w: Walk, s: Sentence, m: Mention) -> None:
    """Take a plant named again in a sentence that chooses: "probably the rowan"."""
    for p in list(w.out.plantings):
        if m.role == "stand" and fits_plant(m, p.named.plant):
            p.moments.append(s.moment)
            choose(w, s, p)
            return


def _narrows(s: Sentence, m: Mention, last: Planting) -> bool:
    """Whether a name only makes the one before it plainer: "oak, sessile oak"."""
    straight = m.start > 0 and bool(s.tokens[m.start - 1].after) and not m.fresh
    return straight and m.name.key != last.key and m.name.key.endswith(last.key)
