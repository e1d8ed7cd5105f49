"""Whether an entry's list of plants speaks of a tree."""

from collections.abc import Collection
from typing import Literal

from bolewalk.model.trees import Species
from bolewalk.reference.botanical import species_key
from bolewalk.rules.table import SpeciesTest

__all__ = ["Match", "match_species"]

Match = Literal["any", "species", "genus", "no", "excepted", "doubt"]
"""any: every plant counts. genus: only the genus is listed, or known. doubt: the name decides and
is not settled."""


def match_species(species: Species, test: SpeciesTest, *, written: Collection[str] = ()) -> Match:
    """Tell whether a list of plants speaks of a tree.

    Parameters
    ----------
    species : Species
        Without a botanical name the plant is in doubt; its words count only where they are,
        letter for letter, a botanical name of two words that a rule on file writes itself.
    test : SpeciesTest
    written : collection of str
        Keys of the names that other rules on file write.

    Returns
    -------
    Match
        A genus known without its species is "doubt" where the list has a species of it.
    """
    key = species_key(species.botanical) if species.botanical else _own_word(species, test, written)
    if key is None:
        return "any" if test.any_plant and not test.excepted else "doubt"
    genus = key.partition(" ")[0]
    out = {k for _, k in test.excepted}
    if key in out or genus in out:
        return "excepted"
    whole_genus = " " not in key
    if whole_genus and any(k.partition(" ")[0] == genus for k in out):
        return "doubt"
    if test.any_plant:
        return "any"
    listed = {k for _, k in test.listed}
    if key in listed:
        return "genus" if whole_genus else "species"
    if genus in listed:
        return "genus"
    if whole_genus and any(k.partition(" ")[0] == genus for k in listed):
        return "doubt"
    return "no"


def _own_word(species: Species, test: SpeciesTest, written: Collection[str]) -> str | None:
    """Give the key of words that are no known plant but a botanical name the rules write."""
    key = species_key(species.as_heard)
    names = {*written, *(k for _, k in (*test.listed, *test.excepted))}
    return key if " " in key and key in names else None
