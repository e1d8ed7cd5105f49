"""Every test of the store runs on SQLite and on a PostgreSQL server started for it."""

import itertools
import os
import shutil
import subprocess
import tempfile
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from bolewalk.store.store import Store

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
        yield home, run
    finally:
        run("pg_ctl", "-D", data, "-m", "immediate", "-w", "stop")
        shutil.rmtree(home)


@pytest.fixture
def new_url(request):
    """Give a maker of empty PostgreSQL databases."""

    def make() -> str:
        home, run = request.getfixturevalue("postgres")
        name = f"store{next(_NUMBERS)}"
        run("createdb", "-h", home, "-U", "keeper", name)
        return f"postgresql://keeper@/{name}?host={home}"

    return make


@pytest.fixture(params=["sqlite", "postgresql"])
def place(request, tmp_path, new_url):
    """Give where to open a store, as arguments of `Store.open`."""
    if request.param == "sqlite":
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
