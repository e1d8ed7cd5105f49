"""A picture of a plan in a real browser: dropped, placed by two points, seen at the right scale.

What is seen is measured on the screen: two marks of the picture are looked for among the pixels of
a screenshot, and the map says where on the site those pixels lie.
"""

import base64
import io
import math
from collections.abc import Iterator
from datetime import date
from pathlib import Path

import numpy as np
import pytest
from PIL import Image, ImageDraw
from playwright.sync_api import Page, expect

from bolewalk.store.store import Store

from .browser import serving, shot, tab_to
from .conftest import WHEN

WIDTH, HEIGHT = 400, 200
FIRST, SECOND = (50, 150), (350, 150)
"""Middles of the two marks, in pixels of the picture: 300 apart."""
APART_FT = 120.0


@pytest.fixture
def site(tmp_path: Path) -> Iterator[str]:
    """A survey without anything in it."""
    with Store.open(tmp_path / "data") as store:
        number = store.create_survey(
            "Sedge Lane", visited=date(2026, 5, 1), units="imperial", who="Tobin", when=WHEN
        )
    with serving(tmp_path / "data") as address:
        yield f"{address}/surveys/{number}"


def picture() -> bytes:
    """A plan on white: a frame, a magenta mark at the first point, a cyan one at the second."""
    made = Image.new("RGB", (WIDTH, HEIGHT), "white")
    draw = ImageDraw.Draw(made)
    draw.rectangle((0, 0, WIDTH - 1, HEIGHT - 1), outline="black", width=2)
    for (x, y), colour in ((FIRST, "magenta"), (SECOND, "cyan")):
        draw.rectangle((x - 10, y - 10, x + 9, y + 9), fill=colour)
    out = io.BytesIO()
    made.save(out, "PNG")
    return out.getvalue()


def bring(page: Page, site: str) -> None:
    """Drop the picture on the Files sheet and go to the plan."""
    page.goto(f"{site}/files", wait_until="networkidle")
    carried = page.evaluate_handle(
        """bytes => {
          const carried = new DataTransfer();
          const raw = Uint8Array.from(atob(bytes), c => c.charCodeAt(0));
          carried.items.add(new File([raw], "old plan.png"));
          return carried;
        }""",
        base64.b64encode(picture()).decode(),
    )
    page.dispatch_event("main", "drop", {"dataTransfer": carried})
    expect(page.get_by_text("Place it on the site plan by two points.").first).to_be_visible()
    page.goto(f"{site}/site")
    page.wait_for_selector("#plan[data-ready]")
    expect(page.locator("#underlay")).to_be_visible()


def seen(page: Page) -> list[tuple[float, float]]:
    """Where on the screen the middles of the two marks are seen, from the plan's corner."""
    raw = page.locator("#plan").screenshot()
    red, green, blue = np.asarray(Image.open(io.BytesIO(raw)).convert("RGB")).astype(int).T
    found = []
    for mask in (
        (green < 170) & (red > 220) & (blue > 220),
        (red < 170) & (green > 220) & (blue > 220),
    ):
        across, down = np.nonzero(mask)
        assert across.size > 20, "the mark is not seen"
        found.append((float(across.mean()) + 0.5, float(down.mean()) + 0.5))
    return found


def on_site(page: Page) -> tuple[list[tuple[float, float]], float]:
    """Where on the site the two marks are seen, and the feet of one pixel of the screen."""
    places = page.evaluate(
        """pixels => {
          const {map} = document.querySelector("#plan");
          return [pixels.map(p => map.getCoordinateFromPixel(p)), map.getView().getResolution()];
        }""",
        seen(page),
    )
    return [(x, y) for x, y in places[0]], float(places[1])


def expect_apart(page: Page, feet: float) -> None:
    """The two marks are seen this far apart, side by side as in the picture."""
    (a, b), per_pixel = on_site(page)
    assert math.dist(a, b) == pytest.approx(feet, abs=2 * per_pixel)
    assert b[0] > a[0]
    assert a[1] == pytest.approx(b[1], abs=2 * per_pixel)


def closer(page: Page, to: tuple[float, float]) -> None:
    """Draw the plan near enough to measure on, around a point of the site."""
    page.evaluate(
        """to => {
          const view = document.querySelector("#plan").map.getView();
          view.setCenter(to);
          view.setResolution(0.4);
        }""",
        list(to),
    )
    page.wait_for_timeout(500)


