"""Stills of the trees, cut from the video where each is spoken of.

Of the frames around a tree's first mentions the sharpest is taken. Sharpness is the variance of
the Laplacian of the grey picture, compared at one small width: blur takes fine edges away first.
"""

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from bolewalk.model.problems import Problem
from bolewalk.walk.cues import read_cues
from bolewalk.walk.draft import DraftTree
from bolewalk.walk.recording_settings import recording_settings
from bolewalk.walk.recordings import Recording, media, open_media, probe, why
from bolewalk.walk.transcript import Section, sections_of

__all__ = ["Footage", "Still", "cut_stills", "footage_of", "sharpness"]

_NO_IDS: Mapping[str, str] = MappingProxyType({})


@dataclass(frozen=True, slots=True)
class Footage:
    """A recording and the second of the walk's time line at which it begins."""

    recording: Recording
    start_s: float


@dataclass(frozen=True, slots=True)
class Still:
    """One picture. `at_s` is its second on the walk's time line."""

    tree: str
    path: Path
    at_s: float
    sharpness: float


def sharpness(grey: ArrayLike) -> float:
    """Give the variance of the Laplacian of a grey picture.

    L = 4 g(y, x) - g(y-1, x) - g(y+1, x) - g(y, x-1) - g(y, x+1), inner points only

    Parameters
    ----------
    grey : array_like, shape (rows, columns)
        0..255; at least 3 x 3, else the result is 0.

    Returns
    -------
    float
        0 for an even picture; only to be compared between pictures of one size.

    References
    ----------
    Pech-Pacheco et al., Diatom autofocusing in brightfield microscopy (2000), "variance of
    Laplacian".
    """
    g = np.asarray(grey, dtype=np.float32)
    if g.ndim != 2:
        raise ValueError(f"grey must have rows and columns, not the shape {g.shape}.")
    if min(g.shape) < 3:
        return 0.0
    inner = g[1:-1, 1:-1]
    around = g[:-2, 1:-1] + g[2:, 1:-1] + g[1:-1, :-2] + g[1:-1, 2:]
    return float(np.var(4 * inner - around, dtype=np.float64))


def footage_of(
    transcripts: Sequence[tuple[Path, Path | None]],
) -> tuple[tuple[Footage, ...], tuple[Problem, ...]]:
    """Find the recordings behind the transcripts of a walk.

    Parameters
    ----------
    transcripts : sequence of (transcript, recording or None)
        In the order of the walk, on the time line `read_walk` puts them on. Where the transcript
        names its recordings itself, they are looked for beside it.

    Returns
    -------
    footage, problems
    """
    footage: list[Footage] = []
    problems: list[Problem] = []
    offset = 0.0
    for transcript, recording in transcripts:
        text = transcript.read_text(encoding="utf-8", errors="replace")
        sections = sections_of(text)
        if not sections and recording is not None:
            sections = (Section(recording.name, 0.0, 0.0),)
        for section in sections:
            named = recording is not None and recording.name == section.name
            path = recording if named else transcript.parent / Path(section.name).name
            if path is None or not path.is_file():
                continue
            found, wrong = probe(path, file=path.name)
            problems += [p for p in wrong if found is None]
            if found is not None:
                footage.append(Footage(found, offset + section.start_s))
        cues, _ = read_cues(transcript, file=transcript.name)
        recorded = max((s.start_s + s.duration_s for s in sections), default=0.0)
        offset += max(recorded, max((c.end_s for c in cues), default=0.0))
    return tuple(footage), tuple(problems)


