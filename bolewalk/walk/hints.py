"""Likely species of a region, for a recogniser that does not know the trade's names."""

import csv
from functools import cache
from importlib.resources import files

from bolewalk.reference.plants import Region

__all__ = ["likely_species"]


@cache
def _rows() -> tuple[dict[str, str], ...]:
    path = files("bolewalk.walk") / "data" / "likely_species.csv"
    return tuple(csv.DictReader(path.read_text(encoding="utf-8").splitlines()))


def likely_species(region: Region) -> tuple[str, ...]:
    """Give the names to expect on a walk in a region, as they are spoken.

    For the United States the species measured in most reference cities of the region in the
    Urban Tree Database come first (basis "table" in `likely_species.csv`), then, as for Great
    Britain and Australia, frequent ones with names a recogniser mishears (basis "memory"). The
    list is short on purpose: a long one makes the recogniser hear it everywhere.

    Returns
    -------
    tuple of str
        At most `recording_settings().words.most_hints` names.

    References
    ----------
    McPherson, van Doorn and Peper, Urban Tree Database (2016), species by reference city.
    """
    return tuple(r["name"] for r in _rows() if r["region"] == region)
