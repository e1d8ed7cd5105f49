"""The site: its page, and what the plan asks for while things are drawn and moved."""

import time
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, RedirectResponse, Response

from bolewalk.desk.desk import glimpse
from bolewalk.desk.drawer import Sheet
from bolewalk.desk.geometry import footprint_of
from bolewalk.desk.pages import page
from bolewalk.desk.placing import (
    Placed,
    PlacingError,
    adoption,
    moved_work,
    new_work,
    tree_at,
    work_edit,
    work_removal,
)
from bolewalk.desk.plan_data import plan_data, tree_data, verdict_data
from bolewalk.desk.reckoning import Moved
from bolewalk.desk.routes.keeping import kept, once
from bolewalk.desk.routes.parsing import back_of, body_of, desk_of, integer, sheet_of, text
from bolewalk.desk.views.site import site_view
from bolewalk.impact.results import TreeImpact
from bolewalk.papers.amounts import Amounts
from bolewalk.papers.language import Speaker, load_catalogue
from bolewalk.papers.reading import Reading
from bolewalk.store.items import Applied, Conflict, Edit
from bolewalk.survey import Findings

__all__ = [
    "add_work", "change_tree", "change_work", "drag", "plan", "redo", "remove_work", "settle",
    "site", "undo", "undo_page",
]  # fmt: skip

_SETTLE_S = 0.35
"""Seconds one call may spend on open facts: the page is told of each batch as it comes."""


async def site(request: Request) -> Response:
    """Send the page of the plan."""
    sheet = await sheet_of(request)
    drawer = desk_of(request).drawer
    view = await run_in_threadpool(lambda: site_view(sheet, glimpse(sheet), drawer))
    return page(request, "site", view)


async def plan(request: Request) -> Response:
    """Send what the canvas draws."""
    sheet = await sheet_of(request)
    return JSONResponse(await run_in_threadpool(plan_data, sheet, glimpse(sheet)))


async def settle(request: Request) -> Response:
    """Try open facts of the trees named, for a short while, and send what is known then."""
    sheet = await sheet_of(request)
    body = await body_of(request)
    wanted = body.get("trees")
    if not isinstance(wanted, list) or not all(isinstance(t, str) for t in wanted):
        raise HTTPException(400, "trees: a list of tree ids")
    return JSONResponse(await run_in_threadpool(_settled, sheet, wanted))


def _settled(sheet: Sheet, wanted: list[str]) -> dict[str, Any]:
    reckoning = sheet.reckoning
    start = time.monotonic()
    pending = set(reckoning.pending)
    for tree in wanted:
        if tree in pending:
            reckoning.impact(tree)
            pending.discard(tree)
            if time.monotonic() - start > _SETTLE_S:
                break
    reading = glimpse(sheet)
    known = [t for t in reading.findings.trees
             if t.tree.id in set(wanted) and t.tree.id not in pending]  # fmt: skip
    return {
        "revision": sheet.stored.revision,
        "trees": [tree_data(sheet, t.tree, t.impact, reading) for t in known],
        "pending": len(pending),
    }


async def drag(request: Request) -> Response:
    """Judge the trees with one thing moved or drawn; nothing is kept."""
    sheet = await sheet_of(request)
    body = await body_of(request)
    start = time.perf_counter()
    try:
        answer = await run_in_threadpool(_dragged, sheet, body)
    except PlacingError as e:
        raise HTTPException(422, str(e)) from None
    took = 1000 * (time.perf_counter() - start)
    return JSONResponse(answer, headers={"server-timing": f"judge;dur={took:.1f}"})


def _dragged(sheet: Sheet, body: dict[str, Any]) -> dict[str, Any]:
    unit_m = sheet.job.survey.m_per_grid_unit
    if "tree" in body:
        tree = tree_at(sheet, text(body, "tree"), body.get("at"))
        return {"trees": _told(sheet, [sheet.reckoning.drag_tree(tree)]), "footprint": []}
    if "work" in body:
        work = moved_work(sheet, text(body, "work"), body.get("geometry"))
    else:
        properties = body.get("properties")
        if not isinstance(properties, dict):
            raise HTTPException(400, "properties: an object")
        work = new_work(sheet, properties, body.get("geometry"))
    return {
        "trees": _told(sheet, list(sheet.reckoning.drag_work(work))),
        "footprint": footprint_of(work, unit_m),
    }


