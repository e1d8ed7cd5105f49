"""Recordings taken down at the desk: asked for, stopped."""

from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from bolewalk.desk.routes.parsing import back_of, desk_of, send_of, sheet_of
from bolewalk.desk.speech import Wanting, untaken, wanting
from bolewalk.reference.plants import REGIONS
from bolewalk.walk.recogniser import MODEL_VARIABLE

__all__ = ["stop", "take_down"]


async def take_down(request: Request) -> Response:
    """Ask for a recording to be taken down; one that has a transcript is left as it is."""
    sheet = await sheet_of(request)
    form = await request.form()
    desk, send = desk_of(request), await send_of(request)
    back = RedirectResponse(back_of(form, f"/surveys/{sheet.stored.id}/walk"), status_code=303)
    asked = desk.tasks.of(sheet.stored.id, ("speech",))
    if send and any((t.send, t.who) == (send, desk.drawer.who) for t in asked):
        # Sent again: by now the recording may have its transcript.
        return back
    name, region = str(form.get("name", "")), str(form.get("region", ""))
    item = sheet.stored.get("file", name)
    if item is None or item.body is None:
        raise HTTPException(404, f"the survey has no recording {name}")
    if name not in untaken(sheet.stored, sheet.job.parts):
        raise HTTPException(
            409, f"{name} is no recording without a transcript: take the transcript out first, on "
            "the sheet of files, to have it taken down anew."
        )  # fmt: skip
    if region not in ("", *REGIONS):
        raise HTTPException(422, f"region: one of {', '.join(REGIONS)}, or none")
    lacking = await run_in_threadpool(wanting)
    if lacking is not None:
        raise HTTPException(409, _missing(lacking))
    sha256 = str(item.body["sha256"])
    await run_in_threadpool(
        lambda: desk.tasks.ask(
            "speech", sheet.stored.id, "", 0, who=desk.drawer.who, when=desk.drawer.clock(),
            title=name, arrival=sha256, region=region, send=send,
        )
    )  # fmt: skip
    return back


def _missing(lacking: Wanting) -> str:
    told = []
    if lacking.extras:
        told.append(f"It needs pip install 'bolewalk[{','.join(lacking.extras)}]'.")
    if lacking.model:
        told.append(f"{MODEL_VARIABLE} must name the folder of a speech model. {lacking.model}")
    return " ".join(told)


async def stop(request: Request) -> Response:
    """Stop taking down a recording; what was heard is kept for the next time."""
    sheet = await sheet_of(request)
    form = await request.form()
    tasks = desk_of(request).tasks
    found = tasks.get(request.path_params["task"])
    if found is None or found.survey != sheet.stored.id or found.kind != "speech":
        raise HTTPException(404, "there is no such work")
    await run_in_threadpool(tasks.cancel, found.id)
    return RedirectResponse(back_of(form, f"/surveys/{sheet.stored.id}/walk"), status_code=303)
