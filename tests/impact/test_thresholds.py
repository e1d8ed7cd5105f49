"""Limits as data: values of the root page, sources, and a user's own file."""

from pathlib import Path

import pytest

from bolewalk.impact.thresholds import PROVENANCES, read_thresholds, thresholds


def test_values_the_root_page_fixes() -> None:
    t = thresholds()
    assert t.severed_keep_pct == 10
    assert t.severed_keep_if_pct == {"poor": 20, "moderate": 25, None: 25, "good": 30}
    assert (t.best_half_pct, t.covered_keep_pct, t.crown_removed_keep_pct) == (10, 20, 25)


def test_every_row_says_where_it_is_from() -> None:
    for row in thresholds().rows.values():
        assert row.provenance in PROVENANCES
        if row.provenance == "ours":
            assert row.source.startswith("No source")
        else:
            assert not row.source.startswith("No source")


@pytest.mark.parametrize(
    ("key", "imperial"),
    [("roots.to_arborist", 2 * 2.54), ("roots.to_engineer", 3 * 2.54)],
)
def test_inches_by_hand(key: str, imperial: float) -> None:
    assert thresholds().value(key) == pytest.approx(imperial)


def test_feet_by_hand() -> None:
    assert thresholds().value("bore.least_depth") == pytest.approx(4.5 * 0.3048)
    assert thresholds().value("dig.by_hand_depth") == pytest.approx(3 * 0.3048)


@pytest.mark.parametrize(
    ("inches", "feet"),
    [
        (1, 1),
        (2.9, 1),
        (3, 2),
        (5, 5),
        (9.9, 5),
        (10, 10),
        (15, 12),
        (19.9, 12),
        (20, 15),
        (60, 15),
    ],
)
def test_pits_by_trunk_class(inches: float, feet: float) -> None:
    # Parkway boring schedule, from memory: 1, 2, 5, 10, 12, 15 ft by class.
    clear = thresholds().by_trunk_m("bore.clear", inches * 2.54 * (1 + 1e-12))
    assert clear == pytest.approx(feet * 0.3048)


def _file(tmp_path: Path, text: str) -> Path:
    path = tmp_path / "limits.toml"
    head = 'version = "3"\nsource = "Town of Larkfold"\n'
    path.write_text(head + text, encoding="utf-8")
    return path


ROW = '[[threshold]]\nkey="{0}"\nvalue={1}\nunit="{2}"\nsource="{3}"\nprovenance="{4}"\n{5}\n'


def test_own_file_sets_rows_and_keeps_the_rest(tmp_path: Path) -> None:
    text = ROW.format("severed.keep", 8, "pct", "City rule 12.3", "read", "")
    text += ROW.format("severed.keep_if.good", 20, "pct", "x", "ours", 'age = "over-mature"')
    text += ROW.format("severed.keep_if.moderate", 20, "pct", "x", "ours", 'age = "over-mature"')
    text += ROW.format("severed.keep_if.unknown", 20, "pct", "x", "ours", 'age = "over-mature"')
    t, problems = read_thresholds(_file(tmp_path, text))
    assert problems == ()
    assert t.severed_keep_pct == 8
    assert t.severed_keep_if_pct["good"] == 30
    assert t.for_tree(age="over-mature").severed_keep_if_pct["good"] == 20
    assert t.for_tree(age="young").severed_keep_if_pct["good"] == 30
    assert t.rows["severed.keep"].source == "City rule 12.3"


@pytest.mark.parametrize(
    ("row", "field"),
    [
        (ROW.format("severed.keeep", 8, "pct", "x", "read", ""), "key"),
        (ROW.format("severed.keep", -1, "pct", "x", "read", ""), "value"),
        (ROW.format("severed.keep", "nan", "pct", "x", "read", ""), "value"),
        (ROW.format("severed.keep", "true", "pct", "x", "read", ""), "value"),
        (ROW.format("severed.keep", 8, "m", "x", "read", ""), "unit"),
        (ROW.format("severed.keep", 8, "pct", " ", "read", ""), "source"),
        (ROW.format("severed.keep", 8, "pct", "x", "heard", ""), "provenance"),
        (ROW.format("severed.keep", 8, "pct", "x", "read", 'age = "old"'), "age"),
        (ROW.format("severed.keep", 8, "pct", "x", "read", 'method = "mine"'), "method"),
        (ROW.format("severed.keep", 60, "pct", "x", "read", ""), "threshold"),
    ],
)
def test_bad_rows_are_left_out_and_reported(tmp_path: Path, row: str, field: str) -> None:
    t, problems = read_thresholds(_file(tmp_path, row))
    assert [p.field for p in problems] == [field]
    assert problems[0].level == "fault"
    assert t.severed_keep_pct == 10


def test_a_file_that_is_not_toml(tmp_path: Path) -> None:
    t, problems = read_thresholds(_file(tmp_path, "= nonsense"))
    assert problems[0].expected == "a TOML file of limits"
    assert t == thresholds()


def test_what_a_file_of_limits_does_not_tell_is_asked_for(tmp_path: Path) -> None:
    path = tmp_path / "limits.toml"
    path.write_text('verison = "3"\nthreshold = 5\n', encoding="utf-8")
    t, problems = read_thresholds(path)
    assert [(p.field, p.level) for p in problems] == [
        ("verison", "notice"), ("version", "notice"), ("source", "notice"), ("threshold", "fault"),
    ]  # fmt: skip
    assert t == thresholds()
