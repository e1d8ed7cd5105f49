"""Published growth equations of urban trees, loaded column by column.

Source: McPherson, van Doorn & Peper 2016, Urban tree database, RDS-2016-0005, updated January
2020, tables TS2 and TS6 as printed. Corrections stand apart in `utd_growth_corrections.csv`,
each with its reason, and are applied here.
"""

from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from bolewalk.reference.botanical import species_key
from bolewalk.reference.tables import number, read_rows

__all__ = [
    "COMPONENTS", "FORMS", "Component", "Equations", "GrowthSet", "GrowthTable", "growth_table",
]  # fmt: skip

Component = Literal[
    "trunk_of_age", "age_of_trunk", "height", "crown_diameter", "crown_height", "leaf_area",
    "trunk_of_crown",
]  # fmt: skip
COMPONENTS: tuple[Component, ...] = (
    "trunk_of_age", "age_of_trunk", "height", "crown_diameter", "crown_height", "leaf_area",
    "trunk_of_crown",
)  # fmt: skip

FORMS: tuple[str, ...] = (
    "lin", "quad", "cub", "quart",
    "loglogw1", "loglogw2", "loglogw3", "loglogw4",
    "expow1", "expow2", "expow3", "expow4",
)  # fmt: skip

_WEIGHT_POWER = {"1": 0.0, "1/sqrt": 0.5, "1/": 1.0, "1/^2": 2.0}


@dataclass(frozen=True, slots=True)
class Equations:
    """The equations as columns, one row each.

    Attributes
    ----------
    form : int8 array
        Index into `FORMS`.
    coef : float array, shape (n, 5)
        a to e, 0 where the form has fewer.
    mse : float array
        Mean squared error: of the logarithm for loglog and expow forms (column c), of the
        quantity for polynomials (column Sigma, which for them holds the mean squared error);
        NaN where not printed.
    weight_power : float array
        The variance at x is mse * x ** weight_power (regression weight 1 / x ** weight_power).
    x_kind : int8 array
        0 age [years], 1 trunk [cm], 2 crown diameter [m], 3 height [m] (palms).
    low, high : float array
        Published bounds of what is predicted; where not printed low is 0 and high inf.
    n : int array
        Trees behind the equation, 0 where not printed.
    """

    form: NDArray[np.int8]
    coef: NDArray[np.float64]
    mse: NDArray[np.float64]
    weight_power: NDArray[np.float64]
    x_kind: NDArray[np.int8]
    low: NDArray[np.float64]
    high: NDArray[np.float64]
    n: NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class GrowthSet:
    """One species in one region: its names and the row of each of its equations."""

    region: str
    code: str
    botanical: str
    common: str
    tree_type: str
    rows: dict[str, int]

    @property
    def is_palm(self) -> bool:
        """Whether it grows in height only: no equation gives its trunk by age."""
        return "trunk_of_age" not in self.rows

    @property
    def key(self) -> str:
        """The name under which it is looked up."""
        return species_key(self.botanical)


@dataclass(frozen=True, slots=True)
class GrowthTable:
    """All equations and the sets they form, sets sorted by region and code."""

    equations: Equations
    sets: tuple[GrowthSet, ...]

    def find(self, region: str, code: str) -> GrowthSet:
        """Give one set by the codes of the table.

        Raises
        ------
        KeyError
            No such set.
        """
        for s in self.sets:
            if s.region == region and s.code == code:
                return s
        raise KeyError((region, code))


@lru_cache(maxsize=2)
def growth_table(*, as_printed: bool = False) -> GrowthTable:
    """Load the growth equations.

    Parameters
    ----------
    as_printed : bool
        True leaves the coefficients as published; False applies the corrections: cubic
        coefficients restored beyond their fifth decimal, the mean squared error where the
        column held its root, height as the variable of palms.
    """
    rows = read_rows("utd_growth.csv")
    form_index = {name: i for i, name in enumerate(FORMS)}
    text = np.array([[r[c] or "nan" for c in ("a", "b", "c", "d", "e")] for r in rows])
    coef = text.astype(np.float64)
    form = np.array([form_index[r["form"]] for r in rows], dtype=np.int8)
    mse = np.array([number(r["sigma"]) for r in rows])
    logarithmic = form >= form_index["loglogw1"]
    mse[logarithmic] = coef[logarithmic, 2]
    coef[logarithmic, 2:] = 0.0
    np.nan_to_num(coef, copy=False, nan=0.0)
    x_kind = np.array([_x_kind(r["predicts"]) for r in rows], dtype=np.int8)
    at: dict[tuple[str, str], dict[str, int]] = {}
    for i, r in enumerate(rows):
        at.setdefault((r["region"], r["code"]), {})[r["predicts"]] = i
    if not as_printed:
        for r in read_rows("utd_growth_corrections.csv"):
            i = at[r["region"], r["code"]][r["predicts"]]
            if r["field"] == "x":
                x_kind[i] = {"age": 0, "height": 3}[r["used"]]
            elif r["field"] == "c":
                mse[i] = float(r["used"])
            else:
                coef[i, "abcde".index(r["field"])] = float(r["used"])
    low = np.array([number(r["min"]) for r in rows])
    high = np.array([number(r["max"]) for r in rows])
    equations = Equations(
        form=form,
        coef=coef,
        mse=mse,
        weight_power=np.array([_weight_power(r["weight"]) for r in rows]),
        x_kind=x_kind,
        low=np.nan_to_num(low, nan=0.0),
        high=np.where(np.isnan(high), np.inf, high),
        n=np.array([int(r["n"] or 0) for r in rows]),
    )
    sets = tuple(
        GrowthSet(
            r["region"], r["code"], r["botanical"], r["common"], r["type"],
            at[r["region"], r["code"]],
        )
        for r in read_rows("utd_species.csv")
    )  # fmt: skip
    return GrowthTable(equations, sets)


def _x_kind(predicts: str) -> int:
    return {"trunk_of_age": 0, "trunk_of_crown": 2}.get(predicts, 1)


def _weight_power(weight: str) -> float:
    return _WEIGHT_POWER[
        weight.replace("dbh", "").replace("age", "").replace("cdia", "").replace("ht", "")
        .replace("()", "")
    ]  # fmt: skip
