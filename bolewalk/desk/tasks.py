"""Long work in processes of its own: one after another, told as it goes, cancelled at any time.

Every task is a small file that is replaced whole, so that work which a crash or a restart broke
off is found again and begun anew: what a task makes appears only once all of it is there.
"""

import json
import multiprocessing
import os
import queue
import tempfile
import threading
import uuid
from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass, field, replace
from datetime import UTC, datetime
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Any, Literal

from bolewalk.desk.incoming import Incoming
from bolewalk.desk.speech import Step, clear_old, take_down
from bolewalk.desk.stills import make_stills
from bolewalk.desk.taking_in import take_in
from bolewalk.desk.whole_folder import clear_unfinished, whole_folder
from bolewalk.papers.write import write_papers
from bolewalk.store.issues import issue_papers, list_issues
from bolewalk.store.kept import kept_files
from bolewalk.store.store import Store
from bolewalk.survey import assess
from bolewalk.walk.recogniser import named_model

__all__ = ["PAPERS", "Kind", "Task", "Tasks", "papers_folder"]

State = Literal["waiting", "running", "done", "failed", "cancelled"]
Kind = Literal["papers", "issue", "file", "stills", "speech"]
PAPERS: tuple[Kind, ...] = ("papers", "issue")
_OPEN: tuple[State, ...] = ("waiting", "running")


@dataclass(frozen=True, slots=True)
class Task:
    """One piece of long work.

    `step` is what it is doing; `steps` counts those begun; `share` is how far it is, 0 to 1, where
    that can be told. `says` is what went wrong, `told` what
    came of it. `number` and `title` belong to an issue; `arrival`, `title` (its name) and `tree` to
    a file that was brought; `arrival` (its SHA-256), `title` (its name) and `region` to a recording
    that is taken down, as does `model`, the folder its process is told. `send` is the id of the
    sending that asked for it, where it had one.
    """

    id: str
    kind: Kind
    survey: int
    plan: str
    revision: int
    who: str
    asked_at: str
    state: State = "waiting"
    step: str = ""
    steps: int = 0
    says: str = ""
    number: str = ""
    title: str = ""
    arrival: str = ""
    tree: str = ""
    told: str = ""
    send: str = ""
    region: str = ""
    share: float | None = None
    model: str = ""

    @property
    def open(self) -> bool:
        """Whether it waits or runs."""
        return self.state in _OPEN


def papers_folder(folder: Path, survey: int, plan: str, revision: int) -> Path:
    """Give where the papers of one state of a survey are, or would be."""
    return folder / "papers" / str(survey) / (plan or "as-drawn") / str(revision)


@dataclass(slots=True)
class _Lane:
    """Tasks that wait for one another: a file brought in does not wait for papers."""

    waiting: queue.Queue[str] = field(default_factory=queue.Queue)
    process: tuple[str, multiprocessing.process.BaseProcess] | None = None
    thread: threading.Thread | None = None


def _lane_of(kind: Kind) -> str:
    return "papers" if kind in PAPERS else kind


