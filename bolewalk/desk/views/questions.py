"""The page's part of open questions, and the answers that were given."""

from dataclasses import dataclass
from typing import Any

from bolewalk.desk.drawer import Drawer, Sheet
from bolewalk.desk.views.asked import AskedRow, asked_rows
from bolewalk.desk.views.head import SurveyHead, survey_head
from bolewalk.desk.views.rules import SiteRules
from bolewalk.papers.reading import Reading

__all__ = ["GivenAnswer", "QuestionsView", "given_answers", "questions_view"]


@dataclass(frozen=True, slots=True)
class GivenAnswer:
    """An answer that was taken."""

    ask: str
    answer: str
    by: str
    at: str
    who: str


@dataclass(frozen=True, slots=True)
class QuestionsView:
    """Open questions, each once. `pending` counts the trees whose facts are still being tried;
    `back` is where a page without scripts comes back to; `local` what the local rules say, None
    where the page asks for it later."""

    head: SurveyHead
    asked: tuple[AskedRow, ...]
    given: tuple[GivenAnswer, ...]
    pending: int
    back: str
    local: SiteRules | None


def questions_view(
    sheet: Sheet,
    reading: Reading,
    drawer: Drawer,
    *,
    head: SurveyHead | None = None,
    local: SiteRules | None = None,
) -> QuestionsView:
    """Give the open questions of a survey as they are known now."""
    head = head or survey_head(sheet, reading, "site")
    return QuestionsView(
        head,
        asked_rows(reading),
        given_answers(sheet, drawer),
        len(sheet.reckoning.pending),
        f"{head.root}/site{head.suffix}",
        local,
    )


def given_answers(sheet: Sheet, drawer: Drawer, tree: str = "") -> tuple[GivenAnswer, ...]:
    """Give the answers taken so far, newest first; of one tree, or of all."""
    kept = [i for i in sheet.stored.of("answer") if i.body is not None]
    kept = [i for i in kept if not tree or tree in str((i.body or {}).get("tree", "")).split(", ")]
    if not kept:
        return ()
    made = {c.key: c for c in drawer.store.history(sheet.stored.id, "answer")}
    return tuple(_given(i.body or {}, made.get(i.key)) for i in reversed(kept))


def _given(body: Any, change: Any) -> GivenAnswer:
    told = {k: str(body.get(k, "")) for k in ("ask", "answer", "by")}
    # Answers are kept as they were offered, "If it is there"; given, they are no condition.
    told["answer"] = told["answer"].removeprefix("If ")
    at = "" if change is None else change.at[:10]
    return GivenAnswer(told["ask"], told["answer"], told["by"], at,
                       "" if change is None else change.who)  # fmt: skip
