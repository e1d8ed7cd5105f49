"""A stretch taken out of a recording: silence and a standing picture, every other time as it was.

The sound is decoded, silenced and written anew; the pictures are carried over as they are, but for
the groups of pictures that touch the stretch, which are left out. What was there is not in the new
file in any form.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from bolewalk.walk.recordings import media, open_media, why

__all__ = ["BlankedRecording", "BlankingError", "blank_recording"]

_MUXERS = {
    "mov,mp4,m4a,3gp,3g2,mj2": "mp4", "matroska,webm": "matroska", "mp3": "mp3", "wav": "wav",
    "flac": "flac", "ogg": "ogg", "aac": "adts", "avi": "avi", "mpegts": "mpegts",
}  # fmt: skip
"""What the library calls a container on reading -> on writing."""
_ENCODERS = {"mp3": "libmp3lame", "opus": "libopus", "vorbis": "libvorbis"}
_GAP_S = 0.1


class BlankingError(ValueError):
    """A recording that cannot be written anew; the text says why."""


@dataclass(frozen=True, slots=True)
class BlankedRecording:
    """What was taken out.

    Attributes
    ----------
    silent_s : float
        Seconds of sound that are silent now; 0 where there is no sound.
    still : (from, until) or None
        Seconds of the recording without pictures of their own: the groups of pictures the stretch
        touches go whole, so it may be wider. None where there are none.
    """

    silent_s: float
    still: tuple[float, float] | None


def blank_recording(path: Path, out: Path, *, start_s: float, end_s: float) -> BlankedRecording:
    """Write a recording anew without a stretch of it.

    Parameters
    ----------
    path, out : Path
        The recording, and where the new one goes; the same container and codecs.
    start_s, end_s : float
        Seconds of the recording, 0 <= start_s < end_s.

    Returns
    -------
    BlankedRecording
        As long as before. Only its sound and its pictures are carried over: covers, subtitles,
        data tracks and notes of the device may hold what the stretch did.

    Raises
    ------
    BlankingError
        It cannot be read, or its sound cannot be written in its own form.
    MissingExtraError
        The media library is not installed.
    """
    av = media()
    try:
        groups = _groups(path)
        with open_media(path) as source:
            name = _MUXERS.get(source.format.name)
            if name is None:
                raise BlankingError(f"{source.format.name} cannot be written; convert it to mp4")
            with av.open(str(out), "w", format=name) as target:
                return _write(source, target, groups, start_s, end_s)
    except av.FFmpegError as e:
        raise BlankingError(f"it cannot be written anew: {why(e)}") from e


def _video(container: Any) -> Any | None:
    covers = [s for s in container.streams.video if not _is_cover(s)]
    return covers[0] if covers else None


def _is_cover(stream: Any) -> bool:
    return bool(stream.disposition & type(stream.disposition).attached_pic)


def _groups(path: Path) -> list[float]:
    """Give the seconds at which groups of pictures begin, in order."""
    with open_media(path) as source:
        video = _video(source)
        if video is None:
            return []
        return sorted(
            float(p.pts * p.time_base)
            for p in source.demux(video)
            if p.is_keyframe and p.pts is not None
        )


def _stands_still(groups: list[float], start_s: float, end_s: float) -> tuple[float, float] | None:
    """Give the stretch widened to whole groups of pictures; it may have no end."""
    if not groups:
        return None
    begins = max((g for g in groups if g <= start_s), default=groups[0])
    ends = min((g for g in groups if g >= end_s), default=float("inf"))
    return (begins, ends) if begins < end_s else None


def _write(
    source: Any, target: Any, groups: list[float], start_s: float, end_s: float
) -> BlankedRecording:
    video = _video(source)
    audio = source.streams.audio[0] if source.streams.audio else None
    still = _stands_still(groups, start_s, end_s)
    copied = target.add_stream_from_template(video) if video is not None else None
    sound = _Sound(audio, target, start_s, end_s) if audio is not None else None
    last = 0.0
    for packet in source.demux([s for s in (video, audio) if s is not None]):
        if packet.stream is audio and sound is not None:
            target.mux(list(sound.packets(packet)))
        elif copied is not None and packet.pts is not None:
            at = float(packet.pts * packet.time_base)
            last = max(last, at)
            if still is None or not still[0] <= at < still[1]:
                packet.stream = copied
                target.mux(packet)
    if sound is not None:
        target.mux(list(sound.rest()))
    if still is not None and np.isinf(still[1]):
        still = (still[0], max(last, end_s))
    return BlankedRecording(0.0 if sound is None else sound.silent / sound.rate, still)


class _Sound:
    """The sound, decoded, silenced and encoded again as it comes."""

    def __init__(self, stream: Any, target: Any, start_s: float, end_s: float) -> None:
        av = media()
        self._codec = stream.codec_context
        self.rate: int = self._codec.sample_rate
        name = _ENCODERS.get(self._codec.name, self._codec.name)
        name = name.removesuffix("float") if name.startswith("mp3") else name
        try:
            self._out = target.add_stream(name, rate=self.rate, layout=self._codec.layout.name)
        except (av.FFmpegError, ValueError) as e:
            raise BlankingError(f"sound in {self._codec.name} cannot be written anew") from e
        if self._codec.bit_rate and not name.startswith(("pcm", "flac")):
            self._out.codec_context.bit_rate = self._codec.bit_rate
        self._out.codec_context.open()
        self._frames = av.AudioResampler(
            format=self._out.codec_context.format, layout=self._out.codec_context.layout,
            rate=self.rate, frame_size=self._out.codec_context.frame_size or None,
        )  # fmt: skip
        self._first = round(start_s * self.rate)
        self._end = round(end_s * self.rate)
        self._at = 0
        self._written = 0
        self.silent = 0

    def packets(self, packet: Any) -> Iterator[Any]:
        """Give the new packets for one of the old; what cannot be decoded becomes silence."""
        try:
            frames = packet.decode()
        except media().FFmpegError:
            return
        for frame in frames:
            yield from self._frame(frame)

    def _frame(self, frame: Any) -> Iterator[Any]:
        due = self._at if frame.time is None else round(frame.time * self.rate)
        if due - self._at > _GAP_S * self.rate:
            # Silence for what is missing, so that every later moment stays at its time.
            yield from self._encoded(_quiet(frame, due - self._at))
            self._at = due
        samples = frame.to_ndarray()
        width = samples.shape[1] // frame.samples
        a, b = (min(max(x - self._at, 0), frame.samples) for x in (self._first, self._end))
        if b > a:
            # Unsigned eight-bit sound is silent at its middle.
            samples[:, a * width : b * width] = 128 if samples.dtype == np.uint8 else 0
            self.silent += b - a
            frame = _with(frame, samples)
        self._at += frame.samples
        yield from self._encoded(frame)

    def _encoded(self, frame: Any) -> Iterator[Any]:
        frame.pts = None
        for piece in self._frames.resample(frame):
            yield from self._out.encode(self._timed(piece))

    def _timed(self, piece: Any) -> Any:
        piece.pts = self._written
        self._written += piece.samples
        return piece

    def rest(self) -> Iterator[Any]:
        """Give what is left at the end."""
        for piece in self._frames.resample(None):
            yield from self._out.encode(self._timed(piece))
        yield from self._out.encode(None)


def _with(frame: Any, samples: Any) -> Any:
    new = media().AudioFrame.from_ndarray(
        samples, format=frame.format.name, layout=frame.layout.name
    )
    new.sample_rate = frame.sample_rate
    return new


def _quiet(frame: Any, n: int) -> Any:
    shape = frame.to_ndarray()
    width = shape.shape[1] // frame.samples
    fill = 128 if shape.dtype == np.uint8 else 0
    return _with(frame, np.full((shape.shape[0], n * width), fill, dtype=shape.dtype))
