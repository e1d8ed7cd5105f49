"""Lengths as written: conversion factors are exact by definition (NIST SP 811, appendix B)."""

import doctest

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bolewalk.model import units
from bolewalk.model.units import UnitError, parse_crown, parse_length, parse_stems


@pytest.mark.parametrize(
    ("text", "unit", "metres"),
    [
        ("6'6\"", "ft", 1.9812),
        ("6' 6\"", "m", 1.9812),
        ("6 ft 6 in", "m", 1.9812),
        ("6′6″", "m", 1.9812),
        ("24in", "ft", 0.6096),
        ("61 cm", "ft", 0.61),
        ("3.2 m", "ft", 3.2),
        ("12", "ft", 3.6576),
        ("~12", "m", 12.0),
        ("  .5 ", "m", 0.5),
        ("75 mm", "ft", 0.075),
    ],
)
def test_lengths_by_hand(text: str, unit: str, metres: float) -> None:
    assert parse_length(text, default_unit=unit).value_m == pytest.approx(metres, rel=1e-15)


@pytest.mark.parametrize("text", ["", "nan", "inf", "-3", "12,5", "twelve", "6'6'6", "1e3", "3 kg"])
def test_what_is_no_length_says_what_is(text: str) -> None:
    with pytest.raises(UnitError, match="expected a length such as"):
        parse_length(text, default_unit="ft")


def test_by_eye_is_kept() -> None:
    assert parse_length("~12", default_unit="ft").by_eye
    assert all(q.by_eye for q in parse_stems("~8+6", default_unit="in"))


def test_stems_share_the_last_unit() -> None:
    assert [q.value_m for q in parse_stems("8+6+5 in", default_unit="cm")] == pytest.approx(
        [0.2032, 0.1524, 0.127]
    )
    assert [q.value_m for q in parse_stems("8in+6", default_unit="cm")] == pytest.approx(
        [0.2032, 0.06]
    )


@pytest.mark.parametrize("text", ["8+", "8++6", "0", "8+x"])
def test_bad_stems(text: str) -> None:
    with pytest.raises(UnitError, match="trunk sizes such as"):
        parse_stems(text, default_unit="in")


def test_crown() -> None:
    assert [q.value_m for q in parse_crown("12/15/10/14", default_unit="m")] == [12, 15, 10, 14]
    assert [q.value_m for q in parse_crown("~5", default_unit="m")] == [5, 5, 5, 5]
    with pytest.raises(UnitError, match="has 3 radii"):
        parse_crown("1/2/3", default_unit="m")


@given(st.floats(0.001, 1e5), st.sampled_from(["mm", "cm", "m", "in", "ft", "yd"]))
def test_written_and_read_back(value: float, unit: str) -> None:
    text = f"{value:.6f} {unit}"
    got = parse_length(text, default_unit="m").value_m
    assert got == pytest.approx(float(f"{value:.6f}") * units.M_PER_UNIT[unit], rel=1e-12)


def test_documented_examples_run() -> None:
    failures, tried = doctest.testmod(units)
    assert tried >= 2
    assert failures == 0
