"""Keeping a change the plan asked for, and where a page goes when it is done."""

from collections.abc import Callable, Mapping
from dataclasses import asdict
from typing import Any, TypeVar

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

__all__ = ["back_of", "kept", "once", "sending"]

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


async def kept(request: Request, sheet: Sheet, place: Callable[[], Placed]) -> Response:
    """Make a change and send the plan as it is then; 409 with what stands now on a conflict.

    Raises
    ------
    HTTPException
        422 where `place` says that it cannot be placed.
    """

    def act(drawer: Drawer) -> Applied | Conflict:
        placed = place()
        return drawer.change(sheet.stored.id, placed.edits, note=placed.note)

    try:
        done = await once(request, sheet.stored.id, act)
    except PlacingError as e:
        raise HTTPException(422, str(e)) from None
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


def back_of(form: Mapping[str, Any], default: str) -> str:
    """Give the page of the desk a form says to go back to.

    Only a place on the desk itself: an address of another host would carry the reader off.
    """
    back = str(form.get("back", ""))
    if not back.startswith("/") or back.startswith("//") or "\\" in back:
        return default
    return back
