"""The speech recogniser: a local Whisper model, held to what was said.

Such a model invents words where there are none, most of all when it was given a list of names.
So it hears only what a voice-activity model took for speech; no stretch is led by the words of
the one before; nothing is drawn at random; a stretch whose words repeat themselves or recite the
list is heard a second time without the list, and left out when that does not help.
"""

import os
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from bolewalk.model.extras import extra
from bolewalk.walk.recording_settings import recording_settings
from bolewalk.walk.recordings import fingerprint

__all__ = [
    "MODEL_FILES_IN_WORDS", "MODEL_VARIABLE", "Heard", "Recogniser", "SpeechModelError", "Word",
    "find_model", "load_recogniser", "named_model", "only_names", "recites",
]  # fmt: skip

MODEL_VARIABLE = "BOLEWALK_SPEECH_MODEL"
"""Environment variable that names the model folder."""

_FILES = (
    ("model.bin",),
    ("config.json",),
    ("tokenizer.json",),
    ("vocabulary.json", "vocabulary.txt"),
)
MODEL_FILES_IN_WORDS = (
    "The folder holds a Whisper model converted for CTranslate2: model.bin, config.json, "
    "tokenizer.json and vocabulary.json or vocabulary.txt. Public model collections offer such "
    "folders ready-made, in sizes from tiny to large (base or small serve well here); the "
    "CTranslate2 package has a converter for the published models. bolewalk fetches nothing."
)


class SpeechModelError(Exception):
    """There is no usable model folder; the text says what is needed."""


@dataclass(frozen=True, slots=True)
class Word:
    """A word with its times, in seconds from the start of the piece it was heard in.

    `text` keeps the space in front that parts it from the word before, and its punctuation.
    `probability` is the recogniser's own, 0 to 1.
    """

    text: str
    start_s: float
    end_s: float
    probability: float


@dataclass(frozen=True, slots=True)
class Heard:
    """What was heard in one piece. `left_out` are [start, end] seconds with unusable words."""

    words: tuple[Word, ...]
    left_out: tuple[tuple[float, float], ...] = ()


class Recogniser(Protocol):
    """What the transcription needs of a recogniser."""

    @property
    def identity(self) -> str:
        """Tell this recogniser and its settings from any other."""

    @property
    def label(self) -> str:
        """Say what it is, for people."""

    def speech_in(self, sound: NDArray[np.float32]) -> list[tuple[int, int]]:
        """Give the [start, end) samples where somebody speaks."""

    def hear(self, sound: NDArray[np.float32]) -> Heard:
        """Give the words spoken in a piece."""


def named_model(environment: Mapping[str, str] | None = None) -> str:
    """Give the folder the environment names, by default the process's own; "" where none."""
    return (os.environ if environment is None else environment).get(MODEL_VARIABLE, "").strip()


def find_model(folder: Path | None = None, *, environment: Mapping[str, str] | None = None) -> Path:
    """Find the model folder.

    Parameters
    ----------
    folder : Path, optional
        Wins over the environment variable `MODEL_VARIABLE`.
    environment : mapping, optional
        The process's own when not given.

    Raises
    ------
    SpeechModelError
        None is named, or the one named lacks files.
    """
    named = named_model(environment)
    if folder is None and not named:
        raise SpeechModelError(
            f"no speech model: name its folder with --model or {MODEL_VARIABLE}. "
            f"{MODEL_FILES_IN_WORDS}"
        )
    path = folder if folder is not None else Path(named)
    if not path.is_dir():
        raise SpeechModelError(f"no speech model: {path} is not a folder. {MODEL_FILES_IN_WORDS}")
    missing = [" or ".join(n) for n in _FILES if not any((path / x).is_file() for x in n)]
    if missing:
        raise SpeechModelError(
            f"no speech model: {path} lacks {', '.join(missing)}. {MODEL_FILES_IN_WORDS}"
        )
    return path


def load_recogniser(
    model: Path, *, hints: Sequence[str] = (), language: str = "en", threads: int | None = None
) -> "Recogniser":
    """Load a model folder.

    Parameters
    ----------
    model : Path
        As `find_model` gives it.
    hints : sequence of str
        Names to expect; only the first `most_hints` count.
    language : str
        Two letters.
    threads : int, optional
        All cores when not given.

    Raises
    ------
    MissingExtraError
        The extra `speech` is not installed.
    SpeechModelError
        The folder cannot be loaded.
    """
    with extra("speech", what="Taking down speech"):
        from faster_whisper import WhisperModel
    find_model(model)
    try:
        loaded = WhisperModel(
            str(model), device="cpu", compute_type="int8", local_files_only=True,
            cpu_threads=threads or os.cpu_count() or 1,
        )  # fmt: skip
    except Exception as e:  # the library raises plain RuntimeError, ValueError and its own
        raise SpeechModelError(f"the speech model {model} cannot be loaded: {e}") from e
    mark = fingerprint(model / "model.bin")
    return _Whisper(loaded, model.name, mark, tuple(hints), language)


