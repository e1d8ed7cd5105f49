"""Every cell of the two published matrices, and what is built on them."""

import itertools

import pytest

from bolewalk.trees.risk import (
    CONSEQUENCES,
    FAILURES,
    IMPACTS,
    RATINGS,
    compare,
    next_look,
    overall,
    rate,
    what_would_change,
)

# Matrix 1 as printed in a council's street-tree plan (read), row by row.
MATRIX_1 = """
imminent   | unlikely | somewhat likely | likely          | very likely
probable   | unlikely | unlikely        | somewhat likely | likely
possible   | unlikely | unlikely        | unlikely        | somewhat likely
improbable | unlikely | unlikely        | unlikely        | unlikely
"""
# Matrix 2, same plan; cell order confirmed by memory.
MATRIX_2 = """
very likely     | low | moderate | high     | extreme
likely          | low | moderate | high     | high
somewhat likely | low | low      | moderate | moderate
unlikely        | low | low      | low      | low
"""


def cells(text):
    return {
        row[0]: row[1:]
        for row in ([c.strip() for c in line.split("|")] for line in text.strip().splitlines())
    }


def test_all_sixty_four_combinations():
    first, second = cells(MATRIX_1), cells(MATRIX_2)
    seen = set()
    for failure in FAILURES:
        for i, impact in enumerate(IMPACTS):
            for c, consequence in enumerate(CONSEQUENCES):
                r = rate(failure, impact, consequence, years=3, level="basic")
                assert r.likelihood == first[failure][i]
                assert r.rating == second[r.likelihood][c]
                seen.add(r.rating)
    assert seen == set(RATINGS)


def test_overall_is_the_highest():
    a = rate("possible", "low", "minor", years=3, level="basic", part="deadwood")
    b = rate("probable", "high", "severe", years=3, level="basic", part="stem")
    assert overall([a, b]) is b
    assert overall([b, a]) is b
    with pytest.raises(ValueError, match="at least one"):
        overall([])


def test_mitigation_and_the_target_moved():
    before = rate("probable", "high", "severe", years=3, level="basic", part="limb", target="bench")
    pruned = compare(before, "limb shortened", failure="improbable")
    assert (before.rating, pruned.after.rating, pruned.lower) == ("high", "low", True)
    moved = compare(before, "bench moved", impact="very low", target="lawn")
    assert moved.after.rating == "low"
    assert moved.after.target == "lawn"
    assert moved.after.years == before.years
    small = compare(before, "sign put up", impact="high")
    assert not small.lower


def test_what_would_change_names_single_steps():
    r = rate("probable", "medium", "significant", years=3, level="basic")
    # By hand from the matrices: somewhat likely, moderate. Down: possible -> unlikely -> low; low
    # impact -> unlikely -> low; minor -> low. Up: imminent -> likely -> high; high -> likely ->
    # high; severe stays moderate.
    assert r.rating == "moderate"
    assert {(c.what, c.to, c.rating) for c in what_would_change(r)} == {
        ("failure", "possible", "low"), ("failure", "imminent", "high"),
        ("impact", "low", "low"), ("impact", "high", "high"),
        ("consequence", "minor", "low"),
    }  # fmt: skip


def test_next_look():
    # Court: three-yearly was too seldom for a mature leaning tree beside a main road and bus
    # stop; two-yearly at least.
    assert next_look("constant", "low").years <= 2
    assert next_look("constant", "moderate").years <= 2
    early = next_look("rare", "low", expires_in_years=1)
    assert early.years == 1
    assert early.because == "an assumption runs out"
    assert next_look("rare", "low", expires_in_years=9).years < 9


def test_more_use_and_more_risk_never_mean_a_later_look():
    uses = ("rare", "occasional", "frequent", "constant")
    for less, more in itertools.pairwise(uses):
        for rating in RATINGS:
            assert next_look(more, rating).years <= next_look(less, rating).years
    for use in uses:
        for lower, higher in itertools.pairwise(RATINGS):
            assert next_look(use, higher).years <= next_look(use, lower).years


@pytest.mark.parametrize(
    ("call", "hint"),
    [
        (lambda: rate("likely", "high", "severe", years=3, level="basic"), "improbable"),
        (lambda: rate("probable", "high", "severe", years=0, level="basic"), "time frame"),
        (lambda: rate("probable", "high", "severe", years=3, level="drive-by"), "limited"),
        (lambda: compare(rate("probable", "high", "severe", years=3, level="basic"), "", x="y"),
         "cannot change"),
        (lambda: next_look("never", "low"), "rare"),
        (lambda: next_look("rare", "low", expires_in_years=0), "needs a look now"),
    ],
)  # fmt: skip
def test_errors_say_what_to_do(call, hint):
    with pytest.raises(ValueError, match=hint):
        call()
