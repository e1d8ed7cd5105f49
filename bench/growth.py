"""Projecting 1,000,000 trees by 30 years: grouped by form, row by row in NumPy, plain Python.

    python bench/growth.py [TREES]

The two slow ways run on a sample and are scaled up; all three must agree on it.
"""

import math
import sys
import time

import numpy as np

from bolewalk.reference.growth import FORMS, growth_table
from bolewalk.reference.regions import region_by_code
from bolewalk.trees.equations import curves, evaluate, invert
from bolewalk.trees.growth import grow_many
from bolewalk.trees.standins import find_growth

YEARS = 30.0
SAMPLE = 1000


def plain_value(form, coef, half_mse, x):
    name = FORMS[form]
    if form < 4:
        return sum(c * x**k for k, c in enumerate(coef[: form + 2]))
    if x == 0 and not name.startswith("expow") and name != "loglogw1":
        return 0.0
    power = x ** (0.0, 0.5, 1.0, 2.0)[(form - 4) % 4]
    if name.startswith("expow"):
        return math.exp(coef[0] + coef[1] * x + power * half_mse)
    if name == "loglogw1":
        return math.exp(coef[0] + coef[1] * math.log(math.log(x + 1) + half_mse))
    return math.exp(coef[0] + coef[1] * math.log(math.log(x + 1)) + power * half_mse)


class PlainCurve:
    """The same curve with plain floats."""

    def __init__(self, curve, row):
        e = curve.equations
        self.form, self.coef = int(e.form[row]), e.coef[row].tolist()
        self.half = float(e.mse[row]) / 2
        self.x_low, self.x_high = float(curve.x_low[row]), float(curve.x_high[row])
        self.low, self.high = float(e.low[row]), float(e.high[row])
        self.peaks = list(zip(curve.peak_x[row].tolist(), curve.peak_y[row].tolist(), strict=True))

    def __call__(self, x):
        x = min(max(x, self.x_low), self.x_high)
        y = plain_value(self.form, self.coef, self.half, x)
        for at, top in self.peaks:
            if x >= at:
                y = max(y, top)
        if self.form < 4:
            y = max(y, plain_value(self.form, self.coef, self.half, self.x_low))
        return min(max(y, self.low), self.high)

    def invert(self, y):
        low, high = self.x_low, self.x_high
        y = min(y, self(high))
        if self(low) >= y:
            return low
        for _ in range(48):
            middle = (low + high) / 2
            if self(middle) < y:
                low = middle
            else:
                high = middle
        return high


def main(n):
    start = time.perf_counter()
    table, curve = growth_table(), curves()
    print(f"load tables and curves        {time.perf_counter() - start:8.3f} s")
    sources = []
    for s in table.sets:
        found = find_growth(s.botanical, region_by_code(s.region).name)
        if found is not None and found.growth is s and not s.is_palm:
            sources.append(found)
    rng = np.random.default_rng(1)
    which = rng.integers(0, len(sources), n)
    high = np.array([curve.equations.high[s.growth.rows["trunk_of_age"]] for s in sources])
    trunk = high[which] * rng.uniform(0.05, 1.0, n)

    start = time.perf_counter()
    grown = grow_many(sources, which, years=YEARS, trunk_cm=trunk)
    fast = time.perf_counter() - start
    print(f"grouped by form, {n:>9,} trees {fast:8.3f} s")

    start = time.perf_counter()
    plain = {}
    for i in range(SAMPLE):
        rows = sources[which[i]].growth.rows
        t, h = (
            plain.setdefault(rows[k], PlainCurve(curve, rows[k]))
            for k in ("trunk_of_age", "height")
        )
        d = t(t.invert(trunk[i]) + YEARS)
        assert math.isclose(h(d), grown.height_m[i], rel_tol=1e-9), (h(d), grown.height_m[i])
    slow = (time.perf_counter() - start) / SAMPLE * n
    print(f"plain Python, trunk and height {slow:8.1f} s (scaled)   {slow / fast:6.1f} x")

    start = time.perf_counter()
    for i in range(SAMPLE // 10):
        rows = sources[which[i]].growth.rows
        age = invert(curve, rows["trunk_of_age"], trunk[i])
        d = evaluate(curve, rows["trunk_of_age"], age + YEARS)
        h = evaluate(curve, rows["height"], d)
        assert math.isclose(float(h), grown.height_m[i], rel_tol=1e-9)
    rowwise = (time.perf_counter() - start) / (SAMPLE // 10) * n
    print(f"NumPy row by row, the same     {rowwise:8.1f} s (scaled)   {rowwise / fast:6.1f} x")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 1_000_000)
