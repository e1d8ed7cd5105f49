"""Money in whole minor units, and the one rounding rule of this room.

Every amount is an `int` of minor units (cents). Whatever is computed is rounded half up, away
from zero, to the minor unit or to the firm's line step at the moment it becomes an amount that
can be shown; sums are sums of shown amounts, so no total can differ from its column.
"""

import math
from collections.abc import Sequence
from decimal import Decimal
from functools import lru_cache

__all__ = ["allocate_minor", "round_minor", "round_step", "share_minor"]


def round_minor(amount_minor: float | Decimal) -> int:
    """Round to whole minor units, halves away from zero."""
    size = abs(float(amount_minor))
    whole = math.floor(size)
    # Not floor(x + 0.5): the sum itself may round up across a half.
    whole += int(2 * (size - whole) >= 1)
    return whole if amount_minor >= 0 else -whole


def round_step(amount_minor: float | Decimal, *, step_minor: int) -> int:
    """Round to a multiple of `step_minor` (> 0), halves away from zero."""
    if step_minor < 1:
        raise ValueError(f"step_minor must be >= 1, not {step_minor}")
    return round_minor(amount_minor / step_minor) * step_minor


@lru_cache(maxsize=256)
def _ratio(pct: float) -> tuple[int, int]:
    """Give a percentage as written as a ratio of whole numbers."""
    top, bottom = Decimal(str(pct)).as_integer_ratio()
    return top, bottom * 100


def share_minor(amount_minor: int, *, pct: float) -> int:
    """Give `pct` percent of an amount, rounded half up; exact for percentages as written."""
    top, bottom = _ratio(pct)
    doubled = 2 * abs(amount_minor * top) + bottom
    share = doubled // (2 * bottom)
    return share if amount_minor * top >= 0 else -share


def allocate_minor(amount_minor: int, weights: Sequence[float]) -> tuple[int, ...]:
    """Split an amount over lines by weight so that the parts add up to it exactly.

    Largest remainders get the odd minor units, the earlier line first where they are equal.
    All weights zero: equal parts.

    Raises
    ------
    ValueError
        No weights, or one is negative.

    Examples
    --------
    >>> allocate_minor(100, [1, 1, 1])
    (34, 33, 33)
    """
    if not weights or any(w < 0 for w in weights):
        raise ValueError("weights must be at least one number, none negative")
    whole = math.fsum(weights)
    exact = [amount_minor * (w / whole if whole else 1 / len(weights)) for w in weights]
    parts = [math.floor(x) for x in exact]
    by_remainder = sorted(range(len(exact)), key=lambda i: (parts[i] - exact[i], i))
    for i in by_remainder[: amount_minor - sum(parts)]:
        parts[i] += 1
    return tuple(parts)
