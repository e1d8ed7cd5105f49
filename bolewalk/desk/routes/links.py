"""Links for clients, made and withdrawn at the desk."""

from datetime import timedelta

from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from bolewalk.desk.desk import Desk, glimpse
from bolewalk.desk.drawer import Sheet
from bolewalk.desk.pages import page
from bolewalk.desk.routes.parsing import desk_of, sheet_of
from bolewalk.desk.views.head import survey_head
from bolewalk.desk.views.links import PAGE, LinksView, links_view, offered
from bolewalk.store.errors import StoreError
from bolewalk.store.issues import list_issues
from bolewalk.store.links import list_links, make_link, withdraw_link

__all__ = ["links", "make", "withdraw"]


async def links(request: Request) -> Response:
    """Send the page of a survey's links."""
    return await _listed(request)


async def _listed(request: Request, *says: str, made: str = "") -> Response:
    sheet, desk = await sheet_of(request), desk_of(request)
    view = await run_in_threadpool(lambda: _view(desk, sheet, made, says))
    return page(request, "links", view, status=422 if says else 200)


def _view(desk: Desk, sheet: Sheet, made: str, says: tuple[str, ...]) -> LinksView:
    store, survey = desk.drawer.store, sheet.stored.id
    return links_view(
        survey_head(sheet, glimpse(sheet), "papers"), list_issues(store, survey),
        list_links(store, survey), now=desk.drawer.clock(), made=made, says=says,
    )  # fmt: skip


async def make(request: Request) -> Response:
    """Make a link; its address is shown on the page that answers, and never again."""
    form = await request.form()
    days = str(form.get("days", ""))
    if not days.isdecimal() or len(days) > 4:
        return await _listed(request, "For how many days? A whole number.")
    chosen = [str(p) for p in form.getlist("paper")]
    try:
        token = await run_in_threadpool(
            _made, desk_of(request), request.path_params["survey"], str(form.get("issue", "")),
            chosen, int(days),
        )  # fmt: skip
    except StoreError as e:
        return await _listed(request, str(e))
    address = f"{request.url.scheme}://{request.headers['host']}/client/{token}"
    return await _listed(request, made=address)


def _made(desk: Desk, survey: int, which: str, chosen: list[str], days: int) -> str:
    drawer = desk.drawer
    issue = next((i for i in list_issues(drawer.store, survey) if str(i.id) == which), None)
    if issue is None:
        raise StoreError("There is no such issue.")
    readable = offered(issue)
    if unknown := sorted(set(chosen) - set(readable)):
        raise StoreError(f"Issue {issue.number} has no {', '.join(unknown)} for reading.")
    if PAGE in chosen:
        # The page plays the clips that were sealed beside it.
        chosen += [n for n in issue.papers if n.startswith("client/")]
    when = drawer.clock()
    _, token = make_link(
        drawer.store, issue, chosen, who=drawer.who, when=when, expires=when + timedelta(days=days)
    )
    return token


async def withdraw(request: Request) -> Response:
    """Withdraw a link."""
    drawer, asked = desk_of(request).drawer, request.path_params
    try:
        await run_in_threadpool(
            lambda: withdraw_link(
                drawer.store, asked["survey"], asked["link"], who=drawer.who, when=drawer.clock()
            )
        )
    except StoreError as e:
        raise HTTPException(404, str(e)) from None
    return RedirectResponse(f"/surveys/{asked['survey']}/links", status_code=303)
