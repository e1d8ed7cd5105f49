"""What is to be done with a tree, from the words a speaker uses for it."""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

from bolewalk.model.words import DECISIONS, Decision
from bolewalk.walk.phrases import phrase, read_table
from bolewalk.walk.sentences import Sentence

__all__ = ["DecisionHit", "find_decisions"]

_PART_COMES = phrase("decisions.part_comes")

Place = Literal["inside", "before", "after"]


@dataclass(frozen=True, slots=True)
class DecisionHit:
    """One phrase that decides.

    `start`, `end` are its tokens; `strength` 3 plain words of work, 2 usual turns of speech, 1
    praise from which a decision may be read; `object` where its tree is named: within the
    phrase, before it, or after it ("fell the ash"). `kept` marks that the tree only stays ("keep
    it"), which work on it allows, told from "leave it alone".
    """

    decision: Decision
    strength: float
    start: int
    end: int
    object: Place
    negated: bool = False
    kept: bool = False


@dataclass(frozen=True, slots=True)
class _Phrase:
    decision: Decision
    strength: float
    object: Place
    pattern: re.Pattern[str]


@lru_cache(maxsize=1)
def _phrases() -> tuple[_Phrase, ...]:
    rows = read_table("decision_phrases.csv")
    places: dict[str, Place] = {"inside": "inside", "before": "before", "after": "after"}
    decisions = {d: d for d in DECISIONS}
    return tuple(
        _Phrase(
            decisions[_decision(r["decision"])],
            float(r["strength"]),
            places[r["object"]],
            re.compile(r["pattern"]),
        )
        for r in rows
    )


def _decision(word: str) -> Decision:
    for d in DECISIONS:
        if d == word:
            return d
    raise ValueError(f"{word!r} is no decision; use one of {', '.join(DECISIONS)}")


_PARTS = phrase("decisions.parts")
_NEGATIONS = phrase("decisions.negations")
_TURN = phrase("decisions.turn")
_IF = phrase("decisions.if")
_NOT_OUT = phrase("decisions.not_out")
_AGREED = phrase("decisions.agreed")
_TILL = phrase("decisions.till")
_RESET = phrase("decisions.reset")
_IF_AFTER = phrase("decisions.if_after")
_TENTATIVE = phrase("decisions.tentative")
_BURDEN = phrase("decisions.burden")
_KEPT = phrase("decisions.kept")
_PRONOUN = {"it", "that", "them", "this", "those"}
_WHEN = phrase("decisions.when")
_OTHERS = phrase("decisions.others")
_SCRAPPED = phrase("decisions.scrapped")
_SETTLED = phrase("decisions.settled")
_PAST = phrase("decisions.past")
_THIRD = phrase("decisions.third")
_THINGS = phrase("decisions.things")
_PART_SUBJECT = phrase("decisions.part_subject")
_LONG_AGO = phrase("decisions.long_ago")
_NEEDED = re.compile(r"(?:wants?|needs?) (?:\w+ )?\w+ing\b")
_OWN_NEED = re.compile(
    r"\bthey(?: all| both| only| just)? (?:want|need) (?:an?|some|their) (?:\w+ )?$"
)
_BY_THEN = re.compile(r"\b(?:inspect|check|look)\b(?!.*\bagain\b).*\bbefore\b")
_THEN = re.compile(r"\b(?:and|then|but)\b")
_BE = phrase("decisions.be")
_WHERE = re.compile(
    r" (?:by|at|on|near|behind|in|along|over|under|beside|against) the \w+(?: \w+)?$"
)


def find_decisions(sentence: Sentence) -> list[DecisionHit]:
    """Find the phrases of one sentence that decide, in order, none overlapping.

    Questions, conditions ("if it gets worse we'll cut it"), wishes of others ("she wants it
    out"), retractions and accounts of past work are left out. Negated ones are kept and marked:
    "I wouldn't take it out" says something, too.
    """
    if sentence.asked:
        return []
    text, starts = _text(sentence)
    hits: list[DecisionHit] = []
    for each in _phrases():
        for m in each.pattern.finditer(text):
            if m.end() == m.start():
                continue
            hit = _hit(each, m, text, starts)
            if hit is not None:
                hits.append(hit)
    # "Don't prune it" is no work, so another reading of the same words goes first.
    hits.sort(key=lambda h: (1.5 * h.negated - h.strength, h.start - h.end, h.start))
    chosen: list[DecisionHit] = []
    for h in hits:
        if all(h.end <= c.start or h.start >= c.end for c in chosen):
            chosen.append(h)
    return sorted(chosen, key=lambda h: h.start)


