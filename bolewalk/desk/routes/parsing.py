"""Reading requests: which survey, which plan, what was sent; and what to say when it is wrong."""

import json
import re
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request

from bolewalk.desk.accounts.access import person_of
from bolewalk.desk.desk import Desk
from bolewalk.desk.drawer import Sheet
from bolewalk.intake.folder import SurveyUnreadableError
from bolewalk.store.errors import StoreError

__all__ = [
    "SEND_HEADER", "back_of", "body_of", "desk_of", "integer", "own_place", "send_of", "sheet_of",
    "text",
]  # fmt: skip

SEND_HEADER = "x-send"
SEND_FIELD = "send"
_SEND = re.compile(r"[\w-]{1,64}", re.ASCII)

_BODY_LIMIT = 2_000_000
"""Bytes of JSON: a plan of works drawn by hand, many times over."""


def desk_of(request: Request) -> Desk:
    """Give the desk a request came to, as whoever sent it may use it."""
    desk: Desk = request.app.state.desk
    person = person_of(request)
    if person is None or person.account is None:
        return desk
    return replace(desk, drawer=desk.drawer.held_by(person.name, person.account.firm))


async def sheet_of(request: Request) -> Sheet:
    """Give the survey a request names, as it stands.

    Raises
    ------
    HTTPException
        404 where there is no such survey or what-if copy, 409 where its survey.toml cannot be
        read.
    """
    desk = desk_of(request)
    survey_id = request.path_params["survey"]
    variant = request.query_params.get("plan", "")
    try:
        return await run_in_threadpool(desk.drawer.sheet, survey_id, variant)
    except StoreError as e:
        raise HTTPException(404, str(e)) from None
    except KeyError:
        raise HTTPException(404, f"there is no what-if copy {variant!r}") from None
    except SurveyUnreadableError as e:
        raise HTTPException(409, str(e)) from None


async def send_of(request: Request) -> str:
    """Give the id of a sending, "" where it has none: a header, or a field of a form.

    A browser that does not know whether a change arrived sends it again under the same id.

    Raises
    ------
    HTTPException
        400 where it is no id.
    """
    send = request.headers.get(SEND_HEADER, "")
    kind = request.headers.get("content-type", "").partition(";")[0].strip().lower()
    if not send and kind in ("application/x-www-form-urlencoded", "multipart/form-data"):
        send = str((await request.form()).get(SEND_FIELD, ""))
    if send and not _SEND.fullmatch(send):
        raise HTTPException(400, f"{SEND_FIELD}: at most 64 letters, digits and hyphens")
    return send


async def body_of(request: Request) -> dict[str, Any]:
    """Give the JSON object a request sent. HTTPException 400 or 413 where it sent none."""
    if not request.headers.get("content-type", "").startswith("application/json"):
        raise HTTPException(415, "send application/json")
    raw = b""
    async for chunk in request.stream():
        raw += chunk
        if len(raw) > _BODY_LIMIT:
            raise HTTPException(413, f"at most {_BODY_LIMIT:,} bytes")
    try:
        body = json.loads(raw)
    except (ValueError, RecursionError):
        raise HTTPException(400, "the body is no JSON") from None
    if not isinstance(body, dict):
        raise HTTPException(400, "send a JSON object")
    return body


def own_place(wanted: str, *, default: str = "/") -> str:
    """Give the page of the desk that is asked for, `default` where it is no place on the desk: an
    address of another host would carry the reader off."""
    if not wanted.startswith("/") or wanted.startswith("//") or "\\" in wanted:
        return default
    return wanted if wanted.isprintable() else default


def back_of(form: Mapping[str, Any], default: str) -> str:
    """Give the page of the desk a form says to go back to, as `own_place`."""
    return own_place(str(form.get("back", "")), default=default)


def text(body: dict[str, Any], name: str, default: str | None = None) -> str:
    """Give a text of a body; HTTPException 400 where it is missing or no text."""
    value = body.get(name, default)
    if not isinstance(value, str):
        raise HTTPException(400, f"{name}: a text")
    return value


def integer(body: dict[str, Any], name: str) -> int:
    """Give a whole number of a body; HTTPException 400 where it is missing or none."""
    value = body.get(name)
    if isinstance(value, bool) or not isinstance(value, int):
        raise HTTPException(400, f"{name}: a whole number")
    return value
