"""What a file holds is told by its content, and its sound comes as a stream."""

import subprocess
import sys
import wave
from pathlib import Path

import av
import numpy as np
import pytest

from bolewalk.walk.recordings import Sound, fingerprint, is_recording, probe
from tests.walk.sound import RATE, music, quiet, say, write_media, write_wav


def tone(seconds, hz=440.0):
    return (0.5 * np.sin(2 * np.pi * hz * np.arange(round(seconds * RATE)) / RATE)).astype("f4")


def pictures(seconds, per_s=10):
    rng = np.random.default_rng(1)
    for _ in range(round(seconds * per_s)):
        yield rng.integers(0, 255, (48, 64, 3), dtype=np.uint8)


def heard(path):
    recording, problems = probe(path, file=path.name)
    assert recording is not None, problems
    sound = Sound(recording)
    blocks = list(sound)
    whole = np.concatenate(blocks) if blocks else np.zeros(0, "f4")
    return whole, sound, (*problems, *sound.problems())


@pytest.mark.parametrize(
    ("name", "kind", "codec"),
    [
        ("walk.m4a", None, "aac"),
        ("walk.mov", None, "aac"),
        ("walk.mp4", None, "aac"),
        ("walk.mp3", None, "libmp3lame"),
        ("walk.wav", None, "pcm_s16le"),
        # Content counts, not the name.
        ("walk.txt", "mp4", "aac"),
        ("walk", "mp3", "libmp3lame"),
        ("walk.wav", "mp3", "libmp3lame"),
    ],
)
def test_every_kind_gives_its_tone_at_its_length(tmp_path, name, kind, codec):
    path = write_media(tmp_path / name, sound=tone(3.0), kind=kind, codec=codec)
    recording, problems = probe(path, file=name)
    assert problems == ()
    assert (recording.has_audio, recording.has_video) == (True, False)
    assert recording.duration_s == pytest.approx(3.0, abs=0.1)
    whole, sound, problems = heard(path)
    assert problems == ()
    # A lossy coder adds at most its frames of padding at both ends (2 x 1024 + 1152 samples).
    assert sound.heard_s == pytest.approx(3.0, abs=0.21)
    spectrum = np.abs(np.fft.rfft(whole[RATE : 2 * RATE]))
    assert int(spectrum.argmax()) == 440  # one second: bins are hertz
    assert sound.peak == pytest.approx(0.5, abs=0.1)


def test_a_title_in_another_encoding_does_no_harm(tmp_path):
    path = tmp_path / "titled.m4a"
    with av.open(str(path), "w") as out:
        out.metadata["title"] = "QQQQ"
        stream = out.add_stream("aac", rate=RATE, layout="mono")
        for start in range(0, 2 * RATE, 1000):
            data = tone(2.0)[start : start + 1000].reshape(1, -1)
            frame = av.AudioFrame.from_ndarray(data, "fltp", "mono")
            frame.sample_rate, frame.pts = RATE, start
            out.mux(stream.encode(frame))
        out.mux(stream.encode(None))
    data = path.read_bytes()
    assert b"QQQQ" in data
    path.write_bytes(data.replace(b"QQQQ", b"\xe9\xff\xfe\xe8"))
    _, sound, problems = heard(path)
    assert problems == ()
    assert sound.heard_s == pytest.approx(2.0, abs=0.21)


def test_many_channels_and_another_rate_become_one_at_16_khz(tmp_path):
    path = tmp_path / "stereo.wav"
    t = np.arange(2 * 48000) / 48000
    left = (16000 * np.sin(2 * np.pi * 300 * t)).astype("<i2")
    with wave.open(str(path), "wb") as w:
        w.setnchannels(2)
        w.setsampwidth(2)
        w.setframerate(48000)
        w.writeframes(np.stack([left, left], axis=1).tobytes())
    whole, sound, problems = heard(path)
    assert problems == ()
    assert sound.heard_s == pytest.approx(2.0, abs=0.01)
    assert int(np.abs(np.fft.rfft(whole[:RATE])).argmax()) == 300


