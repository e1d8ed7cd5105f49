"""Answers to open questions: from a page's form, and from the plan."""

from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from bolewalk.desk.answering import Told, answered
from bolewalk.desk.desk import glimpse
from bolewalk.desk.drawer import Drawer, Sheet
from bolewalk.desk.pages import page
from bolewalk.desk.routes.keeping import kept, placed_once
from bolewalk.desk.routes.parsing import back_of, body_of, desk_of, sheet_of, text
from bolewalk.desk.views.questions import QuestionsView, questions_view
from bolewalk.desk.views.rules import site_rules
from bolewalk.store.items import Conflict

__all__ = ["answer", "answer_form", "questions"]


async def questions(request: Request) -> Response:
    """Send the open questions as a part of the page."""
    sheet = await sheet_of(request)
    view = await run_in_threadpool(_asked, sheet, desk_of(request).drawer)
    return page(request, "questions", view)


def _asked(sheet: Sheet, drawer: Drawer) -> QuestionsView:
    reading = glimpse(sheet)
    local = site_rules(reading, sheet.reckoning.rules())
    return questions_view(sheet, reading, drawer, local=local)


async def answer(request: Request) -> Response:
    """Take an answer and send the plan as it is then."""
    sheet = await sheet_of(request)
    body = await body_of(request)
    told = Told(
        text(body, "fact"), text(body, "answer"), text(body, "value", ""), text(body, "tree", ""),
        text(body, "by", ""),
    )  # fmt: skip
    return await kept(request, sheet, lambda: answered(sheet, glimpse(sheet), told))


async def answer_form(request: Request) -> Response:
    """Take an answer from a form, and go back to where it was asked."""
    sheet = await sheet_of(request)
    form = await request.form()
    told = Told(*(str(form.get(k, ""))[:500] for k in ("fact", "answer", "value", "tree", "by")))

    done = await placed_once(request, sheet, lambda: answered(sheet, glimpse(sheet), told))
    if isinstance(done, Conflict):
        raise HTTPException(
            409, f"{done.clashes[0].who} has changed this in the meantime; nothing was kept. "
            "Go back and answer again.",
        )  # fmt: skip
    back = back_of(form, f"/surveys/{sheet.stored.id}/site")
    return RedirectResponse(back, status_code=303)
