"""Plausible values of missing facts, read once from their data file."""

import tomllib
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

__all__ = ["PlausibleValues", "plausible_values"]


@dataclass(frozen=True, slots=True)
class PlausibleValues:
    """The tables of `data/plausible_values.toml`; what each is for stands there.

    Wherever there is a list, its first value is the one counted until the fact is told.
    """

    all_combinations_up_to: int
    drawn: int
    asked_apart_up_to: int
    seed: int
    offset_times: tuple[float, ...]
    made: tuple[str, ...]
    open_dig_m: tuple[float, ...]
    trenchless_m: tuple[float, ...]
    roof_underside_m: tuple[float, ...]
    building_top_m: tuple[float, ...]
    wall_top_m: tuple[float, ...]
    wire_underside_m: tuple[float, ...]
    methods_without_rule: frozenset[str]
    readings: tuple[str, ...]
    two_readings_ratio: float
    doubt_below: float


@lru_cache(maxsize=1)
def plausible_values() -> PlausibleValues:
    """Read the packaged values.

    Raises
    ------
    KeyError
        The packaged file lacks a table or a key.
    """
    path = Path(__file__).with_name("data") / "plausible_values.toml"
    t = tomllib.loads(path.read_text(encoding="utf-8"))
    return PlausibleValues(
        all_combinations_up_to=int(t["count"]["all_combinations_up_to"]),
        drawn=int(t["count"]["drawn"]),
        asked_apart_up_to=int(t["count"]["asked_apart_up_to"]),
        seed=int(t["count"]["seed"]),
        offset_times=tuple(float(v) for v in t["offset"]["times"]),
        made=tuple(t["made"]["values"]),
        open_dig_m=tuple(float(v) for v in t["depth"]["open_dig_m"]),
        trenchless_m=tuple(float(v) for v in t["depth"]["trenchless_m"]),
        roof_underside_m=tuple(float(v) for v in t["roof"]["underside_m"]),
        building_top_m=tuple(float(v) for v in t["building"]["top_m"]),
        wall_top_m=tuple(float(v) for v in t["wall"]["top_m"]),
        wire_underside_m=tuple(float(v) for v in t["wire"]["underside_m"]),
        methods_without_rule=frozenset(t["diameter"]["methods_without_rule"]),
        readings=tuple(t["diameter"]["readings"]),
        two_readings_ratio=float(t["diameter"]["two_readings_ratio"]),
        doubt_below=float(t["species"]["doubt_below"]),
    )
