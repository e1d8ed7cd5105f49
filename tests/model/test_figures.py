"""Figures with their range: in another unit, and what makes none."""

import math

import pytest

from bolewalk.model.figures import Figure


def test_a_range_goes_into_another_unit_with_its_value() -> None:
    girth = Figure(100.0, "measured", "tape", low=98.0, high=103.0, as_entered="100 cm")
    across = girth.scaled(1 / math.pi)
    assert across.value == pytest.approx(31.831, abs=5e-4)  # by hand: 100 / pi
    assert (across.low, across.high) == pytest.approx((31.194, 32.786), abs=5e-4)
    assert (across.basis, across.source, across.as_entered) == ("measured", "tape", "100 cm")
    assert Figure(2.0, "drawn").scaled(3.0) == Figure(6.0, "drawn")


@pytest.mark.parametrize(
    ("made", "words"),
    [
        (lambda: Figure(math.nan, "measured"), "must be finite"),
        (lambda: Figure(math.inf, "measured"), "must be finite"),
        (lambda: Figure(5.0, "measured", low=5.1), r"low 5\.1 lies above the value 5"),
        (lambda: Figure(5.0, "measured", high=4.9), r"high 4\.9 lies below the value 5"),
        (lambda: Figure(5.0, "measured").scaled(0.0), "factor must be > 0"),
        (lambda: Figure(5.0, "measured").scaled(math.nan), "factor must be > 0"),
    ],
)
def test_what_is_no_figure(made, words) -> None:
    with pytest.raises(ValueError, match=words):
        made()


def test_a_value_at_the_end_of_its_range_is_within_it() -> None:
    assert Figure(5.0, "measured", low=5.0, high=5.0).value == 5.0
