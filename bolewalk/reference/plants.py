"""The gazetteer: plants by botanical and common name, and the exact search in it.

The table is `data/plants.csv`, one taxon a row, trees first; which of several plants a loose
common name usually means in a region is `data/usual_names.csv`. Both say row by row whether
the entry was read in a reference table or written from memory.
"""

import re
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from functools import lru_cache
from types import MappingProxyType
from typing import Literal

from bolewalk.reference.tables import read_rows

__all__ = [
    "REGIONS", "Kind", "Plant", "Region", "candidates", "close_names", "find_plant", "known_names",
    "load_plants", "name_key", "usual_plants",
]  # fmt: skip

Kind = Literal["broadleaf", "conifer", "palm", "shrub"]
Region = Literal["us-e", "us-s", "us-w", "uk", "au"]
REGIONS: tuple[Region, ...] = ("us-e", "us-s", "us-w", "uk", "au")
"""Eastern and midwestern US; southern US, Texas and the desert; Pacific US; UK; Australia."""


@dataclass(frozen=True, slots=True)
class Plant:
    """One taxon.

    Attributes
    ----------
    botanical : str
        Accepted here; hybrids with " x ". A genus alone where `rank` is genus.
    common : tuple of str
        Common names, the usual one first; never empty.
    synonyms : tuple of str
        Other botanical names in use.
    rank : "genus" or "species"
        Varieties and cultivars count as species.
    genus, family : str
    regions : tuple of Region
        Where it is usual, most usual first; empty = not known.
    kind : Kind
    leaf : "evergreen", "deciduous" or ""
        A genus carries the habit of most of its species.
    provenance : str
        table, memory, or "table and memory" (the taxon stands in a reference table, further
        names were added from memory).
    """

    botanical: str
    common: tuple[str, ...]
    synonyms: tuple[str, ...]
    rank: Literal["genus", "species"]
    genus: str
    family: str
    regions: tuple[Region, ...]
    kind: Kind
    leaf: Literal["evergreen", "deciduous", ""]
    provenance: str


def name_key(text: str) -> str:
    """Give the key two spellings of one plant name share.

    Case, accents, spaces, hyphens, apostrophes, hybrid signs, "spp." and a plural ending are
    left out: "Crêpe-Myrtles" and "crepe myrtle" give one key. Empty text gives "".

    Examples
    --------
    >>> name_key("Platanus × hispanica") == name_key("platanus x Hispanica")
    True
    >>> name_key("western red-cedars") == name_key("Western redcedar")
    True
    """
    plain = text.lower()
    if not plain.isascii():
        plain = unicodedata.normalize("NFKD", text.replace("×", " x "))
        plain = "".join(c for c in plain if not unicodedata.combining(c)).lower()
    plain = re.sub(r"['’‘`\"“”]", "", plain)
    words = re.findall(r"[a-z]+", plain)
    words = [w for w in words if w not in _LEFT_OUT]
    if words:
        words[-1] = _singular(words[-1])
    return "".join(words)


_LEFT_OUT = {"x", "spp", "sp", "species", "ssp", "subsp", "var", "the", "cv", "cvs"}


def _singular(word: str) -> str:
    """Take off a plural ending. Works on keys only: latin endings change alike on both sides."""
    if len(word) > 4 and word.endswith("ies"):
        return word[:-3] + "y"
    if len(word) > 4 and word.endswith(("ches", "shes", "xes", "sses")):
        return word[:-2]
    if len(word) > 3 and word.endswith("s") and not word.endswith("ss"):
        return word[:-1]
    return word


@lru_cache(maxsize=1)
def load_plants() -> tuple[Plant, ...]:
    """Read the gazetteer, once; sorted by botanical name."""
    plants = []
    for row in read_rows("plants.csv"):
        plants.append(
            Plant(
                botanical=row["botanical"],
                common=_parts(row["common"]),
                synonyms=_parts(row["synonyms"]),
                rank="genus" if row["rank"] == "genus" else "species",
                genus=row["genus"],
                family=row["family"],
                regions=tuple(r for r in REGIONS if r in _parts(row["regions"])),
                kind=_KINDS[row["kind"]],
                leaf=_LEAVES[row["leaf"]],
                provenance=row["provenance"],
            )
        )
    return tuple(plants)


_KINDS: dict[str, Kind] = {
    "broadleaf": "broadleaf", "conifer": "conifer", "palm": "palm", "shrub": "shrub",
}  # fmt: skip
_LEAVES: dict[str, Literal["evergreen", "deciduous", ""]] = {
    "evergreen": "evergreen", "deciduous": "deciduous", "": "",
}  # fmt: skip


