"""A figure knows where it came from."""

import math
from dataclasses import dataclass, replace
from typing import Literal

__all__ = ["BASES", "Basis", "Figure"]

Basis = Literal["measured", "estimated", "said", "drawn", "predicted", "default"]
BASES: tuple[Basis, ...] = ("measured", "estimated", "said", "drawn", "predicted", "default")


@dataclass(frozen=True, slots=True)
class Figure:
    """One number a person will read, with its basis and, where known, its range.

    Attributes
    ----------
    value : float
        In the unit its field name ends in (`_m`, `_cm`, `_pct`). Finite.
    basis : Basis
        measured (tool), estimated (by eye), said (recording), drawn (drawing), predicted
        (model), default (table).
    source : str
        Tool, "drawing, revision, layer", model and region, table and row; "" where not known.
    low, high : float or None
        Range in the same unit, low <= value <= high.
    as_entered : str or None
        The words or digits as a person gave them.
    start_s : float or None
        Second of the recording, for basis said.
    """

    value: float
    basis: Basis
    source: str = ""
    low: float | None = None
    high: float | None = None
    as_entered: str | None = None
    start_s: float | None = None

    def __post_init__(self) -> None:
        if not math.isfinite(self.value):
            raise ValueError(f"a figure must be finite, not {self.value!r}")
        if self.low is not None and self.low > self.value:
            raise ValueError(f"low {self.low:g} lies above the value {self.value:g}")
        if self.high is not None and self.high < self.value:
            raise ValueError(f"high {self.high:g} lies below the value {self.value:g}")

    def scaled(self, factor: float) -> "Figure":
        """Give the same figure in another unit; factor > 0."""
        if not factor > 0:
            raise ValueError(f"factor must be > 0, not {factor!r}")
        return replace(
            self,
            value=self.value * factor,
            low=None if self.low is None else self.low * factor,
            high=None if self.high is None else self.high * factor,
        )
