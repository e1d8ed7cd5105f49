"""Files brought to a survey over the interface: piece by piece, broken off, taken in, given up."""

import io
import json
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from PIL import Image
from starlette.testclient import TestClient

from bolewalk.desk.incoming import Incoming, OutOfStepError
from bolewalk.desk.tasks import Tasks
from bolewalk.desk.uploads import UploadError
from bolewalk.intake.toml_file import parse_toml
from bolewalk.store.edits import set_head
from bolewalk.store.store import Store

from .conftest import WHEN
from .waiting import until

A = "/api/surveys/1/arrivals"
VTT = b"WEBVTT\n\n00:01.000 --> 00:02.000\nFirst a red oak, forty feet tall.\n"


def begin(desk: TestClient, name: str, size: int, **told: str) -> dict[str, object]:
    answer = desk.post(A, json={"name": name, "size": size, "stamp": "7", **told})
    assert answer.status_code == 200, answer.text
    return dict(answer.json())


def work(desk: TestClient) -> list[dict[str, str]]:
    return list(desk.get(A).json()["work"])


def rested(desk: TestClient) -> bool:
    return all(w["state"] not in ("waiting", "running") for w in work(desk))


def test_pieces_a_break_and_what_came_of_it(store: Store, desk: TestClient, data: Path) -> None:
    arrival = begin(desk, "later.vtt", len(VTT))
    assert arrival["at"] == 0
    piece = desk.put(f"{A}/{arrival['id']}?at=0", content=VTT[:20])
    assert piece.json()["at"] == 20
    # The line broke before the answer came: the same piece again is refused with the place.
    again = desk.put(f"{A}/{arrival['id']}?at=0", content=VTT[:20])
    assert (again.status_code, again.json()["at"]) == (409, 20)
    page = desk.get("/surveys/1/files").text
    assert "later.vtt: 1 kB of 1 kB are here. Drop the same file again" in page
    # The same file dropped again, by whoever and after whatever, goes on there.
    assert begin(desk, "later.vtt", len(VTT))["at"] == 20
    too_much = desk.put(f"{A}/{arrival['id']}?at=20", content=VTT)
    assert too_much.status_code == 422
    last = desk.put(f"{A}/{arrival['id']}?at=20", content=VTT[20:])
    assert last.json()["task"]
    until(lambda: rested(desk))
    assert [w["state"] for w in work(desk)] == ["done"]
    assert work(desk)[0]["says"].startswith("a transcript of the walk, kept as later.vtt.")
    assert store.load(1).get("file", "later.vtt") is not None
    assert store.history(1)[-1].who == "Tobin"
    assert list((data / "desk" / "incoming").iterdir()) == []
    assert "later.vtt" in desk.get("/surveys/1/files").text
    assert store.undo(1, who="Tobin", when=WHEN) is not None
    assert store.load(1).get("file", "later.vtt") is None


def test_a_plain_form_and_what_is_not_taken(store: Store, desk: TestClient) -> None:
    out = io.BytesIO()
    Image.new("RGB", (30, 20)).save(out, "JPEG")
    sent = [
        ("files", ("oak.jpg", out.getvalue(), "image/jpeg")),
        ("files", ("letter.txt", b"just words", "text/plain")),
    ]
    answer = desk.post("/surveys/1/files", files=sent, data={"tree": "T4"})
    assert answer.status_code == 303
    until(lambda: rested(desk))
    told = {w["name"]: w for w in work(desk)}
    assert told["oak.jpg"]["state"] == "done"
    assert told["letter.txt"]["state"] == "failed"
    assert "transcript with times" in told["letter.txt"]["says"]
    assert store.load(1).get("file", "photos/T4-oak.jpg") is not None
    assert desk.post("/surveys/1/files", data={"tree": ""}).status_code == 422
    page = desk.get("/surveys/1/files").text
    assert "not taken in" in page
    assert "It is a plan" in page


