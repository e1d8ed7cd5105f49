"""A walk as rows of a tree table."""

from bolewalk.walk.cues import Cue
from bolewalk.walk.draft import draft
from bolewalk.walk.table_rows import ROW_COLUMNS, said_cells, table_rows


def heard(*lines: str):
    return draft([Cue(k * 8.0, (k + 1) * 8.0, text) for k, text in enumerate(lines)])


def test_a_row_for_each_tree_of_a_group_and_cells_as_said():
    rows = table_rows(
        heard(
            "This is a coast live oak, thirty one inches, forty five feet tall. Keep it.",
            "Then three silver birch by the wall. Take them out.",
        )
    )
    assert [r["tree"] for r in rows] == ["T1", "T2", "T3", "T4"]
    assert rows[0] == {
        "tree": "T1", "species": "Quercus agrifolia", "diameter": "31in", "height": "45ft",
        "decision": "retain",
    }  # fmt: skip
    assert {(r["species"], r["decision"]) for r in rows[1:]} == {("Betula pendula", "remove")}
    assert {c for r in rows for c in r} <= set(ROW_COLUMNS)


def test_stems_are_those_said_close_together():
    near = heard("A white alder, eight inches and six inches.").trees[0]
    assert said_cells(near)["diameter"] == "8in+6in"
    far = ["That is the way it is with them."] * 4
    later = heard("A white alder, eight inches.", *far, "On the alder I get nine inches.").trees[0]
    assert said_cells(later)["diameter"].count("+") == 0
