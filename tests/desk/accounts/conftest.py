"""An office of two firms: its desk, its people, an issue and links to it."""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest
from starlette.applications import Starlette
from starlette.testclient import TestClient

from bolewalk.desk.app import create_app
from bolewalk.store.accounts import add_account
from bolewalk.store.edits import new_tree
from bolewalk.store.issues import Issue, seal
from bolewalk.store.links import make_link, withdraw_link
from bolewalk.store.roles import Role
from bolewalk.store.store import Store
from tests.quick_hashes import quick_hashes

__all__ = ["quick_hashes"]

WHEN = datetime(2026, 5, 12, 9, 0, tzinfo=UTC)
WORDS = "seven mossy fence posts"
FIRM, OTHER = "Hale and Ostrander", "Another Firm"
NAME = "Quillfeather Lane"
"""Name of the first firm's survey: nobody else may read it anywhere."""

PEOPLE: tuple[tuple[str, Role, str], ...] = (
    ("Mirela", "owner", FIRM),
    ("Tobin", "estimator", FIRM),
    ("Fenna", "field", FIRM),
    ("Rook", "read-only", FIRM),
    ("Odile", "owner", OTHER),
)


class Clock:
    """A clock that stands still until it is put on."""

    def __init__(self) -> None:
        self.now = WHEN

    def __call__(self) -> datetime:
        return self.now


@dataclass(frozen=True)
class Office:
    """The desk of both firms; survey 1 is the first firm's, 2 the other's."""

    app: Starlette
    store: Store
    clock: Clock
    issue: Issue
    token: str
    withdrawn: str
    expired: str

    def visitor(self, *, address: str = "192.0.2.1") -> TestClient:
        """Give a browser in which nobody has signed in."""
        return TestClient(
            self.app, base_url="http://localhost", follow_redirects=False, client=(address, 50000)
        )

    def enter(self, name: str, *, address: str = "192.0.2.1") -> TestClient:
        """Give a browser in which someone has signed in; it sends the token of its pages."""
        browser = self.visitor(address=address)
        answer = sign_in(browser, name)
        assert answer.status_code == 303, answer.text
        browser.headers["x-form-token"] = form_token(browser.get("/account").text)
        return browser


def form_token(page: str) -> str:
    """Give the token a page holds."""
    found = re.search(r'<meta name="form-token" content="([0-9a-f]+)">', page)
    assert found, page[:400]
    return found[1]


def sign_in(browser: TestClient, name: str, password: str = WORDS, back: str = "/"):  # type: ignore[no-untyped-def]
    """Sign in as a browser does: the page first, then its form with all its fields."""
    page = browser.get("/sign-in").text
    return browser.post(
        "/sign-in",
        data={"form_token": form_token(page), "name": name, "password": password, "back": back},
    )


def make_office(data: Path, papers: Path) -> Iterator[Office]:
    """Make an office in a folder."""
    clock = Clock()
    with Store.open(data) as store:
        for name, role, firm in PEOPLE:
            add_account(
                store, name, password=WORDS, role=role, firm=firm, who="desk", when=WHEN
            )  # fmt: skip
        for name, firm in ((NAME, FIRM), ("Elsewhere", OTHER)):
            number = store.create_survey(
                name, visited=date(2026, 5, 1), units="metric", who="desk", when=WHEN, firm=firm
            )
            row = {"tree": "T1", "species": "Quercus lobata", "x": "10", "y": "10",
                   "diameter": "40"}  # fmt: skip
            store.change(number, [new_tree(row)], who="desk", when=WHEN)
        for name, body in (
            ("report.pdf", b"%PDF-1.7 report"), ("crew.pdf", b"%PDF-1.7 crew"),
            ("findings.json", b'{"secret": 1}'), ("client/index.html", b"<!doctype html><p>hello"),
            ("client/walk.wav", b"RIFF0000WAVE" + bytes(4000)),
        ):  # fmt: skip
            path = papers / name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(body)
        issue = seal(store, 1, papers, revision=2, title="For the permit", who="Tobin", when=WHEN)
        chosen = ["client/index.html", "client/walk.wav", "report.pdf"]
        links = [
            make_link(store, issue, chosen, who="Tobin", when=WHEN, expires=WHEN + timedelta(days))
            for days in (300, 300, 30)
        ]
        withdraw_link(store, 1, links[1][0].id, who="Tobin", when=WHEN)
        clock.now = WHEN + timedelta(31)
        app = create_app(store, data, login=True, clock=clock)
        yield Office(app, store, clock, issue, *(token for _, token in links))


@pytest.fixture(scope="session")
def reading_office(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Office]:
    """An office for tests that change nothing."""
    folder = tmp_path_factory.mktemp("office")
    yield from make_office(folder / "data", folder / "papers")


@pytest.fixture
def office(tmp_path: Path) -> Iterator[Office]:
    """An office of the test's own."""
    yield from make_office(tmp_path / "data", tmp_path / "papers")
