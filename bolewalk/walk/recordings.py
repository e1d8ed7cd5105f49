"""Recordings: what a file holds, and its sound as a stream.

A file is judged by its content, never by its name, and read from start to end in blocks: memory
does not grow with its length. It needs the extra `media`.
"""

import hashlib
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from bolewalk.model.extras import extra
from bolewalk.model.problems import Problem
from bolewalk.walk.recording_settings import recording_settings

__all__ = [
    "Recording",
    "Sound",
    "SoundStream",
    "fingerprint",
    "is_recording",
    "media",
    "open_media",
    "probe",
]

_EXPECTED = "a recording: mp4, mov, m4a, mp3 or wav"
_EDGE_BYTES = 1 << 20
_HEAD_BYTES = 1 << 16
_NAMES = (".mp4", ".mov", ".m4a", ".mp3", ".wav")
_TEXT_NAMES = (".vtt", ".srt", ".txt")


@dataclass(frozen=True, slots=True)
class Recording:
    """A file that can be played.

    Attributes
    ----------
    path : Path
    name : str
        For problems.
    duration_s : float
        As the file declares it, 0 where it does not; `Sound.heard_s` is what was really there.
    sound_s : float
        Declared length of the sound alone, 0 where not declared.
    has_audio, has_video : bool
        A cover picture is no video.
    """

    path: Path
    name: str
    duration_s: float
    sound_s: float
    has_audio: bool
    has_video: bool


def media() -> Any:
    """Give the media library.

    Raises
    ------
    MissingExtraError
        It is not installed.
    """
    with extra("media", what="Reading recordings"):
        import av
    return av


@contextmanager
def open_media(path: Path) -> Iterator[Any]:
    """Open a recording for a `with` block.

    The file is handed over open and only plain containers are tried, so nothing a file says can
    make the library open another file or an address.
    """
    av = media()
    options = {"format_whitelist": ",".join(recording_settings().formats)}
    # Before version 19 a title that is not UTF-8 would make the whole file unreadable.
    extra = {"metadata_errors": "ignore"} if int(av.__version__.split(".")[0]) < 19 else {}
    with path.open("rb") as stream, av.open(stream, options=options, **extra) as container:
        yield container


def is_recording(path: Path) -> bool:
    """Tell a recording from a transcript, without the media library.

    Text has no zero bytes; a file without any is still a recording where its name says so, so
    that an empty or damaged one is told as that. What is named as a transcript is read as one,
    and told to be binary where it is.
    """
    with path.open("rb") as f:
        head = f.read(_HEAD_BYTES)
    if path.suffix.lower() in _TEXT_NAMES:
        return False
    return b"\x00" in head or path.suffix.lower() in _NAMES


def probe(path: Path, *, file: str) -> tuple[Recording | None, tuple[Problem, ...]]:
    """Find out what a file holds.

    Parameters
    ----------
    path : Path
    file : str
        Its name for problems.

    Returns
    -------
    recording, problems
        None with one fault where the file cannot be played. A recording without sound is given
        with a fault: its pictures may still be of use.

    Raises
    ------
    MissingExtraError
        The media library is not installed.
    """
    av = media()
    try:
        if path.stat().st_size == 0:
            return None, (Problem(file, None, None, "an empty file", _EXPECTED),)
        with open_media(path) as container:
            audio = container.streams.audio
            video = [s for s in container.streams.video if not _cover(s)]
            duration = max(0.0, (container.duration or 0) / av.time_base)
            sound = _length(audio[0]) if audio else 0.0
    except (av.FFmpegError, OSError) as e:
        return None, (Problem(file, None, None, why(e), _EXPECTED),)
    if not audio and not video:
        return None, (Problem(file, None, None, "neither sound nor pictures", _EXPECTED),)
    recording = Recording(
        path, file, duration, sound or (0.0 if video else duration), bool(audio), bool(video)
    )
    if not audio:
        expected = "a recording with sound; there is no speech to take down"
        return recording, (Problem(file, None, None, "no audio track", expected),)
    return recording, ()


def _length(stream: Any) -> float:
    if stream.duration is None or stream.time_base is None:
        return 0.0
    return max(0.0, float(stream.duration * stream.time_base))


def _cover(stream: Any) -> bool:
    return bool(stream.disposition & type(stream.disposition).attached_pic)


def why(error: Exception) -> str:
    """Say in the library's own words why a file cannot be read, without its path."""
    return (getattr(error, "strerror", None) or "cannot be read").lower()


class SoundStream(Protocol):
    """The sound of a recording as `Sound` gives it, wherever it is decoded."""

    samples: int
    peak: float

    @property
    def heard_s(self) -> float:
        """Seconds given so far."""

    def __iter__(self) -> Iterator[NDArray[np.float32]]:
        """Give the blocks."""

    def problems(self) -> tuple[Problem, ...]:
        """Tell what was wrong, once the end was reached."""


