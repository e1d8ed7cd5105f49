"""Tokens of forms: proof that a change was begun on a page of this desk, by this browser.

The token stands in a hidden field that comes first in every form, and in a meta tag for scripts,
which send it as a header. It is reckoned from the browser's cookie, so nothing of it is kept.
"""

import hashlib
import hmac
import re
import secrets

from starlette.datastructures import Headers
from starlette.exceptions import HTTPException
from starlette.types import Message, Receive, Scope

__all__ = ["FIELD", "HEADER", "is_token", "new_token", "sent_token", "with_fields"]

FIELD = "form_token"
HEADER = "x-form-token"

_FORM_LIMIT = 2_000_000
"""Bytes of a form without files, read whole to find the token."""

_HEAD_LIMIT = 65_536
"""Bytes of a form with files within which its first field must end."""

_POST_FORM = re.compile(r"<form\b[^>]*\bmethod=\"post\"[^>]*>", re.IGNORECASE)
_AMONG_FIELDS = re.compile(rb"(?:^|&)" + FIELD.encode() + rb"=([0-9a-f]+)(?:&|$)")
_FIRST_FIELD = re.compile(
    rb'content-disposition: *form-data; *name="' + FIELD.encode() + rb'" *', re.IGNORECASE
)


def new_token(cookie: str) -> str:
    """Give a token for the browser that holds a cookie.

    Each is different and any of them is good: a page that is packed before it is sent must not
    hold the same secret twice, or its length would tell of it.
    """
    proof = _proof(cookie)
    mask = secrets.token_bytes(len(proof))
    return (mask + _over(mask, proof)).hex()


def is_token(token: str, cookie: str) -> bool:
    """Tell whether a token is one for the browser that holds a cookie."""
    if not cookie:
        return False
    try:
        raw = bytes.fromhex(token)
    except ValueError:
        return False
    proof = _proof(cookie)
    half = len(proof)
    return len(raw) == 2 * half and hmac.compare_digest(_over(raw[:half], raw[half:]), proof)


def _proof(cookie: str) -> bytes:
    return hmac.digest(cookie.encode("utf-8", "surrogatepass"), b"form of the desk", hashlib.sha256)


def _over(mask: bytes, text: bytes) -> bytes:
    return bytes(a ^ b for a, b in zip(mask, text, strict=True))


def with_fields(page: str, token: str) -> str:
    """Put a token into every form of a page that changes something, as its first field.

    Text from outside is escaped when a page is printed, so what looks like a form is one.
    """
    field = f'<input type="hidden" name="{FIELD}" value="{token}">'
    return _POST_FORM.sub(lambda form: form[0] + field, page)


async def sent_token(scope: Scope, receive: Receive) -> tuple[str, Receive]:
    """Give the token a request carries, "" where it has none, and what is left to receive.

    Of a form with files only the first field is looked at: the files are not read before it is
    known that they may come.

    Raises
    ------
    HTTPException
        413 where a form without files is too long.
    """
    headers = Headers(scope=scope)
    if HEADER in headers:
        return headers[HEADER], receive
    kind, _, rest = headers.get("content-type", "").partition(";")
    kind = kind.strip().lower()
    if kind == "application/x-www-form-urlencoded":
        body, receive = await _read(receive, _FORM_LIMIT + 1)
        if len(body) > _FORM_LIMIT:
            raise HTTPException(413, f"at most {_FORM_LIMIT:,} bytes")
        found = _AMONG_FIELDS.search(body)
        return found[1].decode() if found else "", receive
    boundary = re.search(r"boundary=\"?([^\";,]+)\"?", rest)
    if kind == "multipart/form-data" and boundary is not None:
        mark = b"--" + boundary[1].encode("latin-1", "replace")
        body, receive = await _read(receive, _HEAD_LIMIT, until=b"\r\n" + mark)
        return _first_field(body, mark), receive
    return "", receive


def _first_field(body: bytes, mark: bytes) -> str:
    head, _, rest = body.removeprefix(mark + b"\r\n").partition(b"\r\n\r\n")
    if not body.startswith(mark) or not _FIRST_FIELD.fullmatch(head):
        return ""
    value, ended, _ = rest.partition(b"\r\n" + mark)
    return value.decode("ascii", "replace") if ended else ""


async def _read(receive: Receive, limit: int, *, until: bytes = b"") -> tuple[bytes, Receive]:
    """Read a body to its end, a limit or some bytes in it; give it and how to receive it all."""
    held: list[Message] = []
    body = b""
    while len(body) < limit and not (until and until in body):
        message = await receive()
        held.append(message)
        if message["type"] != "http.request":
            break
        body += message.get("body", b"")
        if not message.get("more_body", False):
            break

    async def again() -> Message:
        return held.pop(0) if held else await receive()

    return body, again