def _text(sentence: Sentence) -> tuple[str, list[int]]:
    """Give the plain words with " ," after clauses, and where each word begins."""
    parts: list[str] = []
    starts: list[int] = []
    at = 0
    for token in sentence.tokens:
        starts.append(at)
        piece = token.word + (" ," if token.after else "")
        parts.append(piece)
        at += len(piece) + 1
    return " ".join(parts).rstrip(" ,"), starts


def _index(starts: Sequence[int], at: int) -> int:
    low = 0
    for i, s in enumerate(starts):
        if s > at:
            break
        low = i
    return low


def _hit(said: _Phrase, m: re.Match[str], text: str, starts: list[int]) -> DecisionHit | None:
    begin, end = m.start(), m.end()
    while begin < end and text[begin] in " ,":
        begin += 1
    start, stop = _index(starts, begin), _index(starts, max(begin, end - 1)) + 1
    before = text[:begin]
    clause = before.rpartition(" , ")[2]
    opens = m.group().split()[0]
    # "They only want clipping" is said of trees, "they want it clipped" of people.
    needed = _NEEDED.match(m.group()) or _OWN_NEED.search(before)
    lead = "" if _OWN_NEED.search(before) else clause
    others = _OTHERS.search(lead if needed else f"{clause}{opens}") or (
        said.object != "before"
        and said.decision in ("remove", "prune")
        and _THIRD.search(clause.strip())
    )
    told = bool(others) and not _AGREED.search(m.group() + text[m.end() :][:40])
    if _NOT_OUT.search(text[:end].rstrip(" ,")):
        return None
    if _of_the_site(said.decision, m.group(), text):
        return None
    if _IF.search(_RESET.split(before)[-1]) or told or _SCRAPPED.search(_SETTLED.split(before)[-1]):
        return None
    if _WHEN.search(clause) and said.decision != "inspect":
        return None
    decision, strength = said.decision, said.strength
    if decision == "monitor" and _BY_THEN.search(m.group()):
        decision = "inspect"  # "inspect the cable before next winter" is once, not again
    if decision in ("remove", "prune") and _IF_AFTER.search(text[m.end() :]):
        return None
    if decision == "retain" and _TILL.match(text[m.end() :]):
        return None  # "nobody prunes it till the result is in"
    if _TENTATIVE.search(clause):
        strength = min(strength, 1.0)
    if decision == "remove" and _PRONOUN & set(m.group().split()) and _BURDEN.search(before):
        decision = "prune"
    if decision == "remove" and said.object == "before":
        subject = _WHERE.sub("", (clause + m.group()).rpartition(" ")[0].strip(" ,"))
        whole = _WHERE.sub("", clause.strip())
        if _part_before(clause) or _THINGS.search(whole) or _THINGS.search(subject):
            return None
        if _PART_SUBJECT.search(clause.strip()):
            decision = "prune"
    follows = said.object != "before" and _part_follows(text, end)
    if decision == "remove" and (_PARTS.search(m.group()) or follows):
        decision = "prune"
    past = said.object != "before" and _past(clause)
    if decision in ("remove", "prune") and (past or _told_past(clause, m.group(), text)):
        return None
    reach = _TURN.split(clause)[-1]
    near = 3 if decision == "inspect" else 6
    bound = opens in ("till", "until", "before")
    negated = not bound and bool(_NEGATIONS.search(" ".join(reach.split()[-near:])))
    if negated and (decision == "retain" or _TILL.match(text[m.end() :])):
        return None
    kept = decision == "retain" and bool(_KEPT.search(m.group()))
    return DecisionHit(decision, strength, start, stop, said.object, negated, kept)


def _of_the_site(decision: Decision, said: str, text: str) -> bool:
    """Whether it is a fact of the site that must be known "before anybody signs"."""
    return decision == "inspect" and said.startswith("before ") and bool(_KNOW.search(text))


_KNOW = phrase("decisions.know")


def _part_before(clause: str) -> bool:
    """Whether a part of the tree is what comes out: "the leaves come out small"."""
    return bool(_PART_COMES.search(clause.strip()))


def _part_follows(text: str, end: int) -> bool:
    following = " ".join(_THEN.split(text[end:].partition(" , ")[0])[0].split()[:5])
    return bool(_PARTS.search(following))


def _told_past(clause: str, said: str, text: str) -> bool:
    """Whether a verb in the past tells what somebody did: "the council trimmed it in March"."""
    opens = said.split()[0]
    verb = opens.endswith("ed") or opens in ("took", "cut", "taken", "had")
    if not verb or _BE.search(clause):
        return False
    return bool(_LONG_AGO.search(text))


def _past(clause: str) -> bool:
    """Whether the clause tells what others did before: "somebody cut it down"."""
    last = " ".join(clause.split()[-3:])
    return bool(_PAST.search(last)) and not re.search(
        r"\b(?:get|have|id|ill|got to|had to)\b", last
    )
