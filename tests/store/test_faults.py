"""Full disks, lost servers and clocks that jump: told, and nothing half kept."""

import errno
import io
import os
import threading
from datetime import timedelta

import pytest
from sqlalchemy import event, text

from bolewalk.store.checking import verify
from bolewalk.store.edits import new_tree, set_cells
from bolewalk.store.errors import StoreError
from bolewalk.store.items import Applied, Edit
from bolewalk.store.store import Store


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
