"""Groves: trees protected together. Placed by hand on a line, 10 ft apart unless told."""

import time
import tomllib
from dataclasses import replace

import pytest

from bolewalk.rules.protection import groves_of, protect
from bolewalk.rules.reader import read_rules
from tests.rules.trees import FT, HEAD, US_BREAST_M, table, tree

GROVE = """
[[rule]]
id = "grove"
citation = "c"
species = ["Quercus"]
acts = ["remove"]
grove = {trees = 3, within = 10, from = 6}
"""


def row(*at_ft, stems=(8.0,), species="Quercus lobata"):
    return [
        replace(tree(species, stems), id=f"T{n}", x_m=None if x is None else x * FT,
                y_m=None if x is None else 0.0)
        for n, x in enumerate(at_ft, start=1)
    ]  # fmt: skip


def statuses(trees, text=GROVE):
    read = table(text)
    groves = groves_of(trees, [read])
    return [protect(t, [read], method_at_m=US_BREAST_M, groves=groves).status for t in trees]


@pytest.mark.parametrize(
    ("at_ft", "expected"),
    [
        # A chain counts: each is 10 ft from the next, the ends 20 ft apart.
        ((0, 10, 20), ["protected"] * 3),
        ((0, 10, 20.1), ["not_protected"] * 3),
        ((0, 10), ["not_protected"] * 2),
        ((0, 10, 20, 100), ["protected"] * 3 + ["not_protected"]),
        # One tree without a place may stand among the two, and with all three.
        ((0, 10, None), ["cannot_tell"] * 3),
        ((0, None), ["not_protected"] * 2),
    ],
)
def test_trees_that_stand_together(at_ft, expected):
    assert statuses(row(*at_ft)) == expected


def test_small_and_other_trees_do_not_count():
    small = row(0, 10, 20)
    small[2] = replace(row(0, 10, 20, stems=(5.9,))[2])
    assert statuses(small) == ["not_protected"] * 3
    mixed = row(0, 10, 20)
    mixed[1] = replace(row(0, 10, 20, species="Acer negundo")[1])
    assert statuses(mixed) == ["not_protected"] * 3
    unmeasured = row(0, 10, 20)
    unmeasured[2] = replace(unmeasured[2], stems_cm=())
    assert statuses(unmeasured) == ["cannot_tell"] * 3


def test_a_tree_thick_enough_by_itself_needs_no_grove():
    size = "size = {measure = 'diameter', stems = 'sum', from = 12}"
    text = GROVE.replace("[[rule]]", f"[[rule]]\n{size}")
    two = [*row(0, stems=(12,)), *[replace(t, id="T2") for t in row(200)]]
    assert statuses(two, text) == ["protected", "not_protected"]
    assert statuses(row(0, 10, 20), text) == ["protected"] * 3


def test_published_grove_of_fifty():
    """J-4: a code that calls 50 or more trees a grove
    (sterlingcodifiers.com, section 812522, read); no distance is printed."""
    text = GROVE.replace("{trees = 3, within = 10, from = 6}", "{trees = 50}")
    assert statuses(row(*range(0, 5000, 100)), text) == ["protected"] * 50
    assert statuses(row(*range(0, 4900, 100)), text) == ["not_protected"] * 49


def test_a_long_row_is_one_grove_and_does_not_take_long():
    """1,500 trees took minutes when each tree looked for its grove anew (regression)."""
    began = time.perf_counter()
    assert statuses(row(*range(0, 13500, 9))) == ["protected"] * 1500
    assert time.perf_counter() - began < 20


def test_a_tree_held_alone_stands_in_no_grove():
    alone = protect(row(0)[0], [table(GROVE)], method_at_m=US_BREAST_M)
    assert alone.status == "not_protected"


def test_a_grove_without_a_number_is_a_fault():
    raw = tomllib.loads(HEAD + GROVE.replace("trees = 3, ", ""))
    read, problems = read_rules(raw, file="r.toml")
    assert [p.field for p in problems if p.level == "fault"] == ["rule.grove.trees"]
    assert read.left_out == {"rule": ("grove",)}
