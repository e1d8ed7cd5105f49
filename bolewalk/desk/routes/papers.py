"""The papers: made in the background, shown, issued, downloaded, compared."""

import io
import zipfile
from pathlib import Path, PurePosixPath
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import FileResponse, JSONResponse, RedirectResponse, Response

from bolewalk.desk.desk import Desk, glimpse
from bolewalk.desk.drawer import Sheet
from bolewalk.desk.guards import POLICY
from bolewalk.desk.pages import page
from bolewalk.desk.routes.parsing import desk_of, send_of, sheet_of
from bolewalk.desk.tasks import Task, papers_folder
from bolewalk.desk.views.head import survey_head
from bolewalk.desk.views.papers import PAPER_TITLES, compare_view, papers_view
from bolewalk.desk.views.reckoning import reckoning_view
from bolewalk.desk.views.tasks import TaskPart, sheet_that_shows, task_view
from bolewalk.store.errors import StoreError
from bolewalk.store.issues import Issue, check_issue, list_issues, open_paper, supersede, withdraw

__all__ = [
    "PAPER_TYPES", "cancel", "compare", "issue", "issued", "issued_zip", "make", "paper", "papers",
    "task", "task_state", "withdraw_issue",
]  # fmt: skip

PAPER_TYPES = {
    "pdf": "application/pdf",
    "html": "text/html; charset=utf-8",
    "json": "application/json",
    "csv": "text/csv; charset=utf-8",
    "xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
    "gpkg": "application/geopackage+sqlite3",
    "dxf": "image/vnd.dxf",
    "vtt": "text/vtt; charset=utf-8",
}
"""Ending of a paper -> its media type."""
_SHOWN = ("pdf", "html")
# A paper runs nothing and reaches nothing, and only the desk's own pages may frame it.
_PAPER_POLICY = {
    "html": "sandbox; default-src 'none'; style-src 'unsafe-inline'; img-src data:; "
    "frame-ancestors 'self'",
    "pdf": "frame-ancestors 'self'",
}


async def papers(request: Request) -> Response:
    """Send the page of the papers."""
    sheet = await sheet_of(request)
    desk = desk_of(request)
    view = await run_in_threadpool(_view, desk, sheet, request.query_params.get("show", ""))
    headers = {"content-security-policy": f"{POLICY}; frame-src 'self'"}
    return page(request, "papers", view, headers=headers)


def _view(desk: Desk, sheet: Sheet, show: str) -> object:
    return papers_view(
        sheet,
        glimpse(sheet),
        made=_newest(desk, sheet),
        tasks=desk.tasks.of(sheet.stored.id),
        issues=list_issues(desk.drawer.store, sheet.stored.id),
        show=show or "report.pdf",
    )


def _newest(desk: Desk, sheet: Sheet) -> Path | None:
    folder = papers_folder(desk.tasks.folder, sheet.stored.id, sheet.variant, 0).parent
    made = [p for p in folder.glob("*") if p.name.isdecimal()]
    return max(made, key=lambda p: int(p.name), default=None)


async def make(request: Request) -> Response:
    """Ask for the papers of the survey as it is now."""
    sheet = await sheet_of(request)
    desk = desk_of(request)
    await run_in_threadpool(
        lambda: desk.tasks.ask(
            "papers", sheet.stored.id, sheet.variant, sheet.stored.revision,
            who=desk.drawer.who, when=desk.drawer.clock(),
        )
    )  # fmt: skip
    return _back(sheet)


async def issue(request: Request) -> Response:
    """Ask for the papers to be made and sealed."""
    sheet = await sheet_of(request)
    if sheet.variant:
        raise HTTPException(
            422, "A what-if copy is not issued: take it over as the works first, on the site plan."
        )
    form = await request.form()
    title = str(form.get("title", "")).strip()[:200]
    if not title:
        raise HTTPException(422, "An issue needs a title, such as “For the permit”.")
    desk, send = desk_of(request), await send_of(request)
    await run_in_threadpool(
        lambda: desk.tasks.ask(
            "issue", sheet.stored.id, "", sheet.stored.revision,
            who=desk.drawer.who, when=desk.drawer.clock(), title=title, send=send,
        )
    )  # fmt: skip
    return _back(sheet)


def _back(sheet: Sheet) -> Response:
    suffix = f"?plan={sheet.variant}" if sheet.variant else ""
    return RedirectResponse(f"/surveys/{sheet.stored.id}/papers{suffix}", status_code=303)


async def task(request: Request) -> Response:
    """Send a task as a part of the page; once it is over, the whole page is asked for again."""
    sheet = await sheet_of(request)
    found = _task(request)
    here = sheet_that_shows(found, request.query_params.get("on", ""))
    head = survey_head(sheet, glimpse(sheet), here)
    headers = {} if found.open else {"hx-refresh": "true"}
    return page(request, "task", TaskPart(task_view(head, found)), headers=headers)


async def task_state(request: Request) -> Response:
    """Send a task as data."""
    found = _task(request)
    return JSONResponse(
        {"id": found.id, "state": found.state, "step": found.step, "steps": found.steps,
         "share": found.share, "says": found.says}
    )  # fmt: skip


