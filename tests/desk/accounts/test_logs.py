"""Logs hold no names, no addresses, nothing that was typed."""

import io
import logging
import logging.config
import threading

import pytest
from starlette.testclient import TestClient

from bolewalk.desk.logs import ERRORS, Logged, Wordless, log_config, wordless_threads

from .conftest import NAME, Office, form_token, sign_in

TYPED = "Aurelia Thornquist, 22 Bramble Row"


@pytest.fixture
def log():  # type: ignore[no-untyped-def]
    """What a running desk writes, with its own settings."""
    root = logging.getLogger()
    before = root.handlers[:], root.level
    written = io.StringIO()
    logging.config.dictConfig(log_config(access=True))
    for handler in root.handlers:
        if isinstance(handler.formatter, Wordless):
            assert isinstance(handler, logging.StreamHandler)
            handler.setStream(written)
    yield written
    root.handlers[:], root.level = before
    logging.getLogger("uvicorn").propagate = True


def test_a_days_work_is_logged_by_routes(office: Office, log: io.StringIO) -> None:
    app = Logged(office.app)
    desk = TestClient(app, base_url="http://localhost", client=("203.0.113.77", 4711))
    sign_in(desk, "Fenna", "Wrong words from Bramble Row")
    sign_in(desk, "Fenna")
    desk.headers["x-form-token"] = form_token(desk.get("/account").text)
    desk.post("/surveys/1/trees/rows", data={"tree": TYPED, "species": TYPED})
    desk.get(f"/surveys/1/trees/{TYPED}")
    desk.get(f"/{TYPED}?q={TYPED}")
    desk.get("/", headers={"user-agent": TYPED, "referer": TYPED, "host": "localhost"})
    desk.get(f"/client/{office.token}")
    desk.request("AURELIA", "/")
    text = log.getvalue()
    assert "GET /surveys/{survey:int}/trees/{tree} 200" in text
    assert "POST /sign-in 401" in text
    assert "GET no such route 404" in text
    assert "GET /client/{token} 200" in text
    assert "account 3" in text  # Fenna, by number
    # Times hold digits; the visitor's address must not be among them.
    for words in (
        "Aurelia",
        "Thornquist",
        "Bramble",
        "AURELIA",
        "Fenna",
        "203.0.113",
        office.token,
        NAME,
    ):
        assert words not in text, words
    assert "another method / 405" in text
    assert len(text.splitlines()) == 13  # one a request (two were led on), none else


def test_an_error_is_told_by_kind_and_place(log: io.StringIO) -> None:
    async def broken(scope, _receive, _send):  # type: ignore[no-untyped-def]
        scope["route_path"] = "/surveys/{survey:int}"
        try:
            raise KeyError(TYPED)
        except KeyError as e:
            raise ValueError(f"no such person: {TYPED}") from e

    answer = TestClient(Logged(broken)).get("/surveys/1")
    assert answer.status_code == 500
    assert "Nothing was changed" in answer.text
    text = log.getvalue()
    assert "GET /surveys/{survey:int}" in text
    assert "ValueError" in text
    assert "KeyError" in text
    assert "test_logs.py" in text
    assert "Aurelia" not in text + answer.text


def test_what_other_libraries_write_loses_its_words(log: io.StringIO) -> None:
    for name in ("uvicorn.error", "asyncio", "sqlalchemy.pool", "anything"):
        logger = logging.getLogger(name)
        logger.error("Task %s failed", TYPED)
        logger.error(f"Task {TYPED} failed")
        try:
            raise ValueError(TYPED)
        except ValueError:
            logger.exception("it broke for %r", {"who": TYPED})
    text = log.getvalue()
    assert "Aurelia" not in text
    assert "Task %s failed" in text
    assert text.count("ValueError") == 4


def test_a_thread_that_ends_badly_loses_its_words(log: io.StringIO) -> None:
    before = threading.excepthook
    wordless_threads()
    try:
        broken = threading.Thread(target=int, args=(TYPED,))
        broken.start()
        broken.join()
    finally:
        threading.excepthook = before
    assert ERRORS in log.getvalue()
    assert "ValueError" in log.getvalue()
    assert "Aurelia" not in log.getvalue()
