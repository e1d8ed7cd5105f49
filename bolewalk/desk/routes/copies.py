"""What-if copies of the works: made, set side by side, taken over, dropped."""

from collections.abc import Callable
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from bolewalk.desk.drawer import Drawer, Sheet
from bolewalk.desk.placing import PlacingError, adoption, moved_work
from bolewalk.desk.routes.parsing import body_of, desk_of, sheet_of, text
from bolewalk.store.errors import StoreError
from bolewalk.store.items import Applied, Conflict

__all__ = ["adopt_copy", "drop_copy", "make_copy"]


async def make_copy(request: Request) -> Response:
    """Make a what-if copy of the plan's works, with what was moved on trial."""
    sheet = await sheet_of(request)
    body = await body_of(request)
    name = text(body, "name").strip()[:80]
    moved = body.get("moved", {})
    if not isinstance(moved, dict):
        raise HTTPException(400, "moved: an object of geometries by work")
    try:
        variant = await run_in_threadpool(_copied, desk_of(request).drawer, sheet, name, moved)
    except (PlacingError, StoreError) as e:
        raise HTTPException(422, str(e)) from None
    return JSONResponse({"plan": variant}, status_code=201)


def _copied(drawer: Drawer, sheet: Sheet, name: str, moved: dict[str, Any]) -> str:
    survey = sheet.stored.id
    # Tried before anything is kept: what cannot be placed must not leave an empty copy behind.
    for work, geometry in moved.items():
        moved_work(sheet, work, geometry)
    variant = drawer.copy_works(survey, name, of=sheet.variant)
    for work, geometry in moved.items():
        drawer.change(survey, adoption(drawer.sheet(survey, variant), work, geometry).edits)
    return variant


async def adopt_copy(request: Request) -> Response:
    """Make the works what a what-if copy of them is."""
    sheet = await sheet_of(request)
    drawer, key = desk_of(request).drawer, request.path_params["copy"]
    return await _of_copy(drawer.adopt_copy, sheet.stored.id, key)


async def drop_copy(request: Request) -> Response:
    """Drop a what-if copy; undo brings it back."""
    sheet = await sheet_of(request)
    drawer, key = desk_of(request).drawer, request.path_params["copy"]
    return await _of_copy(drawer.drop_copy, sheet.stored.id, key)


async def _of_copy(
    act: Callable[[int, str], Applied | Conflict], survey: int, key: str
) -> Response:
    try:
        done = await run_in_threadpool(act, survey, key)
    except StoreError as e:
        raise HTTPException(404, str(e)) from None
    if isinstance(done, Conflict):
        raise HTTPException(409, "someone has changed these works since; nothing was done")
    return JSONResponse({"revision": done.revision})
