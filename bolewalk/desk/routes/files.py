"""Kept files of a survey, sent; and the pictures laid under its plan."""

from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import FileResponse, JSONResponse, RedirectResponse, Response

from bolewalk.desk.drawer import Drawer
from bolewalk.desk.routes.keeping import once
from bolewalk.desk.routes.parsing import back_of, body_of, desk_of, sheet_of, text
from bolewalk.desk.stills import still_path
from bolewalk.desk.underlays import UnderlayError, pairs_of, placing, underlay_data
from bolewalk.drawing.pictures import PICTURE_ENDINGS
from bolewalk.intake.reading import suffix_of
from bolewalk.intake.recording import PLAYABLE
from bolewalk.store.errors import StoreError
from bolewalk.store.items import Applied, Conflict

__all__ = ["cut_stills", "kept_file", "place_underlay", "still", "underlays"]


async def kept_file(request: Request) -> Response:
    """Send a file of the survey: pictures and recordings to be shown, all others to be kept."""
    sheet = await sheet_of(request)
    name = request.path_params["name"]
    item = sheet.stored.get("file", name)
    if item is None or item.body is None:
        raise HTTPException(404, f"the survey has no file {name}")
    path = desk_of(request).drawer.store.files.path(item.body["sha256"])
    if not path.is_file():
        raise HTTPException(404, f"{name} is not in the store any more")
    ending = suffix_of(name)
    kind = PLAYABLE.get(ending) or _picture_type(ending)
    # Anything else may be a page with a script in it: it is handed over and never shown.
    return FileResponse(
        path,
        media_type=kind or "application/octet-stream",
        filename=name.rpartition("/")[2],
        content_disposition_type="inline" if kind else "attachment",
    )


def _picture_type(ending: str) -> str:
    kind = PICTURE_ENDINGS.get(ending)
    return "" if kind is None else f"image/{kind}"


async def still(request: Request) -> Response:
    """Send a still cut from the walk."""
    sheet = await sheet_of(request)
    path = still_path(sheet, desk_of(request).tasks.folder, request.path_params["name"])
    if path is None:
        raise HTTPException(404, "there is no such still")
    return FileResponse(path, media_type="image/jpeg")


async def cut_stills(request: Request) -> Response:
    """Ask for stills to be cut from the survey's video."""
    sheet = await sheet_of(request)
    form = await request.form()
    desk = desk_of(request)
    await run_in_threadpool(
        lambda: desk.tasks.ask(
            "stills", sheet.stored.id, "", 0, who=desk.drawer.who, when=desk.drawer.clock()
        )
    )
    back = back_of(form, f"/surveys/{sheet.stored.id}/walk")
    return RedirectResponse(back, status_code=303)


async def underlays(request: Request) -> Response:
    """Send the pictures among the drawings and where they lie."""
    sheet = await sheet_of(request)
    return JSONResponse(
        {"revision": sheet.stored.revision, "underlays": underlay_data(sheet)}
    )  # fmt: skip


async def place_underlay(request: Request) -> Response:
    """Place a picture by two points, or lift it off the plan (`at` null)."""
    sheet = await sheet_of(request)
    body = await body_of(request)
    file = text(body, "file")

    def act(drawer: Drawer) -> Applied | Conflict:
        edit = placing(sheet, file, pairs_of(body.get("at")))
        return drawer.change(sheet.stored.id, (edit,), note=f"placed {file}")

    try:
        done = await once(request, sheet.stored.id, act)
    except (UnderlayError, StoreError) as e:
        raise HTTPException(422, str(e)) from None
    if isinstance(done, Conflict):
        raise HTTPException(
            409, f"{done.clashes[0].who} has changed survey.toml in the meantime: try again."
        )
    return await underlays(request)
