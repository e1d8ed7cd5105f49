"""Measuring rules, and the chance of the wrong tree."""

import pytest

from bolewalk.model.figures import Figure
from bolewalk.model.survey import ROOT_ZONE_METHODS
from bolewalk.model.trees import Species, Tree
from bolewalk.trees.identity import wrong_tree
from bolewalk.trees.measuring import measuring_rule


def test_every_method_says_where_it_measures():
    # 4.5 ft US, 1.4 m Australia, 1.5 m UK.
    heights = {m: measuring_rule(m).height_m for m in ROOT_ZONE_METHODS}
    assert heights["inch-foot"] == 1.37
    assert heights["as4970-2009"] == 1.4
    assert heights["bs5837-2012"] == 1.5
    assert all(measuring_rule(m).fork and measuring_rule(m).source for m in ROOT_ZONE_METHODS)
    with pytest.raises(ValueError, match="inch-foot"):
        measuring_rule("paces")


def tree(name, x, y, species="Acer rubrum", trunk=30.0, stems=1, tag=""):
    return Tree(
        name, Species(species, None, species), x_m=x, y_m=y,
        stems_cm=(Figure(trunk, "measured"),) * stems, tag=tag,
    )  # fmt: skip


def test_two_alike_against_the_normal_distribution():
    # By hand: two trees 4 m apart, error 2 m: the other is nearer beyond the middle, so the
    # chance is that of a normal deviate above 1: 15.87 %.
    site = [tree("a", 0, 0), tree("b", 4, 0)]
    w = wrong_tree(site, "a", error_m=2)
    assert w.chance == pytest.approx(0.1587, abs=0.002)
    assert w.mistaken_for == ("b",)
    assert w.best_note == "tape"
    assert w.chance_with_it == 0


def test_the_note_that_tells_them_apart():
    site = [tree("a", 0, 0, tag="7"), tree("b", 4, 0, trunk=60)]
    assert wrong_tree(site, "a", error_m=2).chance > 0.1
    assert wrong_tree(site, "a", notes=("species", "trunk"), error_m=2).chance == 0
    assert wrong_tree(site, "a", notes=("tag",), error_m=2).chance == 0
    # Any note that settles it: the first in the order of noting.
    assert wrong_tree(site, "a", error_m=2).best_note == "trunk"
    mixed = [tree("a", 0, 0), tree("b", 4, 0, species="Quercus agrifolia")]
    assert wrong_tree(mixed, "a", error_m=2).chance == 0
    assert wrong_tree(mixed, "a", notes=(), error_m=2).best_note == "species"


def test_more_error_more_mistakes():
    site = [tree(str(i), 3.0 * i, 0) for i in range(7)]
    chances = [wrong_tree(site, "3", error_m=e).chance for e in (0.5, 1, 2, 5)]
    assert chances == sorted(chances)
    assert wrong_tree(site, "3").chance > 0.4


def test_errors_say_what_to_do():
    site = [tree("a", 0, 0), tree("b", None, None)]
    with pytest.raises(ValueError, match="no located tree"):
        wrong_tree(site, "b")
    with pytest.raises(ValueError, match="not among"):
        wrong_tree(site, "a", notes=("smell",))
    with pytest.raises(ValueError, match="> 0"):
        wrong_tree(site, "a", error_m=0)
