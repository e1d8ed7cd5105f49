"""Every route of the router, tried by everybody who might come.

The table is generated: a route without a rule fails, and so does a rule without a route.
"""

import re
from functools import cache
from itertools import product

import pytest
from starlette.routing import Route
from starlette.testclient import TestClient

from bolewalk.desk.accounts.access import Door
from bolewalk.desk.accounts.rules import MAY, RULES, Need
from bolewalk.desk.app import ROUTES
from bolewalk.store.roles import ROLES

from .conftest import NAME, OTHER, PEOPLE, Office, form_token

TABLE = [
    (method, route) for route in ROUTES for method in sorted((route.methods or set()) - {"HEAD"})
]
NAMES = [f"{method} {route.path}" for method, route in TABLE]
# What stands for a part of an address; any other part is "1", which there may or may not be.
PARTS = {"edition": "0", "name": "report.pdf", "made": "as-drawn", "tree": "T1"}
NOBODIES = ("nobody", "after a live link", "after a withdrawn link", "after an expired link")


def rule(method: str, route: Route) -> Need:
    return RULES.get(f"{method} {route.path}", Need.NEVER)


def address(route: Route, office: Office, *, survey: int = 1) -> str:
    parts = {**PARTS, "survey": str(survey), "issue": str(office.issue.id), "token": office.token}
    return re.sub(r"\{(\w+)(?::\w+)?\}", lambda m: parts.get(m[1], "1"), route.path)


@pytest.fixture(scope="module")
def people(reading_office: Office):  # type: ignore[no-untyped-def]
    """Browsers by who sits at them, each signed in once."""

    @cache
    def person(who: str) -> TestClient:
        if who in {name for name, _, _ in PEOPLE}:
            return reading_office.enter(who)
        browser = reading_office.visitor()
        tokens = {"live": reading_office.token, "withdrawn": reading_office.withdrawn,
                  "expired": reading_office.expired}  # fmt: skip
        for word, token in tokens.items():
            if word in who:
                opened = browser.get(f"/client/{token}")
                assert opened.status_code == (200 if word == "live" else 410)
                browser.headers["authorization"] = f"Bearer {token}"
                browser.params = {"token": token}
        browser.headers["x-form-token"] = form_token(browser.get("/sign-in").text)
        return browser

    return person


def test_every_route_has_a_rule_and_every_rule_a_route() -> None:
    assert set(NAMES) == set(RULES)
    assert len(NAMES) == len(set(NAMES))


@pytest.mark.parametrize("n", [2**31, 2**63, 10**40])
def test_a_number_no_database_has_is_not_there(people, n: int) -> None:  # type: ignore[no-untyped-def]
    for who in ("Mirela", "nobody"):
        for place in (f"/surveys/{n}/trees", f"/api/surveys/{n}/plan", f"/accounts/{n}/role"):
            assert people(who).post(place).status_code == 404
    assert people("nobody").get(f"/client/{n}.{'A' * 22}.{'A' * 43}").status_code == 404


def test_roles_are_a_ladder() -> None:
    assert [MAY[role] for role in ROLES] == sorted(MAY.values())
    assert Need.NEVER not in MAY.values()


@pytest.mark.parametrize("who", NOBODIES)
@pytest.mark.parametrize(("method", "route"), TABLE, ids=NAMES)
def test_nobody_gets_in(reading_office: Office, people, who: str, method: str, route: Route):  # type: ignore[no-untyped-def]
    answer = people(who).request(method, address(route, reading_office))
    if rule(method, route) == Need.NOTHING:
        # Open by design, and closed again to a token that opens nothing any more.
        assert answer.status_code not in (401, 403) or "sign-in" in route.path
        return
    if route.path.startswith("/api/"):
        assert answer.status_code == 401
        assert set(answer.json()) == {"say"}
    else:
        assert answer.status_code == 303
        assert answer.headers["location"].startswith("/sign-in?back=/")
        assert answer.content == b""
    assert NAME not in answer.text


