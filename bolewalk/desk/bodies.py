"""How much a request may bring: counted as it comes, whatever it says of its length."""

import re

from starlette.datastructures import Headers
from starlette.exceptions import HTTPException
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from bolewalk.desk.apart.limits import limits

__all__ = ["BodyLimit"]

_UPLOADS = re.compile(r"/surveys/(import|\d+/files)")


class BodyLimit:
    """Wrap an application: forms and pieces of files are small, whole uploads as large as told."""

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass a request on, and end it where it brings more than it may."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        upload = _UPLOADS.fullmatch(scope["path"]) is not None
        most = limits().upload_bytes if upload else limits().body_bytes
        says = f"at most {most:,} bytes"
        told = Headers(scope=scope).get("content-length", "")
        if told.isdecimal() and (len(told) > 15 or int(told) > most):
            await PlainTextResponse(says, status_code=413)(scope, receive, send)
            return
        came = 0

        async def counted() -> Message:
            nonlocal came
            message = await receive()
            came += len(message.get("body", b""))
            if came > most:
                raise HTTPException(413, says)
            return message

        await self._app(scope, counted, send)
