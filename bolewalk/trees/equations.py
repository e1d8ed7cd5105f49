"""Published growth equations evaluated for many trees at once, grouped by form.

Every curve used for a projection is the published equation with its running maximum (a few
printed curves turn down inside their bounds, and no tree shrinks), its input clamped to the
sizes it was fitted on and its result clamped to its published bounds.
"""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from bolewalk.reference.growth import FORMS, Equations, GrowthSet, growth_table

__all__ = ["Curves", "curves", "evaluate", "invert", "printed_value", "relative_error"]

Floats = NDArray[np.float64]
Rows = NDArray[np.intp]

_CLOSED = [FORMS.index(name) for name in ("lin", "quad", "loglogw1")]
_LOGLOG1, _EXPOW1 = FORMS.index("loglogw1"), FORMS.index("expow1")
_POWERS = (0.0, 0.5, 1.0, 2.0)  # of x beside mse/2, for weights 1, 1/sqrt(x), 1/x, 1/x^2
_OLDEST_PALM_YEARS = 150.0  # only bounds the search for the age at the published largest height
_HALVINGS = 40  # 150 years / 2**40 is a few milliseconds


@dataclass(frozen=True, slots=True)
class Curves:
    """The equations with the input limits and turning points that make them usable.

    `x_low`, `x_high` are the published limits of the input, taken from the sibling equation
    (ages from trunk -> age, trunks from age -> trunk). `peak_x`, `peak_y` (n, 2) are the local
    maxima inside those limits, x = inf where there is none.
    """

    equations: Equations
    x_low: Floats
    x_high: Floats
    peak_x: Floats
    peak_y: Floats


def printed_value(
    equations: Equations, row: ArrayLike, x: ArrayLike, *, mse_inside: bool = True
) -> Floats:
    """Evaluate equations exactly as printed: no clamp, no running maximum.

    Parameters
    ----------
    equations : Equations
    row : array_like of int
        Which equation for each element.
    x : array_like of float
        Input in the equation's own unit, >= 0. Broadcasts with row.
    mse_inside : bool
        For loglogw1 only: mse/2 inside the inner logarithm, as published (January 2020), or
        outside, as some copies and the usual lognormal correction have it.

    Returns
    -------
    ndarray of float64
        In the unit of what is predicted.
    """
    rows, xs = np.broadcast_arrays(np.asarray(row, dtype=np.intp), np.asarray(x, dtype=np.float64))
    shape = rows.shape
    rows, xs = rows.ravel(), xs.ravel()
    form = equations.form[rows]
    out = np.empty(rows.shape)
    for f in np.unique(form):
        which = np.flatnonzero(form == f) if form.size > 1 else slice(None)
        r, v = rows[which], xs[which]
        c = equations.coef[r]
        if f < _LOGLOG1:
            y = c[:, int(f) + 1].copy()
            for k in range(int(f), -1, -1):
                y = y * v + c[:, k]
        else:
            half = equations.mse[r] / 2
            power = _POWERS[(int(f) - _LOGLOG1) % 4]
            correction = half if power == 0 else v**power * half
            if f >= _EXPOW1:
                y = np.exp(c[:, 0] + c[:, 1] * v + correction)
            else:
                inner = np.log1p(v)
                if f == _LOGLOG1 and mse_inside:
                    inner, correction = inner + half, np.zeros(1)
                with np.errstate(divide="ignore"):
                    y = np.exp(c[:, 0] + c[:, 1] * np.log(inner) + correction)
        out[which] = y
    reshaped: Floats = out.reshape(shape)
    return reshaped


def evaluate(curve: Curves, row: ArrayLike, x: ArrayLike) -> Floats:
    """Evaluate curves with input clamp, running maximum and published bounds.

    Never falls with x, never NaN for finite x, always within the published bounds.
    """
    rows, xs = np.broadcast_arrays(np.asarray(row, dtype=np.intp), np.asarray(x, dtype=np.float64))
    rows = np.asarray(rows)
    xs = np.clip(xs, curve.x_low[rows], curve.x_high[rows])
    y = printed_value(curve.equations, rows, xs)
    for k in (0, 1):
        peak = curve.peak_x[rows, k]
        if np.isfinite(peak).any():
            y = np.where(xs >= peak, np.maximum(y, curve.peak_y[rows, k]), y)
    start = curve.x_low[rows]
    falling = curve.equations.form[rows] < _LOGLOG1
    if falling.any():
        y = np.where(falling, np.maximum(y, printed_value(curve.equations, rows, start)), y)
    low, high = curve.equations.low[rows], curve.equations.high[rows]
    bounded: Floats = np.minimum(np.maximum(y, low), high)
    return bounded


def invert(curve: Curves, row: ArrayLike, y: ArrayLike) -> Floats:
    """Find the smallest input at which a curve reaches y, in closed form or by bisection.

    Where y lies below the curve the lower input limit is given, above it the input at which
    the curve reaches its largest value.
    """
    rows, target = np.broadcast_arrays(
        np.asarray(row, dtype=np.intp), np.asarray(y, dtype=np.float64)
    )
    shape = rows.shape
    rows = np.asarray(rows).ravel()
    low, high = curve.x_low[rows], curve.x_high[rows]
    goal = np.minimum(target.ravel(), evaluate(curve, rows, high))
    found = np.empty(rows.shape)
    form = curve.equations.form[rows]
    closed = np.isin(form, _CLOSED)
    for f in np.unique(form[closed]):
        m = form == f
        found[m] = np.clip(_solved(curve.equations, int(f), rows[m], goal[m]), low[m], high[m])
    if not closed.all():
        found[~closed] = _bisected(curve, rows[~closed], goal[~closed])
    reached = evaluate(curve, rows, low) >= goal
    at: Floats = np.where(reached, low, found).reshape(shape)
    return at


