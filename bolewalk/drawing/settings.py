"""Settings of reading plan files, from their data file."""

import tomllib
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

from bolewalk.model.units import M_PER_UNIT, M_PER_US_SURVEY_FT

__all__ = ["DRAWING_UNITS", "ReadingSettings", "reading_settings"]

DRAWING_UNITS: dict[str, float] = {
    **M_PER_UNIT,
    "dm": 0.1,
    "us-in": M_PER_US_SURVEY_FT / 12,
    "us-yd": M_PER_US_SURVEY_FT * 3,
}
"""Unit of a drawing -> metres."""


@dataclass(frozen=True, slots=True)
class ReadingSettings:
    """What `data/reading.toml` says; each value's reason stands there."""

    sagitta_m: float
    join_m: float
    least_apart_m: float
    scale_share: float
    degree_spread: float
    geojson_bytes: int
    dxf_bytes: int
    collection_depth: int
    block_depth: int
    entities: int
    far_m: float
    chords: int
    characters: dict[str, int]
    tell_feet_m: float
    insunits: dict[int, str]


@cache
def reading_settings() -> ReadingSettings:
    """Give the settings of reading plan files."""
    text = (files("bolewalk.drawing") / "data" / "reading.toml").read_text(encoding="utf-8")
    raw: dict[str, Any] = tomllib.loads(text)
    return ReadingSettings(
        sagitta_m=raw["curves"]["sagitta_m"],
        join_m=raw["joining"]["tolerance_m"],
        least_apart_m=raw["placement"]["least_apart_m"],
        scale_share=raw["placement"]["scale_share"],
        degree_spread=raw["degrees"]["spread"],
        tell_feet_m=raw["feet"]["tell_m"],
        insunits={row["code"]: row["unit"] for row in raw["insunits"]},
        characters=raw["characters"],
        **raw["limits"],
    )
