"""Recordings taken down at the desk, by the small English model, from synthetic voices.

What a transcript has to be is what `bolewalk transcribe` writes of the same recording.
"""

import io
import json
import os
from collections.abc import Iterator
from datetime import date, timedelta
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

import numpy as np
import pytest
from starlette.testclient import TestClient

from bolewalk.desk import speech
from bolewalk.desk.clearing import clear_made
from bolewalk.desk.drawer import now
from bolewalk.desk.tasks import Tasks
from bolewalk.store.edits import set_head
from bolewalk.store.items import Edit
from bolewalk.store.store import Store
from bolewalk.walk import recordings
from bolewalk.walk.hints import likely_species
from bolewalk.walk.recogniser import MODEL_VARIABLE, load_recogniser
from bolewalk.walk.speech import transcribe
from tests.desk.kill_rounds import Desk
from tests.walk.sound import quiet, say, tiny_model, write_media, write_wav

from .conftest import WHEN
from .test_stills import film
from .waiting import until

SAID = (
    "We start at the gate. The coast live oak is 40 feet tall, and the trunk is 32 inches. "
    "Keep it. Next is a jacaranda with a cavity at the base. Remove the jacaranda. "
    "The liquidambar by the garage is 20 inches. Prune the liquidambar away from the roof."
)
SPECIES = ("Quercus agrifolia", "Jacaranda mimosifolia", "Liquidambar styraciflua")


