"""A desk on the demonstration survey, each test on a copy of its own."""

import shutil
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page
from starlette.testclient import TestClient

from bolewalk.demo import survey_folder
from bolewalk.desk.app import create_app
from bolewalk.store.store import Store

from .browser import chrome_running, faultless_page

WHEN = datetime(2026, 11, 12, 9, 0, tzinfo=UTC)


@pytest.fixture(scope="session")
def demo_data(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The data folder of a store that holds the demonstration survey as survey 1."""
    data = tmp_path_factory.mktemp("demo") / "data"
    with Store.open(data) as store:
        taken = store.import_folder(survey_folder(), who="Tobin", when=WHEN)
    assert taken.survey_id == 1
    return data


@pytest.fixture
def data(demo_data: Path, tmp_path: Path) -> Path:
    """A copy of it that may be changed."""
    return Path(shutil.copytree(demo_data, tmp_path / "data"))


@pytest.fixture
def store(data: Path) -> Iterator[Store]:
    with Store.open(data) as opened:
        yield opened


@pytest.fixture
def desk(store: Store, data: Path) -> Iterator[TestClient]:
    """The desk, as Tobin sees it."""
    app = create_app(store, data, who="Tobin")
    with TestClient(app, base_url="http://localhost", follow_redirects=False) as client:
        yield client


@pytest.fixture(scope="session")
def reading_desk(demo_data: Path) -> Iterator[TestClient]:
    """A desk for tests that change nothing: what it has worked out serves them all."""
    with Store.open(demo_data) as opened:
        app = create_app(opened, demo_data, who="Tobin")
        with TestClient(app, base_url="http://localhost", follow_redirects=False) as client:
            yield client


@pytest.fixture(scope="module")
def chrome() -> Iterator[Browser]:
    """A real browser."""
    with chrome_running() as browser:
        yield browser


@pytest.fixture
def page(chrome: Browser) -> Iterator[Page]:
    """A page that fails the test on any error of a script or of the content policy."""
    with faultless_page(chrome) as opened:
        yield opened
