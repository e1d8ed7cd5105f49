"""What is told of a plant: figures against their tables, every line with its source."""

import pytest

from bolewalk.reference.plants import candidates
from bolewalk.reference.species import curated_names, species_facts, tree_type
from bolewalk.reference.tables import read_rows
from bolewalk.reference.water import WATER_REGIONS, water_needs

WHATS = (
    "origin", "mature height", "mature spread", "usual span", "sprouting", "weakness",
    "goes wrong",
)  # fmt: skip


def test_at_least_eighty_taxa_are_curated_and_all_can_be_asked_for():
    names = curated_names()
    assert len(names) >= 80
    assert len(set(names)) == len(names)
    for name in names:
        assert candidates(name), name
        facts = species_facts(name)
        assert len(facts) >= 1
        told = {f.what for one in facts for f in one.facts}
        assert set(WHATS) <= told, name


def test_every_line_names_its_source_and_how_it_was_come_by():
    for name in curated_names():
        for one in species_facts(name):
            for f in one.facts:
                assert f.source
                assert f.provenance in ("read", "memory", "common practice", "derived")
                assert f.text or f.low is not None
                for units in ("metric", "imperial"):
                    assert f.source in f.line(units)
                if f.provenance == "memory":
                    assert "from memory" in f.line("metric")


def test_ranges_are_ranges():
    for row in read_rows("species_notes.csv"):
        for column in ("height_m", "spread_m", "span_years"):
            low, high = (float(v) for v in row[column].split("-"))
            assert 0 < low < high, row["botanical"]
        assert row["type"][0] in "BCP"
        assert row["type"][1] in "DE"
        assert row["type"][2] in "SML"


def test_notes_agree_in_kind_with_the_published_tree_types():
    # Urban tree database, table TS2: leaf kind and habit. Size classes differ by region.
    published = {}
    for r in read_rows("utd_species.csv"):
        published.setdefault(r["botanical"], set()).add(r["type"][:2])
    compared = 0
    for row in read_rows("species_notes.csv"):
        if row["botanical"] in published:
            assert row["type"][:2] in published[row["botanical"]], row["botanical"]
            compared += 1
    assert compared > 60


def test_coast_live_oak():
    (oak,) = species_facts("coast live oak")
    assert oak.botanical == "Quercus agrifolia"
    # WUCOLS IV: very low in three regions, low in the inland valleys of the south.
    assert [f.text.split(" in ")[0] for f in oak.of("water need")] == [
        "very low", "very low", "very low", "low",
    ]  # fmt: skip
    # Urban tree database: largest height in Claremont 15.87 m, crown 13.64 m.
    claremont = [f.low for f in oak.of("largest measured") if "Claremont" in f.text]
    assert claremont == [15.87, 13.64]
    assert "52 ft" in oak.of("largest measured")[0].line("imperial")
    assert oak.of("green wood")[0].text.startswith("about 1034")


def test_moved_names_are_followed():
    assert water_needs("Searsia lancea").botanical == water_needs("Rhus lancea").botanical
    assert water_needs("Platanus × acerifolia 'Bloodgood'") is not None
    assert water_needs("Ginkgoites") is None


def test_water_classes_are_the_lists_own():
    # Read rows of the list: Spanish fir is low in three regions and not for the fourth.
    fir = water_needs("Abies pinsapo")
    assert [fir.in_region(r) for r in WATER_REGIONS] == [
        "low", "low", "low", "not for this region",
    ]  # fmt: skip
    with pytest.raises(ValueError, match="South Coastal"):
        fir.in_region("Low Desert")


def test_water_counts():
    # 1,444 rated rows, 172 not for a region and 76 unknown in the source.
    cells = [
        r[c]
        for r in read_rows("water_use.csv")
        for c in ("north_central_coastal", "central_valley", "south_coastal",
                  "south_inland_valley")
    ]  # fmt: skip
    assert sum(c in ("VL", "L", "M", "H") for c in cells) == 1444
    assert cells.count("-") == 172
    assert cells.count("?") == 76


def test_types():
    assert tree_type("Quercus agrifolia") == "BEL"
    assert tree_type("Malus floribunda") == "BDS"  # by its genus
    assert tree_type("Ginkgoites") is None
    assert species_facts("no such plant at all") == ()
