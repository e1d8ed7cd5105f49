"""The names in the papers: property, client, arborist and firm, filled in at the desk."""

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from bolewalk.desk.desk import glimpse
from bolewalk.desk.drawer import Drawer
from bolewalk.desk.pages import page
from bolewalk.desk.routes.keeping import once
from bolewalk.desk.routes.parsing import sheet_of
from bolewalk.desk.views.names import names_edits, names_view
from bolewalk.store.edits import set_head
from bolewalk.store.errors import StoreError
from bolewalk.store.items import Applied, Conflict

__all__ = ["keep_names", "names"]


async def names(request: Request) -> Response:
    """Send the form."""
    sheet = await sheet_of(request)
    return page(request, "names", names_view(sheet, glimpse(sheet)))


async def keep_names(request: Request) -> Response:
    """Keep what was filled in; the form again where something of it cannot be."""
    sheet = await sheet_of(request)
    form = await request.form()
    sent = {k: str(v) for k, v in form.items()}
    values, says = names_edits(sheet, sent)
    if says:
        view = names_view(sheet, glimpse(sheet), sent=sent, says=says)
        return page(request, "names", view, status=422)

    def act(drawer: Drawer) -> Applied | Conflict:
        edit = set_head(sheet.stored, *values)
        return drawer.change(sheet.stored.id, (edit,), note="changed names and dates")

    try:
        done = await once(request, sheet.stored.id, act) if values else None
    except StoreError as e:
        raise HTTPException(422, str(e)) from None
    if isinstance(done, Conflict):
        raise HTTPException(
            409, f"{done.clashes[0].who} has changed survey.toml in the meantime: try again."
        )
    return RedirectResponse(f"/surveys/{sheet.stored.id}/papers", status_code=303)