def test_given_up(desk: TestClient, data: Path) -> None:
    arrival = begin(desk, "walk.mp4", 5_000_000)
    desk.put(f"{A}/{arrival['id']}?at=0", content=b"\x00" * 1000)
    assert desk.delete(f"{A}/{arrival['id']}").status_code == 200
    assert list((data / "desk" / "incoming").iterdir()) == []
    assert desk.delete(f"{A}/{arrival['id']}").status_code == 404
    assert desk.put(f"{A}/{arrival['id']}?at=0", content=b"x").status_code == 404


def test_a_desk_that_died_takes_it_in_when_it_starts(store: Store, data: Path) -> None:
    first = Tasks(data, data / "desk")
    first._start = lambda _: None  # type: ignore[method-assign]  # the desk dies before it begins
    arrival, _ = first.incoming.begin(1, "later.vtt", len(VTT), "", tree="", when=datetime.now(UTC))
    first.incoming.add(arrival, 0, VTT)
    task = first.ask(
        "file", 1, "", 0, who="Tobin", when=datetime.now(UTC), title="later.vtt", arrival=arrival.id
    )
    (data / "desk" / "incoming" / "lost.part").write_bytes(b"x")
    again = Tasks(data, data / "desk")
    until(lambda: not again.get(task.id).open)  # type: ignore[union-attr]
    assert again.get(task.id).state == "done"  # type: ignore[union-attr]
    assert store.load(1).get("file", "later.vtt") is not None
    assert list((data / "desk" / "incoming").iterdir()) == []
    # Died after the change was kept, before that was noted: it is not done twice.
    file = data / "desk" / "tasks" / f"{task.id}.json"
    broken = {**json.loads(file.read_text("utf-8")), "state": "running", "told": ""}
    file.write_text(json.dumps(broken), encoding="utf-8")
    revision = store.load(1).revision
    third = Tasks(data, data / "desk")
    until(lambda: not third.get(task.id).open)  # type: ignore[union-attr]
    assert "before the desk stopped" in third.get(task.id).told  # type: ignore[union-attr]
    assert store.load(1).revision == revision


def test_layers_are_named(store: Store, desk: TestClient) -> None:
    edit = set_head(store.load(1), (("drawing", 0, "layers", "P-STORAGE"), None))
    store.change(1, [edit], who="Tobin", when=WHEN)
    page = desk.get("/surveys/1/files").text
    assert "Layers of court.dxf without a kind" in page
    told = {"file": "court.dxf", "layer.0": "P-STORAGE", "kind.0": "storage", "depth.0": "1 ft"}
    assert desk.post("/surveys/1/files/layers", data=told).status_code == 303
    text = store.load(1).get("head", "survey.toml").body["text"]  # type: ignore[union-attr,index]
    layers = parse_toml(text)["drawing"][0]["layers"]
    assert layers["P-STORAGE"] == {"kind": "storage", "depth": "1 ft"}
    assert "# feet, trunks in inches" in text
    assert "without a kind" not in desk.get("/surveys/1/files").text
    assert desk.post("/surveys/1/files/layers", data={"file": "x.dxf"}).status_code == 422


@pytest.mark.parametrize(
    ("name", "size", "says"),
    [("x", 0, "empty"), ("x", 3_000_000_000, "at most 2 GB"), ("x", -1, "empty")],
)
def test_sizes(desk: TestClient, name: str, size: int, says: str) -> None:
    answer = desk.post(A, json={"name": name, "size": size})
    assert answer.status_code == 422
    assert says in answer.json()["say"]


def test_incoming_is_tidied(tmp_path: Path) -> None:
    incoming = Incoming(tmp_path / "in")
    old, _ = incoming.begin(1, "a", 10, "", tree="", when=WHEN)
    young, _ = incoming.begin(1, "b", 10, "", tree="", when=WHEN + timedelta(days=6))
    incoming.add(young, 0, b"12345")
    with pytest.raises(OutOfStepError):
        incoming.add(young, 0, b"1")
    with pytest.raises(UploadError, match="announced"):
        incoming.add(young, 5, b"123456")
    incoming.tidy(now=WHEN + timedelta(days=8))
    assert incoming.get(old.id) is None
    assert [(a.id, at) for a, at in incoming.of(1)] == [(young.id, 5)]
