"""Cutting the sound of a recording into stretches a recogniser hears at once."""

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bolewalk.walk.recording_settings import StretchSettings, recording_settings

__all__ = ["Stretch", "stretches"]

SpeechIn = Callable[[NDArray[np.float32]], Sequence[tuple[int, int]]]
_QUIET_FRAME_S = 0.1


@dataclass(frozen=True, slots=True)
class Stretch:
    """A piece of sound. `start` and `end` are samples of the recording, `end` not included."""

    start: int
    end: int
    sound: NDArray[np.float32]
    has_speech: bool


def stretches(
    blocks: Iterable[NDArray[np.float32]], *, speech_in: SpeechIn, skip: int = 0
) -> Iterator[Stretch]:
    """Cut a stream of sound at pauses.

    Parameters
    ----------
    blocks : iterable of ndarray of float32
        The sound from its start.
    speech_in : callable
        Gives the [start, end) samples of speech in a piece, in order.
    skip : int
        Samples to pass over: the `end` of the last stretch already dealt with. The cuts after it
        are the ones a run from the start would have made.

    Yields
    ------
    Stretch
        Without gap or overlap, up to the last sample. A stretch with speech is no longer than
        `longest_s`, and cut at its longest pause after `cut_from_s`; where nobody pauses, at the
        quietest tenth of a second.
    """
    s = recording_settings().stretches
    rate = recording_settings().sound.rate_hz
    source = iter(blocks)
    held = _Held(start=0)
    while held.start < skip and held.take(source):
        held.drop(min(held.length, skip - held.start))
    longest = round(s.longest_s * rate)
    more = True
    while True:
        while more and held.length < longest:
            more = held.take(source)
        if not held.length:
            return
        sound = held.first(longest)
        spoken = speech_in(sound)
        last = not more and held.length <= longest
        if not spoken:
            end = len(sound) if last else len(sound) - round(s.keep_s * rate)
            yield held.cut(end, has_speech=False)
            continue
        lead = spoken[0][0] - round(s.lead_s * rate)
        if lead > round(s.keep_s * rate):
            yield held.cut(lead, has_speech=False)
            continue
        end = len(sound) if last else _pause(sound, spoken, s, rate)
        yield held.cut(end, has_speech=True)


class _Held:
    """Sound read and not yet given on."""

    def __init__(self, start: int) -> None:
        self.start = start
        self.length = 0
        self._parts: list[NDArray[np.float32]] = []

    def take(self, source: Iterator[NDArray[np.float32]]) -> bool:
        """Add the next block; False at the end of the stream."""
        block = next(source, None)
        if block is None:
            return False
        self._parts.append(block)
        self.length += len(block)
        return True

    def first(self, n: int) -> NDArray[np.float32]:
        """Give the first n samples held."""
        self._parts = [np.concatenate(self._parts)]
        return self._parts[0][:n]

    def drop(self, n: int) -> None:
        """Leave out the first n samples."""
        rest = np.concatenate(self._parts)[n:]
        self._parts = [rest] if len(rest) else []
        self.start += n
        self.length -= n

    def cut(self, n: int, *, has_speech: bool) -> Stretch:
        """Give the first n samples as a stretch, and drop them."""
        stretch = Stretch(self.start, self.start + n, self.first(n).copy(), has_speech)
        self.drop(n)
        return stretch


def _pause(
    sound: NDArray[np.float32], spoken: Sequence[tuple[int, int]], s: StretchSettings, rate: int
) -> int:
    """Find the sample to cut at: the middle of the longest pause, else the quietest place."""
    low, high = round(s.cut_from_s * rate), len(sound)
    edges = [0, *(x for pair in spoken for x in pair), len(sound)]
    pauses = [
        (min(b, high) - max(a, low), max(a, low), min(b, high))
        for a, b in zip(edges[::2], edges[1::2], strict=True)
    ]
    length, a, b = max(pauses)
    if length >= s.pause_s * rate:
        return (a + b) // 2
    frame = round(_QUIET_FRAME_S * rate)
    count = (high - low) // frame
    power = np.square(sound[low : low + count * frame].reshape(count, frame)).sum(axis=1)
    return low + int(power.argmin()) * frame + frame // 2
