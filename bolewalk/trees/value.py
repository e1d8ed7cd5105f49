"""Trunk-formula appraisal with every factor shown.

Two forms stand side by side: the reproduction cost of the tenth edition of the appraisal guide
and the replacement cost of the ninth. Money is in minor units of one currency and each step is
rounded only where it is printed.
"""

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

from bolewalk.reference.tables import read_rows

__all__ = [
    "Appraisal", "ConditionRating", "Step", "adjusted_trunk_area_cm2", "combined_condition",
    "condition_band", "replacement_cost", "reproduction_cost", "trunk_area_cm2",
]  # fmt: skip

_CM2_PER_IN2 = 6.4516  # exact
_ADJUSTED_FROM_IN = 30.0  # where the adjusted area of the ninth edition begins


@dataclass(frozen=True, slots=True)
class Step:
    """One line of an appraisal: what was done, with which factor, and what it gave.

    `factor` is None for a line that only states an amount or an area. `unit` is "minor",
    "minor/cm2" or "cm2".
    """

    what: str
    factor: float | None
    value: float
    unit: str
    source: str

    @property
    def minor(self) -> int:
        """The value in whole minor units, half away from zero."""
        return math.floor(self.value + 0.5)


@dataclass(frozen=True, slots=True)
class Appraisal:
    """An appraisal: every step, and the last in whole minor units. An opinion of cost, not a
    price anybody has offered."""

    form: str
    steps: tuple[Step, ...]

    @property
    def minor(self) -> int:
        """The appraised cost in whole minor units."""
        return self.steps[-1].minor


@dataclass(frozen=True, slots=True)
class ConditionRating:
    """Health, structure and form [0 to 1] and the one condition they give."""

    health: float
    structure: float
    form: float
    combined: float
    how: Literal["lowest", "weighted"]


def trunk_area_cm2(dbh_cm: float) -> float:
    """Give the trunk's cross-section: pi/4 d^2 [cm2]; several stems by equal-area diameter."""
    if not (math.isfinite(dbh_cm) and dbh_cm > 0):
        raise ValueError(f"dbh_cm is {dbh_cm:g}; it must be finite and > 0.")
    return math.pi / 4 * dbh_cm**2


def adjusted_trunk_area_cm2(dbh_cm: float) -> float:
    """Give the trunk area of the eighth and ninth editions for trunks over 30 in [cm2].

    -0.335 d^2 + 69.3 d - 1087 square inches, d in inches; below 30 in the circle.

    References
    ----------
    From memory; check the edition in use before an appraisal stands on it.
    """
    inches = dbh_cm / 2.54
    if inches <= _ADJUSTED_FROM_IN:
        return trunk_area_cm2(dbh_cm)
    return (-0.335 * inches**2 + 69.3 * inches - 1087) * _CM2_PER_IN2


def combined_condition(
    health: float, structure: float, form: float,
    *, weights: tuple[float, float, float] | None = None,
) -> ConditionRating:  # fmt: skip
    """Combine health, structure and form into one condition.

    The lowest of the three counts unless weights are given, which must add up to 1.

    Raises
    ------
    ValueError
        A rating outside 0 to 1, weights that are negative or do not add up to 1.
    """
    for name, v in (("health", health), ("structure", structure), ("form", form)):
        _factor(name, v)
    if weights is None:
        return ConditionRating(health, structure, form, min(health, structure, form), "lowest")
    if min(weights) < 0 or not math.isclose(sum(weights), 1, abs_tol=1e-9):
        raise ValueError(f"weights {weights} must be >= 0 and add up to 1.")
    combined = weights[0] * health + weights[1] * structure + weights[2] * form
    return ConditionRating(health, structure, form, combined, "weighted")


def condition_band(word: str) -> tuple[float, float]:
    """Give the band of a condition word as shares, low and high.

    Raises
    ------
    ValueError
        Not one of the guide's words.
    """
    if word not in _bands():
        raise ValueError(f"condition is {word!r}; it must be one of: {', '.join(_bands())}.")
    return _bands()[word]


