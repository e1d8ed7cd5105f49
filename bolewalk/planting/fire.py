"""Spacing of plants against fire on a true slope, every published basis side by side.

Lengths on a slope are tape lengths along the ground unless a name says plan.
"""

import math
from dataclasses import dataclass
from typing import Literal, get_args

from bolewalk.model.statements import Statement, say
from bolewalk.model.units import M_PER_FT
from bolewalk.planting.tables import rules

__all__ = [
    "FIRE_BASES", "FireBasis", "FireRow", "FireSpacing", "bare_zone_m", "casual_grid_count",
    "fire_spacing", "first_count", "ground_length_m", "least_branch_m",
    "plan_area_m2", "shrub_gap_m", "slope_band", "tree_gap_m",
]  # fmt: skip

FireBasis = Literal["shrub_height", "shrub_width", "shrub_diameter"]
"""What the gap between shrubs is a multiple of: the taller one's height, the wider one's width,
the largest one's diameter on any slope."""
FIRE_BASES: tuple[FireBasis, ...] = get_args(FireBasis)


def _stretch(slope_pct: float) -> float:
    if not (math.isfinite(slope_pct) and slope_pct >= 0):
        raise ValueError(f"slope_pct is {slope_pct!r}; it must be finite and >= 0.")
    return math.hypot(1.0, slope_pct / 100)


def ground_length_m(plan_m: float, *, slope_pct: float) -> float:
    """Give the tape length of a plan length straight up or down a slope.

    Examples
    --------
    >>> round(ground_length_m(20, slope_pct=38), 1)
    21.4
    """
    return plan_m * _stretch(slope_pct)


def plan_area_m2(ground_m2: float, *, slope_pct: float) -> float:
    """Give the area in plan of an area measured on the ground."""
    return ground_m2 / _stretch(slope_pct)


def slope_band(slope_pct: float) -> int:
    """Give the band of a slope, 0, 1, 2 from gentle to steep; exactly on a bound the steeper."""
    _stretch(slope_pct)
    return sum(slope_pct >= b for b in rules("fire_spacing")["bounds_pct"])


def tree_gap_m(slope_pct: float) -> float:
    """Give the least gap between tree crowns, edge to edge [m]."""
    return float(rules("fire_spacing")["tree"]["gap_ft"][slope_band(slope_pct)]) * M_PER_FT


def shrub_gap_m(size_m: float, *, slope_pct: float, basis: FireBasis) -> float:
    """Give the least gap between shrubs, edge to edge [m].

    Parameters
    ----------
    size_m : float
        Height of the taller shrub, or width of the wider one, as the basis asks, > 0.
    slope_pct : float
    basis : FireBasis
    """
    if not size_m > 0:
        raise ValueError(f"size_m is {size_m!r}; it must be > 0.")
    return size_m * float(rules("fire_spacing")[basis]["times"][slope_band(slope_pct)])


def least_branch_m(shrub_height_m: float) -> float:
    """Give how high a tree's lowest branch must be above ground over a shrub [m].

    The gap above the shrub is three times its height: 5 ft of shrub, 15 ft clear, branch at
    20 ft.
    """
    return shrub_height_m * (1 + float(rules("fire_spacing")["vertical"]["times"]))


def bare_zone_m() -> float:
    """Give the width of the strip at the house kept without plants [m]."""
    return float(rules("fire_spacing")["bare_zone"]["width_ft"]) * M_PER_FT


def first_count(ground_m2: float, spacing_m: float) -> int:
    """Count plants before any layout: ground area over spacing squared, rounded up."""
    if not (ground_m2 >= 0 and spacing_m > 0):
        raise ValueError("ground_m2 must be >= 0 and spacing_m > 0.")
    # 289 ft2 at 17 ft is one plant: rounding of feet to metres must not make it two.
    return math.ceil(round(ground_m2 / spacing_m**2, 9))


def casual_grid_count(ground_m2: float) -> tuple[int, int]:
    """Count what a casual close grid would put on an area: inside only, and edges included."""
    grid = rules("planting_rules")["grid_guess"]
    step = float(grid["spacing_ft"]) * M_PER_FT
    width = math.sqrt(ground_m2 / float(grid["length_over_width"]))
    along = [math.floor(round(side / step, 9)) + 1 for side in (width, ground_m2 / width)]
    return first_count(ground_m2, step), along[0] * along[1]


