"""A stretch of a walk taken out: words, sound and pictures gone, every other time as it was."""

from fractions import Fraction
from pathlib import Path

import av
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bolewalk.walk.blanked_media import BlankingError, blank_recording
from bolewalk.walk.blanking import blank_transcript
from bolewalk.walk.cues import parse_cues, read_cues
from tests.walk.sound import RATE, write_wav

WALKS = sorted(
    p for p in (Path(__file__).parents[1] / "data" / "walk").iterdir()
    if p.suffix in (".vtt", ".srt", ".txt") and p.stem.startswith(("dev", "own", "new2"))
)  # fmt: skip


def left_of(raw: bytes, tmp_path: Path) -> list[tuple[float, float, str]]:
    path = tmp_path / "walk"
    path.write_bytes(raw)
    return [(c.start_s, c.end_s, c.text) for c in read_cues(path, file="walk")[0]]


@pytest.mark.parametrize("path", WALKS, ids=lambda p: p.name)
@pytest.mark.parametrize("coding", ["utf-8", "utf-16", "cp1252"])
def test_what_is_outside_the_stretch_stays(path: Path, coding: str, tmp_path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    raw = text.encode(coding, errors="replace")
    before = left_of(raw, tmp_path)
    start, end = before[len(before) // 3][0], before[len(before) // 2][1]
    out, taken = blank_transcript(raw, start_s=start, end_s=end)
    # Worked out from the cues alone: what overlaps the stretch goes, all else is as it was.
    expected = [c for c in before if not (c[0] < end and (c[1] > start or c[0] >= start))]
    assert left_of(out, tmp_path) == expected
    assert taken >= len({c[:2] for c in before}) - len({c[:2] for c in expected}) > 0


def test_by_hand() -> None:
    raw = (
        b"WEBVTT\r\n\r\nNOTE kept\r\n\r\nMirela speaks\r\n00:10.000 --> 00:12.000 align:left\r\n"
        b"<v Mirela>My number is\r\n5550147\r\n\r\nthe oak\r\n00:12.000 --> 00:14.000\r\n"
        b"An oak.\r\n"
    )
    out, taken = blank_transcript(raw, start_s=11, end_s=12)
    assert taken == 1
    assert out == (
        b"WEBVTT\r\n\r\nNOTE kept\r\n\r\n00:10.000 --> 00:12.000 align:left\r\n\r\n"
        b"the oak\r\n00:12.000 --> 00:14.000\r\nAn oak.\r\n"
    )
    srt = b"1\n00:00:01,000 --> 00:00:02,000\n4171\n2\n00:00:02,000 --> 00:00:03,000\nElm.\n"
    assert blank_transcript(srt, start_s=0, end_s=2) == (
        b"1\n00:00:01,000 --> 00:00:02,000\n2\n00:00:02,000 --> 00:00:03,000\nElm.\n", 1,
    )  # fmt: skip
    lines = b"[0:05] The oak.\n[0:10] Her code is 4171\nand again.\n\n[0:15] The elm.\n"
    assert blank_transcript(lines, start_s=10, end_s=15) == (
        "[0:05] The oak.\n[0:10] —\n\n[0:15] The elm.\n".encode(), 1,
    )  # fmt: skip


@given(
    st.text(alphabet="0123456789:.,[]->\n\r abcé\x85\u2028\ufeff—", max_size=200),
    st.floats(0, 100), st.floats(0.1, 100),
)  # fmt: skip
def test_nothing_said_in_the_stretch_is_read_any_more(
    text: str, start: float, length: float
) -> None:
    raw, _ = blank_transcript(text.encode(), start_s=start, end_s=start + length)
    cues, _ = parse_cues(raw.decode())
    if "-->" in text:
        assert not [c for c in cues if c.start_s < start + length and c.end_s > start]


def tone(hertz: float, seconds: float) -> np.ndarray:
    return (0.3 * np.sin(2 * np.pi * hertz * np.arange(round(seconds * RATE)) / RATE)).astype("f4")


def pictures(seconds: int, per_s: int):
    """Grey by the second: second n is 20 + 15 n."""
    for k in range(seconds * per_s):
        yield np.full((64, 64, 3), 20 + 15 * (k // per_s), dtype=np.uint8)


def decoded(path: Path):
    """Give the sound as one row of samples, and (second, mean grey) of every picture."""
    with av.open(str(path)) as container:
        shown = [
            (float(f.time), float(f.to_ndarray(format="gray").mean()))
            for s in container.streams.video[:1] for f in container.decode(s)
        ]  # fmt: skip
    heard, rate = [], RATE
    with av.open(str(path)) as container:
        for s in container.streams.audio[:1]:
            for f in container.decode(s):
                rows = f.to_ndarray()
                scale = np.iinfo(rows.dtype).max if rows.dtype.kind == "i" else 1.0
                heard.append(rows.reshape(-1).astype("f8") / scale)
                rate = f.sample_rate
    return (np.concatenate(heard) if heard else np.zeros(0)), rate, shown


def strength(sound: np.ndarray, hertz: float) -> float:
    """Amplitude of one tone (Goertzel, as a plain sum)."""
    t = np.arange(len(sound)) / RATE
    return float(2 * abs(np.mean(sound * np.exp(-2j * np.pi * hertz * t))))


@pytest.mark.parametrize(
    ("name", "codec", "video"),
    [
        ("a.wav", "pcm_s16le", False), ("a.mp3", "libmp3lame", False), ("a.m4a", "aac", False),
        ("a.flac", "flac", False), ("a.mp4", "aac", True), ("a.mov", "aac", True),
        ("a.mkv", "libopus", True),
    ],
)  # fmt: skip
def test_sound_and_pictures_of_the_stretch_are_gone(
    name: str, codec: str, video: bool, tmp_path: Path
) -> None:
    # Nine seconds; a voice at 700 Hz says something between 4 and 5.5, all else is 300 Hz.
    sound = np.concatenate([tone(300, 4), tone(700, 1.5), tone(300, 3.5)])
    if codec == "libopus":
        sound = sound[: len(sound) // 320 * 320]
    path, out = tmp_path / name, tmp_path / f"new-{name}"
    if name == "a.wav":
        write_wav(path, sound)
    else:
        written(path, sound, codec, pictures(9, 10) if video else None)
    before, rate, shown_before = decoded(path)
    done = blank_recording(path, out, start_s=4.0, end_s=5.5)
    after, _, shown = decoded(out)
    assert done.silent_s == pytest.approx(1.5, abs=0.001)
    assert len(after) / rate == pytest.approx(len(before) / rate, abs=0.06)
    inside = after[round(4.1 * rate) : round(5.4 * rate)]
    assert np.abs(inside).max() < 0.01
    if rate == RATE:
        assert strength(before, 700) > 0.04
        assert strength(after, 700) < 0.001
        late = slice(round(6 * rate), round(8.5 * rate))
        assert strength(after[late], 300) == pytest.approx(strength(before[late], 300), rel=0.1)
    if video:
        assert done.still is not None
        a, b = done.still
        assert a <= 4.0
        assert b >= 5.5
        # Nothing of the stretch is among the pictures, and all others stand at their time.
        assert not [t for t, _ in shown if a <= t < b]
        assert shown == [x for x in shown_before if not a <= x[0] < b]
        assert len(shown) > 20


def written(path: Path, sound: np.ndarray, codec: str, frames) -> None:
    """Write sound of any codec, through a resampler, and pictures in groups of one second."""
    with av.open(str(path), "w") as out:
        rate = 48000 if codec == "libopus" else RATE
        audio = out.add_stream(codec, rate=rate, layout="mono")
        video = None
        if frames is not None:
            video = out.add_stream("libx264", rate=10)
            video.width = video.height = 64
            video.pix_fmt, video.options = "yuv420p", {"g": "10", "bf": "2"}
            for k, picture in enumerate(frames):
                frame = av.VideoFrame.from_ndarray(picture, format="rgb24")
                frame.pts, frame.time_base = k, Fraction(1, 10)
                out.mux(video.encode(frame))
            out.mux(video.encode(None))
        audio.codec_context.open(strict=False)
        resampler = av.AudioResampler(
            audio.codec_context.format, "mono", rate,
            frame_size=audio.codec_context.frame_size or None,
        )  # fmt: skip
        frame = av.AudioFrame.from_ndarray(sound[None], "fltp", "mono")
        frame.sample_rate = RATE
        at = 0
        for piece in (*resampler.resample(frame), *resampler.resample(None)):
            piece.pts, at = at, at + piece.samples
            out.mux(audio.encode(piece))
        out.mux(audio.encode(None))


def test_what_is_no_recording_is_told(tmp_path: Path) -> None:
    (tmp_path / "a.mp4").write_bytes(b"\0\0\0\x18ftypisom" + b"\0" * 100)
    with pytest.raises(BlankingError, match="cannot be written anew"):
        blank_recording(tmp_path / "a.mp4", tmp_path / "b.mp4", start_s=0, end_s=1)
