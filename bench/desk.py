"""The desk on a survey of 200 trees: first page, and a pile being dragged, server side.

    python bench/desk.py

Prints milliseconds and bytes as JSON. Wanted: first page under 300 ms and 1 MB, a drag under
50 ms at the 95th percentile. Trees, piles and trenches are invented, seeded.
"""

import gzip
import json
import random
import re
import statistics
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path

from starlette.testclient import TestClient

from bolewalk.desk.app import create_app
from bolewalk.store.store import Store

TREES, PILES, TRENCHES, SIDE_M = 200, 48, 12, 180.0
DRAGS = 200
SPECIES = ("Quercus lobata", "Acer rubrum", "Tilia cordata", "Cedrus deodara", "Ulmus parvifolia")


def survey(folder: Path) -> None:
    """Write an invented survey: trees on a jittered grid, rows of piles, trenches across."""
    pick = random.Random(20261125)
    folder.mkdir()
    (folder / "survey.toml").write_text(
        '[survey]\nname = "Bench"\ndate = 2026-05-12\nunits = "metric"\n'
        '[files]\ntrees = "trees.csv"\nworks = ["works.geojson"]\n'
    )
    across = 20
    rows = ["tree,species,x,y,diameter,height,crown_base,crown,age,health,structure,owner,decision"]
    for n in range(TREES):
        x = (n % across + 0.5 + pick.uniform(-0.3, 0.3)) * SIDE_M / across
        y = (n // across + 0.5 + pick.uniform(-0.3, 0.3)) * SIDE_M / (TREES // across)
        d = pick.uniform(15, 70)
        rows.append(
            f"T{n + 1},{pick.choice(SPECIES)},{x:.2f},{y:.2f},{d:.0f},{d / 4:.0f},2,{d / 12:.1f},"
            "mature,good,good,client,retain"
        )
    (folder / "trees.csv").write_text("\n".join(rows) + "\n")
    features = []
    for n in range(PILES):
        at = [30 + 5 * (n % 12), 60 + 5 * (n // 12)]
        told = {"id": f"P{n + 1}", "kind": "pile", "diameter": 0.4, "depth": 6}
        features.append((told, {"type": "Point", "coordinates": at}))
    for n in range(TRENCHES):
        y = pick.uniform(10, SIDE_M - 10)
        told = {"id": f"W{n + 1}", "kind": "trench", "width": 0.6, "depth": 1}
        line = [[pick.uniform(0, 60), y], [pick.uniform(90, SIDE_M), y + pick.uniform(-8, 8)]]
        features.append((told, {"type": "LineString", "coordinates": line}))
    (folder / "works.geojson").write_text(
        json.dumps(
            {
                "type": "FeatureCollection",
                "features": [
                    {"type": "Feature", "properties": p, "geometry": g} for p, g in features
                ],
            }
        )
    )


def first_page(desk: TestClient) -> dict[str, float]:
    """Ask for the plan as a browser with an empty cache does."""
    start = time.perf_counter()
    page = desk.get("/surveys/1/site")
    page_ms = 1000 * (time.perf_counter() - start)
    start = time.perf_counter()
    plan = desk.get("/api/surveys/1/plan")
    plan_ms = 1000 * (time.perf_counter() - start)
    files = set(re.findall(r'(?:src|href)="(/static/[^"]+)"', page.text))
    base = next(iter(files)).split("/")[2]
    files |= {
        f"/static/{base}/{n}"
        for n in (
            "plan/dom.js", "plan/hatch.js", "plan/marks.js", "plan/panel.js", "plan/shapes.js",
            "plan/styles.js", "vendor/fonts/source-sans-3-latin-600-normal.woff2",
            "vendor/fonts/source-sans-3-latin-400-italic.woff2",
        )
    }  # fmt: skip
    static = 0
    for name in files:
        answer = desk.get(name)
        assert answer.status_code == 200, name
        # The client unpacks; what went over the wire is packed again to be counted.
        packed = answer.headers.get("content-encoding") == "gzip"
        static += len(gzip.compress(answer.content, 6)) if packed else len(answer.content)
    wire = sum(len(gzip.compress(a.content, 5)) for a in (page, plan)) + static
    return {"page_ms": page_ms, "plan_ms": plan_ms, "bytes": wire}


def drags(desk: TestClient) -> dict[str, float]:
    """Move one pile along a line, an answer for each step."""
    took, whole = [], []
    for n in range(DRAGS):
        at = [45 + 0.2 * n, 65 + 0.1 * n]
        body = {"work": "P16", "geometry": {"type": "Point", "coordinates": at}}
        start = time.perf_counter()
        answer = desk.post("/api/surveys/1/drag", json=body)
        whole.append(1000 * (time.perf_counter() - start))
        assert answer.status_code == 200
        took.append(float(answer.headers["server-timing"].split("=")[1]))
    whole.sort()
    took.sort()
    p95 = int(0.95 * DRAGS)
    return {
        "judge_p50_ms": statistics.median(took),
        "judge_p95_ms": took[p95],
        "request_p50_ms": statistics.median(whole),
        "request_p95_ms": whole[p95],
    }


@contextmanager
def desk_at_the_survey() -> Iterator[TestClient]:
    """Give a desk on a new store that holds the invented survey."""
    with tempfile.TemporaryDirectory() as made:
        folder, data = Path(made, "survey"), Path(made, "data")
        survey(folder)
        with Store.open(data) as store:
            store.import_folder(folder, who="bench", when=datetime.now(UTC))
            with TestClient(create_app(store, data), base_url="http://localhost") as desk:
                yield desk


def main() -> None:
    """Measure and print."""
    with desk_at_the_survey() as desk:
        desk.get("/surveys/99/site")  # templates and language are read once
        cold = first_page(desk)
        warm = first_page(desk)
        found = {"first_page": cold, "again": warm, "drag": drags(desk)}
    json.dump(found, sys.stdout, indent=1)
    print()


if __name__ == "__main__":
    main()
