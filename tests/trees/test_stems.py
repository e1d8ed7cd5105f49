"""Combined diameters against published and hand-computed values."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bolewalk.trees.stems import (
    combined_diameters,
    diameter_from_girth_cm,
    equal_area_cm,
    many_stems_cm,
)

CM_PER_IN = 2.54


def inches(*stems: float):
    return combined_diameters([s * CM_PER_IN for s in stems])


def test_fia_example():
    # USDA Forest Service, FIA National Core Field Guide, DRC: 12.2, 13.2, 3.8, 22.1 in -> 28.7 in.
    assert inches(12.2, 13.2, 3.8, 22.1).equal_area / CM_PER_IN == pytest.approx(28.7, abs=0.05)


def test_three_stems_under_every_rule():
    # By hand: 10, 8, 6 in.
    c = inches(10, 8, 6)
    assert c.equal_area / CM_PER_IN == pytest.approx(14.14, abs=0.005)
    assert c.largest_plus_half_of_rest / CM_PER_IN == pytest.approx(17)
    assert c.largest_plus_mean_of_rest / CM_PER_IN == pytest.approx(17)
    assert c.sum / CM_PER_IN == pytest.approx(24)
    assert c.two_largest / CM_PER_IN == pytest.approx(18)


def test_rules_that_part_at_four_stems():
    # By hand: 10, 8, 6, 4 in: half of the rest adds 9, the mean of the rest adds 6.
    c = inches(10, 8, 6, 4)
    assert c.largest_plus_half_of_rest / CM_PER_IN == pytest.approx(19)
    assert c.largest_plus_mean_of_rest / CM_PER_IN == pytest.approx(16)


def test_street_side_clump():
    # By hand: 5.5, 4.5, 4 in. Protected at 12 in by the first rule only.
    c = inches(5.5, 4.5, 4)
    assert c.sum / CM_PER_IN == pytest.approx(14.0)
    assert c.largest_plus_half_of_rest / CM_PER_IN == pytest.approx(9.75)
    assert c.equal_area / CM_PER_IN == pytest.approx(8.2, abs=0.05)


def test_regrown_stump_and_the_job_in_ten_years():
    # By hand: 7, 6, 6, 5, 5 in; wood index D2H at 30 ft now, three stems at 45 ft later.
    now, later = inches(7, 6, 6, 5, 5), inches(11, 10, 10)
    assert now.equal_area / CM_PER_IN == pytest.approx(13.1, abs=0.05)
    assert now.sum / CM_PER_IN == pytest.approx(29)
    index_now = (now.equal_area / CM_PER_IN) ** 2 * 30
    index_later = (later.equal_area / CM_PER_IN) ** 2 * 45
    assert index_now == pytest.approx(5130)
    assert index_later == pytest.approx(14445)
    assert index_later / index_now == pytest.approx(2.8, abs=0.05)


def test_metric_three_stems():
    # BS 5837:2012 4.6.1, by hand: 300, 250, 200 mm -> 438.7 mm.
    assert combined_diameters([30, 25, 20]).equal_area == pytest.approx(43.87, abs=0.005)


def test_two_equal_trunks():
    # Botanical garden forum reply: two 20 in trunks have the basal area of one of 28.3 in.
    assert inches(20, 20).equal_area / CM_PER_IN == pytest.approx(28.3, abs=0.05)


def test_girth():
    # By hand: 75.4 in round is 24.0 in across.
    girth = diameter_from_girth_cm(75.4 * CM_PER_IN)
    assert girth / CM_PER_IN == pytest.approx(24.0, abs=0.005)


def test_more_than_five_stems():
    # By hand: six stems of mean 200 mm -> 489.9 mm; unequal stems read smaller than equal area.
    assert many_stems_cm([20] * 6) == pytest.approx(48.99, abs=0.005)
    assert many_stems_cm([10, 30] * 3) == pytest.approx(48.99, abs=0.005)
    assert equal_area_cm([10, 30] * 3) > 54
    assert many_stems_cm([10, 30, 10, 30, 10]) == equal_area_cm([10, 30, 10, 30, 10])


def test_one_stem_reads_alike():
    c = combined_diameters([31.0])
    assert {
        c.equal_area, c.sum, c.largest_plus_half_of_rest, c.largest_plus_mean_of_rest,
        c.two_largest,
    } == {31.0}  # fmt: skip


@given(st.lists(st.floats(0.1, 500), min_size=1, max_size=9))
def test_order_of_the_rules(stems):
    c = combined_diameters(stems)
    slack = 1 + 1e-12
    assert max(stems) <= c.equal_area * slack
    assert c.equal_area <= c.sum * slack
    assert c.largest_plus_half_of_rest <= c.sum * slack
    assert c.two_largest <= c.sum * slack
    assert combined_diameters(stems[::-1]) == c


@pytest.mark.parametrize(
    ("stems", "hint"),
    [([], "at least one"), ([10, 0], r"stems_cm\[1\] is 0"), ([-1], "> 0"),
     ([math.nan], "finite"), ([math.inf], "finite")],
)  # fmt: skip
def test_errors_say_what_to_do(stems, hint):
    for rule in (combined_diameters, equal_area_cm, many_stems_cm):
        with pytest.raises(ValueError, match=hint):
            rule(stems)
