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
    working_day,
)
from bolewalk.rules.protection import protect
from tests.rules.trees import HEAD, US_BREAST_M, example, table, tree

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


# --- working days, holidays, permits on record ---------------------------------------------

HOLIDAYS = [date(2026, 11, 26), date(2026, 11, 27)]
"""Thursday and Friday of one week."""


@pytest.mark.parametrize(
    ("asked", "days", "last", "first"),
    [
        (date(2026, 11, 23), 2, date(2026, 11, 25), date(2026, 11, 26)),  # Mon: Tue, Wed
        (date(2026, 11, 24), 2, date(2026, 11, 30), date(2026, 12, 1)),  # Tue: Wed, Mon
        (date(2026, 11, 28), 1, date(2026, 11, 30), date(2026, 12, 1)),  # Sat: Mon
    ],
)
def test_holidays_are_no_working_days(asked, days, last, first):
    assert working_day(asked, days, HOLIDAYS) == last
    assert after_working_days(asked, days, HOLIDAYS) == first


def holiday_table(text):
    days = ", ".join(d.isoformat() for d in HOLIDAYS)
    return text, HEAD + f"holidays = [{days}]\n"


def on_file(text, act, asked, *, holidays=False):
    text, head = holiday_table(text) if holidays else (text, HEAD)
    tables = [table(text, head=head)]
    one = tree("Quercus lobata", (20,))
    held = protect(one, tables, method_at_m=US_BREAST_M)
    return earliest_date(one, act, asked=asked, tables=tables, protection=held, removals={})


def test_digging_notice_leaves_holidays_out():
    rule = OAK_RULE.replace("wait_days = 21", "wait_days = 0")
    asked = date(2026, 11, 24)
    assert on_file(DIGGING + rule, "roots", asked).earliest == date(2026, 11, 27)
    got = on_file(DIGGING + rule, "roots", asked, holidays=True)
    assert got.earliest == date(2026, 12, 1)
    assert got.decided_by.code == "date.digging_holidays"


def test_a_wait_in_working_days_where_the_rule_says_so():
    rule = OAK_RULE.replace("wait_days = 21", 'wait_days = 5, counted = "working"')
    # From Monday 23 Nov: 24, 25, 26, 27, 30; with the two holidays: 24, 25, 30, 1, 2.
    got = on_file(rule, "remove", date(2026, 11, 23))
    assert got.earliest == date(2026, 11, 30)
    assert got.decided_by.code == "date.permit_working"
    assert on_file(rule, "remove", date(2026, 11, 23), holidays=True).earliest == date(2026, 12, 2)


GRANTED = """
[[granted]]
rule = "oaks"
date = 2026-10-01
number = "TR-9"
"""


def codes(statements):
    return [s.code.removeprefix("date.") for s in statements]


def test_a_permit_on_record_is_not_waited_for():
    got = on_file(OAK_RULE + GRANTED, "remove", date(2026, 11, 2))
    assert got.earliest == date(2026, 11, 2)
    assert "permit_given" in codes(got.open)
    # Given for another tree, or only after the day asked: waited for.
    other = GRANTED + 'trees = ["T9"]\n'
    assert on_file(OAK_RULE + other, "remove", date(2026, 11, 2)).earliest == date(2026, 11, 23)
    assert on_file(OAK_RULE + GRANTED, "remove", date(2026, 9, 1)).earliest == date(2026, 9, 22)


@pytest.mark.parametrize(
    ("until", "earliest", "code"),
    [
        # Holds on its last day.
        ("2026-11-02", date(2026, 11, 2), "permit_given_until"),
        # Ran out the day before: asked for anew, 21 days.
        ("2026-11-01", date(2026, 11, 23), "permit_runs_out"),
    ],
)
def test_a_permit_runs_out(until, earliest, code):
    got = on_file(OAK_RULE + GRANTED + f"until = {until}\n", "remove", date(2026, 11, 2))
    assert got.earliest == earliest
    assert code in codes(got.open)


def test_a_permit_that_runs_out_before_the_season_opens_is_told():
    # Given 1 Feb for 90 days: holds to 2 May; barred 15 Feb to 31 Aug. Asked 20 Feb: 1 Sep.
    rule = OAK_RULE.replace("wait_days = 21", "wait_days = 21, expires_days = 90")
    granted = GRANTED.replace("2026-10-01", "2026-02-01")
    got = on_file(rule + granted + NESTING, "remove", date(2026, 2, 20))
    assert got.earliest == date(2026, 9, 1)
    said = {s.code: dict(s.values) for s in got.open}
    assert said["date.permit_runs_out"]["until"] == "2026-05-02"
    # Not asked for yet: had on 13 Mar, it would run out on 11 Jun, before 1 Sep.
    got = on_file(rule + NESTING, "remove", date(2026, 2, 20))
    said = {s.code: dict(s.values) for s in got.open}
    assert said["date.permit_ask_later"]["until"] == "2026-06-11"
