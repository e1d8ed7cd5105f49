"""A trunk and a boundary line: the share beyond it, and the year it gets there.

The line used is the one told: a fence is not a survey, and only a surveyor can say where the
boundary runs.
"""

import math

__all__ = ["trunk_share_beyond_pct", "years_until_line"]


def trunk_share_beyond_pct(trunk_cm: float, middle_to_line_m: float) -> float:
    """Give the share of a round trunk section beyond a straight line.

    (acos k - k sqrt(1 - k^2)) / pi, k = distance over radius.

    Parameters
    ----------
    trunk_cm : float
        Trunk diameter at the height that counts, usually the ground [cm], > 0.
    middle_to_line_m : float
        From the trunk's middle to the line [m]; negative where the middle lies beyond it.

    Returns
    -------
    float
        Percent, 0 to 100.

    Raises
    ------
    ValueError
        Trunk not finite and > 0.
    """
    _positive("trunk_cm", trunk_cm)
    k = min(1.0, max(-1.0, middle_to_line_m / (trunk_cm / 200)))
    return (math.acos(k) - k * math.sqrt(1 - k * k)) / math.pi * 100


def years_until_line(gap_m: float, trunk_growth_cm_year: float) -> float | None:
    """Give the years until a trunk's face reaches a line.

    The face moves by half the diameter's growth.

    Parameters
    ----------
    gap_m : float
        From the trunk's face to the line [m]; 0 or less: it is there.
    trunk_growth_cm_year : float
        Growth of the diameter [cm a year], >= 0.

    Returns
    -------
    float or None
        0 where the trunk is at the line, None where it does not grow.

    Raises
    ------
    ValueError
        Growth negative or not finite.
    """
    if not (math.isfinite(trunk_growth_cm_year) and trunk_growth_cm_year >= 0):
        raise ValueError(f"trunk_growth_cm_year is {trunk_growth_cm_year:g}; it must be >= 0.")
    if gap_m <= 0:
        return 0.0
    if trunk_growth_cm_year == 0:
        return None
    return gap_m * 100 / (trunk_growth_cm_year / 2)


def _positive(name: str, value: float) -> None:
    if not (math.isfinite(value) and value > 0):
        raise ValueError(f"{name} is {value:g}; it must be finite and > 0.")