@dataclass(frozen=True, slots=True)
class FireRow:
    """One basis at one slope.

    `gap_m` crown edge to crown edge, `centres_m` trunk to trunk, `plants_count` the first count.
    """

    basis: FireBasis
    slope_pct: float
    gap_m: float
    centres_m: float
    plants_count: int
    source: str


@dataclass(frozen=True, slots=True)
class FireSpacing:
    """Every basis at the slope as read and on the other side of a bound it may lie across.

    Attributes
    ----------
    rows : tuple of FireRow
        At the slope as read, by basis; then, where the reading may be off across a bound, the
        same at that bound.
    tree_gap_m, tree_gap_across_m : float, float or None
        Trees' crown to crown gap at the slope, and across the bound.
    ground_m2, plan_m2 : float
    flips : bool
        Whether the reading's error changes a count.
    statements : tuple of Statement
        What to tell: the counts, the jump, the reading.
    """

    rows: tuple[FireRow, ...]
    tree_gap_m: float
    tree_gap_across_m: float | None
    ground_m2: float
    plan_m2: float
    flips: bool
    statements: tuple[Statement, ...]


def fire_spacing(
    ground_m2: float,
    *,
    height_m: float,
    width_m: float,
    slope_pct: float,
    error_pct: float | None = None,
    read_by: str = "",
    named: bool = False,
) -> FireSpacing:
    """Set every published basis side by side for one kind of shrub on one slope.

    Parameters
    ----------
    ground_m2 : float
        Area of the bank measured along the ground.
    height_m, width_m : float
        Grown size of the shrub.
    slope_pct : float
        As read, >= 0.
    error_pct : float, optional
        Error of the reading [percent points]; without it the setting's.
    read_by : str
        How the slope was read ("phone"); "" counts as not told.
    named : bool
        Whether the guide that governs was named; if not, that is asked for.

    Returns
    -------
    FireSpacing
    """
    table = rules("fire_spacing")
    error = float(table["near_bound_pct"]) if error_pct is None else error_pct
    across = [
        b
        for b in table["bounds_pct"]
        if slope_pct - error < b <= slope_pct + error and b != slope_pct
    ]
    # Below a bound lies the band under it; the bound itself belongs to the band above.
    other = None
    if across:
        bound = float(across[0])
        other = bound if slope_pct < bound else math.nextafter(bound, 0)
    sizes = {"shrub_height": height_m, "shrub_width": width_m, "shrub_diameter": width_m}
    rows = []
    for slope in (slope_pct,) if other is None else (slope_pct, other):
        for basis in FIRE_BASES:
            gap = shrub_gap_m(sizes[basis], slope_pct=slope, basis=basis)
            centres = gap + width_m
            rows.append(
                FireRow(
                    basis, slope, gap, centres, first_count(ground_m2, centres),
                    str(table[basis]["source"]),
                )
            )  # fmt: skip
    here, there = rows[: len(FIRE_BASES)], rows[len(FIRE_BASES) :]
    flips = any(a.plants_count != b.plants_count for a, b in zip(here, there, strict=False))
    told = [
        say(
            f"planting.fire_{r.basis}", gap_m=r.gap_m, centres_m=r.centres_m,
            plants_count=r.plants_count, slope_pct=slope_pct,
        )
        for r in here
    ]  # fmt: skip
    if other is not None:
        told += [
            say(
                f"planting.fire_{r.basis}_across", bound_pct=float(across[0]),
                centres_m=r.centres_m, plants_count=r.plants_count,
            )
            for r in there
            if r.basis != "shrub_diameter"
        ]  # fmt: skip
        told.append(
            say(
                "planting.fire_trees_across", bound_pct=float(across[0]),
                gap_m=tree_gap_m(slope_pct), across_m=tree_gap_m(other),
            )
        )  # fmt: skip
        code = "planting.slope_flips" if read_by else "planting.slope_flips_unread"
        told.append(say(code, slope_pct=slope_pct, error_pct=error, read_by=read_by,
                        bound_pct=float(across[0])))  # fmt: skip
    inside, edged = casual_grid_count(ground_m2)
    told.append(say("planting.casual_grid", low_count=inside, high=edged))
    if not named:
        told.append(say("planting.name_the_guide"))
    return FireSpacing(
        tuple(rows), tree_gap_m(slope_pct), None if other is None else tree_gap_m(other),
        ground_m2, plan_area_m2(ground_m2, slope_pct=slope_pct), flips, tuple(told),
    )  # fmt: skip