@pytest.mark.parametrize(
    ("token", "status"), [("withdrawn", 410), ("expired", 410), ("made up", 404)]
)
@pytest.mark.parametrize("path", ["", "/report.pdf", "/client/index.html", "/findings.json"])
def test_a_link_that_ended_opens_nothing(
    reading_office: Office, token: str, status: int, path: str
) -> None:
    sent = {"withdrawn": reading_office.withdrawn, "expired": reading_office.expired}
    made_up = reading_office.token[:-2] + ("AA" if reading_office.token[-2:] != "AA" else "BB")
    answer = reading_office.visitor().get(f"/client/{sent.get(token, made_up)}{path}")
    assert answer.status_code == status
    for words in (NAME, "PDF", "permit", "secret"):
        assert words not in answer.text


CLOSED = [
    (who, role, method, route)
    for (who, role, _), (method, route) in product(PEOPLE[1:4], TABLE)
    if rule(method, route) > MAY[role]
]


@pytest.mark.parametrize(
    ("who", "method", "route"), [(w, m, r) for w, _, m, r in CLOSED],
    ids=[f"{role} {m} {r.path}" for _, role, m, r in CLOSED],
)  # fmt: skip
def test_a_role_does_no_more_than_it_may(
    reading_office: Office, people, who: str, method: str, route: Route
):  # type: ignore[no-untyped-def]
    before = reading_office.store.load(1).revision
    answer = people(who).request(method, address(route, reading_office))
    assert answer.status_code == 403
    assert "ask an owner" in answer.text
    assert reading_office.store.load(1).revision == before


OPEN = [(m, r) for m, r in TABLE if m == "GET" and rule(m, r) <= Need.READ]


@pytest.mark.parametrize(("method", "route"), OPEN, ids=[r.path for _, r in OPEN])
def test_read_only_reads(reading_office: Office, people, method: str, route: Route):  # type: ignore[no-untyped-def]
    answer = people("Rook").request(method, address(route, reading_office))
    # Some of the made-up parts name nothing; none is refused.
    assert answer.status_code in (200, 303, 404), answer.text
    assert not answer.headers.get("location", "").startswith("/sign-in")


@pytest.mark.parametrize(("method", "route"), TABLE, ids=NAMES)
def test_another_firms_owner_finds_nothing(
    reading_office: Office, people, method: str, route: Route
):  # type: ignore[no-untyped-def]
    if route.path.startswith("/account/") or route.path in ("/accounts", "/surveys", "/sign-in"):
        method = "GET"  # not to be signed out, nor to make anything of their own
    answer = people("Odile").request(method, address(route, reading_office))
    if "{survey" in route.path or "{account" in route.path:
        assert answer.status_code == 404
    if "{token}" not in route.path:
        for words in (NAME, "Mirela", "Tobin", "permit"):
            assert words not in answer.text


@pytest.mark.parametrize(
    ("method", "route"), [(m, r) for m, r in TABLE if m != "GET"],
    ids=[n for n in NAMES if not n.startswith("GET")],
)  # fmt: skip
def test_a_change_without_the_pages_token_is_refused(
    reading_office: Office, people, method: str, route: Route
):  # type: ignore[no-untyped-def]
    browser = people("Mirela")
    other = form_token(reading_office.visitor().get("/sign-in").text)
    for token in ("", "00", other):
        headers = {"x-form-token": token}
        answer = browser.request(method, address(route, reading_office), headers=headers)
        assert answer.status_code == 403
        assert "load it again" in answer.text


def test_lists_hold_the_surveys_of_ones_own_firm(people) -> None:  # type: ignore[no-untyped-def]
    assert [s["id"] for s in people("Rook").get("/api/surveys").json()] == [1]
    assert [s["id"] for s in people("Odile").get("/api/surveys").json()] == [2]
    assert NAME in people("Rook").get("/").text
    page = people("Odile").get("/accounts").text
    assert OTHER not in page  # the firm is the reader's own: it need not be named
    assert "Odile" in page


def test_a_route_nobody_wrote_a_rule_for_is_closed_to_all() -> None:
    door = Door(Route("/new", print, methods=["GET"]))
    assert door.rules == {"GET": Need.NEVER, "HEAD": Need.NEVER}