def _parts(cell: str) -> tuple[str, ...]:
    return tuple(p.strip() for p in cell.split(";") if p.strip())


@lru_cache(maxsize=1)
def _by_botanical() -> dict[str, tuple[Plant, ...]]:
    index: dict[str, dict[str, Plant]] = {}
    for plant in load_plants():
        for name in (plant.botanical, *plant.synonyms):
            index.setdefault(name_key(name), {})[plant.botanical] = plant
    return {key: tuple(found.values()) for key, found in index.items()}


@lru_cache(maxsize=1)
def _by_common() -> dict[str, tuple[Plant, ...]]:
    index: dict[str, dict[str, Plant]] = {}
    for plant in load_plants():
        for name in plant.common:
            index.setdefault(name_key(name), {})[plant.botanical] = plant
    for key, _, plant in _usual_rows():
        index.setdefault(key, {})[plant.botanical] = plant
    return {key: _told_apart(key, tuple(found.values())) for key, found in index.items()}


def _told_apart(key: str, found: tuple[Plant, ...]) -> tuple[Plant, ...]:
    """Leave a cultivar to its species, and a genus' own name to the genus."""
    plain = tuple(
        p for p in found if not any(p is not q and _within(p, q) for q in found)
    )  # fmt: skip
    whole = [p for p in plain if p.rank == "genus" and key in {name_key(c) for c in p.common}]
    if len(whole) == 1 and all(p.genus == whole[0].genus for p in plain):
        return (whole[0],)
    return plain


def _within(plant: Plant, other: Plant) -> bool:
    """Whether `plant` is a variety or cultivar of the species `other`."""
    return other.rank == "species" and plant.botanical.startswith(other.botanical + " ")


@lru_cache(maxsize=1)
def _usual_rows() -> tuple[tuple[str, str, Plant], ...]:
    plants = {p.botanical: p for p in load_plants()}
    rows = read_rows("usual_names.csv")
    return tuple((name_key(r["common"]), r["region"], plants[r["botanical"]]) for r in rows)


@lru_cache(maxsize=1)
def known_names() -> Mapping[str, tuple[Plant, ...]]:
    """Give every name of the gazetteer by its `name_key`, with the plants it may stand for.

    Where a common name is another plant's botanical one, the botanical one counts.
    """
    return MappingProxyType({**_by_common(), **_by_botanical()})


def close_names(text: str) -> tuple[str, ...]:
    """Give at most three names of the gazetteer spelled much like `text`, the nearest first."""
    known = known_names()
    keys = get_close_matches(name_key(text), list(known), n=3, cutoff=0.75)
    return tuple(
        next((c for c in known[k][0].common if name_key(c) == k), known[k][0].botanical)
        for k in keys
    )


def candidates(text: str) -> tuple[Plant, ...]:
    """Give every plant a name may stand for.

    Parameters
    ----------
    text : str
        Botanical or common name. Case, spaces, hyphens, accents, a plural ending and the hybrid
        sign make no difference; a cultivar after the name is dropped when the whole is unknown.

    Returns
    -------
    tuple of Plant
        One where the name is plain, several where it is loose ("cedar", "pepper"), none where it
        is unknown. A name that is a whole genus' own ("oak") gives the genus. Botanical names
        come first; sorted by botanical name.
    """
    key = name_key(text)
    if not key:
        return ()
    found = _by_botanical().get(key) or _by_common().get(key)
    if not found:
        bare = re.sub(r"\(.*?\)|['‘\"“].*['’\"”]", " ", text).strip()
        bare_key = name_key(bare)
        if bare_key == key or not bare_key:
            return ()
        found = _by_botanical().get(bare_key) or _by_common().get(bare_key) or ()
    return tuple(sorted(found, key=lambda p: p.botanical))


def find_plant(text: str) -> Plant | None:
    """Give the one plant a name stands for, None where it is unknown or may mean several.

    Exact on botanical names, their synonyms and common names in the sense of `name_key`; nothing
    is guessed: "cedar" gives None, ask `candidates`.

    Examples
    --------
    >>> find_plant("Douglas firs").botanical
    'Pseudotsuga menziesii'
    >>> find_plant("cedar") is None
    True
    """
    found = candidates(text)
    return found[0] if len(found) == 1 else None


def usual_plants(common: str, region: Region) -> tuple[Plant, ...]:
    """Give the plants a loose common name usually means in a region, the likeliest first.

    Empty where the table has no line for it: that is no statement about the name.
    """
    key = name_key(common)
    return tuple(plant for k, r, plant in _usual_rows() if k == key and r == region)
