"""Links for clients: signed, to one issue, for a time, withdrawn, openings written down."""

from datetime import UTC, date, datetime, timedelta

import pytest
from sqlalchemy import select, text, update
from sqlalchemy.exc import DBAPIError

from bolewalk.store.errors import StoreError
from bolewalk.store.issues import seal, withdraw
from bolewalk.store.links import (
    list_links,
    list_openings,
    make_link,
    note_opening,
    open_link,
    withdraw_link,
)
from bolewalk.store.schema import client_links

WHEN = datetime(2026, 5, 12, 9, 0, tzinfo=UTC)
DAY = timedelta(days=1)


@pytest.fixture
def issue(store, tmp_path):
    number = store.create_survey(
        "Sedge Lane", visited=date(2026, 5, 1), units="metric", who="Tobin", when=WHEN
    )
    papers = tmp_path / "papers"
    (papers / "client").mkdir(parents=True)
    (papers / "report.pdf").write_bytes(b"%PDF report")
    (papers / "client" / "index.html").write_bytes(b"<!doctype html>")
    return seal(store, number, papers, revision=1, title="First", who="Tobin", when=WHEN)


def link_to(store, issue, *, days=30):
    return make_link(
        store, issue, ["report.pdf"], who="Tobin", when=WHEN, expires=WHEN + days * DAY
    )


def test_a_link_opens_its_issue_until_it_expires(store, issue):
    made, token = link_to(store, issue)
    opened = open_link(store, token, when=WHEN + 29 * DAY)
    assert opened.state == "open"
    assert (opened.link, opened.issue) == (made, issue)
    assert made.papers == ("report.pdf",)
    assert open_link(store, token, when=WHEN + 30 * DAY).state == "expired"


def test_a_withdrawn_link_or_issue_is_told_so(store, issue):
    made, token = link_to(store, issue)
    _, other = link_to(store, issue)
    with pytest.raises(StoreError, match="no such link"):
        withdraw_link(store, issue.survey_id + 1, made.id, who="Tobin", when=WHEN)
    withdraw_link(store, issue.survey_id, made.id, who="Tobin", when=WHEN)
    withdraw_link(store, issue.survey_id, made.id, who="Mirela", when=WHEN + DAY)
    assert open_link(store, token, when=WHEN).state == "withdrawn"
    kept = list_links(store, issue.survey_id)[1]
    assert (kept.withdrawn_by, kept.withdrawn_at) == ("Tobin", "2026-05-12T09:00:00.000000+00:00")
    assert open_link(store, other, when=WHEN).state == "open"
    withdraw(store, issue.id, who="Tobin", when=WHEN, reason="wrong drawing")
    assert open_link(store, other, when=WHEN).state == "withdrawn"


def test_only_the_token_that_was_given_opens(store, issue):
    made, token = link_to(store, issue)
    other, second = link_to(store, issue)
    number, nonce, signed = token.split(".")
    wrong = [
        "", "1", token[:-1], token + "A", f"{other.id}.{nonce}.{signed}",
        f"{number}.{nonce}.{second.split('.')[2]}", f"{number}.{second.split('.')[1]}.{signed}",
        f"0{token}", f"9{token}", token.replace(".", "/"), f"{number}..", "\ud800", "١.a.b",
        f"99999999999999999999.{nonce}.{signed}",
    ]  # fmt: skip
    for tried in wrong:
        assert open_link(store, tried, when=WHEN) is None, tried
    assert open_link(store, token, when=WHEN).link.id == made.id


def test_a_row_changed_by_hand_opens_nothing(store, issue):
    made, token = link_to(store, issue, days=1)
    for values in ({"expires_at": "2999"}, {"papers": '["findings.json"]'}):
        with store.engine.begin() as c:
            before = c.execute(select(client_links)).mappings().one()
            c.execute(update(client_links).values(values))
        assert open_link(store, token, when=WHEN) is None
        with store.engine.begin() as c:
            c.execute(update(client_links).values({k: before[k] for k in values}))
    assert open_link(store, token, when=WHEN).link == made


def test_the_store_keeps_no_token(store, issue):
    _, token = link_to(store, issue)
    with store.engine.connect() as c:
        (row,) = c.execute(select(client_links)).all()
    _, secret, signature = token.split(".")
    assert secret not in str(row)
    assert signature not in str(row)


@pytest.mark.parametrize(
    ("papers", "days", "says"),
    [
        (["findings.json"], 30, "has no findings.json"),
        (["../store.db", "report.pdf"], 30, "has no ../store.db"),
        ([], 30, "has no papers chosen"),
        (["report.pdf"], 0, "lasts 1 to 365 days"),
        (["report.pdf"], -1, "lasts 1 to 365 days"),
        (["report.pdf"], 366, "lasts 1 to 365 days"),
    ],
)
def test_what_cannot_be_linked_is_told(store, issue, papers, days, says):
    with pytest.raises(StoreError, match=says):
        make_link(store, issue, papers, who="Tobin", when=WHEN, expires=WHEN + days * DAY)


def test_a_withdrawn_issue_gets_no_link(store, issue):
    gone = withdraw(store, issue.id, who="Tobin", when=WHEN, reason="wrong drawing")
    with pytest.raises(StoreError, match="withdrawn: nobody should be sent it"):
        link_to(store, gone)


def test_openings_are_counted_and_only_ever_added_to(store, issue):
    made, _ = link_to(store, issue)
    assert (made.openings, made.last_opened) == (0, None)
    note_opening(store, made.id, "", when=WHEN)
    note_opening(store, made.id, "report.pdf", when=WHEN + DAY)
    now = list_links(store, issue.survey_id)[0]
    assert (now.openings, now.last_opened) == (2, "2026-05-13T09:00:00.000000+00:00")
    assert [o.paper for o in list_openings(store, made.id)] == ["", "report.pdf"]
    with store.engine.begin() as c, pytest.raises(DBAPIError, match="only ever added to"):
        c.execute(text("UPDATE link_openings SET paper = 'x'"))
