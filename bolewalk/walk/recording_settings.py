"""Settings of recordings, speech and stills, from their data file."""

import tomllib
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

__all__ = [
    "CueSettings", "RecordingSettings", "SoundSettings", "StillSettings", "StretchSettings",
    "WordSettings", "recording_settings",
]  # fmt: skip


@dataclass(frozen=True, slots=True)
class SoundSettings:
    """`[sound]`: decoding."""

    rate_hz: int
    block_s: float
    silent_peak: float
    gap_s: float
    bad_packets: int
    short_s: float


@dataclass(frozen=True, slots=True)
class StretchSettings:
    """`[stretches]`: where the sound is cut."""

    longest_s: float
    cut_from_s: float
    pause_s: float
    keep_s: float
    lead_s: float
    voice_threshold: float
    voice_shortest_s: float


@dataclass(frozen=True, slots=True)
class WordSettings:
    """`[words]`: recognition."""

    beam: int
    repeats_compress_to: float
    no_speech_above: float
    likelihood_below: float
    penalty: float
    phrase: int
    echo_names: int
    echo_share: float
    most_hints: int


@dataclass(frozen=True, slots=True)
class CueSettings:
    """`[cues]`: how words are parted into cues."""

    longest_s: float
    pause_s: float


@dataclass(frozen=True, slots=True)
class StillSettings:
    """`[stills]`: where the sharpest frame is looked for."""

    before_s: float
    after_s: float
    every_s: float
    mentions: int
    width_px: int


@dataclass(frozen=True, slots=True)
class RecordingSettings:
    """What `data/recordings.toml` says; each value's reason stands there.

    `key` is the file's own text: whoever keeps results computed with these settings keeps it
    beside them.
    """

    formats: tuple[str, ...]
    sound: SoundSettings
    stretches: StretchSettings
    words: WordSettings
    cues: CueSettings
    stills: StillSettings
    key: str


@cache
def recording_settings() -> RecordingSettings:
    """Give the settings of recordings."""
    text = (files("bolewalk.walk") / "data" / "recordings.toml").read_text(encoding="utf-8")
    raw: dict[str, Any] = tomllib.loads(text)
    return RecordingSettings(
        formats=tuple(raw["formats"]["read"]),
        sound=SoundSettings(**raw["sound"]),
        stretches=StretchSettings(**raw["stretches"]),
        words=WordSettings(**raw["words"]),
        cues=CueSettings(**raw["cues"]),
        stills=StillSettings(**raw["stills"]),
        key=text,
    )
