"""Tolerance: ratings read against the published rows themselves."""

import csv
from pathlib import Path

import pytest

import bolewalk.reference
from bolewalk.impact.tolerance import tolerance_of, tolerance_of_name
from bolewalk.model.trees import Species
from bolewalk.reference.tolerance import tolerance_ratings, tolerance_table

from .hands import tree

DATA = Path(bolewalk.reference.__file__).parent / "data"


def codes(found) -> list[str]:
    return [n.code.removeprefix("tolerance.") for n in found.notes]


def test_every_row_of_both_files_is_there() -> None:
    rows = 0
    for name in ("construction_tolerance.csv", "construction_tolerance_extra.csv"):
        with (DATA / name).open(encoding="utf-8") as f:
            rows += sum(1 for _ in csv.DictReader(f))
    assert len(tolerance_table()) == rows == 96 + 17


@pytest.mark.parametrize(
    ("name", "level"),
    [
        ("Quercus alba", "poor"),  # three sources agree
        ("Quercus rubra", "poor"),  # good and poor: the poorer counts
        ("Acer saccharum", "poor"),  # moderate and poor
        ("Catalpa speciosa", "moderate"),  # good and moderate
        ("Quercus agrifolia", "good"),
        ("Platanus × acerifolia", "moderate"),
        ("Platanus x hispanica", "moderate"),  # the same plane under another name
        ("Hesperocyparis macrocarpa", "moderate"),  # moved from Cupressus
        ("Acer rubrum 'Armstrong'", "good"),
        ("Nullus ignotus", None),
        (None, None),
    ],
)
def test_the_poorer_rating_counts(name, level) -> None:
    assert tolerance_of_name(name).level == level


def test_disagreement_memory_and_genus_are_said() -> None:
    assert "sources_disagree" in codes(tolerance_of_name("Quercus rubra"))
    assert codes(tolerance_of_name("Larix decidua"))[:2] == ["good", "genus_stands_in"]
    # Madrone's only row is from memory; red oak's poor rating was read, its good one was not.
    assert "from_memory" in codes(tolerance_of_name("Arbutus menziesii"))
    assert "from_memory" not in codes(tolerance_of_name("Quercus rubra"))


def test_a_genus_row_stands_in_only_where_the_species_has_none() -> None:
    # "Quercus spp." (poor) is New England's; coast live oak has rows of its own (good).
    assert tolerance_ratings("Quercus agrifolia")[1] == "species"
    assert tolerance_ratings("Quercus engelmannii")[1] == "genus"
    assert tolerance_of_name("Quercus engelmannii").level == "poor"
    # Sister species never stand in.
    assert tolerance_ratings("Acer palmatum") == ((), None)


def test_the_tree_table_wins() -> None:
    oak = tree(species=Species("Quercus alba", "white oak", "white oak"), tolerance="good")
    assert tolerance_of(oak).level == "good"
    assert codes(tolerance_of(oak)) == ["good_as_recorded"]
