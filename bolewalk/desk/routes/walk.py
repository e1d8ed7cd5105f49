"""The site walk: its page, its recording, and what a person makes of the trees found."""

from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from bolewalk.desk.desk import glimpse
from bolewalk.desk.drawer import Drawer, Sheet
from bolewalk.desk.pages import page
from bolewalk.desk.routes.keeping import once
from bolewalk.desk.routes.parsing import desk_of, sheet_of
from bolewalk.desk.underlays import file_address
from bolewalk.desk.views.walk import recordings_of, walk_view
from bolewalk.desk.walking import WalkError, accepting, discarding, merging, splitting
from bolewalk.store.items import Applied, Conflict, Edit
from bolewalk.walk.draft import DraftTree

__all__ = ["decide", "recording", "walk"]

_CELLS = ("tree", "species", "diameter", "girth", "height", "crown", "decision", "owner", "notes")


async def walk(request: Request) -> Response:
    """Send the page of the walk."""
    sheet = await sheet_of(request)
    return await _shown(request, sheet)


async def _shown(request: Request, sheet: Sheet, say: str = "") -> Response:
    tasks = desk_of(request).tasks.of(sheet.stored.id, ("speech",))
    view = await run_in_threadpool(lambda: walk_view(sheet, glimpse(sheet), tasks=tasks, say=say))
    return page(request, "walk", view, status=422 if say else 200)


async def decide(request: Request) -> Response:
    """Keep what a person made of one found tree."""
    sheet = await sheet_of(request)
    form = await request.form()
    told = {k: str(v) for k, v in form.items()}
    draft, _ = await run_in_threadpool(sheet.reckoning.heard)
    trees = () if draft is None else draft.trees
    tree = next((t for t in trees if t.id == request.path_params["found"]), None)
    if tree is None:
        raise HTTPException(404, "no such tree was found on this walk")
    note = f"{told.get('do', '')}: {tree.species.label} of the walk"

    def act(drawer: Drawer) -> Applied | Conflict:
        return drawer.change(sheet.stored.id, _edits(sheet, tree, told), note=note)

    try:
        done = await once(request, sheet.stored.id, act)
    except WalkError as e:
        return await _shown(request, sheet, str(e))
    if isinstance(done, Conflict):
        raise HTTPException(
            409, f"{done.clashes[0].who} has decided this in the meantime: look at it again."
        )
    ids = [t.id for t in trees]
    after = ids[min(ids.index(tree.id) + 1, len(ids) - 1)]
    return RedirectResponse(f"/surveys/{sheet.stored.id}/walk#{after}", status_code=303)


def _edits(sheet: Sheet, tree: DraftTree, told: dict[str, str]) -> tuple[Edit, ...]:
    do = told.get("do", "")
    if do == "accept":
        return accepting(sheet, tree, {k: told.get(k, "") for k in _CELLS})
    if do == "discard":
        return discarding(sheet, tree)
    if do == "merge":
        return merging(sheet, tree, told.get("into", ""))
    if do == "split":
        n = told.get("parts", "")
        if not n.isdecimal():
            raise WalkError("Split into how many? A whole number.")
        return splitting(sheet, tree, int(n))
    raise HTTPException(400, "do: accept, merge, split or discard")


async def recording(request: Request) -> Response:
    """Lead to the walk's first recording."""
    sheet = await sheet_of(request)
    found = recordings_of(sheet)
    if not found:
        raise HTTPException(404, "the walk has no recording here")
    return RedirectResponse(file_address(sheet.stored.id, found[0][0]), status_code=307)
