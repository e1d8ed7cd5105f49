"""Names of the tree table matched with the gazetteer; what cannot be matched stays as heard."""

import re
from functools import cache

from rapidfuzz import fuzz, process

from bolewalk.drawing.details import Place
from bolewalk.intake.plausible import plausible
from bolewalk.model.trees import Species
from bolewalk.reference.plants import Plant, candidates, load_plants, name_key

__all__ = ["name_species"]

_PARTS = re.compile(r"[/,;()]| - ")


def name_species(words: str, place: Place) -> Species:
    """Match a name; tell in `place` what could not be matched, or not to one plant.

    Parameters
    ----------
    words : str
        Botanical or common name, or both with a slash, comma or brackets between them.
    place : Place
        Takes a notice, field species.

    Returns
    -------
    Species
        `botanical` is None unless exactly one plant bears the name; the likely ones are then in
        `alternatives`.
    """
    text = words.strip()
    if not text:
        place.tell("species", None, "a botanical or common name; kept as unknown", level="notice")
        return Species(None, None, "")
    found = _found(text)
    if len(found) == 1:
        plant = found[0]
        return Species(plant.botanical, plant.common[0], text, confidence=1.0)
    if found:
        names = tuple(p.botanical for p in found)
        place.tell("species", text, f"one of {', '.join(names)}; kept as written", level="notice")
        return Species(None, None, text, alternatives=names)
    likely = _likely(text)
    hint = f"; perhaps {', '.join(likely)}" if likely else ""
    place.tell(
        "species", text, f"a name in the list of plants{hint}; kept as written", level="notice"
    )
    return Species(None, None, text, alternatives=likely)


def _found(text: str) -> tuple[Plant, ...]:
    whole = candidates(text)
    if whole:
        return whole
    parts = [found for part in _PARTS.split(text) if (found := candidates(part))]
    # Two names for one tree agree on the plants both may mean, or they do not agree.
    if not parts:
        return ()
    common = [p for p in parts[0] if all(p in other for other in parts[1:])]
    return tuple(common or [p for found in parts for p in found])


@cache
def _keys() -> dict[str, tuple[str, ...]]:
    keys: dict[str, dict[str, None]] = {}
    for plant in load_plants():
        for name in (plant.botanical, *plant.synonyms, *plant.common):
            keys.setdefault(name_key(name), {})[plant.botanical] = None
    return {key: tuple(names) for key, names in keys.items()}


def _likely(text: str) -> tuple[str, ...]:
    keys = _keys()
    close = process.extract(
        name_key(text),
        list(keys),
        scorer=fuzz.ratio,
        limit=None,
        score_cutoff=plausible().name_likeness,
    )
    ranked = sorted(close, key=lambda c: (-c[1], c[0]))
    names = dict.fromkeys(name for key, _, _ in ranked for name in keys[key])
    return tuple(names)[: plausible().name_hints]
