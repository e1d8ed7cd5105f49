"""A picture under the plan: kept, placed by two points, sent, undone, taken along in a folder."""

import io
from pathlib import Path

import pytest
from PIL import Image
from starlette.testclient import TestClient

from bolewalk.intake.folder import read_folder
from bolewalk.store.items import Edit
from bolewalk.store.store import Store

from .conftest import WHEN

A = "/api/surveys/1/underlay"
AT = [[[0, 200], [80, 90]], [[400, 200], [180, 90]]]


def keep(store: Store, name: str, raw: bytes) -> None:
    medium = store.put_media(io.BytesIO(raw), when=WHEN)
    file = Edit("file", name, {"sha256": medium.sha256, "size": medium.size})
    store.change(1, [file], who="Tobin", when=WHEN)


@pytest.fixture
def scan(store: Store) -> bytes:
    out = io.BytesIO()
    Image.new("RGB", (400, 200), "white").save(out, "PNG")
    keep(store, "scan one.png", out.getvalue())
    return out.getvalue()


def test_placed_sent_and_undone(desk: TestClient, scan: bytes) -> None:
    assert desk.get(A).json()["underlays"] == []
    placed = desk.post(A, json={"file": "scan one.png", "at": AT})
    assert placed.status_code == 200
    (laid,) = placed.json()["underlays"]
    # 400 pixels are 100 ft: a quarter foot each; the picture is 50 ft high.
    assert laid["per_pixel"] == pytest.approx(0.25)
    assert laid["corners"][0] == pytest.approx([80, 140])
    assert laid["corners"][2] == pytest.approx([180, 90])
    assert (laid["width"], laid["height"]) == (400, 200)
    sent = desk.get(laid["url"])
    assert sent.content == scan
    assert sent.headers["content-type"] == "image/png"
    # Moved: the same entry with other points.
    moved = [AT[0], [[400, 200], [280, 90]]]
    (laid,) = desk.post(A, json={"file": "scan one.png", "at": moved}).json()["underlays"]
    assert laid["per_pixel"] == pytest.approx(0.5)
    (laid,) = desk.post(A, json={"file": "scan one.png", "at": None}).json()["underlays"]
    assert laid["corners"] is None
    for _ in range(2):
        assert desk.post("/api/surveys/1/undo", json={}).json()
    assert desk.get(A).json()["underlays"][0]["per_pixel"] == pytest.approx(0.25)


@pytest.mark.usefixtures("scan")
def test_the_folder_holds_it(store: Store, desk: TestClient, tmp_path: Path) -> None:
    desk.post(A, json={"file": "scan one.png", "at": AT})
    store.export_folder(1, tmp_path / "out")
    job = read_folder(tmp_path / "out")
    (laid,) = job.underlays
    assert laid.corners_m[0] == pytest.approx((80 * 0.3048, 140 * 0.3048))
    assert not [p for p in job.problems if "scan" in str(p.value)]


@pytest.mark.usefixtures("scan")
@pytest.mark.parametrize(
    ("body", "says"),
    [
        ({"file": "none.png", "at": AT}, "no picture none.png"),
        ({"file": "trees.csv", "at": AT}, "no picture trees.csv"),
        ({"file": "scan one.png", "at": [AT[0], AT[0]]}, "two points apart"),
        ({"file": "scan one.png", "at": [AT[0]]}, "two pairs"),
        ({"file": "scan one.png", "at": [[["a", 1], [2, 3]], AT[1]]}, "two pairs"),
        ({"file": "scan one.png", "at": [[[True, 1], [2, 3]], AT[1]]}, "two pairs"),
    ],
)
def test_what_places_nothing_is_told(desk: TestClient, body: dict[str, object], says: str) -> None:
    answer = desk.post(A, json=body)
    assert answer.status_code == 422
    assert says in answer.json()["say"]


def test_other_files_are_handed_over_and_never_shown(store: Store, desk: TestClient) -> None:
    keep(store, "note.html", b"<script>alert(1)</script>")
    answer = desk.get("/surveys/1/files/note.html")
    assert answer.headers["content-type"] == "application/octet-stream"
    assert answer.headers["content-disposition"].startswith("attachment")
    assert desk.get("/surveys/1/files/gone.png").status_code == 404