def cut_stills(
    trees: Sequence[DraftTree], footage: Sequence[Footage], *, out: Path,
    ids: Mapping[str, str] = _NO_IDS,
) -> tuple[tuple[Still, ...], tuple[Problem, ...]]:  # fmt: skip
    """Write one JPEG a tree: the sharpest frame near its first mentions.

    Parameters
    ----------
    trees : sequence of DraftTree
    footage : sequence of Footage
        The recordings of the walk; those without video are passed over.
    out : Path
        Folder of the pictures, made if missing; `ID.jpg` each.
    ids : mapping of str to str
        Tree ids of the tree table by draft id, where the two were matched.

    Returns
    -------
    stills, problems
        By time. A tree no video shows has none; damaged places are told and passed over.

    Raises
    ------
    MissingExtraError
        The media library is not installed.
    OSError
        The folder cannot be written.
    """
    out.mkdir(parents=True, exist_ok=True)
    stills: dict[str, Still] = {}
    problems: list[Problem] = []
    for f in footage:
        if not f.recording.has_video:
            continue
        wanted = [(t, w) for t in trees if (w := _windows(t, f))]
        if not wanted:
            continue
        try:
            with open_media(f.recording.path) as container:
                container.streams.video[0].thread_type = "AUTO"
                for tree, windows in sorted(wanted, key=lambda x: (x[1][0], x[0].id)):
                    best = _sharpest(container, windows)
                    if best is None:
                        continue
                    at, worth, frame = best
                    name = ids.get(tree.id, tree.id)
                    if name in stills and worth <= stills[name].sharpness:
                        continue
                    path = out / f"{re.sub(r'[^A-Za-z0-9._-]', '_', name)}.jpg"
                    path.write_bytes(_jpeg(frame))
                    stills[name] = Still(name, path, f.start_s + at, worth)
        except media().FFmpegError as e:
            expected = "a video that can be played; it gives no stills"
            problems.append(Problem(f.recording.name, None, None, why(e), expected, "notice"))
    return tuple(sorted(stills.values(), key=lambda s: (s.at_s, s.tree))), tuple(problems)


def _windows(tree: DraftTree, f: Footage) -> list[tuple[float, float]]:
    """Give the seconds of the recording to search, in order and without overlap."""
    s = recording_settings().stills
    found: list[tuple[float, float]] = []
    end_s = f.recording.duration_s or float("inf")
    for m in sorted(tree.moments, key=lambda m: m.start)[: s.mentions]:
        if not 0 <= m.start - f.start_s < end_s:
            continue
        a, b = m.start - f.start_s - s.before_s, m.start - f.start_s + s.after_s
        a = max(0.0, a)
        if found and a <= found[-1][1]:
            found[-1] = (found[-1][0], max(b, found[-1][1]))
        else:
            found.append((a, b))
    return found


def _sharpest(
    container: Any, windows: Sequence[tuple[float, float]]
) -> tuple[float, float, Any] | None:
    """Give second, sharpness and frame of the sharpest frame; the earliest of equals."""
    width = recording_settings().stills.width_px
    best: tuple[float, float, Any] | None = None
    for start, end in windows:
        for at, frame in _frames(container, start, end):
            small_width = min(width, frame.width)
            height = max(1, round(frame.height * small_width / frame.width))
            grey = frame.reformat(width=small_width, height=height, format="gray").to_ndarray()
            worth = sharpness(grey)
            if best is None or worth > best[1]:
                best = (at, worth, frame)
    return best


def _frames(container: Any, start: float, end: float) -> Iterator[tuple[float, Any]]:
    """Give the frames to look at between two seconds of the recording."""
    stream = container.streams.video[0]
    container.seek(round(start * media().time_base), backward=True)
    step = recording_settings().stills.every_s
    due = start
    for packet in container.demux(stream):
        try:
            frames = packet.decode()
        except media().FFmpegError:
            continue
        for frame in frames:
            if frame.time is None or frame.time < due:
                continue
            if frame.time > end:
                return
            due = frame.time + step
            yield frame.time, frame


def _jpeg(frame: Any) -> bytes:
    av = media()
    upright = frame
    turns = round((frame.rotation or 0) / 90) % 4
    if turns:
        pixels: NDArray[np.uint8] = frame.to_ndarray(format="rgb24")
        turned = np.ascontiguousarray(np.rot90(pixels, turns))
        upright = av.VideoFrame.from_ndarray(turned, format="rgb24")
    picture = upright.reformat(format="yuvj420p", dst_color_range="JPEG")
    picture.pts = 0
    codec = av.CodecContext.create("mjpeg", "w")
    codec.width, codec.height = picture.width, picture.height
    codec.pix_fmt = "yuvj420p"
    codec.time_base = 1
    codec.qmin = codec.qmax = 3
    return b"".join(bytes(p) for p in (*codec.encode(picture), *codec.encode(None)))
