"""What a client sees through a link: the papers of one issue, and nothing else of the store."""

import re
from pathlib import Path

from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import FileResponse, Response

from bolewalk.desk.pages import page
from bolewalk.desk.routes.papers import PAPER_TYPES
from bolewalk.desk.routes.parsing import desk_of
from bolewalk.desk.views.links import client_view
from bolewalk.desk.views.plain import Plain
from bolewalk.intake.recording import PLAYABLE
from bolewalk.store.links import Opened, note_opening, open_link

__all__ = ["client", "client_paper"]

_READ = (".html", ".pdf")
_HASHED_SCRIPT = re.compile(rb"script-src ('sha256-[A-Za-z0-9+/]{43}=')")
_PRIVATE = {
    # The address is the key: it must not travel with a click, nor be found by searching.
    "referrer-policy": "no-referrer",
    "x-robots-tag": "noindex, nofollow",
}
_SAID = {
    "withdrawn": "This link was withdrawn. Ask whoever sent it to you for a new one.",
    "expired": "This link has ended. Ask whoever sent it to you for a new one.",
}


_TYPES = {
    **PAPER_TYPES,
    **{ending[1:]: kind for ending, kind in PLAYABLE.items()},
    "jpg": "image/jpeg",
    "png": "image/png",
}


async def client(request: Request) -> Response:
    """Send the list of papers a link opens."""
    opened = await _opened(request)
    if isinstance(opened, Response):
        return opened
    drawer = desk_of(request).drawer
    stored = await run_in_threadpool(drawer.store.load, opened.issue.survey_id)
    await _note(request, opened, "")
    view = client_view(stored.name, opened.issue, opened.link)
    return page(request, "client", view, headers=_PRIVATE)


async def client_paper(request: Request) -> Response:
    """Send one paper of a link, or a clip the client's page plays."""
    opened = await _opened(request)
    if isinstance(opened, Response):
        return opened
    name = request.path_params["name"]
    if name not in opened.link.papers or name not in opened.issue.papers:
        raise HTTPException(404, "There is no such paper.")
    path = desk_of(request).drawer.store.files.path(opened.issue.papers[name].sha256)
    if not path.is_file():
        raise HTTPException(404, "There is no such paper.")
    if name.endswith(_READ):
        await _note(request, opened, name)
    ending = name.rsplit(".", 1)[-1].lower()
    headers = {**_PRIVATE, "content-security-policy": "default-src 'none'; sandbox"}
    if ending == "html":
        headers["content-security-policy"] = await run_in_threadpool(_page_policy, path)
    elif ending == "pdf":
        headers["content-security-policy"] = "frame-ancestors 'none'"
    else:
        # The page plays it from a sandbox, which is no origin at all.
        headers["cross-origin-resource-policy"] = "cross-origin"
    return FileResponse(
        path, media_type=_TYPES.get(ending, "application/octet-stream"), headers=headers
    )


def _page_policy(path: Path) -> str:
    """Give the policy of a client's page: its own player runs, and nothing else."""
    # The page names its script by hash before any text from outside; the seal keeps it so.
    found = _HASHED_SCRIPT.search(path.read_bytes())
    script = found[1].decode() if found else "'none'"
    return (
        f"sandbox allow-scripts; default-src 'none'; script-src {script}; "
        "style-src 'unsafe-inline'; img-src 'self' data:; media-src 'self'; base-uri 'none'; "
        "form-action 'none'; frame-ancestors 'none'"
    )


async def _opened(request: Request) -> Opened | Response:
    """Give what a link opens; 404 where it is none, the answer where it opens no more."""
    drawer, token = desk_of(request).drawer, request.path_params["token"]
    opened = await run_in_threadpool(lambda: open_link(drawer.store, token, when=drawer.clock()))
    if opened is None:
        raise HTTPException(404, "There is no page at this address.")
    if opened.state != "open":
        view = Plain("Not open any more", (_SAID[opened.state],), home=False)
        return page(request, "plain", view, status=410, headers=_PRIVATE)
    return opened


async def _note(request: Request, opened: Opened, paper: str) -> None:
    if request.method == "HEAD":
        return
    drawer = desk_of(request).drawer
    await run_in_threadpool(
        lambda: note_opening(drawer.store, opened.link.id, paper, when=drawer.clock())
    )