class Sound:
    """The sound of a recording: iterate to get it in blocks; then ask what was found.

    Blocks are float32 in -1..1, one channel, at `recording_settings().sound.rate_hz`, each about
    a second. Where the time stamps jump, silence fills the gap, so the place of a sample is its
    time. What cannot be decoded is left out and told.

    Attributes
    ----------
    samples : int
        Samples given so far.
    peak : float
        Loudest so far, 0..1.
    """

    def __init__(self, recording: Recording) -> None:
        self._recording = recording
        self._settings = recording_settings().sound
        self.samples = 0
        self.peak = 0.0
        self._bad: list[float] = []
        self._gave_up = ""

    @property
    def heard_s(self) -> float:
        """Seconds given so far."""
        return self.samples / self._settings.rate_hz

    def __iter__(self) -> Iterator[NDArray[np.float32]]:
        size = int(self._settings.block_s * self._settings.rate_hz)
        waiting: list[NDArray[np.float32]] = []
        count = 0
        for piece in self._pieces():
            waiting.append(piece)
            count += len(piece)
            if count >= size:
                yield self._given(np.concatenate(waiting))
                waiting, count = [], 0
        if count:
            yield self._given(np.concatenate(waiting))

    def _given(self, block: NDArray[np.float32]) -> NDArray[np.float32]:
        # A damaged stream may decode to infinities, which no later step could take.
        block = np.clip(np.nan_to_num(block, posinf=0.0, neginf=0.0), -1.0, 1.0)
        self.samples += len(block)
        self.peak = max(self.peak, float(np.abs(block).max()))
        return block

    def _pieces(self) -> Iterator[NDArray[np.float32]]:
        """Decode and resample; every gap in time becomes silence of its length."""
        av = media()
        rate = self._settings.rate_hz
        longest = self._recording.duration_s
        made = 0
        try:
            with open_media(self._recording.path) as container:
                stream = container.streams.audio[0]
                stream.thread_type = "AUTO"
                resampler = av.AudioResampler(format="flt", layout="mono", rate=rate)
                for frame in self._frames(container, stream):
                    at = frame.time
                    gap = 0.0 if at is None else at - made / rate
                    if self._settings.gap_s < gap <= longest - made / rate:
                        for silence in _silence(round(gap * rate), rate):
                            made += len(silence)
                            yield silence
                    frame.pts = None
                    for out in resampler.resample(frame):
                        piece = out.to_ndarray().reshape(-1)
                        made += len(piece)
                        yield piece
                for out in resampler.resample(None):
                    yield out.to_ndarray().reshape(-1)
        except (av.FFmpegError, OSError) as e:
            self._gave_up = why(e)

    def _frames(self, container: Any, stream: Any) -> Iterator[Any]:
        in_a_row = 0
        at = 0.0
        for packet in container.demux(stream):
            if packet.pts is not None and packet.time_base is not None:
                at = float(packet.pts * packet.time_base)
            try:
                frames = packet.decode()
            except media().FFmpegError:
                self._bad.append(at)
                in_a_row += 1
                if in_a_row >= self._settings.bad_packets:
                    self._gave_up = "damaged data"
                    return
                continue
            in_a_row = 0 if frames else in_a_row
            yield from frames

    def problems(self) -> tuple[Problem, ...]:
        """Tell what was wrong with the sound; to be asked once the end was reached."""
        r = self._recording
        out = []
        if not self.samples:
            expected = "a recording with sound"
            out.append(
                Problem(r.name, None, None, self._gave_up or "a track of no length", expected)
            )
        elif self.peak < self._settings.silent_peak:
            expected = "a recording with sound; was the microphone covered or off?"
            out.append(Problem(r.name, None, None, "silence from start to end", expected))
        if self._bad:
            value = f"damaged between {_clock(min(self._bad))} and {_clock(max(self._bad))}"
            expected = "a whole recording; the damaged places were left out"
            out.append(Problem(r.name, None, None, value, expected))
        if self.samples and r.sound_s - self.heard_s > self._settings.short_s:
            value = f"sound up to {_clock(self.heard_s)} of {_clock(r.sound_s)}"
            out.append(Problem(r.name, None, None, value, "a whole recording; the rest is missing"))
        return tuple(out)


def _silence(samples: int, block: int) -> Iterator[NDArray[np.float32]]:
    for start in range(0, samples, block):
        yield np.zeros(min(block, samples - start), dtype=np.float32)


def _clock(seconds: float) -> str:
    whole = int(seconds)
    hours, rest = divmod(whole, 3600)
    if hours:
        return f"{hours}:{rest // 60:02d}:{rest % 60:02d}"
    return f"{rest // 60}:{rest % 60:02d}"


def fingerprint(path: Path) -> str:
    """Give a short mark that tells one large file from another.

    It is made of the size and the first, middle and last MiB, so that a file of many gigabytes
    need not be read for it: a change elsewhere that keeps the size goes unseen.
    """
    size = path.stat().st_size
    digest = hashlib.sha256(str(size).encode())
    with path.open("rb") as f:
        for start in (0, max(0, size // 2 - _EDGE_BYTES // 2), max(0, size - _EDGE_BYTES)):
            f.seek(start)
            digest.update(f.read(_EDGE_BYTES))
    return digest.hexdigest()[:16]
