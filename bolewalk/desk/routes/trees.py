"""The tree table: read, edited in place, conflicts shown; and the page of one tree."""

from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from bolewalk.desk.desk import glimpse
from bolewalk.desk.drawer import Drawer, Sheet
from bolewalk.desk.pages import page
from bolewalk.desk.routes.keeping import once
from bolewalk.desk.routes.parsing import desk_of, sheet_of
from bolewalk.desk.views.one_tree import OneTreeView, one_tree_view
from bolewalk.desk.views.pictures import tree_pictures
from bolewalk.desk.views.trees import clash_view, row_view, trees_view
from bolewalk.store.edits import new_tree, remove
from bolewalk.store.items import Applied, Conflict, Edit, Item

__all__ = ["add_row", "change_row", "remove_row", "row", "tree", "trees"]


async def trees(request: Request) -> Response:
    """Send the tree table."""
    sheet = await sheet_of(request)
    return page(request, "trees", trees_view(sheet, glimpse(sheet)))


async def row(request: Request) -> Response:
    """Send one row of it: to read, or to edit (?edit=1)."""
    sheet = await sheet_of(request)
    return _row(request, sheet, editing=bool(request.query_params.get("edit")))


def _row(request: Request, sheet: Sheet, *, editing: bool, said: str = "") -> Response:
    key = request.path_params["key"]
    try:
        view = row_view(sheet, glimpse(sheet), key, editing=editing, said=said)
    except KeyError:
        raise HTTPException(404, f"there is no row {key!r}") from None
    if "hx-request" in request.headers:
        return page(request, "tree_row", view)
    return page(request, "tree_row_page", view)


async def change_row(request: Request) -> Response:
    """Keep the cells of a row, or show the conflict where someone else changed it."""
    sheet = await sheet_of(request)
    form = await request.form()
    key = request.path_params["key"]
    try:
        version = int(str(form.get("version", "")))
    except ValueError:
        raise HTTPException(400, "version: a whole number") from None
    cells = {k[5:]: str(v) for k, v in form.items() if k.startswith("cell.")}

    def act(drawer: Drawer) -> Applied | Conflict:
        item = _item(sheet, key)
        # The row is laid over what the person saw, so that a change of another cell by someone
        # else is a conflict to be looked at and not silently undone.
        body = {**(item.body or {}), "cells": {**(item.body or {}).get("cells", {}), **cells}}
        edit = Edit("tree", key, body, version)
        return drawer.change(sheet.stored.id, (edit,), note=f"changed {cells.get('tree', key)}")

    done = await once(request, sheet.stored.id, act)
    now = await sheet_of(request)
    if isinstance(done, Conflict):
        view = clash_view(now, glimpse(now), done.clashes[0])
        headers = {"hx-retarget": "#content", "hx-reswap": "innerHTML", "hx-reselect": "#clash"}
        return page(request, "clash", view, status=409, headers=headers)
    if "hx-request" in request.headers:
        return _row(request, now, editing=False, said="Kept.")
    return RedirectResponse(f"{_trees(request)}#{key}", status_code=303)


async def add_row(request: Request) -> Response:
    """Add a row to the table."""
    sheet = await sheet_of(request)
    form = await request.form()
    cells = {k: str(form.get(k, "")).strip() for k in ("tree", "species")}
    if not cells["tree"]:
        raise HTTPException(422, "A tree needs a number of its own.")
    edit = new_tree({k: v for k, v in cells.items() if v})
    note = f"added {cells['tree']}"
    done = await once(
        request, sheet.stored.id, lambda drawer: drawer.change(sheet.stored.id, (edit,), note=note)
    )
    if isinstance(done, Conflict):
        raise HTTPException(409, "someone else added a row in the same moment; try again")
    return RedirectResponse(f"{_trees(request)}/rows/{done.items[0].key}?edit=1", status_code=303)


async def remove_row(request: Request) -> Response:
    """Take a row out of the table; undo brings it back."""
    sheet = await sheet_of(request)

    def act(drawer: Drawer) -> Applied | Conflict:
        item = _item(sheet, request.path_params["key"])
        note = f"took out {(item.body or {})['cells'].get('tree', item.key)}"
        return drawer.change(sheet.stored.id, (remove(item),), note=note)

    await once(request, sheet.stored.id, act)
    return RedirectResponse(_trees(request), status_code=303)


def _item(sheet: Sheet, key: str) -> Item:
    item = sheet.stored.get("tree", key)
    if item is None:
        raise HTTPException(404, f"there is no row {key!r}")
    return item


def _trees(request: Request) -> str:
    return f"/surveys/{request.path_params['survey']}/trees"


async def tree(request: Request) -> Response:
    """Send the page of one tree, everything about it worked out."""
    sheet = await sheet_of(request)
    name = request.path_params["tree"]
    if name not in sheet.reckoning.row_of:
        raise HTTPException(404, f"there is no tree {name!r} in this survey")
    desk = desk_of(request)
    tasks = desk.tasks.of(sheet.stored.id, ("stills",))

    def view() -> OneTreeView:
        pictures = tree_pictures(
            sheet, desk.drawer, desk.tasks.folder, tasks, glimpse(sheet), name
        )  # fmt: skip
        return one_tree_view(sheet, desk.drawer, name, pictures=pictures)

    return page(request, "tree", await run_in_threadpool(view))