class _Whisper:
    """A loaded Whisper model."""

    def __init__(
        self, model: Any, name: str, mark: str, hints: tuple[str, ...], language: str
    ) -> None:
        s = recording_settings()
        self._model = model
        self._hints = hints[: s.words.most_hints]
        self._language = language
        self._words = s.words
        self._rate = s.sound.rate_hz
        self._silent_peak = s.sound.silent_peak
        self._stretches = s.stretches
        self.identity = "\n".join((mark, language, "; ".join(self._hints), s.key))
        self.label = f"model {name} {mark}, {len(self._hints)} names to expect"

    def speech_in(self, sound: NDArray[np.float32]) -> list[tuple[int, int]]:
        """Give the [start, end) samples where somebody speaks."""
        from faster_whisper.vad import VadOptions, get_speech_timestamps

        s = self._stretches
        if float(np.abs(sound).max(initial=0.0)) < self._silent_peak:
            return []
        options = VadOptions(
            threshold=s.voice_threshold,
            min_speech_duration_ms=round(s.voice_shortest_s * 1000),
            min_silence_duration_ms=round(s.pause_s * 1000),
            speech_pad_ms=0,
        )
        return [(t["start"], t["end"]) for t in get_speech_timestamps(sound, options)]

    def hear(self, sound: NDArray[np.float32]) -> Heard:
        """Give the words spoken in a piece."""
        first, bad = self._listen(sound, again=False)
        if not bad:
            return Heard(first)
        second, still_bad = self._listen(sound, again=True)
        if _seconds(still_bad) > _seconds(bad):
            return Heard(first, _joined(bad))
        return Heard(second, _joined(still_bad))

    def _listen(
        self, sound: NDArray[np.float32], *, again: bool
    ) -> tuple[tuple[Word, ...], tuple[tuple[float, float], ...]]:
        w = self._words
        segments, _ = self._model.transcribe(
            sound, language=self._language, beam_size=w.beam, temperature=0.0,
            vad_filter=True,
            vad_parameters={
                "threshold": self._stretches.voice_threshold,
                "min_speech_duration_ms": round(self._stretches.voice_shortest_s * 1000),
            },
            condition_on_previous_text=False, word_timestamps=True,
            compression_ratio_threshold=w.repeats_compress_to,
            no_speech_threshold=w.no_speech_above, log_prob_threshold=w.likelihood_below,
            hotwords=None if again or not self._hints else ", ".join(self._hints),
            repetition_penalty=w.penalty if again else 1.0,
            no_repeat_ngram_size=w.phrase if again else 0,
        )  # fmt: skip
        words: list[Word] = []
        bad: list[tuple[float, float]] = []
        said: list[str] = []
        for segment in segments:
            said.append(segment.text)
            if segment.compression_ratio > w.repeats_compress_to or (
                not again and recites(segment.text, self._hints)
            ):
                bad.append((float(segment.start), float(segment.end)))
                continue
            words += [
                Word(x.word, float(x.start), float(x.end), float(x.probability))
                for x in segment.words or ()
            ]
        if said and not again and not bad and only_names(" ".join(said), self._hints):
            bad.append((0.0, len(sound) / self._rate))
        return tuple(words), tuple(bad)


def _seconds(pieces: Sequence[tuple[float, float]]) -> float:
    return sum(b - a for a, b in pieces)


def _joined(pieces: Sequence[tuple[float, float]]) -> tuple[tuple[float, float], ...]:
    """Make one of neighbours: a person listens to a passage, not to its splinters."""
    out: list[tuple[float, float]] = []
    for a, b in sorted(pieces):
        if out and a - out[-1][1] < recording_settings().cues.pause_s:
            out[-1] = (out[-1][0], max(b, out[-1][1]))
        else:
            out.append((a, b))
    return tuple(out)


def recites(text: str, hints: Sequence[str]) -> bool:
    """Tell whether a text looks like the list of names read out and not like speech.

    So it does with several neighbours of the list one after another in the list's order, when
    the list's names make up much of the text.
    """
    w = recording_settings().words
    said = _letters(text)
    names = [_letters(h) for h in hints]
    in_order = sum(f"{a} {b}" in said for a, b in pairwise(names))
    return in_order + 1 >= w.echo_names and _share(said, names) > w.echo_share


def only_names(text: str, hints: Sequence[str]) -> bool:
    """Tell whether a text is nothing but names of the list."""
    said = _letters(text)
    return bool(said) and _share(said, [_letters(h) for h in hints]) == 1.0


def _share(said: str, names: Sequence[str]) -> float:
    """Give the share of the words that belong to names, 0 to 1."""
    rest = f" {said} ".replace(" ", "  ")
    for name in sorted(names, key=len, reverse=True):
        rest = rest.replace(f" {name} ".replace(" ", "  ")[1:-1], " ")
    return 1 - len(rest.split()) / max(1, len(said.split()))


def _letters(text: str) -> str:
    return " ".join(re.findall(r"[a-z']+", text.lower()))