class Tasks:
    """The queue of a desk. Safe for several threads.

    Parameters
    ----------
    data, media : str or Path
        Of the store, as for `Store.open`; each process opens it anew.
    folder : Path
        Where tasks and the papers they make are kept.
    """

    def __init__(self, data: str | Path, folder: Path, *, media: Path | None = None) -> None:
        self.folder = folder
        self._data = data
        self._media = media
        self._lock = threading.Lock()
        self._tasks: dict[str, Task] = {}
        self.incoming = Incoming(folder / "incoming")
        self._lanes = {_lane_of(kind): _Lane() for kind in _WORK}
        self._tidy()
        self._read()

    def _tidy(self) -> None:
        """Take away what a crash left half made: it is in nobody's way, only on the disk."""
        for path in (self.folder / "tasks").glob("*"):
            if path.suffix != ".json":
                path.unlink(missing_ok=True)
        clear_old(self.folder, now=datetime.now(UTC))
        clear_unfinished(self.folder, "papers/*/*", "stills/*")
        self.incoming.tidy(now=datetime.now(UTC))

    def _read(self) -> None:
        """Take up what was left: work broken off begins anew."""
        for path in sorted((self.folder / "tasks").glob("*.json")):
            try:
                task = Task(**json.loads(path.read_text(encoding="utf-8")))
            except (OSError, ValueError, TypeError):
                # A file nobody can read holds no promise: what it stood for can be asked again.
                continue
            self._tasks[task.id] = task
        for task in sorted(self._tasks.values(), key=lambda t: (t.asked_at, t.id)):
            if task.open:
                self._put(replace(task, state="waiting", step="", steps=0, share=None))
                self._lanes[_lane_of(task.kind)].waiting.put(task.id)
        for lane in self._lanes.values():
            if not lane.waiting.empty():
                self._start(lane)

    def ask(
        self, kind: Kind, survey: int, plan: str, revision: int, *, who: str, when: datetime,
        title: str = "", number: str = "", arrival: str = "", tree: str = "",
        send: str = "", region: str = "",
    ) -> Task:  # fmt: skip
        """Ask for work; the same work that already waits or runs is not begun twice, and what the
        same sending of the same person has asked for before is not begun again."""
        with self._lock:
            for task in self._tasks.values():
                sent = (task.send, task.who, task.survey, task.kind)
                if send and sent == (send, who, survey, kind):
                    return task
                same = (task.kind, task.survey, task.plan, task.revision, task.arrival)
                if task.open and same == (kind, survey, plan, revision, arrival):
                    return task
            at = when.astimezone(UTC).isoformat(timespec="microseconds")
            task = Task(
                uuid.uuid4().hex, kind, survey, plan, revision, who, at, number=number, title=title,
                arrival=arrival, tree=tree, send=send, region=region,
            )  # fmt: skip
            self._put(task)
        lane = self._lanes[_lane_of(kind)]
        lane.waiting.put(task.id)
        self._start(lane)
        return task

    @property
    def idle(self) -> bool:
        """Whether no process works on anything."""
        with self._lock:
            return all(lane.process is None for lane in self._lanes.values())

    def get(self, task_id: str) -> Task | None:
        """Give a task, None where there is none."""
        with self._lock:
            return self._tasks.get(task_id)

    def of(self, survey: int, kinds: Sequence[Kind] = PAPERS) -> tuple[Task, ...]:
        """Give the tasks of a survey of these kinds, newest first."""
        with self._lock:
            found = [t for t in self._tasks.values() if t.survey == survey and t.kind in kinds]
        return tuple(sorted(found, key=lambda t: (t.asked_at, t.id), reverse=True))

    def cancel(self, task_id: str) -> Task | None:
        """Stop a task; one that is over stays as it is."""
        with self._lock:
            task = self._tasks.get(task_id)
            if task is None or not task.open:
                return task
            task = replace(task, state="cancelled", step="")
            self._put(task)
            running = self._lanes[_lane_of(task.kind)].process
            if running is not None and running[0] == task_id:
                running[1].kill()
            return task

    def _put(self, task: Task) -> None:
        self._tasks[task.id] = task
        folder = self.folder / "tasks"
        folder.mkdir(parents=True, exist_ok=True)
        with tempfile.NamedTemporaryFile("w", dir=folder, delete=False, encoding="utf-8") as out:
            json.dump(asdict(task), out)
            out.flush()
            os.fsync(out.fileno())
        os.replace(out.name, folder / f"{task.id}.json")

    def _start(self, lane: _Lane) -> None:
        with self._lock:
            if lane.thread is None or not lane.thread.is_alive():
                lane.thread = threading.Thread(target=self._work, args=(lane,), daemon=True)
                lane.thread.start()

    def _work(self, lane: _Lane) -> None:
        while True:
            task_id = lane.waiting.get()
            with self._lock:
                task = self._tasks[task_id]
                if task.state != "waiting":
                    continue
                task = replace(task, state="running", step="starting")
                self._put(task)
            try:
                self._run(task, lane)
            except Exception as e:
                self._over(task_id, "failed", f"{type(e).__name__}: {e}")

    def _run(self, task: Task, lane: _Lane) -> None:
        # A process of its own: it can be stopped at any point, and what a broken file makes it
        # do ends with it.
        context = _context()
        ours, theirs = context.Pipe(duplex=False)
        process = context.Process(
            target=_do, daemon=True,
            args=(
                str(self._data), self._media, str(self.folder),
                replace(task, model=named_model()), theirs,
            ),
        )  # fmt: skip
        # Not under the lock: the first process of all waits for the libraries to be read.
        process.start()
        theirs.close()
        with self._lock:
            lane.process = (task.id, process)
            if self._tasks[task.id].state != "running":
                # Cancelled while it was being started.
                process.kill()
        says, told = "it was stopped before it was done", ""
        try:
            while True:
                kind, text, share = ours.recv()
                if kind == "done":
                    says, told = "", text
                elif kind == "failed":
                    says = text
                else:
                    self._step(task.id, text, share)
        except (EOFError, OSError):
            pass
        process.join()
        with self._lock:
            lane.process = None
        self._over(task.id, "failed" if says else "done", says, told)

    def _step(self, task_id: str, step: str, share: float | None) -> None:
        with self._lock:
            task = self._tasks[task_id]
            if task.state == "running":
                # Steps are for whoever watches: they need not outlive the process.
                self._tasks[task_id] = replace(
                    task, step=step, steps=task.steps + 1, share=share
                )  # fmt: skip

    def _over(self, task_id: str, state: State, says: str, told: str = "") -> None:
        with self._lock:
            task = self._tasks[task_id]
            if task.state == "running":
                self._put(replace(task, state=state, step="", says=says, told=told))


