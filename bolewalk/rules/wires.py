"""How near a person, a machine and a branch may come to an overhead line."""

import bisect
import math
from typing import Any, Literal

from bolewalk.model.units import M_PER_FT
from bolewalk.rules.settings import packaged

__all__ = ["approach_distance_m", "boom_distance_m", "vegetation_clearance_m"]


def approach_distance_m(kv: float, *, steps: Literal["straight", "started"] = "started") -> float:
    """Give the distance a worker who is not qualified keeps from an energised line [m].

    Parameters
    ----------
    kv : float
        Voltage [kV], finite and >= 0.
    steps : {"started", "straight"}
        Above 50 kV: every started 10 kV adds the whole 4 in (the wider, as printed), or 4 in per
        10 kV in proportion.

    Raises
    ------
    ValueError
        Voltage not finite and >= 0.

    References
    ----------
    data/wire_distances.toml.

    Examples
    --------
    69 kV: 10 ft 8 in by started steps, 10.63 ft in proportion.
    """
    row = _row("unqualified", kv)
    over = max(0.0, kv - row["base_kv"]) / row["step_kv"]
    count = math.ceil(over - 1e-9) if steps == "started" else over
    return float((row["base_ft"] + count * row["step_in"] / 12) * M_PER_FT)


def boom_distance_m(kv: float) -> float | None:
    """Give the distance a crane, lift or boom keeps [m]; None above the table: ask the utility.

    Raises
    ------
    ValueError
        Voltage not finite and >= 0.
    """
    row = _row("boom", kv)
    at = bisect.bisect_left(row["up_to_kv"], kv)
    return None if at == len(row["ft"]) else float(row["ft"][at] * M_PER_FT)


def vegetation_clearance_m(kv: float) -> float | None:
    """Give the clearance a branch keeps from a line where that law applies [m].

    None below its lowest voltage. A voltage on a bound belongs to the upper band.

    Raises
    ------
    ValueError
        Voltage not finite and >= 0.
    """
    row = _row("vegetation", kv)
    at = bisect.bisect_right(row["from_kv"], kv)
    return None if at == 0 else float(row["ft"][at - 1] * M_PER_FT)


def _row(name: str, kv: float) -> dict[str, Any]:
    if not (math.isfinite(kv) and kv >= 0):
        raise ValueError(f"kv is {kv!r}; it must be finite and >= 0.")
    row: dict[str, Any] = packaged("wire_distances.toml")[name]
    return row
