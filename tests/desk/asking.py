"""Ask a desk for pages that fill themselves in."""

import time

from starlette.testclient import TestClient


def filled(desk: TestClient, address: str) -> str:
    """The page once it has filled itself in, as its own script asks for it."""
    end = time.monotonic() + 120
    while "is being worked out" in (text := desk.get(address).text):
        assert time.monotonic() < end, "never filled in"
        time.sleep(0.1)
    return text
