"""Full disks, lost servers and clocks that jump: told, and nothing half kept."""

import contextlib
import errno
import hashlib
import io
import json
import os
import shutil
import sqlite3
import subprocess
import sys
import tempfile
import threading
from datetime import timedelta
from pathlib import Path

import pytest
from sqlalchemy import event, text

from bolewalk.store.checking import verify
from bolewalk.store.edits import new_tree, set_cells
from bolewalk.store.errors import StoreError
from bolewalk.store.items import Applied, Edit
from bolewalk.store.store import DATABASE, Store


@pytest.fixture
def survey(store, clock):
    number = store.create_survey(
        "Saltgate", visited=clock().date(), units="metric", who="Ada", when=clock()
    )
    store.change(number, [new_tree({"tree": "T1"})], who="Ada", when=clock())
    return number


@pytest.fixture
def on_postgres(new_url, tmp_path):
    with Store.open(new_url(), media=tmp_path / "m") as store:
        yield store


def test_a_full_disk_refuses_the_change_whole(tmp_path, clock):
    with Store.open(tmp_path) as store:
        number = store.create_survey(
            "Saltgate", visited=clock().date(), units="metric", who="Ada", when=clock()
        )
        before = store.load(number)

        @event.listens_for(store.engine, "begin")
        def _full(c):
            # SQLite's own way to say that no page more may be taken.
            pages = c.exec_driver_sql("PRAGMA page_count").scalar()
            c.exec_driver_sql(f"PRAGMA max_page_count = {pages}")

        large = Edit("note", "", {"text": "x" * 100_000})
        with pytest.raises(StoreError, match="full"):
            store.change(number, [new_tree({"tree": "T1"}), large], who="Ada", when=clock())
        event.remove(store.engine, "begin", _full)
        store.engine.dispose()
        assert store.load(number) == before
        assert isinstance(store.change(number, [large], who="Ada", when=clock()), Applied)
        assert verify(store) == ()


def test_a_file_the_disk_does_not_take_is_not_kept(store, clock):
    class Full(io.BytesIO):
        def read(self, size=-1):
            if self.tell():
                raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
            return super().read(size // 2)

    with pytest.raises(StoreError, match="cannot be kept: No space left"):
        store.put_media(Full(b"x" * 4_000_000), when=clock())
    assert list(store.files.names()) == []
    assert list(store.files.incoming.iterdir()) == []


def test_a_server_lost_in_mid_change(on_postgres, clock):
    store = on_postgres
    number = store.create_survey(
        "Saltgate", visited=clock().date(), units="metric", who="Ada", when=clock()
    )
    before = store.load(number)
    lost = []

    @event.listens_for(store.engine, "before_cursor_execute")
    def _lose(c, cursor, statement, parameters, context, many):  # noqa: ARG001
        if statement.startswith("INSERT INTO changes") and not lost:
            lost.append(c.connection.dbapi_connection.info.backend_pid)
            with store.engine.connect() as other:
                other.execute(text("SELECT pg_terminate_backend(:pid, 5000)"), {"pid": lost[0]})

    edits = [new_tree({"tree": "T1"}), new_tree({"tree": "T2"})]
    with pytest.raises(StoreError, match="the database does not answer"):
        store.change(number, edits, who="Ada", when=clock())
    assert lost
    # The next one finds a new connection by itself.
    assert store.load(number) == before
    assert isinstance(store.change(number, edits, who="Ada", when=clock()), Applied)
    assert verify(store) == ()


def test_a_clock_that_jumps_back_does_not_turn_the_history_round(store, survey, clock):
    now = clock()
    for height, when in (("5", now), ("6", now - timedelta(days=400))):
        tree = store.load(survey).tree("T1")
        store.change(survey, [set_cells(tree, {"height": height})], who="Ada", when=when)
    assert store.load(survey).tree("T1").body["cells"]["height"] == "6"
    store.undo(survey, who="Ada", when=now - timedelta(days=800))
    assert store.load(survey).tree("T1").body["cells"]["height"] == "5"
    assert verify(store) == ()


def test_readers_do_not_wait_for_a_writer(store, survey, clock):
    """A page can be shown while a long change is being written."""
    from bolewalk.store.changes import apply
    from bolewalk.store.database import writing

    seen = []
    when = clock()
    with writing(store.engine) as c:
        apply(c, survey, [new_tree({"tree": "T2"})], who="Ada", when=when)
        reader = threading.Thread(target=lambda: seen.append(store.load(survey)))
        reader.start()
        reader.join(timeout=20)
    assert [i.body["cells"]["tree"] for i in seen[0].of("tree")] == ["T1"]
    assert store.load(survey).tree("T2") is not None


def short_of_room(way, where):
    done = subprocess.run(
        [sys.executable, "-W", "error", "-m", "tests.store.short_of_room", way, str(where)],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stdout + done.stderr
    return json.loads(done.stdout)


def test_a_disk_that_fills_up_at_any_point_loses_nothing_confirmed(tmp_path):
    found = short_of_room("full", tmp_path / "data")
    assert found["lost"] == []
    assert found["left"] == 0
    # Each time the disk was full it was told, by the database or by the file.
    assert len(found["told"]) == 4
    assert all("the database does not answer" in t or "cannot be kept" in t for t in found["told"])
    assert found["kept"] > 8


def test_a_folder_nobody_may_write_to_is_told():
    # Where any user may look: test folders are their owner's alone.
    where = Path(tempfile.mkdtemp())
    where.chmod(0o755)
    try:
        found = short_of_room("read-only", where)
        kept, changed = found["told"]
        assert "cannot be kept: Permission denied" in kept
        assert "readonly" in changed or "unable to open" in changed
        assert hashlib.sha256(b"before").hexdigest() in found["files"]
    finally:
        for folder, _, _ in os.walk(where):
            Path(folder).chmod(0o755)
        shutil.rmtree(where)


def test_a_damaged_page_is_told_by_whoever_meets_it(tmp_path, clock):
    with Store.open(tmp_path) as store:
        number = store.create_survey(
            "Saltgate", visited=clock().date(), units="metric", who="Ada", when=clock()
        )
        for n in range(60):
            edits = [new_tree({"tree": f"T{n}", "notes": "x" * 2_000})]
            store.change(number, edits, who="Ada", when=clock())
    path = tmp_path / DATABASE
    with contextlib.closing(sqlite3.connect(path)) as c:
        c.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        size = c.execute("PRAGMA page_size").fetchone()[0]
        root = c.execute("SELECT rootpage FROM sqlite_master WHERE name = 'items'").fetchone()[0]
    raw = bytearray(path.read_bytes())
    raw[(root - 1) * size : root * size] = b"\xa5" * size
    path.write_bytes(raw)
    with Store.open(tmp_path) as store:
        # Told in words, not a failure of the program; what is elsewhere can still be read.
        with pytest.raises(StoreError, match="malformed"):
            store.load(number)
        with pytest.raises(StoreError, match="malformed"):
            store.change(number, [new_tree({"tree": "T99"})], who="Ada", when=clock())
        assert store.surveys()[0].name == "Saltgate"
        assert any("malformed" in fault or "database:" in fault for fault in verify(store))
