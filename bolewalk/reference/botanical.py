"""One key for a plant that stands under several botanical names in the published tables."""

import re
from functools import lru_cache

from bolewalk.reference.tables import read_rows

__all__ = ["genus_key", "species_key"]

_CULTIVAR = re.compile(r"['‘’\"].*|\b(var|subsp|ssp|cvs?|f)\b\.?.*")
_RANKLESS = {"spp.", "spp", "sp.", "sp", "species"}


def species_key(name: str) -> str:
    """Give genus and epithet in small letters, under the tables' name where a name has moved.

    Hybrid signs, cultivars and varieties are left out. A genus alone, or "Malus spp.", gives the
    genus alone; an empty name gives "".

    Examples
    --------
    >>> species_key("Platanus × acerifolia 'Bloodgood'") == species_key("Platanus hybrida")
    True
    """
    plain = _plain(name)
    return _moved().get(plain, plain)


def genus_key(name: str) -> str:
    """Give the genus in small letters, "" for an empty name."""
    return species_key(name).partition(" ")[0]


def _plain(name: str) -> str:
    words = _CULTIVAR.sub("", name.replace("×", " x ").lower()).split()
    words = [w for w in words if w != "x"]
    if len(words) > 1 and words[1] in _RANKLESS:
        words = words[:1]
    return " ".join(words[:2])


@lru_cache(maxsize=1)
def _moved() -> dict[str, str]:
    return {_plain(r["name"]): _plain(r["as_in_tables"]) for r in read_rows("synonyms.csv")}
