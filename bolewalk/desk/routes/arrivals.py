"""Files brought to a survey: begun, sent piece by piece, taken in, or given up."""

from collections.abc import Callable
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import UploadFile
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, RedirectResponse, Response

from bolewalk.desk.desk import Desk, glimpse
from bolewalk.desk.drawer import Drawer, Sheet
from bolewalk.desk.drawing_entries import drawing_of
from bolewalk.desk.incoming import Arrival, OutOfStepError
from bolewalk.desk.landing import Landing, LandingError, take_as, take_out
from bolewalk.desk.pages import page
from bolewalk.desk.routes.keeping import once
from bolewalk.desk.routes.parsing import body_of, desk_of, integer, sheet_of, text
from bolewalk.desk.uploads import UploadError
from bolewalk.desk.views.files import files_view, work_of
from bolewalk.store.edits import set_head
from bolewalk.store.errors import StoreError
from bolewalk.store.items import Applied, Conflict

__all__ = [
    "add_piece", "arrivals", "begin", "bring", "files", "give_up", "name_layers", "stop", "take",
]  # fmt: skip

PIECE_BYTES = 8_000_000
"""Most bytes of one request: what is lost when the line breaks."""


async def files(request: Request) -> Response:
    """Send the page of the survey's files."""
    return await _shown(request, await sheet_of(request))


async def _shown(request: Request, sheet: Sheet, say: str = "") -> Response:
    desk = desk_of(request)
    view = await run_in_threadpool(
        lambda: files_view(
            sheet,
            glimpse(sheet),
            arrivals=desk.tasks.incoming.of(sheet.stored.id),
            tasks=desk.tasks.of(sheet.stored.id, ("file", "speech")),
            say=say,
        )
    )
    return page(request, "files", view, status=422 if say else 200)


def _back(sheet: Sheet) -> Response:
    return RedirectResponse(f"/surveys/{sheet.stored.id}/files", status_code=303)


async def arrivals(request: Request) -> Response:
    """Send what is on its way and how taking in stands."""
    desk = desk_of(request)
    number = request.path_params["survey"]
    return JSONResponse(
        {
            "arrivals": [_told(a, at) for a, at in desk.tasks.incoming.of(number)],
            "work": [
                {"id": w.id, "name": w.name, "state": w.state, "says": w.says}
                for w in map(work_of, desk.tasks.of(number, ("file",)))
            ],
        }
    )


def _told(arrival: Arrival, at: int, task: str | None = None) -> dict[str, Any]:
    return {
        "id": arrival.id, "name": arrival.name, "size": arrival.size, "at": at, "task": task,
    }  # fmt: skip


async def begin(request: Request) -> Response:
    """Begin a file, or find where it was broken off."""
    sheet = await sheet_of(request)
    body = await body_of(request)
    name, size = text(body, "name"), integer(body, "size")
    stamp, tree = text(body, "stamp", ""), text(body, "tree", "")
    desk = desk_of(request)

    def begun() -> tuple[Arrival, int, str | None]:
        arrival, at = desk.tasks.incoming.begin(
            sheet.stored.id, name, size, stamp, tree=tree, when=desk.drawer.clock()
        )
        return arrival, at, _taken_in(desk, arrival, at)

    try:
        return JSONResponse(_told(*await run_in_threadpool(begun)))
    except UploadError as e:
        raise HTTPException(422, str(e)) from None
    except OSError as e:
        raise HTTPException(507, f"the disk does not take it: {e.strerror}") from None


def _taken_in(desk: Desk, arrival: Arrival, at: int) -> str | None:
    """Ask for a file that is whole to be taken in; give the task."""
    if at < arrival.size:
        return None
    return desk.tasks.ask(
        "file", arrival.survey, "", 0, who=desk.drawer.who, when=desk.drawer.clock(),
        title=arrival.name, arrival=arrival.id, tree=arrival.tree,
    ).id  # fmt: skip


def _arrival(request: Request) -> Arrival:
    found = desk_of(request).tasks.incoming.get(request.path_params["arrival"])
    if found is None or found.survey != request.path_params["survey"]:
        raise HTTPException(404, "no such file is on its way: begin it again")
    return found


async def add_piece(request: Request) -> Response:
    """Take the next piece of a file; once it is whole it is taken in."""
    arrival = _arrival(request)
    at = request.query_params.get("at", "")
    if not at.isdecimal() or len(at) > 15:
        raise HTTPException(400, "at: the byte the piece begins with")
    piece = bytearray()
    async for chunk in request.stream():
        piece += chunk
        if len(piece) > PIECE_BYTES:
            raise HTTPException(413, f"at most {PIECE_BYTES:,} bytes at once")
    desk = desk_of(request)
    try:
        here = await run_in_threadpool(desk.tasks.incoming.add, arrival, int(at), bytes(piece))
    except OutOfStepError as e:
        return JSONResponse({"say": str(e), "at": e.at}, status_code=409)
    except UploadError as e:
        raise HTTPException(422, str(e)) from None
    except OSError as e:
        raise HTTPException(507, f"the disk does not take it: {e.strerror}") from None
    task = await run_in_threadpool(_taken_in, desk, arrival, here)
    return JSONResponse(_told(arrival, here, task))


