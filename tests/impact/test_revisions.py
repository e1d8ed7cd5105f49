"""A new drawing reopens the verdicts whose inputs moved, and only those."""

from dataclasses import replace
from datetime import date

from bolewalk.impact.assess import assess_all
from bolewalk.impact.revisions import reopened
from bolewalk.impact.site_tables import pile_table, stake_out_list
from bolewalk.model.figures import Figure
from bolewalk.model.survey import Method, Survey

from .hands import crown, line, pile, tree

TREES = (
    tree("T1"),
    tree("T2", x_m=40.0, y_m=0.0, crown=crown(4.0), height_m=Figure(9.0, "measured"),
         crown_base_m=Figure(2.0, "measured")),
    tree("T3", x_m=None, y_m=None),
)  # fmt: skip
WORKS = (
    pile("P1", (2.0, 0.0), made="hand", drawing="Plan, revision A"),
    line("W1", "trench", (44.0, -9.0), (44.0, 9.0), drawing="Plan, revision A"),
)
SURVEY = Survey(
    "Dace cottage", date(2026, 3, 2), "metric", "opinion", Method("as4970-2009"),
    trees=TREES, works=WORKS,
)  # fmt: skip


def test_the_same_plan_on_a_new_sheet_reopens_nothing() -> None:
    again = tuple(replace(w, drawing="Plan, revision B", ref="9F") for w in WORKS[::-1])
    assert reopened(SURVEY, replace(SURVEY, works=again)) == {}


def test_only_the_tree_near_what_moved_is_reopened() -> None:
    moved = (WORKS[0], line("W1", "trench", (43.5, -9.0), (43.5, 9.0)))
    assert reopened(SURVEY, replace(SURVEY, works=moved)) == {"T2": "works"}
    dropped = replace(SURVEY, works=WORKS[1:])
    assert reopened(SURVEY, dropped) == {"T1": "works"}
    # What a verdict reads of the works counts, not their place alone.
    bored = (replace(WORKS[0], made="bored"), WORKS[1])
    assert reopened(SURVEY, replace(SURVEY, works=bored)) == {"T1": "works"}


def test_trees_and_method() -> None:
    thicker = (tree("T1", cm=(52.0,)), replace(TREES[1], notes="looked again"), TREES[2])
    assert reopened(SURVEY, replace(SURVEY, trees=thicker)) == {"T1": "tree"}
    fewer = (TREES[0], tree("T9", x_m=90.0))
    assert reopened(SURVEY, replace(SURVEY, trees=fewer)) == {
        "T9": "new", "T2": "gone", "T3": "gone",
    }  # fmt: skip
    other = replace(SURVEY, method=Method("bs5837-2012"))
    assert set(reopened(SURVEY, other).values()) == {"method"}


def test_tables_of_the_site_follow_the_survey() -> None:
    impacts = assess_all(SURVEY)
    assert [(name, s.work) for name, s in pile_table(SURVEY, impacts)] == [("T1", "P1")]
    # The trench ends lie 9.8 m from T2, out of its zone of 6 m: flagged where it is nearest.
    assert [(p.work, p.what.code) for p in stake_out_list(SURVEY, impacts)] == [
        ("P1", "stake.pile"),
        ("W1", "stake.nearest"),
    ]