def test_video_and_sound_are_both_seen(tmp_path):
    path = write_media(tmp_path / "walk.mp4", sound=tone(2.0), pictures=pictures(2.0))
    recording, problems = probe(path, file="walk.mp4")
    assert problems == ()
    assert (recording.has_audio, recording.has_video) == (True, True)


def test_a_late_sound_keeps_its_time(tmp_path):
    path = tmp_path / "late.mkv"
    with av.open(str(path), "w") as out:
        stream = out.add_stream("pcm_s16le", rate=RATE, layout="mono")
        for k, start in enumerate((0, 3 * RATE)):  # one second, two seconds of nothing, one more
            data = (np.full((1, RATE), 0.3 + 0.1 * k) * 32767).astype("<i2")
            frame = av.AudioFrame.from_ndarray(data, "s16", "mono")
            frame.sample_rate, frame.pts = RATE, start
            out.mux(stream.encode(frame))
        out.mux(stream.encode(None))
    whole, sound, problems = heard(path)
    assert problems == ()
    assert sound.heard_s == pytest.approx(4.0, abs=0.1)
    assert np.abs(whole[round(1.2 * RATE) : round(2.8 * RATE)]).max() < 0.01
    assert whole[round(3.5 * RATE)] == pytest.approx(0.4, abs=0.01)


def test_no_audio_track(tmp_path):
    path = write_media(tmp_path / "dumb.mp4", pictures=pictures(1.0))
    recording, problems = probe(path, file="dumb.mp4")
    assert recording is not None
    assert recording.has_video
    assert [(p.value, p.level) for p in problems] == [("no audio track", "fault")]


