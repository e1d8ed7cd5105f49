"""TOML values set in place, and records of a tree table."""

import tomllib
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bolewalk.store.errors import StoreError
from bolewalk.store.tables import column_names, csv_bytes, read_columns_and_rows, records, set_toml

TEXT = """\
# The survey of the yard.
[survey]
name = "Yard"     # as the client says it
date = 2026-05-12

[people]
assessor = {name = "Tobin Hale", number = "7"}

[[drawing]]
file = "a.dxf"    # revision B
[drawing.layers]
"S-PILE" = "pile"
"""


@pytest.mark.parametrize(
    ("path", "value", "line"),
    [
        (("survey", "name"), "Yärd", 'name = "Yärd"     # as the client says it'),
        (("survey", "date"), date(2026, 6, 1), "date = 2026-06-01"),
        (("survey", "units"), "metric", 'units = "metric"'),
        (("people", "assessor", "number"), "8", 'assessor = {name = "Tobin Hale", number = "8"}'),
        (("drawing", 0, "layers", "S-SLAB"), "slab", "S-SLAB"),
        (("drawing", 1), {"file": "b.dxf"}, 'file = "b.dxf"'),
        (("site", "gate"), 3, "gate = 3"),
        (("files", "works", 0), "w.geojson", "w.geojson"),
    ],
)
def test_one_value_is_set_and_all_else_stays(path, value, line):
    text = set_toml(TEXT, path, value)
    found = tomllib.loads(text)
    for step in path:
        found = found[step]
    assert found == value
    assert line in text
    for comment in ("# The survey of the yard.", "# as the client says it", "# revision B"):
        assert comment in text


def test_a_value_is_taken_out():
    assert set_toml("a = 1\nb = 2\n", ("a",), None) == "b = 2\n"
    assert set_toml("b = 2\n", ("a",), None) == "b = 2\n"


@pytest.mark.parametrize(
    ("text", "path", "value"),
    [("a = ", ("a",), 1), ("a = 1", ("a", "b"), 1), ("a = [1]", ("a", 5), 1), ("", ("a",), object)],
)
def test_what_cannot_be_set_is_told(text, path, value):
    with pytest.raises(StoreError, match="cannot set a"):
        set_toml(text, path, value)


KEYS = st.text("ab .\"'#=\\é", min_size=1, max_size=4)
VALUES = st.recursive(
    st.booleans() | st.integers(-(2**40), 2**40) | st.text(max_size=5) | st.dates(),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(KEYS, inner, max_size=3),
    max_leaves=5,
)


@given(st.dictionaries(KEYS, VALUES, max_size=4), KEYS, KEYS, VALUES)
def test_any_value_under_any_key(tables, a, b, value):
    text = ""
    for key, table in tables.items():
        text = set_toml(text, (key,), table)
    assert tomllib.loads(text) == tables
    if not isinstance(tables.get(a, {}), dict):
        return
    expected = {**tables, a: {**tables.get(a, {}), b: value}}
    assert tomllib.loads(set_toml(text, (a, b), value)) == expected


CELLS = st.text(st.characters(codec="utf-8", exclude_characters="\x00\r"), max_size=6)


@given(
    st.lists(st.sampled_from(["species", "x", "Crown Base", "", "own", "own"]), max_size=5),
    st.lists(st.lists(CELLS, min_size=1, max_size=8), max_size=4),
)
def test_any_table_is_taken_apart_and_put_together(tmp_path_factory, header, rows):
    """What a row lacks at its end is empty, and empty rows go; all else is as it was."""
    path = tmp_path_factory.mktemp("table") / "trees.csv"
    table = [["tree", *header], *(["T", *row] for row in rows)]
    path.write_bytes(csv_bytes(table))
    columns, bodies = read_columns_and_rows(path)
    width = len(table[0])
    expected = [[*r, *[""] * (width - len(r))] for r in table]
    expected = [r if any(c.strip() for c in r[width:]) else r[:width] for r in expected]
    assert records(columns, bodies) == expected


def test_columns_only_rows_have_come_last():
    rows = [{"cells": {"tree": "T1", "health": "good", "soil": "clay"}}]
    assert records({"columns": ["Tree"]}, rows) == [
        ["Tree", "health", "soil"], ["T1", "good", "clay"],
    ]  # fmt: skip


def test_names_of_columns():
    assert column_names(["Tree", "Crown Base", "", "tree", "Soil"]) == [
        "tree", "crown_base", "column 3", "column 4", "Soil",
    ]  # fmt: skip
