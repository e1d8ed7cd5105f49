"""The figures the root loss accounting runs on, read once from their data file."""

import tomllib
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

__all__ = ["RootLossSettings", "depth_share", "root_loss_settings"]


@dataclass(frozen=True, slots=True)
class RootLossSettings:
    """Figures of `data/root_loss.toml`; sources stand beside them there."""

    depth_beta: float
    pile_margin_m: float
    trenchless_least_depth_m: float
    mitre_limit: float


@lru_cache(maxsize=1)
def root_loss_settings() -> RootLossSettings:
    """Read the figures once."""
    path = Path(__file__).with_name("data") / "root_loss.toml"
    table = tomllib.loads(path.read_text(encoding="utf-8"))
    return RootLossSettings(
        depth_beta=float(table["depth_share"]["beta"]),
        pile_margin_m=float(table["dodged_pile"]["margin_m"]),
        trenchless_least_depth_m=float(table["trenchless"]["least_depth_m"]),
        mitre_limit=float(table["line"]["mitre_limit"]),
    )


def depth_share(depth_m: float | None) -> float:
    """Give the share of roots above a depth, 0..1.

    1 - beta ** (100 d); None (depth not known) counts as deep and gives 1.

    Raises
    ------
    ValueError
        depth_m is negative.

    References
    ----------
    Gale, M. R. and Grigal, D. F. 1987 (form); Jackson, R. B. et al. 1996 (beta). From memory.
    """
    if depth_m is None:
        return 1.0
    if depth_m < 0:
        raise ValueError(f"depth_m is {depth_m:g}; a depth must be >= 0 m.")
    return float(1.0 - root_loss_settings().depth_beta ** (100.0 * depth_m))
