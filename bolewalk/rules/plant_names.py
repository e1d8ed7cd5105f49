"""Slips in the plant names a rule writes."""

from functools import lru_cache

from rapidfuzz import fuzz, process

from bolewalk.reference.plants import load_plants
from bolewalk.rules.settings import packaged

__all__ = ["one_letter_off"]


def one_letter_off(name: str) -> str | None:
    """Give the listed botanical name that a name misses by a letter or so, None where none."""
    cutoff = packaged("settings.toml")["names"]["likeness"]
    found = process.extractOne(
        name.lower(), _botanical_names(), scorer=fuzz.ratio, score_cutoff=cutoff
    )
    return None if found is None else str(found[0]).capitalize()


@lru_cache(maxsize=1)
def _botanical_names() -> tuple[str, ...]:
    return tuple(p.botanical.lower() for p in load_plants())
