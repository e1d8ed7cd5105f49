"""Taking down what was said on recordings, once, with a way to stop and go on.

    recording -> sound in blocks -> stretches cut at pauses -> words -> WebVTT

Each finished stretch is kept at once in a file beside the transcript (`NAME.partial`); a run that
was stopped, killed or cut off goes on behind the last finished stretch, and ends with the same
transcript as a run that was not.
"""

import json
import os
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any

from bolewalk.model.problems import Problem
from bolewalk.walk.recogniser import Heard, Recogniser, Word
from bolewalk.walk.recording_settings import recording_settings
from bolewalk.walk.recordings import Recording, Sound, SoundStream, fingerprint, probe
from bolewalk.walk.stretches import stretches
from bolewalk.walk.transcript import Section, transcript_vtt

__all__ = ["Progress", "Transcription", "partial_path", "transcribe"]

_FORM = 1


@dataclass(frozen=True, slots=True)
class Progress:
    """How far a transcription is, in seconds of sound.

    `left_s` is the time still needed, from the pace so far of this run; None until there is one,
    and where no clock was given. `total_s` is what the files declare.
    """

    done_s: float
    total_s: float
    left_s: float | None


@dataclass(frozen=True, slots=True)
class Transcription:
    """What came of it.

    Attributes
    ----------
    words : tuple of Word
        With times on the time line of all recordings, each starting where the one before ended.
    sections : tuple of Section
    problems : tuple of Problem
    finished : bool
        False where it was cancelled; then no transcript was written.
    resumed_s : float
        Seconds taken over from an earlier run.
    """

    words: tuple[Word, ...]
    sections: tuple[Section, ...]
    problems: tuple[Problem, ...]
    finished: bool
    resumed_s: float


@dataclass(frozen=True, slots=True)
class _Kept:
    """One finished stretch, in samples and seconds of its own recording."""

    recording: int
    start: int
    end: int
    heard: Heard


def partial_path(out: Path) -> Path:
    """Give the file that holds the finished stretches of an unfinished transcript."""
    return out.with_name(out.name + ".partial")


def transcribe(
    recordings: Sequence[tuple[Path, str]], *, out: Path, recogniser: Recogniser,
    progress: Callable[[Progress], None] | None = None,
    cancelled: Callable[[], bool] | None = None,
    clock: Callable[[], float] | None = None,
    look: Callable[..., tuple[Recording | None, tuple[Problem, ...]]] = probe,
    sound_of: Callable[[Recording], SoundStream] = Sound,
) -> Transcription:  # fmt: skip
    """Take down recordings, in order, into one WebVTT file.

    Parameters
    ----------
    recordings : sequence of (path, name)
        In the order they were made, each with its name for problems.
    out : Path
        The transcript; replaced when there is one. Written only when all is done, and not where
        no recording could be played: the next run must not take it for done.
    recogniser : Recogniser
    progress : callable, optional
        Called after every stretch.
    cancelled : callable, optional
        Asked before every stretch; True stops, and what is finished stays for the next run.
    clock : callable, optional
        Gives seconds that only grow, for the time left.
    look, sound_of : callable
        How a file is opened and decoded: as `probe` and `Sound` do it, or in another process.

    Returns
    -------
    Transcription
        A recording that cannot be played, has no sound, is silent or holds no speech is a fault
        in `problems` and adds nothing to the words; the others count.

    Raises
    ------
    MissingExtraError
        The media library is not installed.
    OSError
        The transcript or the file beside it cannot be written.
    """
    found = [look(path, file=name) for path, name in recordings]
    problems = [p for _, wrong in found for p in wrong]
    usable = [r for r, _ in found if r is not None and r.has_audio]
    words: list[Word] = []
    sections: list[Section] = []
    with _Partial(out, usable, recogniser) as partial:
        if partial.stale:
            problems.append(
                Problem(partial.path.name, None, None, "stretches of another run",
                        "the same recordings, model and settings; it was begun anew", "notice")
            )  # fmt: skip
        meter = _Meter(sum(r.duration_s for r in usable), progress, clock)
        for k, recording in enumerate(usable):
            sound = sound_of(recording)
            run = _stretches_of(k, sound, partial, recogniser, cancelled, meter)
            offset = sections[-1].start_s + sections[-1].duration_s if sections else 0.0
            heard: list[Word] = []
            left_out: list[tuple[float, float]] = []
            for kept in run:
                if kept is None:
                    return Transcription(tuple(words), tuple(sections), tuple(problems), False,
                                         partial.resumed_s)  # fmt: skip
                start = kept.start / recording_settings().sound.rate_hz
                heard += [_shift(w, start) for w in kept.heard.words]
                left_out += [(a + start, b + start) for a, b in kept.heard.left_out]
            problems += sound.problems()
            problems += _unheard(recording, sound, heard, left_out)
            words += [_shift(w, offset) for w in heard]
            sections.append(Section(recording.name, offset, sound.heard_s))
            meter.recording_done(recording.duration_s)
        if sections:
            _write(out, transcript_vtt(words, sections, heard_by=recogniser.label))
        partial.finished()
    return Transcription(
        tuple(words), tuple(sections), tuple(problems), True, partial.resumed_s
    )  # fmt: skip


