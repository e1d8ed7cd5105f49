"""The list of surveys: begin one, bring one in; the reader's own settings."""

import tempfile
from pathlib import Path
from typing import BinaryIO

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import UploadFile
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, RedirectResponse, Response

from bolewalk.desk.drawer import Drawer
from bolewalk.desk.pages import page
from bolewalk.desk.routes.keeping import sending
from bolewalk.desk.routes.parsing import desk_of, own_place
from bolewalk.desk.uploads import LIMIT_BYTES, UploadError, lay_out_checked
from bolewalk.desk.views.surveys import new_survey, surveys_view
from bolewalk.intake.folder import SurveyUnreadableError
from bolewalk.store.errors import StoreError

__all__ = ["begin", "bring_in", "set_type", "survey", "survey_list", "surveys"]


async def surveys(request: Request) -> Response:
    """Send the list of surveys."""
    return await _listed(request)


async def _listed(request: Request, *says: str) -> Response:
    drawer = desk_of(request).drawer
    entries = await run_in_threadpool(drawer.surveys)
    view = surveys_view(entries, today=drawer.clock().astimezone().date(), says=says)
    return page(request, "surveys", view, status=422 if says else 200)


async def survey_list(request: Request) -> Response:
    """Send the list of surveys as data."""
    entries = await run_in_threadpool(desk_of(request).drawer.surveys)
    return JSONResponse(
        [
            {"id": e.id, "name": e.name, "visited": e.visited, "revision": e.revision}
            for e in entries
        ]
    )


async def survey(request: Request) -> Response:
    """Lead to the first sheet of a survey."""
    return RedirectResponse(f"/surveys/{request.path_params['survey']}/site", status_code=303)


async def begin(request: Request) -> Response:
    """Begin an empty survey."""
    form = await request.form()
    told = new_survey(*(str(form.get(k, "")) for k in ("name", "visited", "units", "purpose")))
    if isinstance(told, list):
        return await _listed(request, *told)
    number = await run_in_threadpool(
        (await sending(request)).begin, told.name, told.visited, told.units, told.purpose
    )
    return RedirectResponse(f"/surveys/{number}/trees", status_code=303)


async def bring_in(request: Request) -> Response:
    """Take in a survey folder, as its files or as a zip."""
    told = request.headers.get("content-length", "")
    if not told.isdecimal():
        # Pieces without end would fill the disk before they are counted.
        raise HTTPException(411, "say how long it is: pieces of unknown length are not taken")
    if int(told) > LIMIT_BYTES:
        raise HTTPException(413, f"at most {LIMIT_BYTES // 1_000_000_000} GB")
    async with request.form(max_files=5000) as form:
        files = [f for f in form.getlist("files") if isinstance(f, UploadFile) and f.filename]
        if not files:
            return await _listed(request, "Choose the survey's folder, or a zip of it.")
        sent = [(f.filename or "", f.file) for f in files]
        try:
            number = await run_in_threadpool(_taken_in, await sending(request), sent)
        except (UploadError, SurveyUnreadableError, StoreError, OSError) as e:
            return await _listed(request, *str(e).splitlines())
    return RedirectResponse(f"/surveys/{number}/site", status_code=303)


def _taken_in(drawer: Drawer, sent: list[tuple[str, BinaryIO]]) -> int:
    with tempfile.TemporaryDirectory() as made:
        folder = lay_out_checked(sent, Path(made))
        return drawer.bring_in(folder)


async def set_type(request: Request) -> Response:
    """Set the reader's type size and go back to where they were."""
    form = await request.form()
    back = own_place(str(form.get("back", "/")))
    response = RedirectResponse(back, status_code=303)
    large = form.get("type") == "large"
    response.set_cookie(
        "type", "large" if large else "usual", max_age=31_536_000, httponly=True, samesite="strict"
    )
    return response
