"""Files read in a process of their own: what breaks, hangs or swells there is told, by name."""

import contextlib
import json
import os
import signal
import subprocess
import sys
import threading
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Literal

from bolewalk.desk.apart.limits import ProcessLimits, limits
from bolewalk.model.problems import Problem

__all__ = ["Answer", "Job", "answer_of", "begin", "collect", "pdf_text", "read_apart", "tell"]

Job = Literal["survey", "file", "recording", "pdf", "pdf text", "probe", "sound"]
_INSIDE = "bolewalk.desk.apart.inside"
_KEPT_NAMES = ("PATH", "HOME", "LANG", "LC_ALL", "PYTHONPATH", "SYSTEMROOT", "TMPDIR", "TEMP")
_ENDS_IN_MEMORY = ("MemoryError", "bad_alloc", "Cannot allocate", "cannot allocate")
# A machine has so much memory, however many people upload at once.
_TURN = threading.BoundedSemaphore(limits().process.at_once)


@dataclass(frozen=True, slots=True)
class Answer:
    """What the reader told.

    Attributes
    ----------
    problems : tuple of Problem
        Its own; one fault more where it did not come to an end.
    facts : mapping
        What was measured: "duration_s", "frame_px", "pages", "page_pt"; or "text", that of a PDF;
        by "probe" what a `Recording` says of itself.
    ended : bool
        It came to its end.
    """

    problems: tuple[Problem, ...]
    facts: dict[str, Any] = field(default_factory=dict)
    ended: bool = True


def read_apart(job: Job, path: Path, name: str, *, within: ProcessLimits | None = None) -> Answer:
    """Read a file or folder in a process of its own.

    Parameters
    ----------
    job : "survey", "file", "recording", "pdf", "pdf text" or "probe"
    path : Path
        A folder for "survey".
    name : str
        For problems; the folder's files are told by their own.
    within : ProcessLimits, optional
        Other limits than those of the data file.

    Returns
    -------
    Answer
        Never an exception for what the file does: a reader that was killed, ran out of memory or
        time, or broke, gives a fault that names the file it had open.
    """
    allowed = within or limits().process
    with _TURN:
        out, said, code = _run(job, path, name, allowed)
    return answer_of(out, said, code, name, allowed)


def pdf_text(path: Path, name: str) -> str | None:
    """Give the text of a PDF file, read in a process of its own.

    None where it cannot be read: damaged, locked, too large for the limits, or no library is
    installed (the extra pdf).
    """
    text = read_apart("pdf text", path, name).facts.get("text")
    return text if isinstance(text, str) else None


def begin() -> "subprocess.Popen[bytes]":
    """Start a reader, which waits to be told what to read."""
    env = {k: v for k in _KEPT_NAMES if (v := os.environ.get(k)) is not None}
    # Each thread of the number library reserves memory of its own.
    env |= {"OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1", "PYTHONDONTWRITEBYTECODE": "1"}
    return subprocess.Popen(
        [sys.executable, "-P", "-m", _INSIDE],
        stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE, env=env,
    )  # fmt: skip


def tell(
    process: "subprocess.Popen[bytes]", job: Job, path: Path, name: str, allowed: ProcessLimits
) -> None:
    """Tell a reader that was started what to read."""
    asked = {
        "job": job, "path": str(path), "name": name, "memory_bytes": allowed.memory_bytes,
        "cpu_s": allowed.cpu_s,
    }  # fmt: skip
    assert process.stdin is not None
    # A process that died before it listened is told by its exit code.
    with contextlib.suppress(OSError):
        process.stdin.write(json.dumps(asked).encode() + b"\n")
        process.stdin.close()


def _run(job: Job, path: Path, name: str, allowed: ProcessLimits) -> tuple[bytes, str, int | None]:
    """Give what the process wrote, its last words, and its exit code; None where time ran out."""
    process = begin()
    out, said = bytearray(), bytearray()
    assert process.stdout is not None
    assert process.stderr is not None
    readers = [
        threading.Thread(target=collect, args=(process, stream, into, most), daemon=True)
        for stream, into, most in (
            (process.stdout, out, allowed.answer_bytes), (process.stderr, said, 1 << 20),
        )
    ]  # fmt: skip
    for reader in readers:
        reader.start()
    tell(process, job, path, name, allowed)
    try:
        code: int | None = process.wait(timeout=allowed.clock_s)
    except subprocess.TimeoutExpired:
        process.kill()
        process.wait()
        code = None
    for reader in readers:
        reader.join()
    process.stdout.close()
    process.stderr.close()
    return bytes(out), said.decode("utf-8", errors="replace"), code


def collect(process: "subprocess.Popen[bytes]", stream: Any, into: bytearray, most: int) -> None:
    """Gather what a reader says; one that says more than `most` bytes is ended."""
    while piece := os.read(stream.fileno(), 1 << 16):
        if len(into) + len(piece) > most:
            # An answer longer than any survey's is itself an attack on who reads it.
            process.kill()
        else:
            into += piece


def answer_of(out: bytes, said: str, code: int | None, name: str, allowed: ProcessLimits) -> Answer:
    """Give the answer in the lines of a reader that ended with this exit code.

    Parameters
    ----------
    out : bytes
        What it wrote, without pieces it handed over.
    said : str
        Its last words.
    code : int or None
        None where its time ran out.
    name : str
    allowed : ProcessLimits
    """
    at = name
    for line in out.splitlines():
        try:
            told = json.loads(line)
            if "at" in told:
                at = str(told["at"])
            else:
                problems = tuple(Problem(**p) for p in told["problems"])
                return Answer(problems, dict(told["facts"]))
        except (ValueError, TypeError, KeyError):
            # Half a line of a reader that was killed while it wrote.
            break
    return Answer((Problem(at, None, None, *_why(said, code, allowed)),), ended=False)


def _why(said: str, code: int | None, allowed: ProcessLimits) -> tuple[str, str]:
    """Say in words what ended a reader, and what would be read."""
    slow = code is None or code == -getattr(signal, "SIGXCPU", 0)
    if slow:
        limit = allowed.clock_s if code is None else allowed.cpu_s
        found = f"not read after {limit:g} seconds"
        return found, "a file that is read in less: save it anew, or in parts"
    if any(x in said for x in _ENDS_IN_MEMORY):
        most = allowed.memory_bytes // 1_000_000
        return "more memory than a reader has", f"a file that needs less than {most:,} MB to read"
    last = next((x.strip() for x in reversed(said.splitlines()) if x.strip()), f"exit {code}")
    return f"the reader broke off: {last[:120]}", "a sound file: save it anew where it came from"
