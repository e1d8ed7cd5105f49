"""The same tree again. Truth is a made-up garden measured twice; growth by hand."""

from dataclasses import replace

import numpy as np
import pytest

from bolewalk.model.figures import Figure
from bolewalk.model.trees import Species, Tree
from bolewalk.trees.growth import project
from bolewalk.trees.rematch import growth_check, rematch

SPECIES = ("Quercus agrifolia", "Platanus racemosa", "Acer rubrum", "Ulmus parvifolia")


def tree(name, x, y, species, *trunks, tag=""):
    return Tree(
        name, Species(species, None, species), x_m=x, y_m=y,
        stems_cm=tuple(Figure(t, "measured") for t in trunks), tag=tag,
    )  # fmt: skip


def garden(seed, n=25, years=6, error=0.4, shift=(0.0, 0.0)):
    """Measure a garden twice: later ids tell the truth, "n3" was "t3"."""
    rng = np.random.default_rng(seed)
    before, after = [], []
    for i in range(n):
        x, y = rng.uniform(0, 60, 2)
        species = SPECIES[rng.integers(len(SPECIES))]
        trunk = rng.uniform(10, 70)
        before.append(tree(f"t{i}", x, y, species, trunk))
        grown = trunk + years * rng.uniform(0.2, 1.5)
        dx, dy = rng.normal(0, error, 2)
        after.append(tree(f"n{i}", x + dx + shift[0], y + dy + shift[1], species, grown))
    order = rng.permutation(n)
    return before, [after[i] for i in order]


@pytest.mark.parametrize("seed", range(5))
def test_a_garden_measured_twice(seed):
    before, after = garden(seed)
    r = rematch(before, after, years=6, earlier_error_m=0.3, later_error_m=0.4)
    wrong = [m for m in r.matches if m.earlier != "t" + m.later[1:]]
    assert [m for m in wrong if not m.doubtful] == []
    assert len(wrong) <= 1
    assert r.shift_m == (0, 0)


@pytest.mark.parametrize("seed", range(5))
def test_a_shifted_survey_is_laid_back_by_its_layout(seed):
    before, after = garden(seed, shift=(7.0, -4.0))
    r = rematch(before, after, years=6, earlier_error_m=0.3, later_error_m=0.4)
    assert r.shift_m == pytest.approx((7, -4), abs=0.4)
    right = sum(m.earlier == "t" + m.later[1:] for m in r.matches)
    assert right >= 24


def test_gone_and_new_trees():
    before, after = garden(1)
    gone = before[4]
    later = [t for t in after if t.id != "n4"] + [tree("n99", 90, 90, "Acer rubrum", 4)]
    r = rematch(before, later, years=6, earlier_error_m=0.3, later_error_m=0.4)
    assert r.not_found == (gone.id,)
    new = next(m for m in r.matches if m.later == "n99")
    assert new.earlier is None
    assert not new.doubtful


def test_two_alike_side_by_side_are_doubtful():
    before = [tree("a", 0, 0, "Acer rubrum", 30), tree("b", 1, 0, "Acer rubrum", 30)]
    after = [tree("c", 0.5, 0, "Acer rubrum", 33)]
    (m,) = rematch(before, after, years=4).matches
    assert m.doubtful
    assert m.chance == pytest.approx(0.5, abs=0.05)
    assert len(m.alternatives) == 1


def test_a_shrunken_trunk_speaks_against():
    before = [tree("a", 0, 0, "Acer rubrum", 60), tree("b", 2.5, 0, "Acer rubrum", 28)]
    after = [tree("c", 0.9, 0, "Acer rubrum", 31)]
    (m,) = rematch(before, after, years=5).matches
    assert m.earlier == "b"
    assert "grown" in m.for_it
    (alone,) = rematch(before[:1], after, years=5).matches
    assert alone.earlier is None


def test_species_and_stems_are_weighed():
    before = [tree("a", 0, 0, "Acer rubrum", 20, 15), tree("b", 1.5, 0, "Quercus agrifolia", 25)]
    after = [tree("c", 0.8, 0, "Quercus agrifolia", 28)]
    (m,) = rematch(before, after, years=4).matches
    assert m.earlier == "b"
    assert {"same_species", "same_stems"} <= set(m.for_it)


def test_another_tag_speaks_against_and_one_genus_for():
    before = [tree("a", 0, 0, "Quercus lobata", 30, tag="17"), tree("b", 9, 0, "Acer rubrum", 30)]
    after = [tree("c", 0.1, 0, "Quercus agrifolia", 31, tag="18")]
    (m,) = rematch(before, after, years=3).matches
    assert "other_tag" in m.against_it
    assert "same_genus" in m.for_it
    assert "same_species" not in m.for_it
    plain = [replace(before[0], tag=""), before[1]]
    (p,) = rematch(plain, [replace(after[0], tag="")], years=3).matches
    assert p.chance > m.chance
    assert (p.earlier, p.against_it) == ("a", ())


def test_a_tag_finds_a_tree_that_is_not_located():
    before = [tree("a", 0, 0, "Acer rubrum", 30, tag="17"), tree("b", 4, 0, "Acer rubrum", 30)]
    after = [tree("c", None, None, "Acer rubrum", 32, tag="17")]
    (m,) = rematch(before, after, years=3).matches
    assert (m.earlier, m.doubtful) == ("a", False)
    assert "same_tag" in m.for_it


def test_nothing_to_match():
    assert rematch([], [], years=1).matches == ()
    (m,) = rematch([], [tree("c", 0, 0, "Acer rubrum", 30)], years=1).matches
    assert m.earlier is None
    assert rematch([tree("a", 0, 0, "Acer rubrum", 30)], [], years=1).not_found == ("a",)


def test_growth_against_the_forecast():
    old = tree("a", 0, 0, "Quercus agrifolia", 30)
    p = project("Quercus agrifolia", "Inland Empire", years=10, trunk_cm=30)
    # By hand on the published curve: 30 cm to 41.02 cm in ten years, 1.10 cm a year.
    as_told = growth_check(
        old, tree("b", 0, 0, "Quercus agrifolia", float(p.trunk_cm[10])), years=10,
        region="Inland Empire",
    )  # fmt: skip
    assert as_told.forecast_cm_year == pytest.approx(1.10, abs=0.005)
    assert as_told.measured_cm_year == pytest.approx(as_told.forecast_cm_year)
    verdicts = [
        growth_check(
            old, tree("b", 0, 0, "Quercus agrifolia", after), years=10, region="Inland Empire"
        ).verdict
        for after in (25, 31, 41, 55)
    ]
    assert verdicts == ["shrunk", "below", "within", "above"]
    unknown = replace(old, species=Species(None, None, "some tree"))
    assert growth_check(unknown, old, years=3, region="Inland Empire") is None


def test_errors_say_what_to_do():
    with pytest.raises(ValueError, match="years"):
        rematch([], [], years=-1)
    with pytest.raises(ValueError, match="errors must be > 0"):
        rematch([], [], years=1, later_error_m=0)
    t = tree("a", 0, 0, "Acer rubrum", 30)
    with pytest.raises(ValueError, match="at least one year"):
        growth_check(t, t, years=0.5, region="Inland Empire")
