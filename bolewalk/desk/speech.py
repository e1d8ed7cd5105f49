"""What is said on a recording of a survey, taken down at the desk and kept as its transcript."""

import os
import shutil
import time
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from importlib.util import find_spec
from pathlib import Path
from typing import Protocol

from bolewalk.desk.apart.sound import SoundApart, probe_apart
from bolewalk.desk.landing import Landing, LandingError, land
from bolewalk.desk.taking_in import put_in_place, taken_before
from bolewalk.intake.job import WalkPart
from bolewalk.intake.kinds import Told
from bolewalk.intake.reading import stem_of, suffix_of
from bolewalk.intake.recording import PLAYABLE
from bolewalk.intake.walked import TRANSCRIPT_ENDINGS
from bolewalk.model.problems import Problem
from bolewalk.reference.plants import REGIONS
from bolewalk.store.items import StoredSurvey
from bolewalk.store.media import Medium
from bolewalk.store.store import Store
from bolewalk.walk.hints import likely_species
from bolewalk.walk.recogniser import (
    MODEL_FILES_IN_WORDS,
    Recogniser,
    SpeechModelError,
    find_model,
    load_recogniser,
    named_model,
)
from bolewalk.walk.speech import Progress, transcribe

__all__ = ["SpeechError", "Step", "Wanting", "clear_old", "take_down", "untaken", "wanting"]

_TAKEN_DOWN = "taken down"
_TRANSCRIPT = "transcript.vtt"
_KEPT = timedelta(days=30)
"""What was heard of a recording waits so long for somebody to go on with it."""
_LIBRARIES = (("speech", "faster_whisper"), ("media", "av"))
_NICENESS = 10
_MISHEARD = "Names of plants are often misheard: listen again to what matters."


class SpeechError(ValueError):
    """A recording that was not taken down; the text says why."""


class Step(Protocol):
    """Is told what is being done, and how far it is from 0 to 1 where that can be said."""

    def __call__(self, name: str, share: float | None = None) -> None:
        """Take it."""


@dataclass(frozen=True, slots=True)
class Wanting:
    """What this computer lacks: names of extras, and in words what is wrong with the model."""

    extras: tuple[str, ...]
    model: str


def wanting() -> Wanting | None:
    """Tell what has to be installed before a recording can be taken down; None where nothing."""
    extras = tuple(extra for extra, library in _LIBRARIES if find_spec(library) is None)
    model = ""
    if not named_model():
        model = MODEL_FILES_IN_WORDS
    else:
        try:
            find_model()
        except SpeechModelError as e:
            model = str(e)
    return Wanting(extras, model) if extras or model else None


def untaken(stored: StoredSurvey, parts: Sequence[WalkPart]) -> tuple[str, ...]:
    """Give the recordings of a survey that have no transcript, in the order of its files.

    Parameters
    ----------
    stored : StoredSurvey
    parts : sequence of WalkPart
        Of the same survey as it was read.
    """
    played = {p.recording for p in parts}
    names = [i.key for i in stored.of("file")]
    # One beside it that the walk does not name is a transcript all the same.
    written = {stem_of(n) for n in names if suffix_of(n) in TRANSCRIPT_ENDINGS}
    return tuple(
        n for n in names
        if suffix_of(n) in PLAYABLE and n not in played and stem_of(n) not in written
    )  # fmt: skip


def _folder(desk: Path, survey: int, sha256: str) -> Path:
    return desk / "speech" / str(survey) / sha256[:24]