def _stretches_of(
    k: int, sound: SoundStream, partial: "_Partial", recogniser: Recogniser,
    cancelled: Callable[[], bool] | None, meter: "_Meter",
) -> Iterator[_Kept | None]:  # fmt: skip
    """Give the stretches of a recording: the kept ones, then those heard now. None: cancelled."""
    before = partial.of(k)
    yield from before
    skip = before[-1].end if before else 0
    meter.skip(skip / recording_settings().sound.rate_hz)
    for stretch in stretches(sound, speech_in=recogniser.speech_in, skip=skip):
        if cancelled is not None and cancelled():
            yield None
            return
        heard = recogniser.hear(stretch.sound) if stretch.has_speech else Heard(())
        kept = _Kept(k, stretch.start, stretch.end, heard)
        partial.keep(kept)
        meter.advance(kept.end / recording_settings().sound.rate_hz)
        yield kept


def _unheard(
    recording: Recording, sound: SoundStream, words: Sequence[Word],
    left_out: Sequence[tuple[float, float]],
) -> list[Problem]:  # fmt: skip
    out = []
    silent = sound.peak < recording_settings().sound.silent_peak
    if not words and not left_out and sound.samples and not silent:
        expected = "a recording with speech that can be understood"
        out.append(Problem(recording.name, None, None, "no speech was heard", expected))
    for a, b in left_out:
        value = f"{a:.0f} s to {b:.0f} s"
        expected = "speech that can be understood; it was left out, listen to it"
        out.append(Problem(recording.name, None, "speech", value, expected, "notice"))
    return out


def _shift(w: Word, by_s: float) -> Word:
    return Word(w.text, w.start_s + by_s, w.end_s + by_s, w.probability) if by_s else w


def _write(path: Path, text: str) -> None:
    """Write a whole file or none."""
    new = path.with_name(path.name + ".new")
    new.write_text(text, encoding="utf-8", newline="\n")
    new.replace(path)


class _Meter:
    """Keeps the pace and tells the progress."""

    def __init__(
        self, total_s: float, tell: Callable[[Progress], None] | None,
        clock: Callable[[], float] | None,
    ) -> None:  # fmt: skip
        self._total = total_s
        self._tell = tell
        self._clock = clock
        self._before = 0.0
        self._skipped = 0.0
        self._done = 0.0
        self._began = clock() if clock else 0.0

    def skip(self, seconds: float) -> None:
        """Count what an earlier run had finished, which says nothing of the pace."""
        self._skipped += seconds

    def advance(self, at_s: float) -> None:
        """Count the present recording up to `at_s`."""
        self._done = self._before + at_s
        if self._tell is None:
            return
        left = None
        fresh = self._done - self._skipped
        if self._clock is not None and fresh > 0:
            pace = (self._clock() - self._began) / fresh
            left = max(0.0, self._total - self._done) * pace
        self._tell(Progress(self._done, max(self._total, self._done), left))

    def recording_done(self, duration_s: float) -> None:
        """Go on to the next recording."""
        self._before += duration_s


