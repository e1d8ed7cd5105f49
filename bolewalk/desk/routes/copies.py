"""What-if copies of the works: made, set side by side, taken over, dropped."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, RedirectResponse, Response

from bolewalk.desk.drawer import Drawer, Sheet
from bolewalk.desk.pages import page
from bolewalk.desk.placing import PlacingError, adoption
from bolewalk.desk.routes.keeping import once, sending
from bolewalk.desk.routes.parsing import body_of, desk_of, sheet_of, text
from bolewalk.desk.views.copies import copies_view
from bolewalk.desk.views.reckoning import reckoning_view
from bolewalk.store.errors import StoreError
from bolewalk.store.items import Applied, Conflict, Edit

__all__ = ["adopt_copy", "change_copies", "copies", "drop_copy", "make_copy"]


async def make_copy(request: Request) -> Response:
    """Make a what-if copy of the plan's works, with what was moved on trial."""
    sheet = await sheet_of(request)
    body = await body_of(request)
    name = text(body, "name").strip()[:80]
    moved = body.get("moved", {})
    if not isinstance(moved, dict):
        raise HTTPException(400, "moved: an object of geometries by work")
    try:
        variant = await run_in_threadpool(_copied, await sending(request), sheet, name, moved)
    except (PlacingError, StoreError) as e:
        raise HTTPException(422, str(e)) from None
    return JSONResponse({"plan": variant}, status_code=201)


def _copied(drawer: Drawer, sheet: Sheet, name: str, moved: dict[str, Any]) -> str:
    def adoptions(key: str) -> list[Edit]:
        # Works of a drawing are the same in a copy that is still to be made.
        made = replace(sheet, variant=key)
        return [e for work, at in moved.items() for e in adoption(made, work, at).edits]

    return drawer.copy_works(sheet.stored.id, name, of=sheet.variant, more=adoptions)


async def adopt_copy(request: Request) -> Response:
    """Make the works what a what-if copy of them is."""
    return await _of_copy(request, Drawer.adopt_copy)


async def drop_copy(request: Request) -> Response:
    """Drop a what-if copy; undo brings it back."""
    return await _of_copy(request, Drawer.drop_copy)


async def _of_copy(
    request: Request, act: Callable[[Drawer, int, str], Applied | Conflict]
) -> Response:
    survey, key = (await sheet_of(request)).stored.id, request.path_params["copy"]
    try:
        done = await once(request, survey, lambda drawer: act(drawer, survey, key))
    except StoreError as e:
        raise HTTPException(404, str(e)) from None
    if isinstance(done, Conflict):
        raise HTTPException(409, "someone has changed these works since; nothing was done")
    return JSONResponse({"revision": done.revision})


async def copies(request: Request) -> Response:
    """Send the works as drawn and their what-if copies side by side."""
    sheet = await sheet_of(request)
    sheets = await run_in_threadpool(_plans, desk_of(request).drawer, sheet)
    if not await run_in_threadpool(_tried, sheets):
        return page(request, "reckoning", reckoning_view(sheets, "site", "Each plan"))
    return page(request, "copies", await run_in_threadpool(copies_view, sheets))


def _plans(drawer: Drawer, sheet: Sheet) -> list[Sheet]:
    return [drawer.sheet(sheet.stored.id, k) for k in ("", *(key for key, _ in sheet.variants()))]


def _tried(sheets: list[Sheet]) -> bool:
    """Tell whether every tree's open facts are tried in every plan: until then verdicts of one
    plan by the facts as recorded would stand beside tried ones of another."""
    return all(s.reckoning.begin(price=False) for s in sheets)


async def change_copies(request: Request) -> Response:
    """Make, name, take over or drop a copy from the page that sets them side by side."""
    sheet = await sheet_of(request)
    form = await request.form()
    do, key, name = (str(form.get(k, "")).strip()[:80] for k in ("do", "copy", "name"))
    survey = sheet.stored.id
    acts: dict[str, Callable[[Drawer], object]] = {
        "make": lambda drawer: drawer.copy_works(survey, name, of=str(form.get("of", ""))),
        "rename": lambda drawer: _renamed(drawer, sheet, key, name),
        "adopt": lambda drawer: drawer.adopt_copy(survey, key),
        "drop": lambda drawer: drawer.drop_copy(survey, key),
    }
    if do not in acts:
        raise HTTPException(400, "do: one of make, rename, adopt, drop")
    say = ""
    try:
        if isinstance(await once(request, survey, acts[do]), Conflict):
            say = "Someone has changed these works since; nothing was done."
    except StoreError as e:
        say = str(e)
    if say:
        raise HTTPException(422, say)
    return RedirectResponse(f"/surveys/{survey}/copies", status_code=303)


def _renamed(drawer: Drawer, sheet: Sheet, key: str, name: str) -> Applied | Conflict:
    item = sheet.stored.get("variant", key)
    if item is None or item.body is None:
        raise StoreError(f"there is no what-if copy {key!r}")
    if not name or name in {n for k, n in sheet.variants() if k != key}:
        raise StoreError(f"a name no other copy has, not {name!r}")
    edit = Edit("variant", key, {**item.body, "name": name}, item.version)
    return drawer.change(sheet.stored.id, (edit,), note=f"copy named {name}")
