"""Tree height from angles and tape, on the level and on slopes, with its error carried."""

import math
from dataclasses import dataclass

__all__ = [
    "Height", "crown_area_m2", "crown_mean_width_m", "height_percent", "height_sine",
    "height_tangent", "live_crown_ratio_pct", "plan_distance_m", "plan_distance_on_slope_m",
    "slenderness",
]  # fmt: skip


@dataclass(frozen=True, slots=True)
class Height:
    """A height and how far it may be off.

    Attributes
    ----------
    height_m : float
    error_m : float
        Root of the summed squares of what each reading's error does to the height.
    largest_error : str
        The reading that counts most: "distance", "top angle", "base angle", "top distance" or
        "base distance".
    notes : tuple of str
        Codes: "stand_farther_back" (nearer than one tree height), "top_may_lean" (tangent method
        takes the top to stand over the trunk).
    """

    height_m: float
    error_m: float
    largest_error: str
    notes: tuple[str, ...] = ()

    @property
    def low_m(self) -> float:
        """Height less its error, not below 0."""
        return max(0.0, self.height_m - self.error_m)

    @property
    def high_m(self) -> float:
        """Height plus its error."""
        return self.height_m + self.error_m


def plan_distance_m(slope_distance_m: float, slope_deg: float) -> float:
    """Turn a tape laid along a slope into plan distance: L cos(angle)."""
    return slope_distance_m * math.cos(math.radians(slope_deg))


def plan_distance_on_slope_m(slope_distance_m: float, slope_pct: float) -> float:
    """Turn a tape laid along a slope in percent into plan distance: L / sqrt(1 + (pct/100)^2)."""
    return slope_distance_m / math.hypot(1, slope_pct / 100)


def height_tangent(
    distance_m: float,
    top_deg: float,
    base_deg: float,
    *,
    distance_error_m: float = 0.0,
    angle_error_deg: float = 0.0,
) -> Height:
    """Give the height from one plan distance and the angles to top and base.

    H = D (tan top - tan base), base negative below the eye.

    Parameters
    ----------
    distance_m : float
        Plan distance from eye to trunk [m], > 0; turn a slope distance first.
    top_deg, base_deg : float
        Angles above the horizontal [degrees], base < top, both between -90 and 90.
    distance_error_m, angle_error_deg : float
        How far the readings may be off, >= 0.

    Returns
    -------
    Height
        dH = hypot((tan top - tan base) dD, D sec^2(top) da, D sec^2(base) da).

    Raises
    ------
    ValueError
        Readings out of range.

    Notes
    -----
    A top that leans toward the eye reads too tall: by 3.0 m for 3 m of lean at 45 degrees. The
    sine method is not fooled.
    """
    _checked(distance_m, distance_error_m, angle_error_deg)
    _angles(top_deg, base_deg)
    top, base = math.tan(math.radians(top_deg)), math.tan(math.radians(base_deg))
    da = math.radians(angle_error_deg)
    return _with_error(
        distance_m * (top - base),
        {
            "distance": (top - base) * distance_error_m,
            "top angle": distance_m * (1 + top * top) * da,
            "base angle": distance_m * (1 + base * base) * da,
        },
        distance_m,
        ("top_may_lean",),
    )


def height_percent(
    distance_m: float,
    top_pct: float,
    base_pct: float,
    *,
    distance_error_m: float = 0.0,
    percent_error: float = 0.0,
) -> Height:
    """Give the height from one plan distance and the percent scale.

    H = D (top - base) / 100, base negative below the eye. Arguments and errors as
    `height_tangent`, with `percent_error` in points of the scale.
    """
    _checked(distance_m, distance_error_m, percent_error)
    if not (math.isfinite(top_pct) and math.isfinite(base_pct) and base_pct < top_pct):
        raise ValueError(f"base {base_pct:g} % must lie below top {top_pct:g} %.")
    return _with_error(
        distance_m * (top_pct - base_pct) / 100,
        {
            "distance": (top_pct - base_pct) / 100 * distance_error_m,
            "top angle": distance_m * percent_error / 100,
            "base angle": distance_m * percent_error / 100,
        },
        distance_m,
        ("top_may_lean",),
    )


