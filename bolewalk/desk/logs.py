"""Logs of a desk: times, routes and lines of code, and nothing anybody typed.

A log is read by people who have no business with a client's affairs, and is kept where the store
is not. So requests are named by their route and not by their address, and errors by their kind and
place in the code and not by their words, which may quote what was entered.
"""

import logging
import sys
import threading
import time
import traceback
from types import TracebackType
from typing import Any

from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

__all__ = ["ACCESS", "ERRORS", "Logged", "Wordless", "log_config", "wordless_threads"]

ACCESS = "bolewalk.desk.access"
ERRORS = "bolewalk.desk.errors"

# Whoever asks may call a method anything.
_METHODS = frozenset({"GET", "HEAD", "OPTIONS", "POST", "PUT", "PATCH", "DELETE"})


class Wordless(logging.Formatter):
    """Writes a record without the words of any exception in it."""

    def formatException(  # noqa: N802
        self,
        ei: tuple[type[BaseException], BaseException, TracebackType | None]
        | tuple[None, None, None],
    ) -> str:
        """Give kinds and places of an exception and of what it came from."""
        lines = []
        e = ei[1]
        while e is not None:
            lines.append(type(e).__qualname__)
            lines += [
                f"  {f.filename}:{f.lineno} {f.name}" for f in traceback.extract_tb(e.__traceback__)
            ]
            e = e.__cause__ or e.__context__
        return "\n".join(lines)

    def format(self, record: logging.LogRecord) -> str:
        """Give the line of a record. Those of others may quote a request: only their kind stays."""
        if not record.name.startswith("bolewalk."):
            record = logging.makeLogRecord({**record.__dict__, "msg": _plain(record), "args": None})
        return super().format(record)


def _plain(record: logging.LogRecord) -> str:
    # The text of the call without what was put into it; one without places for anything may be
    # ready-made and hold whatever it likes, so only where it was written is told.
    if isinstance(record.msg, str) and record.args:
        return record.msg
    return f"{record.module}:{record.lineno}"


def wordless_threads() -> None:
    """Let errors that end a thread be told in the same way."""

    def told(args: threading.ExceptHookArgs) -> None:
        if args.exc_value is not None and not isinstance(args.exc_value, SystemExit):
            kind = (args.exc_type, args.exc_value, args.exc_traceback)
            logging.getLogger(ERRORS).error("in a thread of the desk", exc_info=kind)

    threading.excepthook = told


def log_config(*, access: bool) -> dict[str, Any]:
    """Give the settings of logging for a desk that runs: everything to stderr, wordless."""
    return {
        "version": 1,
        "disable_existing_loggers": False,
        "formatters": {
            "wordless": {
                "()": Wordless,
                "format": "%(asctime)s %(levelname)s %(name)s %(message)s",
            }
        },
        "handlers": {
            "stderr": {
                "class": "logging.StreamHandler",
                "formatter": "wordless",
                "stream": "ext://sys.stderr",
            }
        },
        "root": {"handlers": ["stderr"], "level": "WARNING"},
        "loggers": {
            ACCESS: {"level": "INFO" if access else "WARNING"},
            ERRORS: {"level": "ERROR"},
            "uvicorn": {"handlers": [], "level": "WARNING", "propagate": True},
        },
    }


class Logged:
    """Wraps a desk: a line a request but for scripts and styles, an answer to every error."""

    def __init__(self, app: ASGIApp) -> None:
        self._app = app
        self._access = logging.getLogger(ACCESS)
        self._errors = logging.getLogger(ERRORS)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass a request on, and write down how it went."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        start = time.perf_counter()
        status = 0

        async def watched(message: Message) -> None:
            nonlocal status
            if message["type"] == "http.response.start":
                status = message["status"]
            await send(message)

        try:
            await self._app(scope, receive, watched)
        except Exception:
            kind = sys.exc_info()
            self._errors.error("%s %s", _method(scope), _route(scope), exc_info=kind)
            if not status:
                say = "The desk could not do that. Nothing was changed; the error is in its log."
                await PlainTextResponse(say, status_code=500)(scope, receive, watched)
        if _route(scope).startswith("/static/"):
            return
        person = scope.get("person")
        account = getattr(person, "account", None)
        self._access.info(
            "%s %s %d %.0f ms account %s",
            _method(scope), _route(scope), status,
            1000 * (time.perf_counter() - start), "-" if account is None else account.id,
        )  # fmt: skip


def _method(scope: Scope) -> str:
    method = str(scope["method"])
    return method if method in _METHODS else "another method"


def _route(scope: Scope) -> str:
    return str(scope.get("route_path", "no such route"))
