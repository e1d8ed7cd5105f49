"""Where a tree stands from two tape distances, how sure that is, and what to measure next.

From two fixed points A and B a tree at distances a and b stands on one of two spots, mirrored
across the line A-B. Small reading errors make an ellipse about the spot: long where the two
tapes run nearly along one line, round where they meet square.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["Ellipse", "ExtraMeasurement", "Fix", "best_extra_measurement", "locate", "refine"]

Matrix = NDArray[np.float64]
_SURE = 2.4477468306808161  # sqrt(-2 ln 0.05): a plane normal error lies within it 19 times in 20


@dataclass(frozen=True, slots=True)
class Ellipse:
    """Half-axes [m] of the ellipse that holds the tree 19 times in 20, and the bearing of the
    long one [degrees clockwise from north, 0 to 180)."""

    long_m: float
    short_m: float
    bearing_deg: float


@dataclass(frozen=True, slots=True)
class Fix:
    """A position with its error.

    Attributes
    ----------
    x_m, y_m : float
        East and north on the survey's grid.
    covariance_m2 : tuple of three float
        Variance east, covariance, variance north.
    mirror : tuple of two float or None
        The other spot at the same two distances, None where the fix no longer has one.
    notes : tuple of str
        Codes: "tapes_do_not_meet" (the distances cannot both hold; the nearest spot is given),
        "tapes_nearly_in_line" (the ellipse is long), "side_not_told".
    """

    x_m: float
    y_m: float
    covariance_m2: tuple[float, float, float]
    mirror: tuple[float, float] | None
    notes: tuple[str, ...] = ()

    @property
    def ellipse(self) -> Ellipse:
        """The ellipse that holds the tree 19 times in 20."""
        east, cross, north = self.covariance_m2
        values, vectors = np.linalg.eigh(np.array([[east, cross], [cross, north]]))
        along = vectors[:, 1]
        bearing = math.degrees(math.atan2(along[0], along[1])) % 180.0
        small, large = (math.sqrt(max(0.0, float(v))) * _SURE for v in values)
        return Ellipse(large, small, bearing if bearing < 180.0 else 0.0)


@dataclass(frozen=True, slots=True)
class ExtraMeasurement:
    """One more thing to measure and what it would do.

    `kind` is "distance" or "bearing" from the fixed point of that name; `long_m` is the long
    half-axis of the ellipse afterwards; `settles_side` tells whether it also tells the two
    mirrored spots apart.
    """

    kind: str
    point: str
    long_m: float
    settles_side: bool


def locate(
    a: tuple[float, float],
    b: tuple[float, float],
    distance_a_m: float,
    distance_b_m: float,
    *,
    error_m: float = 0.05,
    side: str | None = None,
) -> Fix:
    """Locate a tree from its distances to two fixed points.

    Parameters
    ----------
    a, b : (east, north)
        Fixed points on the survey's grid [m], not the same.
    distance_a_m, distance_b_m : float
        Plan distances to the trunk's centre [m], > 0.
    error_m : float
        Standard deviation of each distance [m], > 0.
    side : "left" or "right", optional
        Side of the line walked from a to b. Not told: left, with the mirror spot and a note.

    Returns
    -------
    Fix

    Raises
    ------
    ValueError
        Same point twice, a distance or an error that is not > 0, an unknown side.
    """
    base = math.dist(a, b)
    if not base > 0:
        raise ValueError("the two fixed points are the same: measure from another one.")
    for name, v in (("distance_a_m", distance_a_m), ("distance_b_m", distance_b_m),
                    ("error_m", error_m)):  # fmt: skip
        if not (math.isfinite(v) and v > 0):
            raise ValueError(f"{name} is {v:g}; it must be finite and > 0.")
    if side not in (None, "left", "right"):
        raise ValueError(f"side is {side!r}; it must be 'left' or 'right' of the line a to b.")
    notes: list[str] = []
    along = (distance_a_m**2 - distance_b_m**2 + base**2) / (2 * base)
    square = distance_a_m**2 - along**2
    if square < 0:
        notes.append("tapes_do_not_meet")
        # The two circles miss each other: the nearest spot lies on the line between them.
        along = _nearest_on_line(base, distance_a_m, distance_b_m)
        square = 0.0
    off = math.sqrt(square)
    ux, uy = (b[0] - a[0]) / base, (b[1] - a[1]) / base
    spots = [
        (a[0] + along * ux - sign * off * uy, a[1] + along * uy + sign * off * ux)
        for sign in ((-1, 1) if side == "right" else (1, -1))
    ]
    if side is None and off > 0:
        notes.append("side_not_told")
    (x, y), mirror = spots[0], spots[1]
    directions = np.array([_unit(a, (x, y)), _unit(b, (x, y))])
    information = directions.T @ directions / error_m**2
    if abs(np.linalg.det(directions)) < math.sin(math.radians(15)):
        notes.append("tapes_nearly_in_line")
    return Fix(x, y, _covariance(information), mirror if off > 0 else None, tuple(notes))


def refine(fix: Fix, point: tuple[float, float], *, distance_m: float, error_m: float) -> Fix:
    """Improve a fix by one more distance, taking the mirrored spot where it agrees better.

    Parameters
    ----------
    fix : Fix
    point : (east, north)
        A third fixed point [m].
    distance_m, error_m : float
        Plan distance and its standard deviation [m], > 0.
    """
    if not (distance_m > 0 and error_m > 0):
        raise ValueError("distance_m and error_m must be > 0.")
    spots = [(fix.x_m, fix.y_m)] + ([fix.mirror] if fix.mirror else [])
    best = min(spots, key=lambda s: abs(math.dist(s, point) - distance_m))
    flipped = best != spots[0]
    covariance = _mirrored(fix, best) if flipped else np.array(_square(fix.covariance_m2))
    unit = np.array(_unit(point, best))
    spread = float(unit @ covariance @ unit) + error_m**2
    gain = covariance @ unit / spread
    step = gain * (distance_m - math.dist(best, point))
    after = covariance - np.outer(gain, unit @ covariance)
    notes = tuple(n for n in fix.notes if n != "side_not_told")
    return Fix(
        best[0] + float(step[0]), best[1] + float(step[1]),
        (float(after[0, 0]), float(after[0, 1]), float(after[1, 1])), None, notes,
    )  # fmt: skip


def best_extra_measurement(
    fix: Fix,
    points: Sequence[tuple[str, tuple[float, float]]],
    *,
    distance_error_m: float = 0.05,
    bearing_error_deg: float = 2.0,
) -> ExtraMeasurement | None:
    """Find the one further measurement that would shorten the error ellipse most.

    Tries a distance and a bearing from every named fixed point; while the fix still has a
    mirrored spot, a measurement that tells the two apart goes before one that does not.

    Parameters
    ----------
    fix : Fix
    points : sequence of (name, (east, north))
        Fixed points to measure from; those at the tree itself are passed over.
    distance_error_m, bearing_error_deg : float
        Standard deviations of the readings, > 0.

    Returns
    -------
    ExtraMeasurement or None
        None where there is no point to measure from.
    """
    if not (distance_error_m > 0 and bearing_error_deg > 0):
        raise ValueError("errors must be > 0.")
    before = np.linalg.inv(np.array(_square(fix.covariance_m2)))
    found: list[tuple[bool, float, str, str]] = []
    for name, point in points:
        reach = math.dist(point, (fix.x_m, fix.y_m))
        if reach == 0:
            continue
        ux, uy = _unit(point, (fix.x_m, fix.y_m))
        across = reach * math.radians(bearing_error_deg)
        for kind, direction, error in (
            ("distance", (ux, uy), distance_error_m), ("bearing", (-uy, ux), across),
        ):  # fmt: skip
            row = np.array(direction)
            after = before + np.outer(row, row) / error**2
            ellipse = Fix(fix.x_m, fix.y_m, _covariance(after), None).ellipse
            settles = fix.mirror is not None and _tells_apart(
                fix, point, kind, distance_error_m, bearing_error_deg
            )
            found.append((fix.mirror is not None and not settles, ellipse.long_m, kind, name))
    if not found:
        return None
    unsettled, long_m, kind, name = min(found)
    return ExtraMeasurement(kind, name, long_m, fix.mirror is not None and not unsettled)


def _tells_apart(
    fix: Fix, point: tuple[float, float], kind: str, distance_error_m: float,
    bearing_error_deg: float,
) -> bool:  # fmt: skip
    assert fix.mirror is not None
    here, there = (fix.x_m, fix.y_m), fix.mirror
    if kind == "distance":
        apart = abs(math.dist(point, here) - math.dist(point, there))
        return apart > 2 * _SURE * distance_error_m
    turn = _bearing(point, here) - _bearing(point, there)
    apart_deg = abs((turn + 180) % 360 - 180)
    return apart_deg > 2 * _SURE * bearing_error_deg


def _bearing(start: tuple[float, float], end: tuple[float, float]) -> float:
    return math.degrees(math.atan2(end[0] - start[0], end[1] - start[1]))


def _nearest_on_line(base: float, da: float, db: float) -> float:
    if da + db < base:
        return (da + base - db) / 2
    return (base + db + da) / 2 if da > db else (base - db - da) / 2


def _unit(start: tuple[float, float], end: tuple[float, float]) -> tuple[float, float]:
    reach = math.dist(start, end)
    if reach == 0:
        return 0.0, 1.0
    return (end[0] - start[0]) / reach, (end[1] - start[1]) / reach


def _covariance(information: Matrix) -> tuple[float, float, float]:
    # Tapes in one line leave the direction across them unknown: a large number, not infinity.
    values, vectors = np.linalg.eigh(information)
    held = np.maximum(values, 1e-6)
    c = vectors @ np.diag(1 / held) @ vectors.T
    return float(c[0, 0]), float(c[0, 1]), float(c[1, 1])


def _square(covariance: tuple[float, float, float]) -> tuple[tuple[float, float], ...]:
    east, cross, north = covariance
    return (east, cross), (cross, north)


def _mirrored(fix: Fix, spot: tuple[float, float]) -> Matrix:
    # The ellipse of the mirrored spot is the ellipse mirrored across the same line.
    axis = np.array([spot[0] - fix.x_m, spot[1] - fix.y_m])
    axis = axis / np.hypot(*axis)
    flip = np.eye(2) - 2 * np.outer(axis, axis)
    mirrored: Matrix = flip @ np.array(_square(fix.covariance_m2)) @ flip.T
    return mirrored
