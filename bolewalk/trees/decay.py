"""How much section and bending strength a cavity takes, rule by rule, with each rule's limits.

d is the decay's diameter, D the stem's inside bark, t the sound wall, R the stem's radius, r the
opening over the circumference. All rules take round decay in the middle of a round stem. They
misjudge some trees against their true section, and large old trunks stand with far thinner
walls: a reading is a flag to look further, not a verdict.
"""

import math
from dataclasses import dataclass
from functools import lru_cache

from bolewalk.reference.tables import read_rows

__all__ = [
    "CAUTIONS", "DecayReading", "DecayReadings", "area_lost_pct", "bending_lost_pct",
    "decay_readings", "offcentre_bending_lost_pct", "shell_ratio",
]  # fmt: skip

CAUTIONS = ("decay.concentric_only", "decay.misjudges_some", "decay.old_trunks_stand_thinner")
"""Statements every paper prints beside a reading."""


@dataclass(frozen=True, slots=True)
class DecayReading:
    """One rule's reading.

    Attributes
    ----------
    rule : str
        Author and year.
    value_pct : float or None
        Strength lost, or sound wall over radius, in percent; None where the rule may not be used.
    threshold_pct : float
        The published line.
    beyond : bool or None
        Whether the reading lies on the far side of that line; None where not usable.
    caution_pct : float or None
        A second published line, from which the rule's author advises caution.
    why_not : str
        "" or why the rule may not be used here.
    source : str
    """

    rule: str
    value_pct: float | None
    threshold_pct: float
    beyond: bool | None
    caution_pct: float | None
    why_not: str
    source: str


@dataclass(frozen=True, slots=True)
class DecayReadings:
    """All rules side by side. `area_lost_pct` is the share of the section that is gone."""

    shell_ratio: float
    area_lost_pct: float
    bending_lost_pct: float
    readings: tuple[DecayReading, ...]


def shell_ratio(stem_cm: float, wall_cm: float) -> float:
    """Give sound wall over stem radius.

    Parameters
    ----------
    stem_cm : float
        Stem diameter inside bark [cm], > 0.
    wall_cm : float
        Sound wall [cm], 0 to half the stem.

    Raises
    ------
    ValueError
        Out of range.
    """
    if not (stem_cm > 0 and 0 <= wall_cm <= stem_cm / 2):
        raise ValueError(
            f"wall {wall_cm:g} cm must lie between 0 and half the stem of {stem_cm:g} cm."
        )
    return wall_cm / (stem_cm / 2)


def area_lost_pct(ratio: float) -> float:
    """Give the share of the section lost for a shell ratio t/R: (1 - t/R)^2, in percent."""
    return (1 - _share(ratio)) ** 2 * 100


def bending_lost_pct(ratio: float) -> float:
    """Give the share of the bending strength lost, centred and closed: (1 - t/R)^4, in percent.

    A shell ratio of 0.3 is half hollow by area (49 %) and has lost a quarter of its bending
    strength (24 %).
    """
    return (1 - _share(ratio)) ** 4 * 100


def offcentre_bending_lost_pct(decay_share: float, offset_share: float) -> float:
    """Give the bending strength lost when a round cavity stands off the middle.

    Exact for a round stem: the section's own middle shifts away from the cavity, and bending is
    taken in the worse of the two directions along the shift.

    Parameters
    ----------
    decay_share : float
        Decay diameter over stem diameter, 0 to below 1.
    offset_share : float
        Distance of the cavity's middle from the stem's, over the stem's radius; the cavity must
        stay inside the stem.

    Returns
    -------
    float
        Percent; at offset 0 the same as `bending_lost_pct(1 - decay_share)`.
    """
    q, e = _share(decay_share), offset_share
    if not (q < 1 and 0 <= e <= 1 - q + 1e-12):
        raise ValueError("the cavity must lie inside the stem: offset + decay share <= 1.")
    # In units of the radius: area pi (1 - q^2), shift of the middle away from the cavity, second
    # moment about the shifted axis by the parallel axis theorem.
    shift = q * q * e / (1 - q * q)
    moment = 1 / 4 + shift**2 - (q**4 / 4 + q * q * (e + shift) ** 2)
    # The far fibre is on the cavity's side: the axis moved away from it.
    return (1 - moment / (1 + shift) * 4) * 100


def decay_readings(
    stem_cm: float, wall_cm: float, *, opening_share: float = 0.0, off_centre: bool = False
) -> DecayReadings:
    """Read one cavity under every published rule.

    Parameters
    ----------
    stem_cm : float
        Stem diameter inside bark at the cavity [cm].
    wall_cm : float
        Mean sound wall [cm].
    opening_share : float
        Width of the opening over the circumference, 0 (closed) to 1.
    off_centre : bool
        The decay stands to one side: rules that need it in the middle are then not used.

    Returns
    -------
    DecayReadings

    Raises
    ------
    ValueError
        Sizes out of range.

    References
    ----------
    Table of strength-loss equations in Arboriculture & Urban Forestry; see `decay_rules.csv`.
    """
    ratio = shell_ratio(stem_cm, wall_cm)
    r = opening_share
    if not 0 <= r <= 1:
        raise ValueError(f"opening_share is {r:g}; it must lie between 0 and 1.")
    q = 1 - ratio
    values = {
        "wagener-1963": q**3 * 100,
        "coder-1989": q**4 * 100,
        "smiley-fraedrich-1992": (q**3 + r * (1 - q**3)) * 100,
        "mattheck-1992": ratio * 100,
    }
    readings = []
    for rule, (caution, threshold, source) in _rules().items():
        why_not = ""
        if off_centre:
            why_not = "the decay is not in the middle"
        elif r > 0 and rule != "smiley-fraedrich-1992":
            why_not = "the cavity is open"
        value = None if why_not else values[rule]
        beyond = None
        if value is not None:
            beyond = value < threshold if rule == "mattheck-1992" else value > threshold
        readings.append(DecayReading(rule, value, threshold, beyond, caution, why_not, source))
    return DecayReadings(ratio, area_lost_pct(ratio), bending_lost_pct(ratio), tuple(readings))


def _share(value: float) -> float:
    if not (math.isfinite(value) and 0 <= value <= 1):
        raise ValueError(f"share is {value:g}; it must lie between 0 and 1.")
    return value


@lru_cache(maxsize=1)
def _rules() -> dict[str, tuple[float | None, float, str]]:
    return {
        r["rule"]: (
            float(r["caution_pct"]) if r["caution_pct"] else None,
            float(r["threshold_pct"]),
            r["source"],
        )
        for r in read_rows("decay_rules.csv")
    }