def test_placed_with_the_mouse(page: Page, site: str) -> None:
    bring(page, site)
    page.get_by_role("button", name="Show two points on the plan").click()
    page.wait_for_timeout(500)
    box = page.locator("#plan").bounding_box()
    assert box is not None
    points = seen(page)
    # Beside the picture is told, and sets nothing.
    page.mouse.click(box["x"] + 3, box["y"] + 3)
    expect(page.locator("#underlay-say")).to_contain_text("beside the picture")
    for x, y in points:
        page.mouse.click(box["x"] + x, box["y"] + y)
        page.wait_for_timeout(400)
    for name, (x, y) in (("first", FIRST), ("second", SECOND)):
        told = [float(v) for v in page.input_value(f"#underlay [name={name}]").split(",")]
        assert told == pytest.approx([x, y], abs=2), name
    shot(page, "underlay-points")
    page.fill("#underlay [name=distance]", str(APART_FT))
    page.get_by_role("button", name="Place it").click()
    expect(page.locator("#underlay-say")).to_contain_text("lies under the plan")
    page.wait_for_timeout(500)
    expect_apart(page, APART_FT)
    (first, second), _ = on_site(page)
    closer(page, second)
    expect_apart(page, APART_FT)
    shot(page, "underlay-placed")
    # Kept: it lies there when the page is opened again.
    page.reload()
    page.wait_for_selector("#plan[data-ready]")
    expect(page.locator("#underlay")).to_be_visible()
    closer(page, first)
    expect_apart(page, APART_FT)
    # Moved to where both points are on the site: turned and of another size with them.
    for name, (x, y) in (("first", FIRST), ("second", SECOND)):
        page.fill(f"#underlay [name={name}]", f"{x}, {y}")
    page.fill("#underlay [name=there]", "10, 20")
    page.fill("#underlay [name=beyond]", "10, 80")
    page.get_by_role("button", name="Place it").click()
    expect(page.locator("#underlay-say")).to_contain_text("lies under the plan")
    closer(page, (10, 50))
    (a, b), per_pixel = on_site(page)
    assert a == pytest.approx((10, 20), abs=2 * per_pixel)
    assert b == pytest.approx((10, 80), abs=2 * per_pixel)
    page.get_by_role("button", name="Lift it off").click()
    expect(page.locator("#underlay-say")).to_contain_text("lifted off")
    page.wait_for_timeout(500)
    with pytest.raises(AssertionError, match="not seen"):
        seen(page)


def test_placed_with_the_keyboard(page: Page, site: str) -> None:
    bring(page, site)
    tab_to(page, "#underlay-point")
    page.keyboard.press("Enter")
    assert page.evaluate("document.activeElement.id") == "plan"
    page.wait_for_timeout(500)
    size = page.evaluate("document.querySelector('#plan').map.getSize()")
    at = (size[0] / 2, size[1] / 2)
    for to in seen(page):
        for axis, plus, minus in ((0, "ArrowRight", "ArrowLeft"), (1, "ArrowDown", "ArrowUp")):
            # Two pixels of the screen each press, twenty with Shift.
            presses = round((to[axis] - at[axis]) / 2)
            key = plus if presses > 0 else minus
            for _ in range(abs(presses) // 10):
                page.keyboard.press(f"Shift+{key}")
            for _ in range(abs(presses) % 10):
                page.keyboard.press(key)
        page.keyboard.press("Enter")
        at = to
    for name, (x, y) in (("first", FIRST), ("second", SECOND)):
        told = [float(v) for v in page.input_value(f"#underlay [name={name}]").split(",")]
        assert told == pytest.approx([x, y], abs=2), name
    assert page.evaluate("document.activeElement.name") == "distance"
    shot(page, "underlay-keyboard")
    page.keyboard.type(str(APART_FT))
    page.keyboard.press("Enter")
    expect(page.locator("#underlay-say")).to_contain_text("lies under the plan")
    page.wait_for_timeout(500)
    expect_apart(page, APART_FT)
    # Begun again and left by Escape, it lies where it lay.
    tab_to(page, "#underlay-point")
    page.keyboard.press("Enter")
    page.keyboard.press("ArrowRight")
    page.keyboard.press("Escape")
    expect(page.locator("#underlay-say")).to_contain_text("Left as it was")
    expect_apart(page, APART_FT)
