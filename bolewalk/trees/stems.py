"""Trunk size rules: one diameter for a tree with several stems, and girth to diameter."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

__all__ = [
    "CombinedDiameters", "combined_diameters", "diameter_from_girth_cm", "equal_area_cm",
    "many_stems_cm",
]  # fmt: skip


@dataclass(frozen=True, slots=True)
class CombinedDiameters:
    """Every published way of giving several stems one diameter [cm], side by side.

    Attributes
    ----------
    equal_area : float
        The one stem with the same cross-section: sqrt(sum of d**2).
    sum : float
        All stems added ("cumulative diameter").
    largest_plus_half_of_rest : float
        Largest stem plus half of each other.
    largest_plus_mean_of_rest : float
        Largest stem plus the mean of the others; the largest alone where there is no other.
    two_largest : float
        The two largest added; the largest alone where there is no other.

    A single stem reads the same under every rule.
    """

    equal_area: float
    sum: float
    largest_plus_half_of_rest: float
    largest_plus_mean_of_rest: float
    two_largest: float


def combined_diameters(stems_cm: Sequence[float]) -> CombinedDiameters:
    """Read the stems of one tree under every rule.

    Parameters
    ----------
    stems_cm : sequence of float
        Stem diameters over bark [cm], at least one, each finite and > 0, all measured at one
        common height.

    Returns
    -------
    CombinedDiameters
        Unrounded [cm].

    Raises
    ------
    ValueError
        No stem, or a stem that is not finite and > 0.

    Notes
    -----
    Which rule counts is the method's or the ordinance's to say; the same tree can be protected
    under one and free under another, so all are always given.

    Examples
    --------
    >>> c = combined_diameters([10, 8, 6])
    >>> round(c.equal_area, 2), c.largest_plus_half_of_rest, c.sum, c.two_largest
    (14.14, 17.0, 24.0, 18.0)

    References
    ----------
    Equal area: USDA Forest Service, FIA Database Description, DIA. Sum: City of Los Angeles
    ordinance 186873. Two largest: Los Angeles County Code 22.46.2100. Largest plus half of the
    rest, largest plus mean of the rest: common practice, no source.
    """
    d = _checked(stems_cm)
    ordered = sorted(d, reverse=True)
    largest, rest = ordered[0], ordered[1:]
    return CombinedDiameters(
        equal_area=math.hypot(*ordered),
        sum=math.fsum(ordered),
        largest_plus_half_of_rest=largest + math.fsum(rest) / 2,
        largest_plus_mean_of_rest=largest + (math.fsum(rest) / len(rest) if rest else 0.0),
        two_largest=math.fsum(ordered[:2]),
    )


def equal_area_cm(stems_cm: Sequence[float]) -> float:
    """Give the one diameter with the cross-section of all stems [cm]; as `combined_diameters`."""
    return math.hypot(*_checked(stems_cm))


def many_stems_cm(stems_cm: Sequence[float]) -> float:
    """Give the combined diameter of BS 5837:2012 4.6.1 [cm].

    Equal area up to five stems; above, sqrt(n * mean**2), which is a little smaller.

    Raises
    ------
    ValueError
        As `combined_diameters`.

    References
    ----------
    BS 5837:2012 4.6.1; the rule for more than five stems is from memory.
    """
    d = _checked(stems_cm)
    if len(d) <= 5:
        return math.hypot(*d)
    return math.sqrt(len(d)) * math.fsum(d) / len(d)


def diameter_from_girth_cm(girth_cm: float) -> float:
    """Turn a girth into a diameter [cm]: girth / pi, girth finite and > 0.

    Raises
    ------
    ValueError
        Girth not finite and > 0.
    """
    return _checked([girth_cm])[0] / math.pi


def _checked(stems_cm: Sequence[float]) -> list[float]:
    d = [float(v) for v in stems_cm]
    if not d:
        raise ValueError("no stem: give at least one diameter.")
    for i, v in enumerate(d):
        if not (math.isfinite(v) and v > 0):
            raise ValueError(
                f"stems_cm[{i}] is {v:g} cm; it must be finite and > 0. Leave out a stem that "
                "was not measured, and say so."
            )
    return d
