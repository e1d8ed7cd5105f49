"""How well species stand construction: published ratings, as they were published."""

import csv
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Literal, cast, get_args

from bolewalk.model.words import Tolerance
from bolewalk.reference.botanical import species_key

__all__ = ["ToleranceRating", "rated_species", "tolerance_ratings", "tolerance_table"]

_DATA = Path(__file__).parent / "data"
_FILES = ("construction_tolerance.csv", "construction_tolerance_extra.csv")


@dataclass(frozen=True, slots=True)
class ToleranceRating:
    """One source's rating of one species.

    `species` is a botanical name, or a genus followed by "spp." where the source rates the
    genus. `provenance` is "read", or "memory" where the list itself was not at hand.
    """

    species: str
    common: str
    tolerance: Tolerance
    source: str
    provenance: Literal["read", "memory"]
    confidence: str


@lru_cache(maxsize=1)
def tolerance_table() -> tuple[ToleranceRating, ...]:
    """Give every rating, in file order.

    Raises
    ------
    ValueError
        A packaged row is damaged.

    Notes
    -----
    The sources' scales differ (root severance, compaction, whole-site impact), and all rate
    healthy trees. Most rows are from memory and say so.
    """
    rows = []
    for name in _FILES:
        with (_DATA / name).open(encoding="utf-8", newline="") as f:
            for line, row in enumerate(csv.DictReader(f), start=2):
                if row["tolerance"] not in get_args(Tolerance) or row["provenance"] not in (
                    "read",
                    "memory",
                ):
                    raise ValueError(f"{name}, row {line}: {row!r}")
                rows.append(
                    ToleranceRating(
                        row["scientific_name"].strip(),
                        row["common_name"].strip(),
                        cast(Tolerance, row["tolerance"]),
                        row["source"].strip(),
                        cast(Literal["read", "memory"], row["provenance"]),
                        row["confidence"].strip(),
                    )
                )
    return tuple(rows)


@lru_cache(maxsize=1)
def _by_key() -> dict[str, tuple[ToleranceRating, ...]]:
    table: dict[str, tuple[ToleranceRating, ...]] = {}
    for row in tolerance_table():
        key = species_key(row.species)
        table[key] = (*table.get(key, ()), row)
    return table


def tolerance_ratings(
    botanical: str,
) -> tuple[tuple[ToleranceRating, ...], Literal["species", "genus"] | None]:
    """Find the ratings of a species, or of its genus where the species has none.

    Parameters
    ----------
    botanical : str
        Botanical name; subspecies, varieties, cultivar names and names that have moved are read
        as their species.

    Returns
    -------
    ratings : tuple of ToleranceRating
        Empty where neither species nor genus is rated.
    level : "species", "genus" or None
        "genus": a genus row stands in. Rows of sister species never do.

    Examples
    --------
    >>> [r.tolerance for r in tolerance_ratings("Quercus alba")[0]]
    ['poor', 'poor', 'poor']
    >>> tolerance_ratings("Eucalyptus sideroxylon")[1]
    'genus'
    """
    key = species_key(botanical)
    genus = key.partition(" ")[0]
    if key != genus and key in _by_key():
        return _by_key()[key], "species"
    rows = _by_key().get(genus, ()) if genus else ()
    return rows, "genus" if rows else None


def rated_species(genus: str) -> tuple[str, ...]:
    """List the rated species of a genus, in file order.

    Examples
    --------
    >>> rated_species("Ulmus")
    ('Ulmus alata', 'Ulmus americana', 'Ulmus parvifolia')
    """
    key = species_key(genus)
    found = (r.species for r in tolerance_table() if species_key(r.species).startswith(f"{key} "))
    return tuple(dict.fromkeys(found)) if key else ()