def take_down(
    store: Store, desk: Path, survey: int, *, name: str, sha256: str, region: str, model: str,
    who: str, when: datetime, step: Step,
) -> str:  # fmt: skip
    """Take down a recording and put its transcript into the survey, once, however often begun.

    Parameters
    ----------
    store : Store
    desk : Path
        Folder of what the desk makes; what is heard is kept in it until the transcript is in the
        survey.
    survey : int
    name, sha256 : str
        Of the recording.
    region : str
        Whose trees the recogniser is told to expect, one of REGIONS; "" = none.
    model : str
        Folder of the speech model.
    who : str
    when : datetime
        The change bears it; by it a change that was made before a crash is known again.
    step : Step

    Returns
    -------
    str
        What came of it, in words.

    Raises
    ------
    SpeechError
        Nothing was understood; the text says why.
    LandingError
        The recording has gone, or has a transcript by now.
    SpeechModelError, MissingExtraError
        What this computer lacks.
    StoreError
        There is no such survey.
    """
    if taken_before(store, survey, _TAKEN_DOWN, who=who, when=when):
        return f"{name} was taken down before the desk stopped."
    # Whoever waits for a page goes first.
    if hasattr(os, "nice"):
        os.nice(_NICENESS)
    _check(store, store.load(survey), name, sha256)
    folder = _folder(desk, survey, sha256)
    folder.mkdir(parents=True, exist_ok=True)
    try:
        problems = _heard(store.files.path(sha256), name, folder, _Ear(region, model), step)
        step("putting it in its place")
        landing = _placed(store, survey, folder / _TRANSCRIPT, name, sha256, who, when)
    except (SpeechError, LandingError):
        shutil.rmtree(folder, ignore_errors=True)
        raise
    shutil.rmtree(folder, ignore_errors=True)
    says = f"taken down by machine, kept as {landing.name}. {_MISHEARD}"
    return " ".join([says, *map(_sentence, problems)])


def _check(store: Store, stored: StoredSurvey, name: str, sha256: str) -> None:
    item = stored.get("file", name)
    if item is None or (item.body or {}).get("sha256") != sha256:
        raise LandingError(f"{name} is not in this survey any more; nothing was taken down")
    if name not in untaken(stored, store.job_of(stored).parts):
        raise LandingError(
            f"{name} has a transcript by now, which stays as it is: take that one out first to "
            "have the recording taken down"
        )


def _heard(
    recording: Path, name: str, folder: Path, ear: "_Ear", step: Step
) -> tuple[Problem, ...]:
    out = folder / _TRANSCRIPT
    if out.is_file():
        # Finished by a process that was stopped before it was put in its place.
        return ()
    step("loading the speech model")
    recogniser = ear.recogniser()
    step("opening the recording")

    def tell(at: Progress) -> None:
        left = "" if at.left_s is None else f", about {_clock(at.left_s)} left"
        step(
            f"listening: {_clock(at.done_s)} of {_clock(at.total_s)}{left}",
            at.done_s / at.total_s if at.total_s else None,
        )

    # It came from outside: only a process with limits decodes it.
    done = transcribe(
        [(recording, name)], out=out, recogniser=recogniser, progress=tell, clock=time.monotonic,
        look=probe_apart, sound_of=SoundApart,
    )  # fmt: skip
    if not done.words:
        raise SpeechError(" ".join(map(_sentence, done.problems)) or f"{name}: nothing was heard")
    return tuple(p for p in done.problems if p.file == name)


@dataclass(frozen=True, slots=True)
class _Ear:
    """Whose trees are expected, and the folder of the model that listens."""

    region: str
    model: str

    def recogniser(self) -> Recogniser:
        """Load the model."""
        region = next((r for r in REGIONS if r == self.region), None)
        # Told by the desk: this process, forked off another, has that one's environment.
        model = find_model(Path(self.model) if self.model else None, environment={})
        return load_recogniser(model, hints=likely_species(region) if region else ())


def _placed(
    store: Store, survey: int, path: Path, name: str, sha256: str, who: str, when: datetime
) -> Landing:
    with path.open("rb") as stream:
        medium = store.put_media(stream, when=when)

    def place(now: StoredSurvey) -> Landing:
        _check(store, now, name, sha256)
        return _landing(now, path, medium, name)

    return put_in_place(store, survey, name, _TAKEN_DOWN, who=who, when=when, place=place)


def _landing(stored: StoredSurvey, path: Path, medium: Medium, name: str) -> Landing:
    told = Told("transcript", ".vtt")
    return land(stored, name=f"{name}.vtt", path=path, medium=medium, told=told, of=name)


def _sentence(problem: Problem) -> str:
    end = "" if problem.expected.endswith("?") else "."
    return f"{problem.file}: {problem.value}; expected {problem.expected}{end}"


def _clock(seconds: float) -> str:
    return f"{int(seconds) // 60}:{int(seconds) % 60:02d}"


def clear_old(desk: Path, *, now: datetime) -> None:
    """Take away what was heard of recordings nobody went on with."""
    for folder in desk.glob("speech/*/*"):
        touched = max((p.stat().st_mtime for p in folder.glob("*")), default=0.0)
        if datetime.fromtimestamp(touched, UTC) < now - _KEPT:
            shutil.rmtree(folder, ignore_errors=True)
