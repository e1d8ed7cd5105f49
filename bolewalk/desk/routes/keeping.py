"""Keeping a change the plan asked for, and where a page goes when it is done."""

from collections.abc import Mapping
from dataclasses import asdict
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from bolewalk.desk.desk import glimpse
from bolewalk.desk.drawer import Sheet
from bolewalk.desk.placing import Placed
from bolewalk.desk.plan_data import plan_data
from bolewalk.desk.routes.parsing import desk_of, sheet_of
from bolewalk.store.items import Conflict

__all__ = ["back_of", "kept"]


async def kept(request: Request, sheet: Sheet, placed: Placed) -> Response:
    """Make a change and send the plan as it is then; 409 with what stands now on a conflict."""
    done = await run_in_threadpool(
        desk_of(request).drawer.change, sheet.stored.id, placed.edits, note=placed.note
    )
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