def _told(sheet: Sheet, moved: list[Moved]) -> list[dict[str, Any]]:
    reading = _speaker(sheet)
    reckoning = sheet.reckoning
    out = []
    for m in moved:
        subject = reckoning.subjects[reckoning.row_of[m.tree]]
        losses, verdict = m.quick or (None, None)
        impact = TreeImpact(m.tree, subject.zone, losses, None, None, verdict)
        out.append({"id": m.tree, **verdict_data(impact, reading)})
    return out


def _speaker(sheet: Sheet) -> Reading:
    # Verdict words need no findings; building them for each move of the pointer would cost more
    # than the move itself.
    findings = Findings(sheet.job.survey, (), None, None, (), ())
    return Reading(findings, Speaker(load_catalogue("en"), Amounts(sheet.job.survey.units)))


async def add_work(request: Request) -> Response:
    """Keep a new work, or one that leaves its drawing in a what-if copy."""
    sheet = await sheet_of(request)
    body = await body_of(request)
    geometry = body.get("geometry")
    properties = body.get("properties")
    if "work" not in body and not isinstance(properties, dict):
        raise HTTPException(400, "properties: an object")
    if "work" in body:
        work = text(body, "work")
        return await kept(request, sheet, lambda: adoption(sheet, work, geometry))
    return await kept(
        request, sheet,
        lambda: work_edit(sheet, key="", version=0, properties=properties, geometry=geometry),
    )  # fmt: skip


async def change_work(request: Request) -> Response:
    """Keep a work's new place or properties."""
    sheet = await sheet_of(request)
    body = await body_of(request)
    properties = body.get("properties")
    if properties is not None and not isinstance(properties, dict):
        raise HTTPException(400, "properties: an object")
    return await kept(
        request, sheet,
        lambda: work_edit(
            sheet,
            key=request.path_params["work"],
            version=integer(body, "version"),
            properties=properties,
            geometry=body.get("geometry"),
        ),
    )  # fmt: skip


async def remove_work(request: Request) -> Response:
    """Take a work out."""
    sheet = await sheet_of(request)
    body = await body_of(request)
    key, version = request.path_params["work"], integer(body, "version")
    return await kept(request, sheet, lambda: work_removal(sheet, key=key, version=version))


async def change_tree(request: Request) -> Response:
    """Keep a tree's new place."""
    sheet = await sheet_of(request)
    body = await body_of(request)
    name, version = request.path_params["tree"], integer(body, "version")

    def placed() -> Placed:
        item = sheet.tree_item(name)
        tree_at(sheet, name, body.get("at"))
        if item is None or item.body is None:
            raise HTTPException(404, f"there is no tree {name!r}")
        x, y = body["at"][:2]
        cells = {**item.body["cells"], "x": f"{x:.2f}", "y": f"{y:.2f}"}
        edit = Edit("tree", item.key, {**item.body, "cells": cells}, version)
        return Placed((edit,), f"placed {name}")

    return await kept(request, sheet, placed)


async def undo(request: Request) -> Response:
    """Take back the last change."""
    survey = (await sheet_of(request)).stored.id
    done = await once(request, survey, lambda drawer: drawer.undo(survey))
    return _undone(done, "There is nothing to take back.")


async def undo_page(request: Request) -> Response:
    """Take back the last change, from a page without scripts."""
    sheet = await sheet_of(request)
    form = await request.form()
    await once(request, sheet.stored.id, lambda drawer: drawer.undo(sheet.stored.id))
    back = back_of(form, f"/surveys/{sheet.stored.id}/trees")
    return RedirectResponse(back, status_code=303)


async def redo(request: Request) -> Response:
    """Do again what was taken back."""
    survey = (await sheet_of(request)).stored.id
    done = await once(request, survey, lambda drawer: drawer.redo(survey))
    return _undone(done, "There is nothing to do again.")


def _undone(done: Applied | Conflict | None, nothing: str) -> Response:
    if done is None:
        return JSONResponse({"done": False, "say": nothing})
    if isinstance(done, Conflict):
        who = done.clashes[0].who
        return JSONResponse(
            {"done": False, "say": f"{who} has changed this since; nothing was taken back."},
            status_code=409,
        )
    return JSONResponse({"done": True, "revision": done.revision, "say": ""})
