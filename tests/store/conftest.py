"""Every test of the store runs on SQLite and on a PostgreSQL server started for it."""

import itertools
import os
import shutil
import subprocess
import tempfile
from datetime import UTC, datetime, timedelta
from pathlib import Path

import psycopg
import pytest

from bolewalk.store.schema import METADATA
from bolewalk.store.store import DATABASE, Store
from tests.quick_hashes import quick_hashes

__all__ = ["quick_hashes"]

_NUMBERS = itertools.count(1)
START = datetime(2026, 5, 12, 9, 0, tzinfo=UTC)


class Clock:
    """A clock of the test's own: each look is one minute later."""

    def __init__(self):
        self._n = 0

    def __call__(self):
        self._n += 1
        return START + timedelta(minutes=self._n)


@pytest.fixture
def clock():
    return Clock()


def _bin() -> Path:
    found = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb")) or [
        Path(p) for p in [shutil.which("initdb")] if p
    ]
    if not found:
        pytest.fail("no PostgreSQL server here: apt-get install postgresql, or run scripts/test")
    return found[-1].parent


@pytest.fixture(scope="session")
def postgres():
    """Start a PostgreSQL server on a socket of its own; give what runs SQL on it."""
    binaries = _bin()
    # A short path: names of sockets may have a hundred bytes or so.
    home = Path(tempfile.mkdtemp(prefix="pg-"))
    as_user: list[str] = []
    if os.geteuid() == 0:
        # The server refuses to run as root.
        as_user = ["runuser", "-u", "nobody", "--"]
        shutil.chown(home, "nobody")
    data = home / "data"

    def run(command, *arguments):
        done = subprocess.run(
            [*as_user, binaries / command, *map(str, arguments)],
            cwd="/", capture_output=True, text=True, check=False,
        )  # fmt: skip
        assert done.returncode == 0, done.stderr + done.stdout
        return done.stdout

    # C, UTF-8: the server must take what SQLite takes, whatever this machine's language.
    run("initdb", "-D", data, "-U", "keeper", "-A", "trust", "-E", "UTF8", "--locale=C", "-N")
    options = f"-k {home} -c listen_addresses='' -c fsync=off -c max_connections=50"
    run("pg_ctl", "-D", data, "-l", home / "log", "-w", "-o", options, "start")
    try:
        # template1 is what a new database is a copy of: the schema is made once.
        Store.open(f"postgresql://keeper@/template1?host={home}", media=home).close()
        on = {"host": str(home), "user": "keeper", "autocommit": True}
        with psycopg.connect(dbname="postgres", **on) as c:
            yield on, c, []
    finally:
        run("pg_ctl", "-D", data, "-m", "immediate", "-w", "stop")
        shutil.rmtree(home)


@pytest.fixture
def new_url(request):
    """Give a maker of PostgreSQL databases: without anything in them, or `empty` of schema too.

    Databases are used again: to copy and remove hundreds of files for each test takes longer than
    the tests.
    """
    taken = []

    def make(*, empty: bool = False) -> str:
        on, c, free = request.getfixturevalue("postgres")
        if free and not empty:
            name = free.pop()
        else:
            name = f"store{next(_NUMBERS)}"
            c.execute(f"CREATE DATABASE {name} TEMPLATE template{0 if empty else 1}")
        if not empty:
            taken.append(name)
        return f"postgresql://keeper@/{name}?host={on['host']}"

    yield make
    tables = ", ".join(t.name for t in METADATA.sorted_tables)
    for name in taken:
        on, _, free = request.getfixturevalue("postgres")
        with psycopg.connect(dbname=name, **on) as c:
            c.execute(f"TRUNCATE {tables} RESTART IDENTITY CASCADE")
        free.append(name)


@pytest.fixture(scope="session")
def prepared(tmp_path_factory):
    """Give an SQLite store without anything in it."""
    folder = tmp_path_factory.mktemp("prepared")
    Store.open(folder).close()
    return folder / DATABASE


@pytest.fixture(params=["sqlite", "postgresql"])
def fresh_place(request, tmp_path, new_url):
    """Give where to open a store that has never been opened, as arguments of `Store.open`."""
    if request.param == "sqlite":
        return {"where": tmp_path / "data"}
    return {"where": new_url(empty=True), "media": tmp_path / "data" / "media"}


@pytest.fixture(params=["sqlite", "postgresql"])
def place(request, tmp_path, new_url):
    """Give where to open a store without anything in it, as arguments of `Store.open`."""
    if request.param == "sqlite":
        (tmp_path / "data").mkdir()
        shutil.copy(request.getfixturevalue("prepared"), tmp_path / "data" / DATABASE)
        return {"where": tmp_path / "data"}
    return {"where": new_url(), "media": tmp_path / "data" / "media"}


@pytest.fixture
def store(place):
    with Store.open(**place) as opened:
        yield opened


@pytest.fixture(scope="session")
def demo():
    from bolewalk.demo import survey_folder

    return survey_folder()