async def cancel(request: Request) -> Response:
    """Stop a task."""
    sheet = await sheet_of(request)
    await run_in_threadpool(desk_of(request).tasks.cancel, _task(request).id)
    return _back(sheet)


def _task(request: Request) -> Task:
    found = desk_of(request).tasks.get(request.path_params["task"])
    if found is None or found.survey != request.path_params["survey"]:
        raise HTTPException(404, "there is no such work")
    return found


async def paper(request: Request) -> Response:
    """Send a paper made here."""
    p = request.path_params
    plan = "" if p["made"] == "as-drawn" else p["made"]
    if PurePosixPath(plan).name != plan or plan.startswith("."):
        raise HTTPException(404, "there is no such paper")
    folder = papers_folder(desk_of(request).tasks.folder, p["survey"], plan, p["revision"])
    path = (folder / p["name"]).resolve()
    if not path.is_relative_to(folder.resolve()) or not path.is_file():
        raise HTTPException(404, "there is no such paper: make the papers anew")
    ending, headers = _headers(request, p["name"])
    return FileResponse(path, media_type=PAPER_TYPES.get(ending), headers=headers)


def _headers(request: Request, name: str) -> tuple[str, dict[str, str]]:
    ending = name.rsplit(".", 1)[-1]
    save = ending not in _SHOWN or "save" in request.query_params
    # Names are those of our own papers: plain ASCII, so that no quoting is needed.
    plain = name.replace("/", "-") if name in PAPER_TITLES else f"paper.{ending}"
    return ending, {
        "content-disposition": f'{"attachment" if save else "inline"}; filename="{plain}"',
        "content-security-policy": _PAPER_POLICY.get(ending, "default-src 'none'; sandbox"),
        "x-frame-options": "SAMEORIGIN",
    }


def _issue(request: Request) -> Issue:
    store = desk_of(request).drawer.store
    wanted = request.path_params["issue"]
    for found in list_issues(store, request.path_params["survey"]):
        if found.id == wanted:
            return found
    raise HTTPException(404, "there is no such issue")


async def issued(request: Request) -> Response:
    """Send an issued paper: the bytes that were sealed."""
    found = await run_in_threadpool(_issue, request)
    name = request.path_params["name"]
    try:
        with open_paper(desk_of(request).drawer.store, found, name) as stream:
            body = await run_in_threadpool(stream.read)
    except StoreError as e:
        raise HTTPException(404, str(e)) from None
    ending, headers = _headers(request, name)
    return Response(body, media_type=PAPER_TYPES.get(ending), headers=headers)


async def issued_zip(request: Request) -> Response:
    """Send all papers of an issue in one file."""
    found = await run_in_threadpool(_issue, request)
    body = await run_in_threadpool(_zipped, desk_of(request), found)
    name = f"issue-{found.id}.zip"
    headers = {"content-disposition": f'attachment; filename="{name}"'}
    return Response(body, media_type="application/zip", headers=headers)


def _zipped(desk: Desk, found: Issue) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as packed:
        for name in sorted(found.papers):
            # The earliest time a zip can hold: the same issue, the same bytes.
            entry = zipfile.ZipInfo(name, (1980, 1, 1, 0, 0, 0))
            with open_paper(desk.drawer.store, found, name) as stream:
                packed.writestr(entry, stream.read(), zipfile.ZIP_DEFLATED)
    return out.getvalue()


async def compare(request: Request) -> Response:
    """Show what differs between an issue and the survey as it is now."""
    sheet = await sheet_of(request)
    found = await run_in_threadpool(_issue, request)
    if not await run_in_threadpool(sheet.reckoning.begin):
        return page(request, "reckoning", reckoning_view((sheet,), "papers", "The survey as it is"))
    view = await run_in_threadpool(_compared, desk_of(request), sheet, found)
    return page(request, "compare", view)


def _compared(desk: Desk, sheet: Sheet, found: Issue) -> object:
    store = desk.drawer.store
    with open_paper(store, found, "findings.json") as stream:
        body = stream.read()
    return compare_view(sheet, glimpse(sheet), found, body, faults=check_issue(store, found))


async def withdraw_issue(request: Request) -> Response:
    """Withdraw an issue, or say that a later one took its place; its papers stay sealed."""
    sheet = await sheet_of(request)
    found = await run_in_threadpool(_issue, request)
    form = await request.form()
    reason = str(form.get("reason", "")).strip()[:500]
    if not reason:
        raise HTTPException(422, "Say why: whoever holds these papers has to understand it.")
    drawer = desk_of(request).drawer
    by = str(form.get("by", ""))
    told: dict[str, Any] = {"who": drawer.who, "when": drawer.clock(), "reason": reason}
    try:
        if by.isdecimal():
            await run_in_threadpool(lambda: supersede(drawer.store, found.id, int(by), **told))
        else:
            await run_in_threadpool(lambda: withdraw(drawer.store, found.id, **told))
    except StoreError as e:
        raise HTTPException(409, str(e)) from None
    return _back(sheet)
