"""The earliest lawful day is the latest of all waits. Days worked on a calendar by hand."""

from datetime import date, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bolewalk.rules.dates import (
    after_working_days,
    earliest_date,
    in_window,
    is_closed,
    printed_nesting_window,
    window_union,
)
from bolewalk.rules.protection import protect
from tests.rules.trees import US_BREAST_M, example, table, tree

OAK_RULE = """
[[rule]]
id = "oaks"
citation = "c"
species = ["Quercus"]
acts = ["remove", "roots"]
permit = {from = "Town", wait_days = 21, hearing_over = 2, hearing_wait_days = 30}
"""
NESTING = """
[[season]]
id = "nests"
citation = "nest code"
kind = "nesting"
from = "02-15"
to = "08-31"
acts = ["remove", "prune"]
"""
DIGGING = '[digging]\ncitation = "dig law"\nnotice_days = 2\n'


def earliest(text, act, asked, *, one=None, removals=None, block=None):
    tables = [table(text)]
    one = one or tree("Quercus lobata", (20,))
    held = protect(one, tables, method_at_m=US_BREAST_M)
    return earliest_date(
        one, act, asked=asked, tables=tables, protection=held, removals=removals or {}, block=block
    )


def test_the_permit_decides():
    got = earliest(OAK_RULE + NESTING, "remove", date(2026, 11, 2))
    assert got.earliest == date(2026, 11, 23)
    assert got.decided_by.code == "date.permit"


def test_the_season_decides_when_the_permit_ends_inside_it():
    """Asked 1 Feb: permit to 22 Feb, barred from 15 Feb to 31 Aug: 1 Sep."""
    got = earliest(OAK_RULE + NESTING, "remove", date(2026, 2, 1))
    assert got.earliest == date(2026, 9, 1)
    assert got.decided_by.code == "date.season"
    assert [w.until for w in got.waits] == [date(2026, 2, 22), date(2026, 9, 1)]


def test_a_season_that_ends_before_the_permit_decides_nothing():
    """Asked 25 Aug: permit to 15 Sep; nesting ended 31 Aug."""
    got = earliest(OAK_RULE + NESTING, "remove", date(2026, 8, 25))
    assert got.earliest == date(2026, 9, 15)
    assert got.decided_by.code == "date.permit"


def test_more_than_two_trees_need_a_hearing():
    asked = date(2026, 11, 2)
    assert earliest(OAK_RULE, "remove", asked, removals={"oaks": 2}).earliest == date(2026, 11, 23)
    got = earliest(OAK_RULE, "remove", asked, removals={"oaks": 3})
    assert got.earliest == asked + timedelta(days=51)
    assert got.decided_by.code == "date.hearing"


@pytest.mark.parametrize(
    ("asked", "first"),
    [
        (date(2026, 11, 2), date(2026, 11, 5)),  # Monday: Tuesday and Wednesday, then Thursday
        (date(2026, 11, 5), date(2026, 11, 10)),  # Thursday: Friday, Monday, then Tuesday
        (date(2026, 11, 7), date(2026, 11, 11)),  # Saturday: Monday, Tuesday, then Wednesday
    ],
)
def test_working_days_do_not_count_the_day_of_notice(asked, first):
    assert after_working_days(asked, 2) == first
    got = earliest(DIGGING, "roots", asked, one=tree("Acer negundo", (3,)))
    assert got.earliest == first
    assert got.decided_by.code == "date.digging"


def test_no_rule_and_no_consent_are_open_not_dates():
    from bolewalk.model.statements import say

    asked = date(2026, 11, 2)
    got = earliest("", "remove", asked)
    assert {s.code for s in got.open} == {"date.no_rule", "date.no_nesting_rule"}
    why = say("consent.blocked_remove", tree="T1", missing_count=2)
    got = earliest(OAK_RULE, "remove", asked, block=why)
    assert got.earliest is None
    assert got.decided_by == why
    assert [w.until for w in got.waits] == [date(2026, 11, 23)]


