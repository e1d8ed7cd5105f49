"""The description of the desk's own interface."""

from functools import lru_cache
from importlib import resources

from starlette.requests import Request
from starlette.responses import Response

__all__ = ["openapi"]


@lru_cache(maxsize=1)
def _document() -> bytes:
    return (resources.files("bolewalk.desk") / "openapi.json").read_bytes()


async def openapi(_: Request) -> Response:
    """Send it."""
    return Response(_document(), media_type="application/json")