def _context() -> Any:
    """Give how processes are begun: forked off one that has only read the libraries, which takes
    milliseconds; a fork of the desk itself would copy its threads and locks."""
    if "forkserver" not in multiprocessing.get_all_start_methods():
        return multiprocessing.get_context("spawn")
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload([__name__])
    return context


def _do(data: str, media: Path | None, folder: str, task: Task, told: Connection) -> None:
    """Do one task, in a process of its own."""
    threading.Thread(target=_end_with_the_desk, daemon=True).start()

    def step(name: str, share: float | None = None) -> None:
        told.send(("step", name, share))

    try:
        with Store.open(data, media=media) as store:
            came_of_it = _WORK[task.kind](store, Path(folder), task, step)
    except Exception as e:
        told.send(("failed", str(e) or type(e).__name__, None))
    else:
        told.send(("done", came_of_it, None))
    finally:
        told.close()


def _end_with_the_desk() -> None:
    # A desk that was killed begins this work anew when it starts; two must not do it at once.
    desk = multiprocessing.parent_process()
    if desk is not None:
        desk.join()
        os._exit(1)


def _make_papers(store: Store, folder: Path, task: Task, step: Step) -> str:
    out = papers_folder(folder, task.survey, task.plan, task.revision)
    if out.is_dir():
        return ""
    step("reading the survey")
    job = store.job(task.survey, variant=task.plan, revision=task.revision)
    findings = assess(job, progress=step)
    with whole_folder(out) as made:
        files = kept_files(store, task.survey, revision=task.revision)
        write_papers(findings, made, progress=step, files=files)
    return ""


def _issue(store: Store, folder: Path, task: Task, step: Step) -> str:
    del folder
    mark = (task.asked_at, task.who, task.title)
    if any((i.at, i.who, i.title) == mark for i in list_issues(store, task.survey)):
        # Sealed before the process was broken off.
        return ""
    issue_papers(
        store,
        task.survey,
        title=task.title,
        who=task.who,
        when=datetime.fromisoformat(task.asked_at),
        number=task.number,
        progress=step,
    )
    return ""


def _file(store: Store, folder: Path, task: Task, step: Step) -> str:
    return take_in(
        store, Incoming(folder / "incoming"), task.arrival, survey=task.survey, name=task.title,
        tree=task.tree, who=task.who, when=datetime.fromisoformat(task.asked_at), step=step,
    )  # fmt: skip


def _stills(store: Store, folder: Path, task: Task, step: Step) -> str:
    return make_stills(store, folder, task.survey, step=step)


def _speech(store: Store, folder: Path, task: Task, step: Step) -> str:
    return take_down(
        store, folder, task.survey, name=task.title, sha256=task.arrival, region=task.region,
        model=task.model,
        who=task.who, when=datetime.fromisoformat(task.asked_at), step=step,
    )  # fmt: skip


_WORK: dict[Kind, Callable[[Store, Path, Task, Step], str]] = {
    "papers": _make_papers,
    "issue": _issue,
    "file": _file,
    "stills": _stills,
    "speech": _speech,
}
