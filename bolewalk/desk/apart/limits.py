"""What the desk takes from outside, from its data file."""

import tomllib
from dataclasses import dataclass, replace
from functools import cache
from importlib.resources import files
from typing import Any

__all__ = ["Limits", "ProcessLimits", "limits"]


@dataclass(frozen=True, slots=True)
class ProcessLimits:
    """`[process]`: what the reader in a process of its own may use; with `[sound]`, one that
    decodes as long as it is listened to: its clock and its answer are those of one piece."""

    memory_bytes: int
    cpu_s: int
    clock_s: float
    answer_bytes: int
    at_once: int


@dataclass(frozen=True, slots=True)
class Limits:
    """What `data/limits.toml` says; each value's reason stands there."""

    upload_bytes: int
    files: int
    deep: int
    body_bytes: int
    part_bytes: int
    path_bytes: int
    zip_ratio: float
    zip_free_bytes: int
    bytes_of: dict[str, int]
    picture_px: int
    side_px: int
    pages: int
    page_pt: float
    frame_px: int
    hours: float
    process: ProcessLimits
    sound: ProcessLimits


@cache
def limits() -> Limits:
    """Give the limits of what is brought in."""
    text = (files("bolewalk.desk.apart") / "data" / "limits.toml").read_text(encoding="utf-8")
    raw: dict[str, Any] = tomllib.loads(text)
    process = ProcessLimits(**raw["process"])
    sound = raw["sound"]
    return Limits(
        upload_bytes=raw["upload"]["bytes"],
        files=raw["upload"]["files"],
        deep=raw["upload"]["deep"],
        body_bytes=raw["upload"]["body_bytes"],
        part_bytes=raw["names"]["part_bytes"],
        path_bytes=raw["names"]["path_bytes"],
        zip_ratio=raw["zip"]["ratio"],
        zip_free_bytes=raw["zip"]["free_bytes"],
        bytes_of=raw["bytes"],
        **raw["inside"],
        process=process,
        sound=replace(
            process,
            cpu_s=sound["cpu_s"],
            clock_s=sound["clock_s"],
            answer_bytes=sound["piece_bytes"],
        ),
    )
