"""The desk as an application: its routes and what wraps them."""

from collections.abc import Callable, Iterable
from datetime import datetime
from pathlib import Path

from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.middleware import Middleware
from starlette.middleware.gzip import GZipMiddleware
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from bolewalk.desk.accounts.access import Access, Door
from bolewalk.desk.bodies import BodyLimit
from bolewalk.desk.desk import Desk
from bolewalk.desk.drawer import Drawer, now
from bolewalk.desk.guards import Guards
from bolewalk.desk.pages import page
from bolewalk.desk.routes import (
    accounts,
    answers,
    arrivals,
    client,
    copies,
    files,
    links,
    names,
    openapi,
    papers,
    price,
    sign_in,
    site,
    speech,
    surveys,
    trees,
    walk,
)
from bolewalk.desk.spare_time import Answered
from bolewalk.desk.static_files import static_file
from bolewalk.desk.tasks import Tasks
from bolewalk.desk.views.plain import Plain
from bolewalk.store.store import Store

__all__ = ["ROUTES", "create_app"]

_S = "/surveys/{survey:int}"
_A = "/api/surveys/{survey:int}"

ROUTES: tuple[Route, ...] = (
    Route("/static/{edition}/{name:path}", static_file, methods=["GET"]),
    Route("/", surveys.surveys, methods=["GET"]),
    Route("/openapi.json", openapi.openapi, methods=["GET"]),
    Route("/type", surveys.set_type, methods=["POST"]),
    Route("/sign-in", sign_in.sign_in_page, methods=["GET"]),
    Route("/sign-in", sign_in.enter, methods=["POST"]),
    Route("/account", sign_in.account, methods=["GET"]),
    Route("/account/password", sign_in.change_password, methods=["POST"]),
    Route("/account/sign-out", sign_in.sign_out, methods=["POST"]),
    Route("/account/sign-out-everywhere", sign_in.sign_out_everywhere, methods=["POST"]),
    Route("/accounts", accounts.accounts, methods=["GET"]),
    Route("/accounts", accounts.add, methods=["POST"]),
    Route("/accounts/{account:int}/role", accounts.role, methods=["POST"]),
    Route("/accounts/{account:int}/password", accounts.password, methods=["POST"]),
    Route("/accounts/{account:int}/disable", accounts.disable, methods=["POST"]),
    Route("/accounts/{account:int}/enable", accounts.enable, methods=["POST"]),
    Route("/accounts/{account:int}/sign-out", accounts.sign_out_of, methods=["POST"]),
    Route("/client/{token}", client.client, methods=["GET"]),
    Route("/client/{token}/{name:path}", client.client_paper, methods=["GET"]),
    Route(f"{_S}/links", links.links, methods=["GET"]),
    Route(f"{_S}/links", links.make, methods=["POST"]),
    Route(f"{_S}/links/{{link:int}}/withdraw", links.withdraw, methods=["POST"]),
    Route("/surveys", surveys.begin, methods=["POST"]),
    Route("/surveys/import", surveys.bring_in, methods=["POST"]),
    Route(_S, surveys.survey, methods=["GET"]),
    Route(f"{_S}/trees", trees.trees, methods=["GET"]),
    Route(f"{_S}/trees/rows", trees.add_row, methods=["POST"]),
    Route(f"{_S}/trees/rows/{{key}}", trees.row, methods=["GET"]),
    Route(f"{_S}/trees/rows/{{key}}", trees.change_row, methods=["POST"]),
    Route(f"{_S}/trees/rows/{{key}}/remove", trees.remove_row, methods=["POST"]),
    Route(f"{_S}/trees/{{tree}}", trees.tree, methods=["GET"]),
    Route(f"{_S}/walk", walk.walk, methods=["GET"]),
    Route(f"{_S}/walk/recording", walk.recording, methods=["GET"]),
    Route(f"{_S}/walk/{{found}}", walk.decide, methods=["POST"]),
    Route(f"{_S}/files", arrivals.files, methods=["GET"]),
    Route(f"{_S}/files", arrivals.bring, methods=["POST"]),
    Route(f"{_S}/files/take", arrivals.take, methods=["POST"]),
    Route(f"{_S}/files/layers", arrivals.name_layers, methods=["POST"]),
    Route(f"{_S}/files/stop", arrivals.stop, methods=["POST"]),
    Route(f"{_S}/files/{{name:path}}", files.kept_file, methods=["GET"]),
    Route(f"{_S}/stills", files.cut_stills, methods=["POST"]),
    Route(f"{_S}/stills/{{name}}", files.still, methods=["GET"]),
    Route(f"{_S}/names", names.names, methods=["GET"]),
    Route(f"{_S}/names", names.keep_names, methods=["POST"]),
    Route(f"{_S}/speech", speech.take_down, methods=["POST"]),
    Route(f"{_S}/speech/{{task}}/stop", speech.stop, methods=["POST"]),
    Route(f"{_S}/price", price.price, methods=["GET"]),
    Route(f"{_S}/planting", price.planting, methods=["GET"]),
    Route(f"{_S}/papers", papers.papers, methods=["GET"]),
    Route(f"{_S}/papers/make", papers.make, methods=["POST"]),
    Route(f"{_S}/papers/{{made}}/{{revision:int}}/{{name:path}}", papers.paper, methods=["GET"]),
    Route(f"{_S}/issues", papers.issue, methods=["POST"]),
    Route(f"{_S}/issues/{{issue:int}}.zip", papers.issued_zip, methods=["GET"]),
    Route(f"{_S}/issues/{{issue:int}}/compare", papers.compare, methods=["GET"]),
    Route(f"{_S}/issues/{{issue:int}}/withdraw", papers.withdraw_issue, methods=["POST"]),
    Route(f"{_S}/issues/{{issue:int}}/{{name:path}}", papers.issued, methods=["GET"]),
    Route(f"{_S}/tasks/{{task}}", papers.task, methods=["GET"]),
    Route(f"{_S}/tasks/{{task}}/cancel", papers.cancel, methods=["POST"]),
    Route(f"{_A}/tasks/{{task}}", papers.task_state, methods=["GET"]),
    Route(f"{_S}/undo", site.undo_page, methods=["POST"]),
    Route(f"{_S}/site", site.site, methods=["GET"]),
    Route(f"{_S}/copies", copies.copies, methods=["GET"]),
    Route(f"{_S}/copies", copies.change_copies, methods=["POST"]),
    Route(f"{_S}/questions", answers.answer_form, methods=["POST"]),
    Route(f"{_A}/questions", answers.answer, methods=["POST"]),
    Route(f"{_S}/site/questions", answers.questions, methods=["GET"]),
    Route("/api/surveys", surveys.survey_list, methods=["GET"]),
    Route(f"{_A}/plan", site.plan, methods=["GET"]),
    Route(f"{_A}/arrivals", arrivals.arrivals, methods=["GET"]),
    Route(f"{_A}/arrivals", arrivals.begin, methods=["POST"]),
    Route(f"{_A}/arrivals/{{arrival}}", arrivals.add_piece, methods=["PUT"]),
    Route(f"{_A}/arrivals/{{arrival}}", arrivals.give_up, methods=["DELETE"]),
    Route(f"{_A}/underlay", files.underlays, methods=["GET"]),
    Route(f"{_A}/underlay", files.place_underlay, methods=["POST"]),
    Route(f"{_A}/settle", site.settle, methods=["POST"]),
    Route(f"{_A}/drag", site.drag, methods=["POST"]),
    Route(f"{_A}/works", site.add_work, methods=["POST"]),
    Route(f"{_A}/works/{{work:path}}", site.change_work, methods=["PUT"]),
    Route(f"{_A}/works/{{work:path}}", site.remove_work, methods=["DELETE"]),
    Route(f"{_A}/trees/{{tree}}/place", site.change_tree, methods=["PUT"]),
    Route(f"{_A}/copies", copies.make_copy, methods=["POST"]),
    Route(f"{_A}/copies/{{copy}}/adopt", copies.adopt_copy, methods=["POST"]),
    Route(f"{_A}/copies/{{copy}}", copies.drop_copy, methods=["DELETE"]),
    Route(f"{_A}/undo", site.undo, methods=["POST"]),
    Route(f"{_A}/redo", site.redo, methods=["POST"]),
)
"""Every route of the desk."""


