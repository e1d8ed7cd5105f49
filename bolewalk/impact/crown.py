"""The crown as a solid: its volume, and what of it stands in a building, a roof or a clearance.

The outline is four quarter-ellipses through the north, east, south and west radii; at height t
(0 at the crown base, 1 at the top) the crown's section is the outline scaled by the profile p(t)
of its form. A point whose distance from the trunk is the share q of the outline's lies in the
crown at the heights where p(t) >= q.
"""

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from bolewalk.model.trees import Tree
from bolewalk.model.words import CrownForm
from bolewalk.reference.wood import wood_kind

__all__ = [
    "CrownSolid", "crown_solid", "crown_volume_m3", "outline_radius_m", "profile", "share_table",
]  # fmt: skip

Floats = NDArray[np.float64]

_PROFILES: Mapping[CrownForm, Callable[[Floats], Floats]] = {
    "spheroid": lambda t: np.sqrt(np.maximum(1.0 - (2.0 * t - 1.0) ** 2, 0.0)),
    "half-spheroid": lambda t: np.sqrt(np.maximum(1.0 - t**2, 0.0)),
    "cone": lambda t: 1.0 - t,
    "column": np.ones_like,
    "umbrella": lambda t: np.sqrt(np.maximum(t, 0.0)),
    "palm": lambda t: np.sqrt(np.maximum(1.0 - (2.0 * t - 1.0) ** 2, 0.0)),
}

# Integral of profile squared over t from 0 to 1, closed form.
_FILL: Mapping[CrownForm, float] = {
    "spheroid": 2 / 3,
    "half-spheroid": 2 / 3,
    "cone": 1 / 3,
    "column": 1.0,
    "umbrella": 1 / 2,
    "palm": 2 / 3,
}

_STEPS_T = 2048
_STEPS_Q = 1024


@dataclass(frozen=True, slots=True)
class CrownSolid:
    """One crown in space. Radii north, east, south, west [m], all >= 0, not all 0; heights above
    ground at the trunk [m], 0 <= base < top. `form_given` is False where a default stands in."""

    centre: tuple[float, float]
    radii_m: tuple[float, float, float, float]
    base_m: float
    top_m: float
    form: CrownForm
    form_given: bool = True

    def __post_init__(self) -> None:
        if not all(math.isfinite(r) and r >= 0 for r in self.radii_m) or not any(self.radii_m):
            raise ValueError(f"crown radii must be >= 0 and not all 0, not {self.radii_m}")
        if not 0 <= self.base_m < self.top_m < math.inf:
            raise ValueError(
                f"crown base {self.base_m:g} m must be >= 0 and below the top {self.top_m:g} m"
            )

    @property
    def volume_m3(self) -> float:
        """Volume [m3]."""
        return crown_volume_m3(self.radii_m, self.top_m - self.base_m, self.form)


def crown_solid(tree: Tree) -> CrownSolid | None:
    """Give the crown of a survey tree.

    Returns
    -------
    CrownSolid or None
        None where crown, height or crown base was not recorded or they contradict one another.
        A tree without position stands at (0, 0): its volume holds, its clashes do not.
    """
    if tree.crown is None or tree.height_m is None or tree.crown_base_m is None:
        return None
    base, top = tree.crown_base_m.value, tree.height_m.value
    if not 0 <= base < top or not any(r > 0 for r in tree.crown.radii_m):
        return None
    botanical = tree.species.botanical
    palm = botanical is not None and wood_kind(botanical) == "palm"
    return CrownSolid(
        (tree.x_m or 0.0, tree.y_m or 0.0),
        tree.crown.radii_m,
        base,
        top,
        tree.form or ("palm" if palm else "spheroid"),
        form_given=tree.form is not None,
    )


def profile(form: CrownForm, t: ArrayLike) -> Floats:
    """Give the crown's width at height t as a share of the outline.

    Parameters
    ----------
    form : CrownForm
    t : array_like
        0 at the crown base, 1 at the top.

    Returns
    -------
    ndarray of float64
        0..1.
    """
    return _PROFILES[form](np.asarray(t, dtype=np.float64))


def crown_volume_m3(
    radii_m: tuple[float, float, float, float], depth_m: float, form: CrownForm
) -> float:
    """Give the volume of a crown: outline area x depth x integral of profile squared.

    Parameters
    ----------
    radii_m : north, east, south, west [m]
    depth_m : float
        Top less crown base [m], > 0.
    form : CrownForm

    Returns
    -------
    float
        Volume [m3], exact.

    Examples
    --------
    >>> round(crown_volume_m3((2, 2, 2, 2), 4, "spheroid"), 4)  # sphere of radius 2
    33.5103
    """
    north, east, south, west = radii_m
    area = math.pi / 4 * (north * east + east * south + south * west + west * north)
    return area * depth_m * _FILL[form]


def outline_radius_m(radii_m: tuple[float, float, float, float], bearing_rad: ArrayLike) -> Floats:
    """Give the distance from the trunk to the crown's outline on bearings.

    Parameters
    ----------
    radii_m : north, east, south, west [m]
    bearing_rad : array_like
        Clockwise from north [radians].

    Returns
    -------
    ndarray of float64
        [m]; 0 in a quarter with a radius of 0.
    """
    north, east, south, west = radii_m
    b = np.asarray(bearing_rad, dtype=np.float64)
    c, s = np.cos(b), np.sin(b)
    along = np.where(c >= 0, north, south)
    across = np.where(s >= 0, east, west)
    bottom = np.hypot(across * c, along * s)
    flat = bottom == 0
    return np.where(flat, 0.0, along * across / np.where(flat, 1.0, bottom))


@lru_cache(maxsize=512)
def share_table(form: CrownForm, low_t: float, high_t: float) -> Floats:
    """Tabulate G(q) = integral from low_t to high_t of min(p(t), q)**2 / 2 dt.

    With r the distance from the trunk on one bearing and R the outline's, `R**2 * G(r / R)` is
    what the crown holds within r on that bearing, between two heights.

    Returns
    -------
    ndarray of float64, shape (1025,)
        On q = 0, 1/1024, ... 1; within 1e-7 of closed form.
    """
    step = (high_t - low_t) / _STEPS_T
    p = np.sort(profile(form, low_t + step * (np.arange(_STEPS_T) + 0.5)))
    squared = np.concatenate([[0.0], np.cumsum(p**2)])
    q = np.linspace(0.0, 1.0, _STEPS_Q + 1)
    narrower = np.searchsorted(p, q)
    return np.asarray((squared[narrower] + (_STEPS_T - narrower) * q**2) * step / 2)
