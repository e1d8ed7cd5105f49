"""Where a trunk is measured under each method, on slopes and at low forks too."""

from dataclasses import dataclass
from functools import lru_cache

from bolewalk.reference.tables import read_rows

__all__ = ["MeasuringRule", "measuring_rule"]


@dataclass(frozen=True, slots=True)
class MeasuringRule:
    """Where one method takes the trunk. `height_words` is as its users write it."""

    method: str
    height_m: float
    height_words: str
    slope: str
    fork: str
    source: str


@lru_cache(maxsize=1)
def _rules() -> dict[str, MeasuringRule]:
    return {
        r["method"]: MeasuringRule(
            r["method"], float(r["height_m"]), r["height_words"], r["slope"], r["fork"],
            r["source"],
        )
        for r in read_rows("measuring_rules.csv")
    }  # fmt: skip


def measuring_rule(method: str) -> MeasuringRule:
    """Give where a method takes the trunk, on slopes and at low forks too.

    Raises
    ------
    ValueError
        No such method.
    """
    if method not in _rules():
        raise ValueError(f"no method {method!r}; name one of: {', '.join(_rules())}.")
    return _rules()[method]
