"""A real browser on a running desk."""

import os
import re
import shutil
import signal
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from playwright.sync_api import Browser, Page, expect, sync_playwright

ROOT = Path(__file__).parents[2]
SHOTS = ROOT / "out" / "desk"
"""Screenshots, to be looked at."""

FLAGS = [
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
    "--autoplay-policy=no-user-gesture-required",
]  # fmt: skip


SLOW_MS = 120_000
"""What a page may take on a machine that is busy with other things."""


def chromium() -> str:
    """Where Debian's browser is; ./scripts/test installs it where it is missing."""
    found = shutil.which("chromium")
    assert found, "install Debian's chromium, or run ./scripts/test, which does"
    return found


@contextmanager
def chrome_running() -> Iterator[Browser]:
    """Start the browser."""
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=chromium(), args=FLAGS)
        expect.set_options(timeout=SLOW_MS)
        yield browser
        browser.close()


def new_page(chrome: Browser, *, width: int = 1440) -> Page:
    """Open a page of its own, with cookies of its own."""
    page = chrome.new_context(viewport={"width": width, "height": 900}).new_page()
    page.set_default_timeout(SLOW_MS)
    return page


@contextmanager
def faultless_page(chrome: Browser, *, width: int = 1440, but: str = "") -> Iterator[Page]:
    """Open a page that fails the test on any error of a script or of the content policy.

    `but` is a pattern of errors that are asked for.
    """
    page = new_page(chrome, width=width)
    wrong: list[str] = []
    page.on("pageerror", lambda e: wrong.append(str(e)))
    page.on("console", lambda m: wrong.append(m.text) if m.type == "error" else None)
    yield page
    page.context.close()
    assert [w for w in wrong if not (but and re.search(but, w))] == []


@contextmanager
def serving(data: Path) -> Iterator[str]:
    """Serve a data folder with the command line; give the address it prints."""
    with running("desk", "--data", str(data), "--port", "0") as address:
        yield address


@contextmanager
def running(*arguments: str, module: str = "bolewalk") -> Iterator[str]:
    """Run a command that serves the desk; give the address it prints."""
    process = subprocess.Popen(
        [sys.executable, "-m", module, *arguments],
        stdout=subprocess.PIPE,
        text=True,
        start_new_session=True,
    )
    try:
        assert process.stdout is not None
        for line in process.stdout:
            if match := re.match(r"desk: (http://\S+)", line):
                yield match[1]
                break
        else:
            raise AssertionError("the desk ended without saying where it is")
    finally:
        # One that was killed may have left nobody.
        with suppress(ProcessLookupError):
            os.killpg(process.pid, signal.SIGTERM)
        process.wait(30)
        if process.stdout is not None:
            process.stdout.close()


def shot(page: Page, name: str, *, whole: bool = False) -> None:
    """Keep a screenshot."""
    SHOTS.mkdir(parents=True, exist_ok=True)
    page.screenshot(path=SHOTS / f"{name}.png", full_page=whole)


def open_plan(page: Page, address: str) -> None:
    """Open the plan and wait until it is drawn and every open fact was tried."""
    page.goto(address)
    page.wait_for_selector("#plan[data-ready]", timeout=60_000)
    settled(page)


def settled(page: Page) -> None:
    """Wait until every open fact was tried."""
    page.wait_for_selector("#pending", state="hidden", timeout=120_000)


def at(page: Page, east: float, north: float) -> tuple[float, float]:
    """Give where a point of the site stands on the screen."""
    x, y = page.evaluate(
        """([east, north]) => {
          const host = document.querySelector("#plan");
          const [x, y] = host.map.getPixelFromCoordinate([east, north]);
          const box = host.getBoundingClientRect();
          return [x + box.left, y + box.top];
        }""",
        [east, north],
    )
    return float(x), float(y)


def verdict(page: Page, tree: str) -> str:
    """Give the word beside a tree in the list."""
    return page.inner_text(f'#verdicts tr[data-tree="{tree}"] .word')


def tab_to(page: Page, selector: str) -> None:
    """Go forward with the tab key until something matching has the focus."""
    for _ in range(900):
        page.keyboard.press("Tab")
        if page.evaluate("s => document.activeElement?.matches(s) ?? false", selector):
            return
    raise AssertionError(f"no way to {selector} by the tab key")
