"""Wait for what a desk does in the background."""

import time
from collections.abc import Callable

from starlette.testclient import TestClient

# A process of its own reads the libraries anew; a busy machine takes its time over that.
PATIENCE_S = 120.0


def until(true: Callable[[], bool], seconds: float = PATIENCE_S) -> None:
    """Wait until something holds."""
    end = time.monotonic() + seconds
    while not true():
        assert time.monotonic() < end, "waited too long"
        time.sleep(0.1)


def filled(desk: TestClient, address: str) -> str:
    """The page once it has filled itself in, as its own script asks for it."""
    text = ""

    def whole() -> bool:
        nonlocal text
        text = desk.get(address).text
        return "is being worked out" not in text

    until(whole)
    return text