def create_app(
    store: Store,
    data: Path,
    *,
    who: str = "desk",
    hosts: Iterable[str] = (),
    addresses: bool = False,
    where: str | Path | None = None,
    login: bool = False,
    clock: Callable[[], datetime] = now,
) -> Starlette:
    """Make the desk on a store.

    Parameters
    ----------
    store : Store
        Open; the caller closes it.
    data : Path
        Its folder; papers that are made, and the queue of those to make, are kept in it too.
    who : str
        The person at the desk, for the history.
    hosts : iterable of str
        Names it answers under besides the loopback ones.
    addresses : bool
        It answers under any address too, as one does that is reached from other computers.
    where : str or Path, optional
        Where else than in `data` the store is opened: the URL of its database.
    login : bool
        Whether whoever comes has to sign in.
    clock : callable
        The time, with its zone.
    """
    app = Starlette(
        routes=[Door(route) for route in ROUTES],
        middleware=[
            Middleware(Answered),
            Middleware(Guards, hosts=tuple(hosts), addresses=addresses),
            Middleware(BodyLimit),
            Middleware(GZipMiddleware, minimum_size=800, compresslevel=5),
        ],
        exception_handlers={HTTPException: _refused},
    )
    store.files.clear_leftovers()
    app.state.desk = Desk(
        Drawer(store, who=who, clock=clock),
        Tasks(where or data, data / "desk", media=store.files.root),
    )
    app.state.access = Access(store, login=login, who=who, clock=clock)
    return app


async def _refused(request: Request, e: Exception) -> Response:
    if not isinstance(e, HTTPException):
        raise e
    if request.url.path.startswith("/api/"):
        return JSONResponse({"say": e.detail}, status_code=e.status_code)
    title = "Not here" if e.status_code == 404 else "That did not work"
    said = "There is no page at this address." if e.detail == "Not Found" else e.detail
    return page(request, "plain", Plain(title, (said,)), status=e.status_code)
