"""The figures screening runs on, read once from their data file."""

import tomllib
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files

from bolewalk.model.survey import ROOT_ZONE_METHODS, RootZoneMethod
from bolewalk.model.units import UnitSystem
from bolewalk.model.words import Verdict

__all__ = ["Settings", "default_method", "settings"]


@dataclass(frozen=True, slots=True)
class Settings:
    """The tables of `data/screen.toml`; what each is for stands there."""

    cell_m: float
    nearest_within_m: float
    slack_m: float
    rows_a_piece: int
    trees_a_partition: int
    least_partitions: int
    rows_a_group: int
    tries: int
    missing_cm: tuple[float, float, float]
    missing_crown_m: tuple[float, ...]
    missing_palm_crown_m: tuple[float, ...]
    open_above_times: float
    open_below_times: float
    methods: dict[str, str]
    scale_share: float
    utm_reach_deg: float
    visited: tuple[Verdict, ...]
    stop_m: float
    stops_a_tour: int
    two_opt_rounds: int
    map_width_px: int
    map_single_trees: int
    map_lines: int


@lru_cache(maxsize=1)
def settings() -> Settings:
    """Read the figures once.

    Raises
    ------
    KeyError
        The packaged file lacks a table or a key.
    """
    text = (files("bolewalk.region") / "data" / "screen.toml").read_text(encoding="utf-8")
    t = tomllib.loads(text)
    trunk = t["trunk"]
    return Settings(
        cell_m=float(t["cells"]["side_m"]),
        nearest_within_m=float(t["cells"]["nearest_within_m"]),
        slack_m=float(t["cells"]["slack_m"]),
        rows_a_piece=int(t["work"]["rows_a_piece"]),
        trees_a_partition=int(t["work"]["trees_a_partition"]),
        least_partitions=int(t["work"]["least_partitions"]),
        rows_a_group=int(t["work"]["rows_a_group"]),
        tries=int(t["work"]["tries"]),
        missing_cm=(
            float(trunk["missing_low_cm"]),
            float(trunk["missing_middle_cm"]),
            float(trunk["missing_high_cm"]),
        ),
        missing_crown_m=tuple(float(v) for v in t["crown"]["missing_m"]),
        missing_palm_crown_m=tuple(float(v) for v in t["crown"]["missing_palm_m"]),
        open_above_times=float(trunk["open_above_times"]),
        open_below_times=float(trunk["open_below_times"]),
        methods=dict(t["method"]),
        scale_share=float(t["crs"]["scale_share"]),
        utm_reach_deg=float(t["crs"]["utm_reach_deg"]),
        visited=tuple(v for v in VERDICTS_BY_WEIGHT if v in t["visits"]["verdicts"]),
        stop_m=float(t["visits"]["stop_m"]),
        stops_a_tour=int(t["visits"]["stops_a_tour"]),
        two_opt_rounds=int(t["visits"]["two_opt_rounds"]),
        map_width_px=int(t["map"]["width_px"]),
        map_single_trees=int(t["map"]["single_trees"]),
        map_lines=int(t["map"]["lines"]),
    )


VERDICTS_BY_WEIGHT: tuple[Verdict, ...] = ("redesign", "undecided", "keep_if", "keep")


def default_method(units: UnitSystem) -> RootZoneMethod:
    """Give the method of a screening that names none."""
    name = settings().methods[units]
    return next(m for m in ROOT_ZONE_METHODS if m == name)
