"""Open questions: each fact once, for the one who can answer it, most telling first."""

from typing import Any

from bolewalk.impact.results import Question
from bolewalk.papers.reading import Reading

__all__ = ["questions_data"]


def questions_data(reading: Reading) -> list[dict[str, Any]]:
    """Give the questions of all trees, one entry a fact, in the order to ask them.

    A fact that bears on several trees is asked once; each answer lists what it means for each.
    """
    by_fact: dict[str, list[tuple[str, Question]]] = {}
    for t in reading.findings.trees:
        for q in t.impact.questions:
            by_fact.setdefault(q.fact, []).append((t.tree.id, q))
    ranked = sorted(by_fact.items(), key=lambda kv: (-max(q.flips for _, q in kv[1]), kv[0]))
    return [
        {
            "n": i,
            "ask": reading.speaker.text(asked[0][1].ask),
            "of": reading.word("of", asked[0][1].of),
            "trees": [tree for tree, _ in asked],
            "answers": _answers(reading, asked),
        }
        for i, (_, asked) in enumerate(ranked, 1)
    ]


def _answers(reading: Reading, asked: list[tuple[str, Question]]) -> list[dict[str, Any]]:
    rows: dict[str, list[tuple[str, str]]] = {}
    for tree, q in asked:
        for a in q.answers:
            rows.setdefault(reading.speaker.text(a.answer), []).append((tree, a.verdict))
    out = []
    for answer, verdicts in rows.items():
        groups: dict[str, list[str]] = {}
        for tree, verdict in verdicts:
            groups.setdefault(verdict, []).append(tree)
        out.append({
            "answer": answer,
            "verdicts": [
                {"mark": v, "word": reading.word("verdict_short", v), "ids": ids}
                for v, ids in groups.items()
            ],
        })  # fmt: skip
    return out
