"""Long work in processes of its own: one after another, told as it goes, cancelled at any time.

Every task is a small file that is replaced whole, so that work which a crash or a restart broke
off is found again and begun anew: what a task makes appears only once all of it is there.
"""

import json
import multiprocessing
import os
import queue
import shutil
import tempfile
import threading
import uuid
from collections.abc import Callable
from dataclasses import asdict, dataclass, replace
from datetime import UTC, datetime
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Literal

from bolewalk.papers.write import write_papers
from bolewalk.store.issues import issue_papers, list_issues
from bolewalk.store.store import Store
from bolewalk.survey import assess

__all__ = ["Task", "Tasks", "papers_folder"]

State = Literal["waiting", "running", "done", "failed", "cancelled"]
Kind = Literal["papers", "issue"]
_OPEN: tuple[State, ...] = ("waiting", "running")


@dataclass(frozen=True, slots=True)
class Task:
    """One piece of long work.

    `step` is what it is doing; `steps` counts those begun. `says` is what went wrong. `number`
    and `title` belong to an issue.
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

    @property
    def open(self) -> bool:
        """Whether it waits or runs."""
        return self.state in _OPEN


def papers_folder(folder: Path, survey: int, plan: str, revision: int) -> Path:
    """Give where the papers of one state of a survey are, or would be."""
    return folder / "papers" / str(survey) / (plan or "as-drawn") / str(revision)


class Tasks:
    """The queue of a desk. Safe for several threads.

    Parameters
    ----------
    data : Path
        Folder of the store, opened anew by each process.
    folder : Path
        Where tasks and the papers they make are kept.
    """

    def __init__(self, data: Path, folder: Path) -> None:
        self.folder = folder
        self._data = data
        self._lock = threading.Lock()
        self._tasks: dict[str, Task] = {}
        self._queue: queue.Queue[str] = queue.Queue()
        self._process: tuple[str, multiprocessing.process.BaseProcess] | None = None
        self._thread: threading.Thread | None = None
        self._read()

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
                self._put(replace(task, state="waiting", step="", steps=0))
                self._queue.put(task.id)
        if not self._queue.empty():
            self._start()

    def ask(
        self, kind: Kind, survey: int, plan: str, revision: int, *, who: str, when: datetime,
        title: str = "", number: str = "",
    ) -> Task:  # fmt: skip
        """Ask for papers; the same work that already waits or runs is not begun twice."""
        with self._lock:
            for task in self._tasks.values():
                same = (task.kind, task.survey, task.plan, task.revision)
                if task.open and same == (kind, survey, plan, revision):
                    return task
            at = when.astimezone(UTC).isoformat(timespec="microseconds")
            task = Task(
                uuid.uuid4().hex, kind, survey, plan, revision, who, at, number=number, title=title
            )
            self._put(task)
        self._queue.put(task.id)
        self._start()
        return task

    def get(self, task_id: str) -> Task | None:
        """Give a task, None where there is none."""
        with self._lock:
            return self._tasks.get(task_id)

    def of(self, survey: int) -> tuple[Task, ...]:
        """Give the tasks of a survey, newest first."""
        with self._lock:
            found = [t for t in self._tasks.values() if t.survey == survey]
        return tuple(sorted(found, key=lambda t: (t.asked_at, t.id), reverse=True))

    def cancel(self, task_id: str) -> Task | None:
        """Stop a task; one that is over stays as it is."""
        with self._lock:
            task = self._tasks.get(task_id)
            if task is None or not task.open:
                return task
            task = replace(task, state="cancelled", step="")
            self._put(task)
            if self._process is not None and self._process[0] == task_id:
                self._process[1].kill()
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

    def _start(self) -> None:
        with self._lock:
            if self._thread is None or not self._thread.is_alive():
                self._thread = threading.Thread(target=self._work, name="papers", daemon=True)
                self._thread.start()

    def _work(self) -> None:
        while True:
            task_id = self._queue.get()
            with self._lock:
                task = self._tasks[task_id]
                if task.state != "waiting":
                    continue
                task = replace(task, state="running", step="starting")
                self._put(task)
            try:
                self._run(task)
            except Exception as e:
                self._over(task_id, "failed", f"{type(e).__name__}: {e}")

    def _run(self, task: Task) -> None:
        # A process of its own: it can be stopped at any point, and what a broken file makes it
        # do ends with it. Spawned, because a fork would copy this one's threads and locks.
        context = multiprocessing.get_context("spawn")
        ours, theirs = context.Pipe(duplex=False)
        process = context.Process(
            target=_do, args=(str(self._data), str(self.folder), task, theirs), daemon=True
        )
        with self._lock:
            if self._tasks[task.id].state != "running":
                return
            process.start()
            self._process = (task.id, process)
        theirs.close()
        says = "it was stopped before it was done"
        try:
            while True:
                kind, text = ours.recv()
                if kind == "done":
                    says = ""
                elif kind == "failed":
                    says = text
                else:
                    self._step(task.id, text)
        except (EOFError, OSError):
            pass
        process.join()
        with self._lock:
            self._process = None
        self._over(task.id, "failed" if says else "done", says)

    def _step(self, task_id: str, step: str) -> None:
        with self._lock:
            task = self._tasks[task_id]
            if task.state == "running":
                # Steps are for whoever watches: they need not outlive the process.
                self._tasks[task_id] = replace(task, step=step, steps=task.steps + 1)

    def _over(self, task_id: str, state: State, says: str) -> None:
        with self._lock:
            task = self._tasks[task_id]
            if task.state == "running":
                self._put(replace(task, state=state, step="", says=says))


def _do(data: str, folder: str, task: Task, told: Connection) -> None:
    """Do one task, in a process of its own."""

    def step(name: str) -> None:
        told.send(("step", name))

    try:
        with Store.open(Path(data)) as store:
            _WORK[task.kind](store, Path(folder), task, step)
    except Exception as e:
        told.send(("failed", str(e) or type(e).__name__))
    else:
        told.send(("done", ""))
    finally:
        told.close()


def _make_papers(store: Store, folder: Path, task: Task, step: Callable[[str], None]) -> None:
    out = papers_folder(folder, task.survey, task.plan, task.revision)
    if out.is_dir():
        return
    step("reading the survey")
    job = store.job(task.survey, variant=task.plan, revision=task.revision)
    findings = assess(job, progress=step)
    out.parent.mkdir(parents=True, exist_ok=True)
    made = Path(tempfile.mkdtemp(dir=out.parent, prefix="making-"))
    try:
        write_papers(findings, made, progress=step)
        made.rename(out)
    finally:
        shutil.rmtree(made, ignore_errors=True)


def _issue(store: Store, folder: Path, task: Task, step: Callable[[str], None]) -> None:
    del folder
    sealed = [i for i in list_issues(store, task.survey) if i.number == task.number]
    if sealed and sealed[0].at == task.asked_at:
        # Sealed before the process was broken off.
        return
    issue_papers(
        store,
        task.survey,
        title=task.title,
        who=task.who,
        when=datetime.fromisoformat(task.asked_at),
        number=task.number,
        progress=step,
    )


_WORK: dict[Kind, Callable[[Store, Path, Task, Callable[[str], None]], None]] = {
    "papers": _make_papers,
    "issue": _issue,
}
