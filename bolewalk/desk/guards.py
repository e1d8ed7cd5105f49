"""What every request must pass and every answer carries: own host, own pages, strict policy."""

import ipaddress
from collections.abc import Iterable
from urllib.parse import urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

__all__ = ["POLICY", "Guards", "is_loopback"]

_LOOPBACK = frozenset({"127.0.0.1", "localhost", "::1"})
_READING = frozenset({"GET", "HEAD", "OPTIONS"})

POLICY = "; ".join([
    "default-src 'none'",
    "script-src 'self'",
    "style-src 'self'",
    "img-src 'self' data: blob:",
    "font-src 'self'",
    "connect-src 'self'",
    "media-src 'self'",
    "form-action 'self'",
    "base-uri 'none'",
    "frame-ancestors 'none'",
])  # fmt: skip
"""Content policy of every page: nothing inline, nothing from anywhere else."""

_HEADERS: tuple[tuple[str, str], ...] = (
    ("x-content-type-options", "nosniff"),
    ("x-frame-options", "DENY"),
    # Without any referrer a browser also hides where a form comes from, and it would be refused.
    ("referrer-policy", "same-origin"),
    ("cross-origin-opener-policy", "same-origin"),
    ("cross-origin-resource-policy", "same-origin"),
    ("permissions-policy", "camera=(), microphone=(), geolocation=(), payment=(), usb=()"),
)


_TLS_ONLY = "max-age=31536000"
"""For a year, browsers come by TLS alone."""


def is_loopback(host: str) -> bool:
    """Tell whether an address is this computer and no other."""
    return host.strip("[]").lower() in _LOOPBACK


class Guards:
    """Wrap an application.

    A page of another site must neither read the desk under a name of its own (the Host header)
    nor change anything through the reader's browser (Origin, Sec-Fetch-Site). Names other than
    the loopback ones are listed in `hosts`; with `addresses`, any address is taken as well: a name
    can be made to point here by anyone, an address cannot.
    """

    def __init__(self, app: ASGIApp, *, hosts: Iterable[str] = (), addresses: bool = False) -> None:
        self._app = app
        self._addresses = addresses
        self._hosts = _LOOPBACK | {h.lower() for h in hosts}

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass a request on, or refuse it."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return

        async def guarded(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in _HEADERS:
                    headers.setdefault(name, value)
                headers.setdefault("content-security-policy", POLICY)
                headers.setdefault("cache-control", "no-store")
                if scope["scheme"] == "https":
                    headers.setdefault("strict-transport-security", _TLS_ONLY)
            await send(message)

        refused = self._refusal(scope["method"], Headers(scope=scope))
        if refused is not None:
            await PlainTextResponse(refused, status_code=403)(scope, receive, guarded)
            return
        await self._app(scope, receive, guarded)

    def _refusal(self, method: str, headers: Headers) -> str | None:
        host = _name(headers.get("host", ""))
        if host not in self._hosts and not (self._addresses and _is_address(host)):
            return "The desk answers under its own address only."
        if method in _READING:
            return None
        if headers.get("sec-fetch-site", "same-origin") not in ("same-origin", "none"):
            return "Changes are taken from the desk's own pages only."
        origin = headers.get("origin")
        if origin is not None and _place(origin) != headers["host"].lower():
            return "Changes are taken from the desk's own pages only."
        return None


def _is_address(host: str) -> bool:
    try:
        ipaddress.ip_address(host)
    except ValueError:
        return False
    return True


def _place(origin: str) -> str:
    """Give host and port of an Origin header; "" where it is none."""
    try:
        return urlsplit(origin).netloc.lower()
    except ValueError:
        return ""


def _name(host: str) -> str:
    """Give the name in a Host header, without the port."""
    try:
        return (urlsplit(f"//{host}").hostname or "").lower()
    except ValueError:
        return ""