class _Partial:
    """The finished stretches of a run, one JSON line each behind a line that tells of what."""

    def __init__(self, out: Path, recordings: Sequence[Recording], recogniser: Recogniser) -> None:
        self.path = partial_path(out)
        self.stale = False
        self.resumed_s = 0.0
        self._out = out
        self._head = {
            "form": _FORM,
            "recogniser": recogniser.identity,
            "recordings": [[r.path.name, fingerprint(r.path)] for r in recordings],
        }
        self._kept: list[_Kept] = []
        self._file: IO[bytes] | None = None

    def __enter__(self) -> "_Partial":
        self.path.parent.mkdir(parents=True, exist_ok=True)
        whole_bytes = self._read()
        # Cut off behind the last whole line: the last one of a killed run may be half a line.
        self._file = self.path.open("r+b" if whole_bytes else "wb")
        self._file.truncate(whole_bytes)
        self._file.seek(whole_bytes)
        if not whole_bytes:
            self._line(self._head)
        samples = sum(k.end - k.start for k in self._kept)
        self.resumed_s = samples / recording_settings().sound.rate_hz
        return self

    def __exit__(self, *_: object) -> None:
        if self._file is not None:
            self._file.close()

    def of(self, recording: int) -> list[_Kept]:
        """Give the stretches of one recording finished before."""
        return [k for k in self._kept if k.recording == recording]

    def keep(self, kept: _Kept) -> None:
        """Write a finished stretch to the disk."""
        self._kept.append(kept)
        self._line(
            {
                "recording": kept.recording, "start": kept.start, "end": kept.end,
                "left_out": kept.heard.left_out,
                "words": [[w.text, w.start_s, w.end_s, w.probability] for w in kept.heard.words],
            }
        )  # fmt: skip

    def finished(self) -> None:
        """Take the file away: the transcript is written."""
        if self._file is not None:
            self._file.close()
        self.path.unlink(missing_ok=True)

    def _line(self, value: Any) -> None:
        if self._file is None:
            raise ValueError("the file of finished stretches is not open")
        self._file.write(json.dumps(value).encode("ascii") + b"\n")
        self._file.flush()
        os.fsync(self._file.fileno())

    def _read(self) -> int:
        """Take over what an earlier run finished; give the bytes of the file that are sound."""
        try:
            lines = self.path.read_bytes().split(b"\n")
        except OSError:
            return 0
        if len(lines) < 2 or _json(lines[0]) != self._head:
            self.stale = True
            return 0
        size = len(lines[0]) + 1
        for line in lines[1:-1]:
            kept = _kept(_json(line))
            last = self._kept[-1] if self._kept else None
            if kept is None:
                break
            same = last is not None and last.recording == kept.recording
            if kept.start != (last.end if last is not None and same else 0):
                break
            self._kept.append(kept)
            size += len(line) + 1
        return size


def _json(line: bytes) -> Any:
    try:
        return json.loads(line)
    except ValueError:
        return None


def _kept(raw: Any) -> _Kept | None:
    """Make a stretch of a line; None where the line is damaged."""
    try:
        heard = Heard(
            tuple(Word(str(t), float(a), float(b), float(p)) for t, a, b, p in raw["words"]),
            tuple((float(a), float(b)) for a, b in raw["left_out"]),
        )
        return _Kept(int(raw["recording"]), int(raw["start"]), int(raw["end"]), heard)
    except (KeyError, TypeError, ValueError):
        return None