def reproduction_cost(
    dbh_cm: float,
    *,
    nursery_minor: int,
    nursery_caliper_cm: float,
    condition: float,
    functional: float,
    external: float,
    added_minor: int = 0,
) -> Appraisal:
    """Appraise by reproduction cost, trunk formula technique, tenth edition.

    Unit cost = cost of the largest commonly available nursery tree / its trunk area; basic cost
    = unit cost x subject's trunk area; depreciated = basic x condition x functional x external
    limitations; further costs of the assignment are added last.

    Parameters
    ----------
    dbh_cm : float
        Subject's trunk [cm].
    nursery_minor : int
        Cost of the nursery tree in minor units, > 0.
    nursery_caliper_cm : float
        Its trunk [cm].
    condition, functional, external : float
        Each 0 to 1. Functional: features of site or species that hold the tree back; external:
        limits beyond the owner's control.
    added_minor : int
        Installation, clean-up and the like, >= 0.

    Returns
    -------
    Appraisal

    Raises
    ------
    ValueError
        A factor outside 0 to 1, a size or cost out of range.
    """
    _money("nursery_minor", nursery_minor, least=1)
    _money("added_minor", added_minor, least=0)
    area, nursery = trunk_area_cm2(dbh_cm), trunk_area_cm2(nursery_caliper_cm)
    unit = nursery_minor / nursery
    steps = [
        Step("nursery tree's cost", None, nursery_minor, "minor", "given"),
        Step("nursery tree's trunk area", None, nursery, "cm2", "pi/4 d^2"),
        Step("unit cost", None, unit, "minor/cm2", "cost over area"),
        Step("subject's trunk area", None, area, "cm2", "pi/4 d^2"),
        Step("basic cost", None, unit * area, "minor", "unit cost x area"),
    ]
    steps += _depreciate(
        unit * area,
        (("condition", condition), ("functional limitations", functional),
         ("external limitations", external)),
    )  # fmt: skip
    if added_minor:
        steps.append(
            Step("with added costs", None, steps[-1].value + added_minor, "minor", "given")
        )
    return Appraisal("reproduction cost, trunk formula technique (10th edition)", tuple(steps))


def replacement_cost(
    dbh_cm: float,
    *,
    installed_minor: int,
    replacement_area_cm2: float,
    unit_minor_per_cm2: float,
    species: float,
    condition: float,
    location: float | tuple[float, float, float],
    trunk_area: float | None = None,
) -> Appraisal:
    """Appraise by the trunk formula of the ninth edition.

    [installed cost + (trunk area - replacement's area) x unit cost] x species x condition x
    location; location is one share or site, contribution and placement, whose mean is taken.

    Parameters
    ----------
    dbh_cm : float
        Subject's trunk [cm]; over 30 in the adjusted area counts.
    installed_minor : int
        Installed cost of the largest transplantable tree, minor units.
    replacement_area_cm2 : float
        Its trunk area [cm2], > 0.
    unit_minor_per_cm2 : float
        Unit cost, > 0.
    species, condition, location : float
        Each 0 to 1.
    trunk_area : float, optional
        Trunk area [cm2] as printed in an appraisal, instead of the one computed.

    Raises
    ------
    ValueError
        A factor outside 0 to 1, a size or cost out of range, a subject smaller than its
        replacement (its replacement cost alone is then the answer).
    """
    _money("installed_minor", installed_minor, least=1)
    if not (replacement_area_cm2 > 0 and unit_minor_per_cm2 > 0):
        raise ValueError("replacement_area_cm2 and unit_minor_per_cm2 must be > 0.")
    area = adjusted_trunk_area_cm2(dbh_cm) if trunk_area is None else trunk_area
    increase = area - replacement_area_cm2
    if increase < 0:
        raise ValueError(
            f"the subject's trunk area {area:.1f} cm2 is below the replacement's "
            f"{replacement_area_cm2:.1f} cm2: the installed cost alone answers."
        )
    if isinstance(location, tuple):
        for name, v in zip(("site", "contribution", "placement"), location, strict=True):
            _factor(name, v)
        location = math.fsum(location) / 3
    basic = installed_minor + increase * unit_minor_per_cm2
    steps = [
        Step("installed cost of the replacement", None, installed_minor, "minor", "given"),
        Step("trunk area", None, area, "cm2", "pi/4 d^2, adjusted over 30 in"),
        Step("trunk area increase", None, increase, "cm2", "less the replacement's"),
        Step("unit cost", None, unit_minor_per_cm2, "minor/cm2", "given"),
        Step("basic cost", None, basic, "minor", "installed cost + increase x unit cost"),
        *_depreciate(
            basic, (("species", species), ("condition", condition), ("location", location))
        ),
    ]
    return Appraisal("replacement cost, trunk formula (9th edition)", tuple(steps))


def _depreciate(value: float, factors: tuple[tuple[str, float], ...]) -> list[Step]:
    steps = []
    for name, factor in factors:
        _factor(name, factor)
        value *= factor
        steps.append(Step(f"after {name}", factor, value, "minor", "given"))
    return steps


def _factor(name: str, value: float) -> None:
    if not 0 <= value <= 1:
        raise ValueError(f"{name} is {value:g}; it must lie between 0 and 1.")


def _money(name: str, value: int, *, least: int) -> None:
    if value != int(value) or value < least:
        raise ValueError(f"{name} is {value!r}; it must be whole minor units, at least {least}.")


@lru_cache(maxsize=1)
def _bands() -> dict[str, tuple[float, float]]:
    return {
        r["word"]: (float(r["low_pct"]) / 100, float(r["high_pct"]) / 100)
        for r in read_rows("appraisal_condition.csv")
    }