def height_sine(
    top_distance_m: float,
    top_deg: float,
    base_distance_m: float,
    base_deg: float,
    *,
    distance_error_m: float = 0.0,
    angle_error_deg: float = 0.0,
) -> Height:
    """Give the height from laser distances to top and base.

    H = L_top sin(top) - L_base sin(base), base negative below the eye. Not fooled by a top that
    stands off the trunk.

    Parameters
    ----------
    top_distance_m, base_distance_m : float
        Straight distances from the eye [m], > 0.
    top_deg, base_deg : float
        As `height_tangent`.
    distance_error_m, angle_error_deg : float
        Of each reading, >= 0.

    Raises
    ------
    ValueError
        Readings out of range, or the top lies below the base.
    """
    _checked(top_distance_m, distance_error_m, angle_error_deg)
    _checked(base_distance_m, distance_error_m, angle_error_deg)
    _angles(top_deg, base_deg)
    top, base = math.radians(top_deg), math.radians(base_deg)
    height = top_distance_m * math.sin(top) - base_distance_m * math.sin(base)
    if height <= 0:
        raise ValueError("the top comes out below the base: check the distances.")
    da = math.radians(angle_error_deg)
    return _with_error(
        height,
        {
            "top distance": math.sin(top) * distance_error_m,
            "base distance": math.sin(base) * distance_error_m,
            "top angle": top_distance_m * math.cos(top) * da,
            "base angle": base_distance_m * math.cos(base) * da,
        },
        base_distance_m * math.cos(base),
        (),
    )


def crown_mean_width_m(widths_m: tuple[float, ...]) -> float:
    """Give the mean of two or more crown widths, each > 0 [m]."""
    if not widths_m or not all(math.isfinite(w) and w > 0 for w in widths_m):
        raise ValueError("give crown widths that are finite and > 0.")
    return math.fsum(widths_m) / len(widths_m)


def crown_area_m2(widths_m: tuple[float, ...]) -> float:
    """Give the crown's area in plan from its widths: pi/4 times the mean squared [m2].

    The trade's rule of thumb for two or more widths. Where the four radii are known the outline
    of quarter-ellipses is used instead (pi/4 (N E + E S + S W + W N)).
    """
    return math.pi / 4 * crown_mean_width_m(widths_m) ** 2


def live_crown_ratio_pct(height_m: float, crown_base_m: float) -> float:
    """Give the share of the height that bears live crown: (H - base) / H x 100."""
    if not 0 <= crown_base_m <= height_m or not height_m > 0:
        raise ValueError(
            f"crown base {crown_base_m:g} m must lie between 0 and the height {height_m:g} m."
        )
    return (height_m - crown_base_m) / height_m * 100


def slenderness(height_m: float, dbh_cm: float) -> float:
    """Give height over trunk diameter, both in the same unit."""
    if not (height_m > 0 and dbh_cm > 0):
        raise ValueError("height and trunk must be > 0.")
    return height_m / (dbh_cm / 100)


def _with_error(
    height_m: float, parts: dict[str, float], distance_m: float, notes: tuple[str, ...]
) -> Height:
    sizes = {name: abs(value) for name, value in parts.items()}
    largest = max(sizes, key=lambda name: sizes[name])
    if distance_m < height_m:
        notes = (*notes, "stand_farther_back")
    return Height(height_m, math.hypot(*sizes.values()), largest, notes)


def _checked(distance_m: float, *errors: float) -> None:
    if not (math.isfinite(distance_m) and distance_m > 0):
        raise ValueError(f"distance is {distance_m:g} m; it must be finite and > 0.")
    if not all(math.isfinite(e) and e >= 0 for e in errors):
        raise ValueError("errors must be finite and >= 0.")


def _angles(top_deg: float, base_deg: float) -> None:
    if not -90 < base_deg < top_deg < 90:
        raise ValueError(
            f"base {base_deg:g} and top {top_deg:g} degrees must lie between -90 and 90, the "
            "base below the top; the base is negative below the eye."
        )