def unplayable(tmp_path):
    whole = write_media(tmp_path / "whole.mp4", sound=tone(20.0)).read_bytes()
    yield "empty.mp4", b"", "an empty file"
    yield "noise.mp4", np.random.default_rng(3).bytes(5000), None
    yield "zeros.mov", bytes(5000), None
    yield "words.m4a", b"we start at the gate, the big oak stays\n" * 50, None
    # The index of an mp4 stands at its end: cut off, nothing can be played.
    yield "cut.mp4", whole[: len(whole) // 2], None
    # A playlist names another file; it must not be followed.
    other = write_wav(tmp_path / "other.wav", tone(1.0))
    lines = ["#EXTM3U", "#EXT-X-TARGETDURATION:1", "#EXTINF:1,", str(other), "#EXT-X-ENDLIST"]
    yield "list.mp3", "\n".join(lines).encode(), None
    yield "list.wav", f"ffconcat version 1.0\nfile '{other}'\n".encode(), None


def test_unplayable_files_are_each_one_fault(tmp_path):
    seen = 0
    for name, data, value in unplayable(tmp_path):
        path = tmp_path / name
        path.write_bytes(data)
        recording, problems = probe(path, file=name)
        assert recording is None, name
        assert len(problems) == 1, name
        assert problems[0].level == "fault"
        assert problems[0].file == name
        assert str(tmp_path) not in problems[0].line()
        assert value is None or problems[0].value == value
        seen += 1
    assert seen == 7


def test_a_missing_file_is_a_fault(tmp_path):
    recording, problems = probe(tmp_path / "gone.mp4", file="gone.mp4")
    assert recording is None
    assert problems[0].value == "no such file or directory"


def test_a_recording_cut_short_gives_what_is_there(tmp_path):
    whole = write_media(tmp_path / "w.mp4", sound=music(20.0), head_first=True).read_bytes()
    path = tmp_path / "short.mp4"
    path.write_bytes(whole[: len(whole) // 2])
    _, sound, problems = heard(path)
    assert 8.0 < sound.heard_s < 12.0
    assert problems[-1].expected == "a whole recording; the rest is missing"
    assert problems[-1].level == "fault"


def test_a_damaged_middle_is_told_and_the_rest_is_heard(tmp_path):
    data = bytearray(
        write_media(tmp_path / "w.m4a", sound=music(20.0), head_first=True).read_bytes()
    )
    start = data.index(b"mdat") + 8
    middle = start + (len(data) - start) // 2
    data[middle : middle + 8000] = np.random.default_rng(5).bytes(8000)
    path = tmp_path / "hurt.m4a"
    path.write_bytes(bytes(data))
    whole, sound, problems = heard(path)
    # What decodes to nonsense cannot be told from sound, so only the time line must hold.
    assert sound.heard_s == pytest.approx(20.0, abs=0.3)
    assert problems
    assert "damaged between 0:0" in problems[0].value or "damaged between 0:1" in problems[0].value
    assert np.isfinite(whole).all()
    assert np.abs(whole[-3 * RATE :]).max() > 0.1


def test_silence_is_told_once_the_end_is_reached(tmp_path):
    _, sound, problems = heard(write_wav(tmp_path / "still.wav", quiet(5.0)))
    assert sound.peak == 0
    assert [(p.value, p.level) for p in problems] == [("silence from start to end", "fault")]


def test_a_track_of_no_length(tmp_path):
    path = write_wav(tmp_path / "none.wav", quiet(0.0))
    recording, problems = probe(path, file="none.wav")
    if recording is not None:
        sound = Sound(recording)
        assert list(sound) == []
        problems = sound.problems()
    assert [p.level for p in problems] == ["fault"]


_PEAK = """
import resource, sys
from pathlib import Path
from bolewalk.walk.recordings import Sound, probe
r, _ = probe(Path(sys.argv[1]), file="long.wav")
s = Sound(r)
n = sum(1 for _ in s)
print(round(s.heard_s), resource.getrusage(resource.RUSAGE_SELF).ru_maxrss)
"""


def test_three_hours_take_no_more_memory_than_three_minutes(tmp_path):
    found = []
    for seconds in (180, 3 * 3600):
        path = tmp_path / "long.wav"
        with wave.open(str(path), "wb") as w:
            w.setnchannels(1)
            w.setsampwidth(2)
            w.setframerate(RATE)
            for _ in range(seconds // 60):
                w.writeframes(bytes(60 * RATE * 2))
        out = subprocess.run(
            [sys.executable, "-c", _PEAK, str(path)], check=True, capture_output=True, text=True
        )
        length, peak_kb = map(int, out.stdout.split())
        assert length == seconds
        found.append(peak_kb)
    # All of it at once would be 691 MB.
    assert found[1] - found[0] < 20_000


def test_recordings_are_told_from_transcripts(tmp_path):
    def kept(name, data):
        (tmp_path / name).write_bytes(data)
        return is_recording(tmp_path / name)

    assert not kept("a.vtt", b"WEBVTT\n\n00:00.000 --> 00:01.000\nthe oak\n")
    assert not kept("b.srt", "1\n00:00:01,000 --> 00:00:02,000\nthe oak\n".encode("utf-16"))
    assert not kept("notes", b"[0:01] the oak stays\n")
    assert kept("c.mp4", b"")
    assert kept("d.wav", b"text in the wrong file")
    real = write_media(tmp_path / "e.m4a", sound=say("oak", "slt"))
    assert kept("noname", real.read_bytes())
    # Named as a transcript: read as one, and told to be binary.
    assert not kept("f.vtt", real.read_bytes())


def test_the_mark_of_a_file(tmp_path):
    one = write_wav(tmp_path / "a.wav", tone(1.0))
    same = write_wav(tmp_path / "b.wav", tone(1.0))
    other = write_wav(tmp_path / "c.wav", tone(1.0, 441.0))
    assert fingerprint(one) == fingerprint(same) != fingerprint(other)


def test_without_the_library_the_extra_is_named(monkeypatch, tmp_path):
    from bolewalk.model.extras import MissingExtraError

    monkeypatch.setitem(sys.modules, "av", None)
    with pytest.raises(MissingExtraError, match=r"extra media: pip install 'bolewalk\[media\]'"):
        probe(Path(tmp_path / "x.mp4"), file="x.mp4")
