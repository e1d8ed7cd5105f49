"""A tree of today's size in later years, by published growth equations."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from bolewalk.reference.settings import setting
from bolewalk.trees.equations import Curves, curves, evaluate, invert, relative_error
from bolewalk.trees.standins import GrowthSource, find_growth

__all__ = [
    "CrownGrowth",
    "Grown",
    "Projection",
    "crown_growth_m",
    "grow_many",
    "growth_error",
    "project",
]

Floats = NDArray[np.float64]
_SETTINGS = "growth_settings.csv"


@dataclass(frozen=True, slots=True)
class Grown:
    """Sizes after some years of growth, shape as the inputs broadcast.

    `height_m` and `crown_radius_m` follow the equations where they were not measured.
    """

    trunk_cm: Floats
    height_m: Floats
    crown_radius_m: Floats
    start_age_years: Floats


@dataclass(frozen=True, slots=True)
class Projection:
    """One tree year by year; every array has years + 1 elements, the first is today.

    Attributes
    ----------
    trunk_cm, height_m, crown_radius_m : ndarray
        Never falling; the first element is what was measured, where it was.
    trunk_low_cm .. crown_radius_high_m : ndarray
        Band of about eight trees in ten, from the published error of the equations.
    start_age_years : float
        Age since planting that the equation gives for today's size.
    source : str
        Publication, species and region.
    stand_in : str
        One sentence where another region, species or kind stands in, else "".
    notes : tuple of str
        Codes of what limits the projection: "trunk_from_height", "height_from_equation",
        "crown_from_equation", "over_published_size", "past_published_age",
        "held_at_published_size", "upper_line_past_published_size", "palm_trunk_constant".
    """

    trunk_cm: Floats
    trunk_low_cm: Floats
    trunk_high_cm: Floats
    height_m: Floats
    height_low_m: Floats
    height_high_m: Floats
    crown_radius_m: Floats
    crown_radius_low_m: Floats
    crown_radius_high_m: Floats
    start_age_years: float
    source: str
    stand_in: str
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class CrownGrowth:
    """Growth of the mean crown radius from today [m], one element a year, the first 0."""

    growth_m: Floats
    low_m: Floats
    high_m: Floats
    source: str
    stand_in: str


def grow_many(
    sources: Sequence[GrowthSource],
    which: ArrayLike,
    *,
    years: ArrayLike,
    trunk_cm: ArrayLike,
    height_m: ArrayLike = np.nan,
    crown_radius_m: ArrayLike = np.nan,
) -> Grown:
    """Grow many measured trees at once.

    Age is solved from the trunk (palms: from the height), the curve followed for the years,
    and each quantity scaled so that it passes through what was measured.

    Parameters
    ----------
    sources : sequence of GrowthSource
        The growth sets in use, from `find_growth`.
    which : array_like of int
        Index into `sources` for each tree.
    years : array_like of float
        Years ahead, >= 0.
    trunk_cm : array_like of float
        Trunk diameter [cm], > 0. A palm's stays as it is.
    height_m, crown_radius_m : array_like of float, optional
        Measured sizes [m]; NaN = not measured, then the equation's own value. A palm needs its
        height: NaN gives NaN.

    Returns
    -------
    Grown
        Sizes that never fall with years, and never pass the published largest size unless the
        tree measured did so already: then they stay as measured.

    Raises
    ------
    ValueError
        A trunk or a measured size is not > 0, or years are negative.
    """
    index, n_years, trunk, height, radius = np.broadcast_arrays(
        np.asarray(which, dtype=np.intp),
        *(np.asarray(v, dtype=np.float64) for v in (years, trunk_cm, height_m, crown_radius_m)),
    )
    for name, v in (("trunk_cm", trunk), ("height_m", height), ("crown_radius_m", radius)):
        if ((v <= 0) | np.isinf(v)).any():
            raise ValueError(f"{name} must be finite and > 0; leave it out where not measured.")
    if not (n_years >= 0).all():
        raise ValueError("years must be >= 0.")
    curve = curves()
    grown = Grown(*(np.full(index.shape, np.nan) for _ in range(4)))
    palm = np.array([s.growth.is_palm for s in sources])[index]
    for is_palm in (False, True):
        m = palm == is_palm
        if not m.any():
            continue
        rows = {
            name: np.array([s.growth.rows.get(name, -1) for s in sources])[index[m]]
            for name in ("trunk_of_age", "height", "crown_diameter")
        }
        part = (_grow_palms if is_palm else _grow_trees)(
            curve, rows, n_years[m], trunk[m], height[m], radius[m]
        )
        for whole, some in zip(
            (grown.trunk_cm, grown.height_m, grown.crown_radius_m, grown.start_age_years),
            part,
            strict=True,
        ):
            whole[m] = some
    return grown


def _grow_trees(
    curve: Curves, rows: dict[str, NDArray[np.intp]], years: Floats, trunk: Floats,
    height: Floats, radius: Floats,
) -> tuple[Floats, Floats, Floats, Floats]:  # fmt: skip
    age = invert(curve, rows["trunk_of_age"], trunk)
    then = age + years
    d0 = evaluate(curve, rows["trunk_of_age"], age)
    d1 = evaluate(curve, rows["trunk_of_age"], then)
    high = curve.equations.high
    new_trunk = _through(trunk, d0, d1, high[rows["trunk_of_age"]])
    new_height = _of_size(curve, rows["height"], d0, d1, height, 1.0)
    new_radius = _of_size(curve, rows["crown_diameter"], d0, d1, radius, 0.5)
    return new_trunk, new_height, new_radius, age


def _grow_palms(
    curve: Curves, rows: dict[str, NDArray[np.intp]], years: Floats, trunk: Floats,
    height: Floats, radius: Floats,
) -> tuple[Floats, Floats, Floats, Floats]:  # fmt: skip
    known = np.nan_to_num(height, nan=1.0)
    age = invert(curve, rows["height"], known)
    h0 = evaluate(curve, rows["height"], age)
    h1 = evaluate(curve, rows["height"], age + years)
    new_height = _through(known, h0, h1, curve.equations.high[rows["height"]])
    new_radius = _of_size(curve, rows["crown_diameter"], h0, h1, radius, 0.5)
    lost = np.isnan(height)
    return (
        trunk.copy(),
        np.where(lost, np.nan, new_height),
        np.where(lost, np.nan, new_radius),
        np.where(lost, np.nan, age),
    )


def _of_size(
    curve: Curves, row: NDArray[np.intp], x0: Floats, x1: Floats, measured: Floats, share: float
) -> Floats:
    y0, y1 = share * evaluate(curve, row, x0), share * evaluate(curve, row, x1)
    start = np.where(np.isnan(measured), y0, measured)
    return _through(start, y0, y1, share * curve.equations.high[row])


def _through(start: Floats, y0: Floats, y1: Floats, high: Floats) -> Floats:
    # A curve that starts at 0 cannot be scaled; its growth is then added.
    scalable = y0 > 0
    scaled = np.where(scalable, start * (y1 / np.where(scalable, y0, 1.0)), start + y1 - y0)
    return np.clip(scaled, start, np.maximum(start, high))


def project(
    botanical: str,
    region: str,
    *,
    years: int,
    trunk_cm: float | None = None,
    height_m: float | None = None,
    crown_radius_m: float | None = None,
    tree_type: str | None = None,
) -> Projection | None:
    """Project one measured tree year by year, with a band.

    Parameters
    ----------
    botanical, region, tree_type : str
        As `find_growth`.
    years : int
        Years ahead, 0 to 200.
    trunk_cm, height_m, crown_radius_m : float, optional
        What was measured; trunk or height is needed (palms: height). Without a trunk it is
        taken from the height by the equation.

    Returns
    -------
    Projection or None
        None where nothing published speaks for the species, or a palm has no height.

    Raises
    ------
    ValueError
        No such region, years out of range, sizes not > 0, neither trunk nor height.
    """
    if not 0 <= years <= 200:
        raise ValueError(f"years is {years}; it must lie between 0 and 200.")
    if trunk_cm is None and height_m is None:
        raise ValueError("give the trunk or the height: without either there is no size today.")
    found = find_growth(botanical, region, tree_type=tree_type)
    if found is None:
        return None
    rows, curve = found.growth.rows, curves()
    notes: list[str] = []
    palm = found.growth.is_palm
    if palm:
        if height_m is None:
            return None
        notes.append("palm_trunk_constant")
    elif trunk_cm is None:
        assert height_m is not None
        trunk_cm = float(invert(curve, rows["height"], height_m))
        notes.append("trunk_from_height")
    if height_m is None:
        notes.append("height_from_equation")
    if crown_radius_m is None:
        notes.append("crown_from_equation")
    ahead = np.arange(years + 1, dtype=np.float64)
    grown = grow_many(
        [found], 0, years=ahead, trunk_cm=1.0 if trunk_cm is None else trunk_cm,
        height_m=np.nan if height_m is None else height_m,
        crown_radius_m=np.nan if crown_radius_m is None else crown_radius_m,
    )  # fmt: skip
    trunk = grown.trunk_cm if trunk_cm is not None else np.full(years + 1, np.nan)
    driver = rows["height" if palm else "trunk_of_age"]
    age = float(grown.start_age_years[0])
    past = np.maximum(0.0, ahead - max(0.0, float(curve.x_high[driver]) - age))
    start = height_m if palm else trunk_cm
    assert start is not None
    if start > curve.equations.high[driver]:
        notes.append("over_published_size")
    if past[-1] > 0:
        notes.append("past_published_age")
    tops = (
        (grown.height_m, rows["height"], 1.0),
        (grown.crown_radius_m, rows["crown_diameter"], 0.5),
    )
    if any(years > 0 and y[-1] >= share * curve.equations.high[r] for y, r, share in tops):
        notes.append("held_at_published_size")
    low_t, high_t = _band(found, "trunk_of_age", trunk, past, curve)
    low_h, high_h = _band(found, "height", grown.height_m, past, curve)
    low_r, high_r = _band(found, "crown_diameter", grown.crown_radius_m, past, curve)
    if any(
        y[-1] > max(y[0], share * curve.equations.high[r])
        for y, r, share in (
            (high_t, driver, np.inf if palm else 1.0),
            (high_h, rows["height"], 1.0),
            (high_r, rows["crown_diameter"], 0.5),
        )
    ):
        notes.append("upper_line_past_published_size")
    return Projection(
        trunk, low_t, high_t, grown.height_m, low_h, high_h,
        grown.crown_radius_m, low_r, high_r, age, found.source, found.stand_in, tuple(notes),
    )  # fmt: skip


def _band(
    found: GrowthSource, name: str, value: Floats, past: Floats, curve: Curves
) -> tuple[Floats, Floats]:
    """Give low and high: the growth, not the size, is what is uncertain of a measured tree."""
    palm = found.growth.is_palm
    if name == "trunk_of_age" and palm:
        return value, value
    error = growth_error(found, name)
    half = setting(_SETTINGS, "band_deviations") * error * found.widen
    growth = value - value[0]
    low = value[0] + growth * max(0.0, 1 - half)
    high = value[0] + growth * (1 + half) + past * _end_rate(found, name, value[0], curve)
    return low, high


def growth_error(found: GrowthSource, name: str) -> float:
    """Give one published standard deviation of a quantity as a share of it.

    `name` is trunk_of_age, height or crown_diameter; the error of the trunk is carried into the
    other two. Taken half way through the published ages: one figure a set, so that the band of
    year 5 does not depend on how far a projection was asked to go.
    """
    curve = curves()
    least = setting(_SETTINGS, "least_error")
    rows, palm = found.growth.rows, found.growth.is_palm
    driver = rows["height" if palm else "trunk_of_age"]
    age = (curve.x_low[driver] + curve.x_high[driver]) / 2
    size = float(evaluate(curve, driver, age))
    errors = [relative_error(curve.equations, driver, float(age), size)]
    if rows.get(name, driver) != driver:
        value = float(evaluate(curve, rows[name], size))
        errors.append(relative_error(curve.equations, rows[name], size, value))
    known = [e for e in errors if np.isfinite(e)]
    return max(least, float(np.hypot.reduce(known)) if known else least)


def _end_rate(found: GrowthSource, name: str, start: float, curve: Curves) -> float:
    """Give the mean yearly growth over the last published ages, scaled to the tree."""
    rows, palm = found.growth.rows, found.growth.is_palm
    driver = rows["height" if palm else "trunk_of_age"]
    last = curve.x_high[driver]
    span = setting(_SETTINGS, "end_share") * (last - curve.x_low[driver])
    x = evaluate(curve, driver, np.array([last - span, last]))
    row = rows.get(name, driver)
    y = x if row == driver else evaluate(curve, row, x)
    share = 0.5 if name == "crown_diameter" else 1.0
    return float(share * (y[1] - y[0]) / span) if span > 0 and start > 0 else 0.0


def crown_growth_m(
    botanical: str, region: str, trunk_cm: float, crown_radius_m: float | None, years: int,
    *, tree_type: str | None = None,
) -> CrownGrowth | None:  # fmt: skip
    """Give how much the mean crown radius grows in each of the coming years.

    Parameters
    ----------
    botanical, region, tree_type
        As `find_growth`.
    trunk_cm : float
        Trunk diameter [cm], > 0.
    crown_radius_m : float or None
        Mean crown radius measured [m].
    years : int
        Years ahead.

    Returns
    -------
    CrownGrowth or None
        None where nothing published speaks for the species, or it is a palm: a palm's crown
        follows its height, use `project`.

    Raises
    ------
    ValueError
        As `project`.
    """
    p = project(
        botanical, region, years=years, trunk_cm=trunk_cm, crown_radius_m=crown_radius_m,
        tree_type=tree_type,
    )  # fmt: skip
    if p is None:
        return None
    start = p.crown_radius_m[0]
    return CrownGrowth(
        p.crown_radius_m - start, p.crown_radius_low_m - start, p.crown_radius_high_m - start,
        p.source, p.stand_in,
    )  # fmt: skip
