"""Typing in the tree table while price and planting are worked out in the background.

    python bench/desk_typing.py

Prints milliseconds as JSON: how long a row takes to be kept when nothing else is done, and while
each change sets the reckoning of 200 trees going anew; and how long the price page takes to be
shown. The survey is that of bench/desk.py. What is wanted: typing never waits on computing.
"""

import json
import sys
import time
from collections.abc import Callable

from desk import desk_at_the_survey
from starlette.testclient import TestClient

ROWS = 40


def told(took: list[float]) -> dict[str, float]:
    """Give the middle and the 95th percentile."""
    took = sorted(took)
    return {"p50_ms": took[len(took) // 2], "p95_ms": took[int(0.95 * len(took))]}


def kept(desk: TestClient, n: int) -> float:
    """Change one cell of one row; give the milliseconds until it is kept."""
    key = f"tree-{n % ROWS + 1}"
    page = desk.get(f"/surveys/1/trees/rows/{key}?edit=1", headers={"hx-request": "true"}).text
    version = page.split('name="version" value="')[1].split('"')[0]
    start = time.perf_counter()
    answer = desk.post(
        f"/surveys/1/trees/rows/{key}",
        data={"version": version, "cell.notes": f"note {n}"},
        headers={"hx-request": "true"},
    )
    assert answer.status_code == 200, answer.text
    return 1000 * (time.perf_counter() - start)


def timed(act: Callable[[], object]) -> float:
    """Give the milliseconds something takes."""
    start = time.perf_counter()
    act()
    return 1000 * (time.perf_counter() - start)


def main() -> None:
    """Measure and print."""
    with desk_at_the_survey() as desk:
        desk.get("/surveys/1/trees")
        alone = [kept(desk, n) for n in range(ROWS)]
        shown, beside = [], []
        for n in range(ROWS):
            shown.append(timed(lambda: desk.get("/surveys/1/price")))
            beside.append(kept(desk, n + ROWS))
        start = time.perf_counter()
        while "is being worked out" in desk.get("/surveys/1/price").text:
            time.sleep(0.05)
        whole = 1000 * (time.perf_counter() - start)
    found = {
        "row_kept": told(alone),
        "row_kept_while_reckoning": told(beside),
        "price_page_shown": told(shown),
        "price_worked_out_ms": whole,
    }
    json.dump(found, sys.stdout, indent=1)
    print()


if __name__ == "__main__":
    main()
