"""The described interface under made-up requests, signed in: never an error of the desk's own.

`HYPOTHESIS_PROFILE=long` (scripts/long) draws many more of them, anew each time.
"""

import os
import shutil
import zlib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import hypothesis
import pytest
import schemathesis
from starlette.testclient import TestClient

from bolewalk.desk.app import create_app
from bolewalk.store.accounts import add_account
from bolewalk.store.store import Store

from .conftest import WHEN, WORDS, form_token, sign_in

LONG = os.environ.get("HYPOTHESIS_PROFILE") == "long"
DOCUMENT = Path(__file__).parents[3] / "bolewalk" / "desk" / "openapi.json"
KNOWN = {"tree": "T2", "work": "P1", "copy": "w1"}
"""Names that are there, or might be: whatever else is drawn mostly is not."""

schema = schemathesis.openapi.from_path(str(DOCUMENT))


@pytest.fixture(scope="module")
def browser(demo_data: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    """An estimator at the demonstration survey, which is changed as the requests will."""
    data = tmp_path_factory.mktemp("interface") / "data"
    shutil.copytree(demo_data, data)
    with Store.open(data) as store:
        add_account(store, "Tobin", password=WORDS, role="owner", who="desk", when=WHEN)
        app = create_app(store, data, login=True, clock=lambda: WHEN)
        opened = TestClient(
            app, base_url="http://localhost", follow_redirects=False,
            raise_server_exceptions=False,
        )  # fmt: skip
        with opened:
            assert sign_in(opened, "Tobin").status_code == 303
            opened.headers["x-form-token"] = form_token(opened.get("/account").text)
            yield opened


@schema.parametrize()
@hypothesis.settings(
    max_examples=500 if LONG else 6,
    suppress_health_check=list(hypothesis.HealthCheck),
    phases=[hypothesis.Phase.generate],
)
def test_no_request_breaks_the_desk(case: Any, browser: TestClient) -> None:
    # Most are of the survey that is there, and of things that might be.
    if zlib.crc32(str(case.body).encode("utf-8", "replace")) % 8:
        case.path_parameters["survey"] = 1
        for part in KNOWN.keys() & case.path_parameters.keys():
            case.path_parameters[part] = KNOWN[part]
    sent = case.as_transport_kwargs(base_url="http://localhost")
    # Cookie and token are those of the session, whatever was drawn for them.
    headers = {
        k: v for k, v in (sent.get("headers") or {}).items()
        if v.isprintable() and k.lower() not in ("cookie", "x-form-token")
    }  # fmt: skip
    answer = browser.request(
        sent["method"], sent["url"], params=sent.get("params"), json=sent.get("json"),
        content=sent.get("data") if isinstance(sent.get("data"), bytes | str) else None,
        headers=headers,
    )  # fmt: skip
    assert answer.status_code < 500, (sent, answer.text)
    assert answer.status_code not in (401, 403), (sent, answer.text)
