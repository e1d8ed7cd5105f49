"""What a tree table is held against, from its data file."""

import tomllib
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

__all__ = ["Plausible", "plausible"]


@dataclass(frozen=True, slots=True)
class Plausible:
    """What `data/plausible.toml` says; each value's source stands there."""

    height_never_m: float
    trunk_never_cm: float
    trunk_doubt_cm: float
    crown_doubt_m: float
    slender_low: float
    slender_high: float
    stump_m: float
    girth_share: float
    beyond_share: float
    beyond_drawing_m: float
    beyond_works_m: float
    never_beyond_m: float
    table_bytes: int
    first_year: int
    last_year: int
    toml_bytes: int
    toml_key_parts: int
    rows: int
    id_characters: int
    grid_scale_share: float
    name_likeness: float
    name_hints: int


@cache
def plausible() -> Plausible:
    """Give the bounds a tree table is held against."""
    text = (files("bolewalk.intake") / "data" / "plausible.toml").read_text(encoding="utf-8")
    raw: dict[str, Any] = tomllib.loads(text)
    return Plausible(
        height_never_m=raw["height"]["never_above_m"],
        trunk_never_cm=raw["trunk"]["never_above_cm"],
        trunk_doubt_cm=raw["trunk"]["doubt_above_cm"],
        crown_doubt_m=raw["crown"]["doubt_above_m"],
        slender_low=raw["slenderness"]["doubt_below"],
        slender_high=raw["slenderness"]["doubt_above"],
        stump_m=raw["slenderness"]["stump_m"],
        girth_share=raw["girth"]["agree_share"],
        **raw["place"],
        name_likeness=raw["names"]["likeness"],
        name_hints=raw["names"]["hints"],
        first_year=raw["date"]["first_year"],
        last_year=raw["date"]["last_year"],
        **raw["limits"],
    )