def test_windows_wrap_the_new_year():
    """Pruning only from 1 Nov to 29 Feb; an oak ban from 1 Apr to 15 Jul."""
    text = """
        [[season]]
        id = "months"
        citation = "c"
        kind = "pruning"
        from = "11-01"
        to = "02-29"
        acts = ["prune"]
        only = true
        """
    one = tree("Acer negundo", (20,))
    assert earliest(text, "prune", date(2026, 3, 1), one=one).earliest == date(2026, 11, 1)
    assert earliest(text, "prune", date(2026, 12, 31), one=one).earliest == date(2026, 12, 31)
    assert earliest(text, "prune", date(2028, 2, 29), one=one).earliest == date(2028, 2, 29)
    assert earliest(text, "prune", date(2026, 3, 1), one=one).decided_by.code == "date.season_only"


def test_a_ban_on_one_genus_leaves_others_alone():
    text = """
        [[season]]
        id = "wilt"
        citation = "c"
        kind = "disease"
        from = "04-01"
        to = "07-15"
        species = ["Quercus"]
        acts = ["prune"]
        """
    asked = date(2026, 5, 1)
    assert earliest(text, "prune", asked).earliest == date(2026, 7, 16)
    assert earliest(text, "prune", asked, one=tree("Acer negundo", (3,))).earliest == asked


def test_seasons_that_leave_no_day():
    text = NESTING.replace('"nests"', '"a"') + NESTING.replace('"nests"', '"b"').replace(
        "02-15", "09-01"
    ).replace("08-31", "02-14")
    got = earliest(text, "remove", date(2026, 5, 1))
    assert got.earliest is None
    assert got.decided_by.code == "date.never_open"


def test_the_tenth_of_february_in_the_printed_seasons():
    """JC-7: inside San Leandro and Ventura, outside both other songbird windows and the stream
    agreement's raptors, inside the Palos Verdes raptors."""
    closed = {s.id for s in example("nesting_seasons").seasons if is_closed(date(2026, 2, 10), s)}
    assert closed == {"san-leandro", "ventura-county", "palos-verdes-raptors"}


def test_the_union_of_the_printed_seasons():
    """X-JC2: 1 January to 30 September."""
    assert printed_nesting_window() == (((1, 1), (9, 30)),)


def test_unions_by_hand():
    assert window_union([((11, 1), (1, 15)), ((1, 16), (2, 1))]) == (((11, 1), (2, 1)),)
    assert window_union([((3, 1), (4, 1)), ((6, 1), (6, 2))]) == (
        ((3, 1), (4, 1)),
        ((6, 1), (6, 2)),
    )
    assert window_union([]) == ()
    assert window_union([((1, 1), (12, 31))]) == (((1, 1), (12, 31)),)


DAYS = st.dates(date(2024, 1, 1), date(2024, 12, 31)).map(lambda d: (d.month, d.day))


@settings(deadline=None)
@given(st.lists(st.tuples(DAYS, DAYS), max_size=4), DAYS)
def test_a_union_holds_exactly_the_days_of_its_windows(windows, day):
    at = date(2024, *day)
    joined = window_union(windows)
    assert any(in_window(at, w) for w in joined) == any(in_window(at, w) for w in windows)


@settings(deadline=None)
@given(st.dates(date(2026, 1, 1), date(2027, 12, 31)), st.integers(0, 200))
def test_never_before_any_wait_and_never_in_a_season(asked, days):
    text = OAK_RULE.replace("21", str(days)) + NESTING + DIGGING
    got = earliest(text, "remove", asked)
    assert got.earliest >= asked + timedelta(days=days)
    assert not date(got.earliest.year, 2, 15) <= got.earliest <= date(got.earliest.year, 8, 31)
    assert all(w.until <= got.earliest for w in got.waits)


def test_a_day_at_the_end_of_the_calendar_breaks_nothing():
    got = earliest(OAK_RULE + NESTING + DIGGING, "roots", date(9999, 12, 30))
    assert got.earliest is None or got.earliest <= date.max
    # No season bars digging at roots, so the day is open though no other follows.
    dig = earliest(NESTING, "roots", date.max)
    assert (dig.earliest, dig.decided_by) == (date.max, None)
    assert after_working_days(date.max, 3) == date.max
    assert after_working_days(date(2026, 11, 2), 0) == date(2026, 11, 2)
