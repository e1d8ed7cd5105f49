"""Every published bound of the growth equations against the equation.

Oracle: `utd_reference_checks.csv`, 3,153 bounds of the Urban tree database (McPherson, van Doorn
& Peper 2016, updated January 2020), each with the value an independent computation gave.
"""

import csv
from collections import Counter
from pathlib import Path

import numpy as np
import pytest

from bolewalk.reference.growth import growth_table
from bolewalk.trees.equations import printed_value

DATA = Path(__file__).parents[1] / "data" / "reference"
COMPONENT = {
    "dbh": "trunk_of_age", "tree ht": "height", "crown dia": "crown_diameter",
    "crown ht": "crown_height", "leaf area": "leaf_area",
}  # fmt: skip


def read(name):
    with (DATA / name).open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


ROWS = read("utd_reference_checks.csv")
PRINTED = growth_table(as_printed=True)
CORRECTED = growth_table()
SETS = {(s.region, s.code): s for s in PRINTED.sets}


def value(row, *, mse_inside=True, table=PRINTED, x=None):
    s = SETS[row["region"], row["sp_code"]]
    at = s.rows[COMPONENT[row["predicts"]]]
    return float(
        printed_value(table.equations, at, float(row["x"]) if x is None else x,
                      mse_inside=mse_inside)
    )  # fmt: skip


def near(a, published):
    # The print has two decimals; coefficients five.
    return abs(a - published) <= 0.0151 or abs(a - published) <= 0.005 * published


def reason(row):
    """Say why a bound is not on the printed curve, from its own numbers."""
    published, x = float(row["published_apps_value"]), float(row["x"])
    if near(value(row, table=CORRECTED), published):
        return "met by the restored cubic coefficient"
    miss = abs(value(row) - published)
    input_rounding = abs(value(row, x=x + 0.005) - value(row, x=max(0.0, x - 0.005))) / 2
    at = SETS[row["region"], row["sp_code"]].rows[COMPONENT[row["predicts"]]]
    terms = int(PRINTED.equations.form[at]) + 2
    if terms <= 5 and miss <= sum(0.5e-5 * x**k for k in range(terms)) + input_rounding + 0.0051:
        return "within the rounding of the printed coefficients"
    if row["limit"] == "min":
        return "lower bound printed off the curve"
    return "upper bound printed off the curve"


def test_all_bounds_are_here():
    assert len(ROWS) == 3153
    assert Counter(r["agrees"] for r in ROWS) == {
        "match": 1746, "inside": 678, "both": 115, "outside": 22, "none": 592,
    }  # fmt: skip


def test_every_row_gives_the_independently_computed_value():
    compared = 0
    for r in ROWS:
        for inside in (True, False):
            expected = r[f"computed_mse_{'inside' if inside else 'outside'}"]
            if expected:
                assert value(r, mse_inside=inside) == pytest.approx(float(expected), abs=6e-5), r
                compared += 1
    assert compared >= 3153


def test_published_bounds_agree_in_the_column_they_name():
    agreed = 0
    for r in ROWS:
        if r["agrees"] == "none":
            continue
        published = float(r["published_apps_value"])
        columns = {
            "match": (True,), "inside": (True,), "outside": (False,), "both": (True, False)
        }[r["agrees"]]  # fmt: skip
        for inside in columns:
            assert near(value(r, mse_inside=inside), published), r
        agreed += 1
    assert agreed == 2561


def test_bounds_that_are_not_met_are_listed_with_their_reason():
    listed = read("utd_bounds_not_met.csv")
    unmet = [r for r in ROWS if r["agrees"] == "none"]
    assert len(listed) == len(unmet) == 592
    for r, told in zip(unmet, listed, strict=True):
        assert (r["region"], r["sp_code"], r["predicts"], r["limit"]) == (
            told["region"], told["sp_code"], told["predicts"], told["limit"],
        )  # fmt: skip
        assert reason(r) == told["reason"], r
    assert Counter(t["reason"] for t in listed).most_common(1)[0][0].startswith("met by")


def test_worked_example():
    # Erratum of January 2020: sweetgum, Berkeley, 33 years: 42.2 cm.
    s = PRINTED.find("NoCalC", "LIST")
    got = float(printed_value(PRINTED.equations, s.rows["trunk_of_age"], 33))
    assert got == pytest.approx(42.2, abs=0.05)


def test_restored_cubic_reaches_the_published_height():
    # Published bound 20.46 m at 150.25 cm; the printed coefficients give 10.56 m.
    s = PRINTED.find("NoCalC", "QUAG")
    row = s.rows["height"]
    assert float(printed_value(PRINTED.equations, row, 150.25)) == pytest.approx(10.56, abs=0.01)
    assert float(printed_value(CORRECTED.equations, row, 150.25)) == pytest.approx(20.46, abs=0.01)


def test_mse_column_of_sacramento_age_rows():
    # There c holds the deviation and d its square: 0.30389 squared is 0.09235.
    s = CORRECTED.find("SacVal", "CEDE")
    assert CORRECTED.equations.mse[s.rows["age_of_trunk"]] == pytest.approx(0.30389**2, abs=1e-5)
    assert PRINTED.equations.mse[s.rows["age_of_trunk"]] == pytest.approx(0.30389)


def test_polynomial_sigma_is_a_mean_squared_error():
    # 1 - adjusted R2 is mse over variance; a uniform spread of range r has variance r**2 / 12.
    # Taken as a mean squared error the median ratio is near 1, taken as a deviation near 4.
    e = PRINTED.equations
    flat = (e.form <= 2) & (e.weight_power == 0) & np.isfinite(e.mse) & (e.mse > 0)
    assert flat.sum() > 100
    rows = read_growth_r2()
    ratio = e.mse[flat] / ((e.high - e.low)[flat] ** 2 / 12 * (1 - rows[flat]))
    assert 0.5 < np.nanmedian(ratio) < 1.5


def read_growth_r2():
    from bolewalk.reference.tables import number, read_rows

    return np.array([number(r["adj_r2"]) for r in read_rows("utd_growth.csv")])
