"""Scripts, styles and fonts: read once, sent compressed, known by their content."""

import gzip
import hashlib
from dataclasses import dataclass
from functools import lru_cache
from importlib import resources
from importlib.resources.abc import Traversable

from starlette.requests import Request
from starlette.responses import PlainTextResponse, Response

__all__ = ["static_file", "static_url"]

_TYPES = {
    ".css": "text/css; charset=utf-8",
    ".js": "text/javascript; charset=utf-8",
    ".woff2": "font/woff2",
    ".txt": "text/plain; charset=utf-8",
    ".md": "text/plain; charset=utf-8",
    ".svg": "image/svg+xml",
}
_PACKED = frozenset({".css", ".js", ".txt", ".md", ".svg"})


@dataclass(frozen=True, slots=True)
class _File:
    body: bytes
    packed: bytes | None
    media_type: str
    tag: str


@lru_cache(maxsize=1)
def _files() -> dict[str, _File]:
    found: dict[str, _File] = {}

    def walk(folder: Traversable, before: str) -> None:
        for entry in sorted(folder.iterdir(), key=lambda e: e.name):
            if entry.is_dir():
                walk(entry, f"{before}{entry.name}/")
                continue
            ending = entry.name[entry.name.rfind(".") :]
            if ending in _TYPES:
                found[before + entry.name] = _read(entry.read_bytes(), ending)

    walk(resources.files(__package__) / "static", "")
    return found


def _read(body: bytes, ending: str) -> _File:
    # Level 6 packs the map library in 0.1 s; 9 takes three times as long for one percent.
    packed = gzip.compress(body, 6, mtime=0) if ending in _PACKED else None
    return _File(body, packed, _TYPES[ending], hashlib.sha256(body).hexdigest()[:16])


@lru_cache(maxsize=1)
def _edition() -> str:
    """Give a mark that changes when any of the files does: modules import each other by name."""
    whole = "".join(f"{name}{f.tag}" for name, f in _files().items())
    return hashlib.sha256(whole.encode()).hexdigest()[:12]


def static_url(name: str) -> str:
    """Give the address of a packaged file. Raises KeyError where there is none."""
    if name not in _files():
        raise KeyError(f"no static file {name!r}")
    return f"/static/{_edition()}/{name}"


def static_file(request: Request) -> Response:
    """Send a packaged file; one under the present edition may be kept by the browser for good."""
    file = _files().get(request.path_params["name"])
    if file is None:
        return PlainTextResponse("Not here.", status_code=404)
    lasting = request.path_params["edition"] == _edition()
    headers = {
        "etag": f'"{file.tag}"',
        "vary": "Accept-Encoding",
        "cache-control": "public, max-age=31536000, immutable" if lasting else "no-cache",
    }
    if request.headers.get("if-none-match") == headers["etag"]:
        return Response(status_code=304, headers=headers)
    if file.packed is not None and "gzip" in request.headers.get("accept-encoding", ""):
        headers["content-encoding"] = "gzip"
        return Response(file.packed, media_type=file.media_type, headers=headers)
    return Response(file.body, media_type=file.media_type, headers=headers)
