"""Money in minor units; expected values by hand or by Python's decimal module."""

from decimal import ROUND_HALF_UP, Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bolewalk.model.money import to_minor
from bolewalk.pricing.money import (
    allocate_minor,
    round_minor,
    round_step,
    share_minor,
)


@pytest.mark.parametrize(
    ("amount", "digits", "minor"),
    [
        ("1150", 2, 115000),
        (2043.75, 2, 204375),
        (Decimal("0.35"), 2, 35),
        (0.1, 2, 10),  # the float 0.1 counts as the digits it is written with
        (1.005, 3, 1005),
        ("7", 0, 7),
    ],
)
def test_to_minor_by_hand(amount, digits, minor):
    assert to_minor(amount, minor_digits=digits) == minor


@pytest.mark.parametrize(
    ("amount", "hint"),
    [("1.005", "finer than 2"), ("x", "not an amount"), ("nan", "not an amount"),
     (float("inf"), "not an amount")],
)  # fmt: skip
def test_to_minor_refuses(amount, hint):
    with pytest.raises(ValueError, match=hint):
        to_minor(amount, minor_digits=2)


@pytest.mark.parametrize(
    ("x", "whole"), [(0.5, 1), (-0.5, -1), (2.5, 3), (1.4999999, 1), (0.49999999999999994, 0)]
)
def test_halves_go_away_from_zero(x, whole):
    assert round_minor(x) == whole


@given(st.floats(-1e9, 1e9))
def test_rounding_as_decimal_does(x):
    expected = int(Decimal(x).quantize(Decimal(1), rounding=ROUND_HALF_UP))
    assert round_minor(x) == expected


@given(st.integers(0, 10**9), st.integers(0, 40000))
def test_shares_as_decimal_does(amount, hundredths):
    pct = hundredths / 100
    exact = Decimal(amount) * Decimal(str(pct)) / 100
    assert share_minor(amount, pct=pct) == int(exact.quantize(Decimal(1), rounding=ROUND_HALF_UP))


def test_a_share_of_what_is_owed_back_mirrors_the_share_of_what_is_owed():
    # By hand: 8.25 % of 150 is 12.375, of 200 is 16.5, which goes away from zero.
    assert (share_minor(150, pct=8.25), share_minor(-150, pct=8.25)) == (12, -12)
    assert (share_minor(200, pct=8.25), share_minor(-200, pct=8.25)) == (17, -17)
    assert share_minor(-1000, pct=0) == 0


def test_steps():
    assert round_step(12250, step_minor=500) == 12500  # half a step goes up
    assert round_step(12249, step_minor=500) == 12000
    with pytest.raises(ValueError, match="step_minor"):
        round_step(1, step_minor=0)


@given(st.integers(0, 10**8), st.lists(st.floats(0, 1e6), min_size=1, max_size=60))
def test_parts_add_up(amount, weights):
    parts = allocate_minor(amount, weights)
    assert sum(parts) == amount
    whole = sum(weights)
    if whole > 1e-3:
        for part, w in zip(parts, weights, strict=True):
            assert abs(part - amount * w / whole) <= 1 + 1e-6


def test_odd_units_go_to_the_earlier_line():
    assert allocate_minor(100, [1, 1, 1]) == (34, 33, 33)
    assert allocate_minor(3, [0, 0]) == (2, 1)
    with pytest.raises(ValueError, match="none negative"):
        allocate_minor(1, [1, -1])