async def give_up(request: Request) -> Response:
    """Give up a file on its way, and taking it in where that has begun."""
    arrival = _arrival(request)
    await run_in_threadpool(_give_up, desk_of(request), arrival)
    return JSONResponse({"say": f"{arrival.name} was given up."})


def _give_up(desk: Desk, arrival: Arrival) -> None:
    for task in desk.tasks.of(arrival.survey, ("file",)):
        if task.arrival == arrival.id and task.open:
            desk.tasks.cancel(task.id)
    desk.tasks.incoming.drop(arrival.id)


async def stop(request: Request) -> Response:
    """Give up a file on its way, or stop taking one in, from the page."""
    sheet = await sheet_of(request)
    form = await request.form()
    desk = desk_of(request)
    key = str(form.get("id", ""))
    task = desk.tasks.get(key)
    arrival = desk.tasks.incoming.get(key if task is None else task.arrival)
    if arrival is not None and arrival.survey == sheet.stored.id:
        await run_in_threadpool(_give_up, desk, arrival)
    return _back(sheet)


async def bring(request: Request) -> Response:
    """Take files sent by a plain form."""
    sheet = await sheet_of(request)
    desk = desk_of(request)
    async with request.form(max_files=200) as form:
        sent = [f for f in form.getlist("files") if isinstance(f, UploadFile) and f.filename]
        tree = str(form.get("tree", ""))
        if not sent:
            return await _shown(request, sheet, "Choose one or more files.")
        try:
            for file in sent:
                await run_in_threadpool(_received, desk, sheet.stored.id, file, tree)
        except UploadError as e:
            return await _shown(request, sheet, str(e))
    return _back(sheet)


def _received(desk: Desk, survey: int, file: UploadFile, tree: str) -> None:
    file.file.seek(0)
    when = desk.drawer.clock()
    arrival, at = desk.tasks.incoming.begin(
        survey, file.filename or "", file.size or 0, "", tree=tree, when=when
    )
    file.file.seek(at)
    while piece := file.file.read(PIECE_BYTES):
        at = desk.tasks.incoming.add(arrival, at, piece)
    _taken_in(desk, arrival, at)


async def take(request: Request) -> Response:
    """Take a picture as something else, or take a file out."""
    sheet = await sheet_of(request)
    form = await request.form()
    name, kind = str(form.get("name", "")), str(form.get("as", ""))
    store = desk_of(request).drawer.store

    def landing() -> Landing:
        if kind == "out":
            return take_out(sheet.stored, name)
        if kind not in ("photo", "underlay"):
            raise LandingError("take it as a photograph, as a picture of a plan, or out")
        item = sheet.stored.get("file", name)
        sha256 = "0" * 64 if item is None or item.body is None else item.body["sha256"]
        as_kind = "photo" if kind == "photo" else "underlay"
        return take_as(sheet.stored, name, store.files.path(sha256), as_kind)  # type: ignore[arg-type]

    return await _changed(request, sheet, landing)


async def _changed(request: Request, sheet: Sheet, landing: Callable[[], Landing]) -> Response:
    def act(drawer: Drawer) -> Applied | Conflict:
        landed = landing()
        return drawer.change(sheet.stored.id, landed.edits, note=landed.says[:200])

    try:
        done = await once(request, sheet.stored.id, act)
    except (LandingError, StoreError) as e:
        return await _shown(request, sheet, str(e))
    if isinstance(done, Conflict):
        raise HTTPException(
            409, f"{done.clashes[0].who} has changed this survey in the meantime: try again."
        )
    return _back(sheet)


async def name_layers(request: Request) -> Response:
    """Say what the layers of a drawing are."""
    sheet = await sheet_of(request)
    form = await request.form()
    file = str(form.get("file", ""))
    listed = drawing_of(sheet.head(), file)
    if listed is None:
        return await _shown(request, sheet, f"the survey has no drawing {file}")
    values: list[tuple[tuple[str | int, ...], Any]] = []
    for k in range(_LAYERS):
        layer = form.get(f"layer.{k}")
        if layer is None:
            break
        kind = str(form.get(f"kind.{k}", ""))
        if not kind:
            continue
        depth, phase = (str(form.get(f"{w}.{k}", "")).strip() for w in ("depth", "phase"))
        table = {"kind": kind, **({"phase": phase} if phase else {}),
                 **({"depth": depth} if depth else {})}  # fmt: skip
        entry = "ignore" if kind == "ignore" else table if len(table) > 1 else kind
        values.append(((*listed.path, "layers", str(layer)), entry))
    if not values:
        return await _shown(request, sheet, "Choose what at least one layer is.")
    note = f"named {len(values)} layers of {file}"
    return await _changed(
        request, sheet, lambda: Landing((set_head(sheet.stored, *values),), file, note)
    )


_LAYERS = 500
