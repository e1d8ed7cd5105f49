"""Published practice of planting: size classes, holes, soil, diversity, water for a caliper."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from bolewalk.model.statements import Statement, say
from bolewalk.model.units import CM_PER_IN, M_PER_FT
from bolewalk.planting.tables import rules

__all__ = [
    "Hole", "SizeClass", "caliper_water_gal_week", "check_diversity", "hole_for", "size_class",
    "soil_by_crown_m3", "soil_by_size_m3",
]  # fmt: skip

SizeClass = Literal["small", "medium", "large"]
_M_PER_IN = CM_PER_IN / 100


def size_class(height_m: float) -> SizeClass:
    """Give the size class of a grown height, by the classes street-tree rules use."""
    bounds = rules("planting_rules")["size_class"]
    if height_m <= float(bounds["small_ft"]) * M_PER_FT:
        return "small"
    return "medium" if height_m <= float(bounds["medium_ft"]) * M_PER_FT else "large"


def soil_by_crown_m3(crown_m2: float) -> float:
    """Give the soil a tree needs by the ground its crown covers, 0.6 m3 a m2 [m3]."""
    return crown_m2 * float(rules("planting_rules")["soil"]["m3_per_m2_crown"])


def soil_by_size_m3(height_m: float, trunk_cm: float) -> float:
    """Give the soil a tree needs by its size index: height [m] x trunk [mm] / 100 [m3]."""
    return height_m * trunk_cm * 10 / float(rules("planting_rules")["soil"]["index_divisor"])


def caliper_water_gal_week(caliper_in: float) -> tuple[float, float]:
    """Give the published water for a new tree, least and most [gal a week]."""
    low, high = rules("planting_rules")["establishment"]["gal_per_caliper_in_week"]
    return low * caliper_in, high * caliper_in


@dataclass(frozen=True, slots=True)
class Hole:
    """A planting hole: widths [m], deepest [m], height of the root flare above grade [m]."""

    width_low_m: float
    width_high_m: float
    depth_m: float
    flare_low_m: float
    flare_high_m: float


def hole_for(ball_m: float, *, depth_m: float | None = None) -> Hole:
    """Give the hole for a ball or container.

    Parameters
    ----------
    ball_m : float
        Width, > 0.
    depth_m : float, optional
        Depth of the ball; without it as deep as wide, as cans are.
    """
    if not ball_m > 0:
        raise ValueError(f"ball_m is {ball_m!r}; it must be > 0.")
    table = rules("planting_rules")["hole"]
    low, high = table["width_times_ball"]
    flare = [float(v) * _M_PER_IN for v in table["flare_above_grade_in"]]
    deep = ball_m if depth_m is None else depth_m
    return Hole(low * ball_m, high * ball_m, deep, flare[0], flare[1])


def check_diversity(
    planned: Sequence[tuple[str, str, str]], standing: Mapping[tuple[str, str, str], int]
) -> tuple[Statement, ...]:
    """Hold a planting list against 10 % of a species, 20 % of a genus, 30 % of a family.

    Parameters
    ----------
    planned : sequence of (species, genus, family)
        One entry a new tree.
    standing : mapping
        The same of what already stands -> how many.

    Returns
    -------
    tuple of Statement
        What is over; that there are too few trees to judge; or nothing.
    """
    table = rules("planting_rules")["diversity"]
    everything = list(planned) + [k for k, n in standing.items() for _ in range(n)]
    whole = len(everything)
    if not planned:
        return ()
    if whole < int(table["least_trees"]):
        return (say("planting.too_few_for_diversity", trees_count=whole),)
    told = []
    for n, rank in enumerate(("species", "genus", "family")):
        limit = float(table[f"{rank}_pct"])
        names = sorted({p[n] for p in planned if p[n]})
        for name in names:
            share = 100 * sum(e[n] == name for e in everything) / whole
            if share > limit:
                told.append(
                    say(f"planting.over_{rank}", name=name, share_pct=share, limit_pct=limit,
                        trees_count=whole)
                )  # fmt: skip
    return tuple(told)
