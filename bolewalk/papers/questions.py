"""Open questions: each fact once, for the one who can answer it, most telling first."""

from typing import Any

from bolewalk.impact.results import Question
from bolewalk.model.statements import Statement
from bolewalk.papers.reading import Reading, stays

__all__ = ["answer_key", "not_asked", "questions_data"]


def answer_key(answer: Statement) -> str:
    """Give a name for an answer that is the same each time it is offered: "depth 0.9144"."""
    values = (v if isinstance(v, str) else f"{v:.6g}" for _, v in answer.values)
    return " ".join((answer.code.removeprefix("answer."), *values))


def questions_data(reading: Reading) -> list[dict[str, Any]]:
    """Give the questions of all trees, one entry a fact, in the order to ask them.

    A fact that bears on several trees is asked once; each answer lists what it means for each.
    Facts about works that may come later stand last. Of trees to be removed nothing is asked.
    `fact` and each answer's `key` name them to whoever takes the answer.
    """
    by_fact: dict[str, list[tuple[str, Question]]] = {}
    for t in reading.findings.trees:
        for q in t.impact.questions if stays(t.tree) else ():
            by_fact.setdefault(q.fact, []).append((t.tree.id, q))
    later = {w.id for w in reading.findings.survey.works if w.phase == "possible later"}

    def rank(entry: tuple[str, list[tuple[str, Question]]]) -> tuple[bool, float, str]:
        fact, asked = entry
        of_later = set(fact.rsplit(".", 1)[0].split("+")) <= later
        return of_later, -max(q.flips for _, q in asked), fact

    ranked = sorted(by_fact.items(), key=rank)
    return [
        {
            "n": i,
            "fact": fact,
            "ask": _ask(reading, [q for _, q in asked]),
            "of": reading.word("of", asked[0][1].of),
            "trees": [tree for tree, _ in asked],
            "answers": _answers(reading, asked),
        }
        for i, (fact, asked) in enumerate(ranked, 1)
    ]


def _ask(reading: Reading, asked: list[Question]) -> str:
    """Give the question; where no answer tells anything by itself, with what it must go."""
    ask = reading.speaker.text(asked[0].ask)
    others = [q.only_with for q in asked if q.only_with is not None]
    if len(others) < len(asked):
        return ask
    named = reading.texts(s for only_with in others for s in only_with)
    if not named:
        return f"{ask} {reading.say('question.only_jointly')}"
    return f"{ask} {reading.say('question.only_with', others='; '.join(named))}"


def _answers(reading: Reading, asked: list[tuple[str, Question]]) -> list[dict[str, Any]]:
    rows: dict[str, list[tuple[str, str]]] = {}
    keys: dict[str, str] = {}
    for tree, q in asked:
        for a in q.answers:
            answer = reading.speaker.text(a.answer)
            keys.setdefault(answer, answer_key(a.answer))
            rows.setdefault(answer, []).append((tree, a.verdict))
    out = []
    for answer, verdicts in rows.items():
        groups: dict[str, list[str]] = {}
        for tree, verdict in verdicts:
            groups.setdefault(verdict, []).append(tree)
        out.append({
            "key": keys[answer],
            "answer": answer,
            "verdicts": [
                {"mark": v, "word": reading.word("verdict_short", v), "ids": ids}
                for v, ids in groups.items()
            ],
        })  # fmt: skip
    return out


def not_asked(reading: Reading) -> list[str]:
    """Say the facts that change no verdict; one asked for another tree is not among them."""

    def key(s: Statement) -> tuple[str, str]:
        told = dict(s.values)
        return s.code.split(".")[-1], str(told.get("works", "") or told.get("tree", ""))

    kept = [t.impact for t in reading.findings.trees if stays(t.tree)]
    asked = {key(q.ask) for i in kept for q in i.questions}
    return reading.texts(s for i in kept for s in i.not_needed if key(s) not in asked)
