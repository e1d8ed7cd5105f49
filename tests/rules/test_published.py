"""Published ordinances: the thresholds as their sources print them.

Sources are named in the example files under bolewalk/rules/data/examples. JC and X-JC numbers are
hand-worked from those printed thresholds.
"""

import math
import tomllib
from importlib import resources

import pytest

from bolewalk.model.figures import Figure
from bolewalk.model.trees import Species, Tree
from bolewalk.rules.protection import protect, replacements_due
from bolewalk.rules.reader import read_rules
from bolewalk.rules.settings import example_files, packaged
from tests.rules.trees import CM, US_BREAST_M, example, table, tree


def status(one, *tables):
    return protect(one, tables, method_at_m=US_BREAST_M).status


def rule_status(one, which, tables):
    held = protect(one, tables, method_at_m=US_BREAST_M)
    return next(s for s in held.rules if s.rule.id == which)


LA_CITY = example("los_angeles_city")
LA_COUNTY = example("los_angeles_county")
SAN_JOAQUIN = example("san_joaquin_county")


def test_la_city_adds_stems():
    """JC-1: coast live oak, 2 + 2 in: 4 in cumulative, protected. One of 3.9 in is not."""
    held = rule_status(tree("Quercus agrifolia", (2, 2)), "la-city-trees", [LA_CITY])
    assert held.status == "protected"
    assert held.deciding == "sum"
    assert {r.name for r in held.readings if r.meets} == {
        "sum", "largest_plus_mean_of_rest", "two_largest",
    }  # fmt: skip
    assert status(tree("Quercus agrifolia", (3.9,)), LA_CITY) == "not_protected"


def test_la_city_leaves_scrub_oak_out():
    """JC-2: scrub oak of 10 in is not protected; it is not in the list of plants, and its written
    name is the ordinance's own."""
    scrub = tree("Quercus dumosa", (10,))
    assert scrub.species.botanical is None
    assert status(scrub, LA_CITY) == "not_protected"
    known = Tree(
        "T1", Species("Quercus dumosa", "scrub oak", ""), stems_cm=(Figure(25.4, "measured"),)
    )
    assert status(known, LA_CITY) == "not_protected"


def test_la_city_asks_whether_another_oak_is_native():
    held = rule_status(tree("Quercus robur", (10,)), "la-city-trees", [LA_CITY])
    assert held.status == "cannot_tell"
    assert held.because[0].code == "rule.native_unknown"


def test_la_city_replaces_four_for_one():
    """JC-3: two protected sycamores removed: at least 8 replacements."""
    two = [rule_status(tree("Platanus racemosa", (9,)), "la-city-trees", [LA_CITY])] * 2
    assert replacements_due(two) == 8


@pytest.mark.parametrize(
    ("stems", "expected"),
    [
        ((7, 5, 4), "protected"),  # JC-4: 7 + 5 = 12
        ((7, 4, 4), "not_protected"),  # JC-4: 11
        ((7.9,), "not_protected"),  # JC-5
        ((8.0,), "protected"),  # JC-5
        ((8, 1), "protected"),  # by hand: one trunk of 8 in is enough, whatever stands beside it
    ],
)
def test_la_county_takes_one_trunk_or_the_two_largest(stems, expected):
    assert status(tree("Quercus lobata", stems), LA_COUNTY) == expected


def test_la_county_heritage():
    """J-3: over 36 in (from memory in the example)."""
    for size, heritage in ((35.9, False), (36.0, True)):
        held = rule_status(tree("Quercus lobata", (size,)), "la-county-oaks", [LA_COUNTY])
        assert held.heritage is heritage


def test_a_girth_rule():
    """JC-6: native list tree of 24 in circumference: 24 / pi = 7.64 in."""
    rules = table("""
        [[rule]]
        id = "girth"
        citation = "printed at 24 in circumference"
        species = ["Quercus agrifolia"]
        size = {measure = "girth", at = 4.5, stems = "sum", from = 24}
        acts = ["remove"]
        """)
    held = rule_status(tree("Quercus agrifolia", (24 / math.pi,)), "girth", [rules])
    assert held.status == "protected"
    assert held.threshold_cm / CM == pytest.approx(7.64, abs=0.005)
    assert status(tree("Quercus agrifolia", (7.6,)), rules) == "not_protected"


@pytest.mark.parametrize(
    ("species", "stems", "protecting"),
    [
        ("Quercus douglasii", (3, 3.5), ["san-joaquin-other-oaks"]),  # X-JC1: 6.5 combined
        ("Quercus lobata", (31.9,), ["san-joaquin-valley-oak"]),  # X-JC1: native
        ("Quercus lobata", (32.0,), ["san-joaquin-heritage"]),  # X-JC1: heritage
        ("Quercus lobata", (3, 4), []),  # by hand: 7 in combined, 8 wanted
        ("Quercus lobata", (7, 0.5), ["san-joaquin-valley-oak"]),  # by hand: 7 in alone
        ("Quercus lobata", (5.9,), []),
    ],
)
def test_san_joaquin_classes(species, stems, protecting):
    held = protect(tree(species, stems), [SAN_JOAQUIN], method_at_m=US_BREAST_M)
    assert [s.rule.id for s in held.rules if s.status == "protected"] == protecting


def test_no_rule_on_file_is_never_not_protected():
    """JC-8."""
    for tables in ([], [example("nesting_seasons")]):
        held = protect(tree("Quercus lobata", (40,)), tables, method_at_m=US_BREAST_M)
        assert held.status == "no_rule"
        assert held.may_be_protected
        assert [s.code for s in held.says] == ["rule.no_rule"]


def test_every_example_reads_is_dated_and_warns():
    assert len(example_files()) >= 4
    for name in example_files():
        read, problems = read_rules(packaged(name), file=name)
        assert read.example
        assert read.source
        assert any(
            p.field == "table.example" and "check before use" in p.expected for p in problems
        )
        text = resources.files("bolewalk.rules").joinpath("data", *name.split("/")).read_text()
        assert "check before use" in text.splitlines()[0]


def test_the_template_is_toml_and_applies_nothing():
    raw = tomllib.loads(
        resources.files("bolewalk.rules").joinpath("data/template/rules.toml").read_text()
    )
    read, problems = read_rules(raw, file="rules.toml")
    assert {p.field for p in problems} == {"table.place", "table.source"}
    assert read.rules == read.seasons == read.consents == ()