@pytest.fixture(scope="module")
def spoken(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A walk of one stretch."""
    sound = np.concatenate([quiet(1.0), say(SAID, "rms"), quiet(1.0)])
    return write_media(tmp_path_factory.mktemp("spoken") / "walk.m4a", sound=sound)


@pytest.fixture(scope="module")
def long_walk(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A walk of five stretches and more."""
    parts = [x for v in ("rms", "slt", "rms", "slt") for x in (say(SAID, v), quiet(3.0))]
    return write_wav(tmp_path_factory.mktemp("long") / "walk.wav", np.concatenate(parts))


@pytest.fixture(scope="module")
def whole(long_walk: Path, tmp_path_factory: pytest.TempPathFactory) -> str:
    """Its transcript."""
    return by_command(long_walk, tmp_path_factory.mktemp("whole") / "walk.vtt")


@pytest.fixture(autouse=True)
def model(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(MODEL_VARIABLE, str(tiny_model()))


@pytest.fixture
def survey(store: Store) -> int:
    """An empty survey."""
    return store.create_survey(
        "Sedge Lane", visited=date(2026, 5, 1), units="imperial", who="Tobin", when=WHEN
    )


def by_command(recording: Path, out: Path) -> str:
    """The transcript of a recording, decoded and heard in this process."""
    recogniser = load_recogniser(tiny_model(), hints=likely_species("us-w"))
    done = transcribe([(recording, recording.name)], out=out, recogniser=recogniser)
    assert done.problems == ()
    return out.read_text(encoding="utf-8")


def put(store: Store, survey: int, *files: Path | tuple[str, bytes], walk: bool = True) -> None:
    """Put files into a survey, unseen, as a folder that is taken in brings them."""
    edits = []
    for file in files:
        name, raw = (file.name, file.read_bytes()) if isinstance(file, Path) else file
        kept = store.put_media(io.BytesIO(raw), when=WHEN)
        edits.append(Edit("file", name, {"sha256": kept.sha256, "size": kept.size}))
    if walk:
        head = set_head(store.load(survey), (("files", "walk"), [e.key for e in edits]))
        edits.append(head)
    store.change(survey, edits, who="Tobin", when=WHEN)


def tasks_of(desk: TestClient) -> Tasks:
    found: Tasks = desk.app.state.desk.tasks  # type: ignore[attr-defined]
    return found


def press(desk: TestClient, survey: int, name: str, **told: str) -> int:
    form = {"name": name, "region": "us-w", **told}
    return desk.post(f"/surveys/{survey}/speech", data=form).status_code


def heard(desk: TestClient, survey: int) -> Any:
    """Wait for the newest recording to be taken down; give its task."""
    until(lambda: not tasks_of(desk).of(survey, ("speech",))[0].open)
    return tasks_of(desk).of(survey, ("speech",))[0]


def transcript(store: Store, survey: int, name: str = "walk.vtt") -> str:
    item = store.load(survey).get("file", name)
    assert item is not None
    assert item.body is not None
    return store.files.path(item.body["sha256"]).read_text(encoding="utf-8")


class Steps:
    """What was told."""

    def __init__(self) -> None:
        self.told: list[tuple[str, float | None]] = []

    def __call__(self, name: str, share: float | None = None) -> None:
        self.told.append((name, share))


def leftovers(data: Path) -> list[Path]:
    return [p for p in (data / "desk" / "speech").rglob("*") if p.is_file()]


def test_a_recording_dropped_becomes_the_trees_of_a_walk(
    store: Store, desk: TestClient, data: Path, survey: int, spoken: Path, tmp_path: Path
) -> None:
    raw = spoken.read_bytes()
    told = {"name": "walk.m4a", "size": len(raw), "stamp": "1"}
    arrival = desk.post(f"/api/surveys/{survey}/arrivals", json=told).json()["id"]
    desk.put(f"/api/surveys/{survey}/arrivals/{arrival}?at=0", content=raw)
    until(lambda: store.load(survey).get("file", "walk.m4a") is not None)
    for sheet in ("walk", "files"):
        page = desk.get(f"/surveys/{survey}/{sheet}").text
        assert 'aria-label="Take down what is said: walk.m4a"' in page
        assert "pip install" not in page
    back = f"/surveys/{survey}/files"
    assert press(desk, survey, "walk.m4a", back=back, send="5f0c-a1") == 303
    # Pressed again, it is not begun twice.
    assert press(desk, survey, "walk.m4a") == 303
    assert len(tasks_of(desk).of(survey, ("speech",))) == 1
    page = desk.get(f"/surveys/{survey}/files").text
    assert "Taking down walk.m4a" in page
    assert "Take down what is said" not in page
    task = heard(desk, survey)
    assert (task.state, task.says) == ("done", "")
    assert transcript(store, survey) == by_command(spoken, tmp_path / "walk.vtt")
    assert "often misheard" in task.told

    # Sent again by a page that did not get the answer: done once, answered alike.
    assert press(desk, survey, "walk.m4a", back=back, send="5f0c-a1") == 303
    assert press(desk, survey, "walk.m4a", back=back, send="5f0c-a2") == 409
    assert len(tasks_of(desk).of(survey, ("speech",))) == 1

    # As if it had been dropped: by whom and when it was asked for, one step of undo.
    page = desk.get(f"/surveys/{survey}/walk").text
    assert all(f"<i>{name}</i>" in page for name in SPECIES)
    assert "walk.m4a: taken down by machine, kept as walk.vtt" in page
    assert "Take down what is said" not in page
    assert [p.recording for p in store.job(survey).parts] == ["walk.m4a"]
    last = store.history(survey)[-1]
    assert (last.who, last.note) == ("Tobin", "taken down walk.vtt")
    assert last.at == task.asked_at
    assert leftovers(data) == []
    assert store.undo(survey, who="Tobin", when=WHEN) is not None
    assert store.load(survey).get("file", "walk.vtt") is None
    page = desk.get(f"/surveys/{survey}/walk").text
    assert 'aria-label="Take down what is said: walk.m4a"' in page
    assert "kept as walk.vtt" not in page


def test_progress_cancel_and_going_on(
    store: Store, desk: TestClient, data: Path, survey: int, long_walk: Path, whole: str
) -> None:
    put(store, survey, long_walk)
    assert press(desk, survey, "walk.wav") == 303
    tasks = tasks_of(desk)
    id_ = tasks.of(survey, ("speech",))[0].id
    until(lambda: (tasks.get(id_).share or 0) > 0.1)  # type: ignore[union-attr]
    state = desk.get(f"/api/surveys/{survey}/tasks/{id_}").json()
    assert 0.1 < state["share"] < 1
    part = desk.get(f"/surveys/{survey}/tasks/{id_}?on=files")
    assert "<progress max=" in part.text
    assert "listening: " in part.text
    assert f'hx-get="/surveys/{survey}/tasks/{id_}?on=files"' in part.text
    form = {"back": f"/surveys/{survey}/files"}
    answer = desk.post(f"/surveys/{survey}/speech/{id_}/stop", data=form)
    assert (answer.status_code, answer.headers["location"]) == (303, form["back"])
    until(lambda: tasks.idle)
    assert tasks.get(id_).state == "cancelled"  # type: ignore[union-attr]
    assert store.load(survey).get("file", "walk.vtt") is None
    page = desk.get(f"/surveys/{survey}/walk").text
    assert "what was heard until then is kept" in page
    assert "Go on taking it down" in page
    [partial] = leftovers(data)
    before = mark(partial)
    assert press(desk, survey, "walk.wav") == 303
    task = heard(desk, survey)
    assert task.state == "done", task.says
    # What had been heard was not heard again: the mark put on it is in the transcript.
    assert before
    assert unmarked(transcript(store, survey)) == unmarked(whole)
    assert MARK in transcript(store, survey)
    assert leftovers(data) == []


MARK = "Zelkova"


def mark(partial: Path) -> int:
    """Put another word for the first one heard; give how many stretches had been heard."""
    head, *lines = partial.read_bytes().split(b"\n")
    for n, line in enumerate(lines):
        stretch = json.loads(line)
        if stretch["words"]:
            stretch["words"][0][0] = f" {MARK}"
            lines[n] = json.dumps(stretch).encode("ascii")
            break
    partial.write_bytes(b"\n".join([head, *lines]))
    return len(lines) - 1


def unmarked(text: str) -> list[str]:
    """All of a transcript but its first cue, which is marked."""
    return text.split("\n\n")[3:]


def test_a_desk_killed_half_way_goes_on_where_it_stopped(
    data: Path, long_walk: Path, whole: str
) -> None:
    with Store.open(data) as store:
        put(store, 1, ("second.wav", long_walk.read_bytes()), walk=False)
    desk = Desk(data)
    try:
        told = urlencode({"name": "second.wav", "region": "us-w"})
        status, body = desk.ask("POST", "/surveys/1/speech", told)
        assert status == 303, body
        until(lambda: any(p.read_bytes().count(b"\n") >= 3 for p in leftovers(data)))
    finally:
        # The desk alone: it waits until the process that listens has ended as well.
        desk.kill(with_its_own=False)
    [partial] = leftovers(data)
    assert mark(partial) >= 2
    [task] = [json.loads(p.read_text("utf-8")) for p in data.glob("desk/tasks/*.json")]
    asked = (task["who"], task["asked_at"])
    desk = Desk(data)
    try:
        until(lambda: not any(open_tasks(data)))
    finally:
        desk.kill(with_its_own=True)
    with Store.open(data) as store:
        text = transcript(store, 1, "second.vtt")
        assert MARK in text
        assert unmarked(text) == unmarked(whole)
        changes = [c for c in store.history(1) if c.note == "taken down second.vtt"]
        assert {(c.who, c.at) for c in changes} == {asked}
        assert len([c for c in changes if c.kind == "file"]) == 1
    assert leftovers(data) == []


def open_tasks(data: Path) -> Iterator[str]:
    for path in data.glob("desk/tasks/*.json"):
        state = json.loads(path.read_text("utf-8"))["state"]
        if state in ("waiting", "running"):
            yield state


def test_a_transcript_that_exists_stays(
    store: Store, desk: TestClient, data: Path, survey: int, spoken: Path
) -> None:
    put(store, survey, spoken, ("walk.srt", b"1\n00:00:01,000 --> 00:00:02,000\nAn ash.\n"))
    assert "Take down" not in desk.get(f"/surveys/{survey}/files").text
    assert press(desk, survey, "walk.m4a") == 409
    assert (
        "take the transcript out first"
        in desk.post(f"/surveys/{survey}/speech", data={"name": "walk.m4a"}).text
    )
    # Nor one beside it that the walk does not name.
    store.change(
        survey, [set_head(store.load(survey), (("files", "walk"), []))], who="Tobin", when=WHEN
    )
    assert press(desk, survey, "walk.m4a") == 409
    # One that comes while the recording is listened to counts.
    item = store.load(survey).get("file", "walk.m4a")
    assert item is not None
    assert item.body is not None
    task = tasks_of(desk).ask(
        "speech", survey, "", 0, who="Tobin", when=now(), title="walk.m4a",
        arrival=item.body["sha256"],
    )  # fmt: skip
    done = heard(desk, survey)
    assert done.id == task.id
    assert (done.state, store.load(survey).get("file", "walk.vtt")) == ("failed", None)
    assert "walk.m4a has a transcript by now, which stays as it is" in done.says
    assert leftovers(data) == []
    for name in ("none.m4a", "walk.srt"):
        assert press(desk, survey, name) in (404, 409)


def test_the_process_that_listens_never_opens_the_recording(
    store: Store, data: Path, survey: int, spoken: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    put(store, survey, spoken)

    def opened(path: Path) -> Any:
        raise AssertionError(f"{path} was opened here")

    monkeypatch.setattr(recordings, "open_media", opened)
    # The rest of the tests are done at once as well.
    monkeypatch.setattr(os, "nice", lambda _: 0)
    item = store.load(survey).get("file", "walk.m4a")
    assert item is not None
    assert item.body is not None
    steps = Steps()
    told = speech.take_down(
        store, data / "desk", survey, name="walk.m4a", sha256=item.body["sha256"], region="us-w",
        model=str(tiny_model()), who="Tobin", when=WHEN + timedelta(1), step=steps,
    )  # fmt: skip
    assert "kept as walk.vtt" in told
    assert "oak" in transcript(store, survey)
    assert steps.told[0] == ("loading the speech model", None)
    # Killed after the change was kept, before that was noted: it is not done twice.
    revision = store.load(survey).revision
    told = speech.take_down(
        store, data / "desk", survey, name="walk.m4a", sha256=item.body["sha256"], region="us-w",
        model=str(tiny_model()), who="Tobin", when=WHEN + timedelta(1), step=steps,
    )  # fmt: skip
    assert told == "walk.m4a was taken down before the desk stopped."
    assert store.load(survey).revision == revision


@pytest.mark.parametrize(
    ("name", "raw", "says"),
    [
        ("torn.mp4", b"\0\0\0\x18ftypmp42" + bytes(range(256)) * 20, "torn.mp4: "),
        ("film.mp4", film(), "film.mp4: no audio track"),
        ("still.wav", None, "still.wav: silence from start to end"),
    ],
)
def test_what_cannot_be_taken_down_is_told(
    store: Store, desk: TestClient, data: Path, survey: int, tmp_path: Path,
    name: str, raw: bytes | None, says: str,
) -> None:  # fmt: skip
    if raw is None:
        raw = write_wav(tmp_path / "s.wav", quiet(20.0)).read_bytes()
    put(store, survey, (name, raw))
    assert press(desk, survey, name) == 303
    task = heard(desk, survey)
    assert task.state == "failed"
    assert task.says.startswith(says)
    assert "; expected a recording" in task.says
    assert store.load(survey).get("file", name.rpartition(".")[0] + ".vtt") is None
    page = desk.get(f"/surveys/{survey}/walk").text
    assert f"It was not taken down. {says}" in page
    assert "Try again" in page
    assert desk.get(f"/surveys/{survey}/files").text.count(says) == 1
    assert leftovers(data) == []


def test_what_is_missing_is_told_and_no_button_is_shown(
    store: Store, desk: TestClient, survey: int, spoken: Path, tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    put(store, survey, spoken)
    monkeypatch.delenv(MODEL_VARIABLE)
    for sheet in ("walk", "files"):
        page = desk.get(f"/surveys/{survey}/{sheet}").text
        assert "Take down what is said" not in page
        assert f"export {MODEL_VARIABLE}=FOLDER" in page
        assert "pip install" not in page
    answer = desk.post(f"/surveys/{survey}/speech", data={"name": "walk.m4a"})
    assert answer.status_code == 409
    assert f"{MODEL_VARIABLE} must name the folder of a speech model" in answer.text
    monkeypatch.setenv(MODEL_VARIABLE, str(tmp_path))
    assert "lacks model.bin" in desk.get(f"/surveys/{survey}/walk").text
    monkeypatch.setenv(MODEL_VARIABLE, str(tiny_model()))
    monkeypatch.setattr(speech, "find_spec", lambda _: None)
    page = desk.get(f"/surveys/{survey}/walk").text
    assert "pip install 'bolewalk[speech,media]'" in page
    assert f"export {MODEL_VARIABLE}" not in page
    assert press(desk, survey, "walk.m4a") == 409
    assert tasks_of(desk).of(survey, ("speech",)) == ()
    # A survey whose recordings all have transcripts is not told what it does not need.
    assert "pip install" not in desk.get("/surveys/1/walk").text


def test_a_model_that_went_away_is_told(
    store: Store, desk: TestClient, survey: int, spoken: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    put(store, survey, spoken)
    monkeypatch.setattr("bolewalk.desk.routes.speech.wanting", lambda: None)
    monkeypatch.delenv(MODEL_VARIABLE)
    assert press(desk, survey, "walk.m4a") == 303
    task = heard(desk, survey)
    assert task.state == "failed"
    assert "no speech model" in task.says


def test_the_transcript_stands_in_its_recordings_place(
    store: Store, desk: TestClient, survey: int, spoken: Path
) -> None:
    second = ("b.vtt", b"WEBVTT\n\n00:01.000 --> 00:02.000\nAn ash.\n")
    put(store, survey, ("audio/walk.m4a", spoken.read_bytes()), second)
    put(store, survey, ("a.m4a", spoken.read_bytes() + b"\0"), walk=False)
    head = set_head(store.load(survey), (("files", "walk"), ["a.m4a", "audio/walk.m4a", "b.vtt"]))
    store.change(survey, [head], who="Tobin", when=WHEN)
    for name in ("audio/walk.m4a", "a.m4a"):
        assert press(desk, survey, name) == 303
        task = heard(desk, survey)
        assert task.state == "done", task.says
    assert [(p.transcript, p.recording) for p in store.job(survey).parts] == [
        ("a.vtt", "a.m4a"), ("audio/walk.vtt", "audio/walk.m4a"), ("b.vtt", ""),
    ]  # fmt: skip


def test_another_surveys_task_is_not_stopped(desk: TestClient, survey: int) -> None:
    tasks = tasks_of(desk)
    tasks._start = lambda _: None  # type: ignore[method-assign]
    task = tasks.ask("speech", survey, "", 0, who="Tobin", when=now(), title="x", arrival="0")
    papers = tasks.ask("papers", survey, "", 1, who="Tobin", when=now())
    assert desk.post(f"/surveys/1/speech/{task.id}/stop").status_code == 404
    assert desk.post(f"/surveys/{survey}/speech/{papers.id}/stop").status_code == 404
    assert tasks.get(task.id).state == "waiting"  # type: ignore[union-attr]
    assert desk.post(f"/surveys/{survey}/speech/{task.id}/stop").status_code == 303
    assert tasks.get(task.id).state == "cancelled"  # type: ignore[union-attr]


def test_what_was_heard_goes_with_its_survey_and_with_time(tmp_path: Path) -> None:
    for survey, days in (("1", 0), ("2", 0), ("3", 31)):
        path = tmp_path / "speech" / survey / "ab" / "transcript.vtt.partial"
        path.parent.mkdir(parents=True)
        path.write_bytes(b"words")
        at = now().timestamp() - days * 86400
        os.utime(path, (at, at))
    speech.clear_old(tmp_path, now=now())
    assert sorted(p.parts[-3] for p in tmp_path.rglob("*.partial")) == ["1", "2"]
    assert clear_made(tmp_path, [1]) == 1
    assert [p.parts[-3] for p in tmp_path.rglob("*.partial")] == ["2"]
