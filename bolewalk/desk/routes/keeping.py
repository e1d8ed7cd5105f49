"""Keeping a change that was sent, once however often it is sent."""

from collections.abc import Callable
from dataclasses import asdict
from typing import TypeVar

from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from bolewalk.desk.desk import glimpse
from bolewalk.desk.drawer import Drawer, Sheet
from bolewalk.desk.placing import Placed, PlacingError
from bolewalk.desk.plan_data import plan_data
from bolewalk.desk.routes.parsing import desk_of, send_of, sheet_of
from bolewalk.store.items import Applied, Conflict

__all__ = ["kept", "once", "placed_once", "sending"]

T = TypeVar("T")


async def sending(request: Request) -> Drawer:
    """Give the drawer for the one change a request asks for, by the id of its sending."""
    return desk_of(request).drawer.sending(await send_of(request))


async def once(request: Request, survey_id: int, act: Callable[[Drawer], T]) -> Applied | T:
    """Make a change, however often it is sent, once; give what came of it then.

    Parameters
    ----------
    request : Request
    survey_id : int
    act : callable
        Makes the change, as one step of the drawer it is given. It is not asked of a repeat: what
        it stood on may be gone since, by the change itself.
    """
    drawer = await sending(request)

    def made() -> Applied | T:
        before = drawer.sent(survey_id)
        return act(drawer) if before is None else before

    return await run_in_threadpool(made)


async def placed_once(
    request: Request, sheet: Sheet, place: Callable[[], Placed]
) -> Applied | Conflict:
    """Make the change that places something, as `once`.

    Raises
    ------
    HTTPException
        422 where `place` says that it cannot be placed.
    """

    def act(drawer: Drawer) -> Applied | Conflict:
        placed = place()
        return drawer.change(sheet.stored.id, placed.edits, note=placed.note)

    try:
        return await once(request, sheet.stored.id, act)
    except PlacingError as e:
        raise HTTPException(422, str(e)) from None


async def kept(request: Request, sheet: Sheet, place: Callable[[], Placed]) -> Response:
    """Make a change and send the plan as it is then; 409 with what stands now on a conflict.

    Raises as `placed_once`.
    """
    done = await placed_once(request, sheet, place)
    if isinstance(done, Conflict):
        clash = done.clashes[0]
        return JSONResponse(
            {
                "say": f"{clash.who} has changed this since you opened it; nothing was kept.",
                "now": None if clash.now is None else asdict(clash.now),
            },
            status_code=409,
        )
    now = await sheet_of(request)
    answer = await run_in_threadpool(plan_data, now, glimpse(now))
    answer["changed"] = [i.key for i in done.items]
    return JSONResponse(answer)