def _solved(e: Equations, form: int, row: Rows, y: Floats) -> Floats:
    """Solve the forms that can be: on the rising branch, meaningless where y is not reached."""
    a, b, c, _, _ = e.coef[row].T
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        if form == _LOGLOG1:
            inner = np.exp((np.log(y) - a) / b) - e.mse[row] / 2
            x = np.expm1(inner)
        else:
            root = np.sqrt(np.maximum(0.0, b * b + 4 * c * (y - a)))
            x = 2 * (y - a) / (b + root)
    known: Floats = np.nan_to_num(x, nan=0.0)
    return known


def _bisected(curve: Curves, row: Rows, y: Floats) -> Floats:
    low, high = curve.x_low[row].copy(), curve.x_high[row].copy()
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        below = evaluate(curve, row, middle) < y
        low = np.where(below, middle, low)
        high = np.where(below, high, middle)
    return high


def relative_error(equations: Equations, row: int, x: float, value: float) -> float:
    """Give one published residual standard deviation at x as a share of `value`.

    Polynomials: sqrt(mse * x**w) / value, w from the regression weight. Logarithmic forms:
    sqrt(mse * x**w), the deviation of the logarithm. NaN where no error was published.
    """
    spread = float(np.sqrt(equations.mse[row] * x ** equations.weight_power[row]))
    if equations.form[row] < _LOGLOG1:
        return spread / value if value > 0 else float("nan")
    return spread


@lru_cache(maxsize=1)
def curves() -> Curves:
    """Build the curves of the whole table once."""
    table = growth_table()
    e = table.equations
    x_low = np.zeros(len(e.form))
    x_high = np.full(len(e.form), np.inf)
    for s in table.sets:
        _set_limits(s, e, x_low, x_high)
    peak_x = np.full((len(e.form), 2), np.inf)
    peak_y = np.zeros((len(e.form), 2))
    bounded = np.isfinite(x_high)
    _cubic_peaks(e, bounded & (e.form <= FORMS.index("cub")), x_low, x_high, peak_x)
    for i in np.flatnonzero(bounded & (e.form == FORMS.index("quart"))):
        _quartic_peaks(e, int(i), x_low, x_high, peak_x)
    has = np.nonzero(np.isfinite(peak_x))
    peak_y[has] = printed_value(e, has[0], peak_x[has])
    curve = Curves(e, x_low, x_high, peak_x, peak_y)
    # A palm's age has no published limit: it ends where its height reaches the published bound.
    palms = [s.rows["height"] for s in table.sets if s.is_palm and e.x_kind[s.rows["height"]] == 0]
    x_high[palms] = invert(curve, palms, e.high[palms])
    return curve


def _set_limits(s: GrowthSet, e: Equations, x_low: Floats, x_high: Floats) -> None:
    if s.is_palm:
        height = s.rows["height"]
        for name, row in s.rows.items():
            if name == "height":
                x_high[row] = _OLDEST_PALM_YEARS if e.x_kind[row] == 0 else np.inf
            elif e.x_kind[row] == 3:
                x_low[row], x_high[row] = e.low[height], e.high[height]
        return
    ages, trunks = s.rows["age_of_trunk"], s.rows["trunk_of_age"]
    x_low[trunks], x_high[trunks] = e.low[ages], e.high[ages]
    crowns = s.rows["crown_diameter"]
    for name, row in s.rows.items():
        if name == "trunk_of_crown":
            x_low[row], x_high[row] = e.low[crowns], e.high[crowns]
        elif name != "trunk_of_age":
            x_low[row], x_high[row] = e.low[trunks], e.high[trunks]


def _cubic_peaks(
    e: Equations, which: NDArray[np.bool_], x_low: Floats, x_high: Floats, peak_x: Floats
) -> None:
    # f' = b + 2 c x + 3 d x^2; the local maximum is the root where f'' = 2 c + 6 d x < 0.
    _, b, c, d, _ = e.coef.T
    with np.errstate(divide="ignore", invalid="ignore"):
        root = np.sqrt(c * c - 3 * d * b)
        # Citardauq form: stays exact where d is nearly nothing.
        x = np.where(c <= 0, b / (root - c), (-c - root) / (3 * d))
    inside = which & np.isfinite(x) & (x > x_low) & (x < x_high) & (root > 0)
    peak_x[inside, 0] = x[inside]


def _quartic_peaks(e: Equations, i: int, x_low: Floats, x_high: Floats, peak_x: Floats) -> None:
    slope = np.polynomial.Polynomial(e.coef[i]).deriv()
    roots = slope.roots()
    maxima = sorted(
        float(r.real)
        for r in roots
        if abs(r.imag) < 1e-9 * max(1.0, abs(r.real))
        and x_low[i] < r.real < x_high[i]
        and slope.deriv()(r.real) < 0
    )
    peak_x[i, : len(maxima)] = maxima[:2]
