"""The sound of a recording, decoded in a process of its own and handed over block by block."""

import base64
import binascii
import json
import subprocess
import threading
import time
from collections.abc import Generator, Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from bolewalk.desk.apart.limits import ProcessLimits, limits
from bolewalk.desk.apart.worker import Answer, answer_of, begin, collect, read_apart, tell
from bolewalk.model.problems import Problem
from bolewalk.walk.recording_settings import recording_settings
from bolewalk.walk.recordings import Recording

__all__ = ["SoundApart", "probe_apart"]

_SAID_BYTES = 1 << 20


def probe_apart(path: Path, *, file: str) -> tuple[Recording | None, tuple[Problem, ...]]:
    """Find out what a file holds, as `walk.recordings.probe`, without opening it here.

    Returns
    -------
    recording, problems
        None also where the reader did not come to its end; the fault says why.
    """
    answer = read_apart("probe", path, file)
    facts = answer.facts
    if not answer.ended or "duration_s" not in facts:
        return None, answer.problems
    return (
        Recording(
            path, file, float(facts["duration_s"]), float(facts["sound_s"]),
            bool(facts["has_audio"]), bool(facts["has_video"]),
        ),
        answer.problems,
    )  # fmt: skip


class SoundApart:
    """The sound of a recording, as `walk.recordings.Sound` gives it.

    No more than the longest recording the desk takes is listened to, whatever a file unpacks to.

    Parameters
    ----------
    recording : Recording
    within : ProcessLimits, optional
        Other limits than `[sound]` of the data file.
    hours : float, optional
        Longest sound, instead of that of the data file.
    """

    def __init__(
        self, recording: Recording, *, within: ProcessLimits | None = None,
        hours: float | None = None,
    ) -> None:  # fmt: skip
        self._recording = recording
        self._allowed = within or limits().sound
        self._hours = limits().hours if hours is None else hours
        self._told: tuple[Problem, ...] = ()
        self._rate = recording_settings().sound.rate_hz
        self.samples = 0
        self.peak = 0.0

    @property
    def heard_s(self) -> float:
        """Seconds given so far."""
        return self.samples / self._rate

    def problems(self) -> tuple[Problem, ...]:
        """Tell what was wrong with the sound; to be asked once the end was reached."""
        return self._told

    def __iter__(self) -> Iterator[NDArray[np.float32]]:
        with closing(self._handed_over()) as handed_over:
            for given in handed_over:
                if isinstance(given, Answer):
                    self._told = given.problems
                elif self.samples + len(given) > self._hours * 3600 * self._rate:
                    self._told = (self._too_long(),)
                    return
                else:
                    self.samples += len(given)
                    self.peak = max(self.peak, float(np.abs(given).max(initial=0.0)))
                    yield given

    def _too_long(self) -> Problem:
        return Problem(
            self._recording.name, None, None, f"sound of more than {self._hours:g} hours",
            f"at most {self._hours:g} hours; the rest was not listened to",
        )  # fmt: skip

    def _handed_over(self) -> Generator[NDArray[np.float32] | Answer, None, None]:
        """Give the blocks as the process hands them over, and last its answer."""
        process = begin()
        assert process.stdout is not None
        assert process.stderr is not None
        said = bytearray()
        listener = threading.Thread(
            target=collect, args=(process, process.stderr, said, _SAID_BYTES), daemon=True
        )
        listener.start()
        watch = _Watch(process, self._allowed.clock_s)
        lines = bytearray()
        code: int | None = None
        try:
            tell(process, "sound", self._recording.path, self._recording.name, self._allowed)
            while line := watch.line(process.stdout, self._allowed.answer_bytes):
                block = _block(line)
                if block is not None:
                    yield block
                elif len(lines) + len(line) <= self._allowed.answer_bytes:
                    lines += line
                else:
                    process.kill()
            code = process.wait()
        finally:
            # Also where nobody listens on.
            watch.over()
            process.kill()
            process.wait()
            listener.join()
            process.stdout.close()
            process.stderr.close()
        # The clock is that of one block.
        words = said.decode("utf-8", errors="replace")
        code = None if watch.ran_out else code
        yield answer_of(bytes(lines), words, code, self._recording.name, self._allowed)


def _block(line: bytes) -> NDArray[np.float32] | None:
    """Give the sound in a line, None where it tells something else or is only half there."""
    try:
        told = json.loads(line)
        piece = told.get("piece") if isinstance(told, dict) else None
        if not isinstance(piece, str):
            return None
        block = np.frombuffer(base64.b64decode(piece, validate=True), dtype="<f4")
    except (ValueError, binascii.Error):
        return None
    # What was decoded by a process that may have been made to lie is held to the same bounds.
    bounded: NDArray[np.float32] = np.clip(np.nan_to_num(block, posinf=0.0, neginf=0.0), -1, 1)
    return bounded.astype(np.float32, copy=False)


class _Watch:
    """Ends a process that takes longer over one line than it may."""

    def __init__(self, process: "subprocess.Popen[bytes]", clock_s: float) -> None:
        self._process = process
        self._clock_s = clock_s
        self._since: float | None = None
        self._over = threading.Event()
        self.ran_out = False
        self._thread = threading.Thread(target=self._look, daemon=True)
        self._thread.start()

    def line(self, stream: Any, most: int) -> bytes:
        """Give the next line, empty at the end; one longer than `most` ends the process."""
        self._since = time.monotonic()
        line: bytes = stream.readline(most)
        self._since = None
        if len(line) < most:
            return line
        self._process.kill()
        return b""

    def over(self) -> None:
        """Stop looking."""
        self._over.set()
        self._thread.join()

    def _look(self) -> None:
        while not self._over.wait(min(1.0, self._clock_s / 4)):
            since = self._since
            if since is not None and time.monotonic() - since > self._clock_s:
                self.ran_out = True
                self._process.kill()
                return
