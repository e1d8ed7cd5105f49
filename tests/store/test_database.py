"""The schema and the steps to it, the same on both databases."""

import resource
import shutil
import sqlite3
from contextlib import closing

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import insert, text

from bolewalk.store import database, migrations
from bolewalk.store.errors import StoreError
from bolewalk.store.schema import HEAD, METADATA, surveys
from bolewalk.store.store import Store


def test_the_steps_lead_to_the_schema(fresh_place):
    with Store.open(**fresh_place) as store, store.engine.connect() as c:
        assert compare_metadata(MigrationContext.configure(c), METADATA) == []
        assert c.execute(text("SELECT version_num FROM alembic_version")).scalar() == HEAD


def test_the_newest_step_is_the_one_named():
    script = ScriptDirectory(migrations.__path__[0])
    assert script.get_heads() == [HEAD]


def test_opened_again_it_is_the_same_store(fresh_place, clock):
    with Store.open(**fresh_place) as store:
        store.create_survey("A", visited=clock().date(), units="metric", who="Ada", when=clock())
        seen = store.surveys()
    with Store.open(**fresh_place) as store:
        assert store.surveys() == seen


def test_a_newer_store_is_refused_and_left_alone(fresh_place):
    with Store.open(**fresh_place) as store, store.engine.begin() as c:
        c.execute(text("UPDATE alembic_version SET version_num = '9001'"))
    with pytest.raises(StoreError, match=f"schema 9001.*knows up to {HEAD}"):
        Store.open(**fresh_place)


def test_what_cannot_be_opened_is_told(tmp_path):
    (tmp_path / "file").write_text("x")
    with pytest.raises(StoreError, match="cannot open"):
        Store.open(tmp_path / "file")
    (tmp_path / "data").mkdir()
    (tmp_path / "data" / "store.db").write_text("this is no database at all, only text")
    with pytest.raises(StoreError, match=r"cannot open.*not a database"):
        Store.open(tmp_path / "data")


def test_a_disk_too_full_to_open_on_is_told(tmp_path, monkeypatch):
    Store.open(tmp_path).close()
    # What the system does on a full disk, by its limit on the size of files.
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    usage = shutil.disk_usage(tmp_path)._replace(free=20_000)
    monkeypatch.setattr(shutil, "disk_usage", lambda _: usage)
    resource.setrlimit(resource.RLIMIT_FSIZE, (1_000, hard))
    try:
        with pytest.raises(StoreError, match="the disk is full, make a little room on it"):
            Store.open(tmp_path)
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
    Store.open(tmp_path).close()


def test_urls(tmp_path):
    with pytest.raises(StoreError, match="needs a folder for the media"):
        Store.open("postgresql://keeper@/none")
    with pytest.raises(StoreError, match="give postgresql"):
        Store.open("mysql://keeper@/none", media=tmp_path)
    url = f"postgresql://keeper:hidden@/none?host={tmp_path}"
    with pytest.raises(StoreError, match="cannot open") as told:
        Store.open(url, media=tmp_path)
    assert "hidden" not in str(told.value)


def test_sqlite_is_set_to_lose_nothing(tmp_path):
    with Store.open(tmp_path) as store, store.engine.connect() as c:
        found = {
            p: c.exec_driver_sql(f"PRAGMA {p}").scalar()
            for p in ("journal_mode", "synchronous", "foreign_keys")
        }
    # 2 = FULL, https://www.sqlite.org/pragma.html#pragma_synchronous
    assert found == {"journal_mode": "wal", "synchronous": 2, "foreign_keys": 1}


def test_several_open_a_new_store_at_once(fresh_place):
    """As when a service starts its workers: one makes the schema, the others wait."""
    import threading

    opened, wrong = [], []

    def run():
        try:
            opened.append(Store.open(**fresh_place))
        except Exception as e:
            wrong.append(e)

    threads = [threading.Thread(target=run) for _ in range(4)]
    for t in threads:
        t.start()
    for t in threads:
        t.join()
    for store in opened:
        store.close()
    assert wrong == []


def test_a_transaction_that_fails_leaves_nothing(store):
    row = {"firm": "", "name": "half", "visited": "", "created_at": "", "created_by": ""}

    def fail():
        with database.writing(store.engine) as c:
            c.execute(insert(surveys).values(**row, revision=0))
            raise RuntimeError

    with pytest.raises(RuntimeError):
        fail()
    assert store.surveys() == ()


def test_the_file_is_plain_sqlite(tmp_path):
    Store.open(tmp_path).close()
    with closing(sqlite3.connect(tmp_path / "store.db")) as c:
        assert c.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
