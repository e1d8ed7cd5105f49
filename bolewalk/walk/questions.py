"""Facts the speaker says are missing: what no drawing shows, what somebody must find out."""

from dataclasses import dataclass

from bolewalk.walk.phrases import labelled, phrase
from bolewalk.walk.sentences import Moment, Sentence

__all__ = ["Question", "find_questions"]

_JOIN_S = 14.0


@dataclass(frozen=True, slots=True)
class Question:
    """One missing fact: `about` in the trade's words, and where the speaker said so."""

    about: str
    moments: tuple[Moment, ...]


# Two kinds of turn: a fact is said to be missing, or somebody is told to find it.
_MISSING = phrase("questions.missing")
_ASKED = phrase("questions.asked")
_PUT = phrase("questions.put")
_SITE = phrase("questions.site")
_TREE = phrase("questions.tree")
_ABOUT = labelled("questions.about")


def find_questions(
    sentences: tuple[Sentence, ...], *, speakers: set[str], skip: set[int], until: int | None
) -> tuple[Question, ...]:
    """Find the facts of the site and the works that the speaker says are missing.

    Parameters
    ----------
    sentences : tuple of Sentence
    speakers : set of str
        Who judges; questions of others are theirs.
    skip : set of int
        Sentences on planting and price.
    until : int or None
        First sentence of the recap, which repeats.

    Returns
    -------
    tuple of Question
        By time. Sentences on one fact within 14 s are one question. Doubts about the tree itself
        (bark, leaf, decay) are no missing facts of the site; they lead to an inspection.
    """
    found: list[Question] = []
    for k, s in enumerate(sentences):
        if s.speaker not in speakers or s.index in skip:
            continue
        text = s.text
        missing, asked = bool(_MISSING.search(text)), bool(_ASKED.search(text))
        asked = asked or (s.asked and bool(_PUT.search(text)) and bool(_SITE.search(text)))
        if not (missing or asked):
            continue
        around = " ".join(a.text for a in sentences[max(0, k - 3) : k + 1])
        on_site = len(_SITE.findall(text))
        on_tree = len(_TREE.findall(text))
        if on_tree and on_tree >= on_site:
            continue
        if not on_site and (on_tree or not _SITE.search(around)):
            continue
        if (
            until is not None
            and s.index > until
            and found
            and _topic(text) in {q.about for q in found}
        ):
            continue
        topic = _topic(text)
        if found:
            last = found[-1]
            near = s.start_s - last.moments[-1].end <= _JOIN_S
            if near and topic in (last.about, "missing fact"):
                found[-1] = Question(last.about, (*last.moments, s.moment))
                continue
        found.append(Question(topic, (s.moment,)))
    return tuple(found)


def _topic(text: str) -> str:
    for about, pattern in _ABOUT:
        if pattern.search(text):
            return about
    return "missing fact"
