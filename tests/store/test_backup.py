"""Backup while others work, restore on either database, and damage that is found."""

import io
import shutil
import sqlite3
import threading
from contextlib import closing

import pytest

from bolewalk.store.backup import backup, check_backup, restore
from bolewalk.store.checking import verify
from bolewalk.store.edits import set_cells
from bolewalk.store.errors import StoreError
from bolewalk.store.issues import list_issues, seal
from bolewalk.store.items import Applied, Edit
from bolewalk.store.store import Store


@pytest.fixture
def full(store, demo, tmp_path, clock):
    """A store with a survey, changes, an issue and a file."""
    number = store.import_folder(demo, who="Ada", when=clock()).survey_id
    tree = store.load(number).tree("T7")
    store.change(number, [set_cells(tree, {"height": "71"})], who="Ada", when=clock())
    (tmp_path / "papers").mkdir()
    (tmp_path / "papers" / "report.pdf").write_bytes(b"%PDF")
    revision = store.load(number).revision
    seal(store, number, tmp_path / "papers", revision=revision, title="R", who="A", when=clock())
    return store


def same(a: Store, b: Store) -> None:
    assert a.surveys() == b.surveys()
    for entry in a.surveys():
        assert a.load(entry.id) == b.load(entry.id)
        assert a.history(entry.id) == b.history(entry.id)
        assert list_issues(a, entry.id) == list_issues(b, entry.id)
        assert a.job(entry.id).survey == b.job(entry.id).survey
    assert list(a.files.names()) == list(b.files.names())


def test_a_backup_is_a_store_of_its_own(full, tmp_path):
    done = backup(full, tmp_path / "backup")
    assert done.faults == ()
    assert done.files == done.new_files == len(list(full.files.names()))
    with Store.open(tmp_path / "backup") as copy:
        same(full, copy)


@pytest.mark.parametrize("to", ["sqlite", "postgresql"])
def test_restored_on_either_database_and_worked_in(full, to, tmp_path, new_url, clock):
    backup(full, tmp_path / "backup")
    where = tmp_path / "new" if to == "sqlite" else new_url()
    folder = None if to == "sqlite" else tmp_path / "new"
    assert restore(tmp_path / "backup", where, media_folder=folder).faults == ()
    with Store.open(where, media=folder) as other:
        same(full, other)
        # Undo works across, and new rows take numbers of their own.
        assert isinstance(other.undo(1, who="Ada", when=clock()), Applied)
        assert isinstance(
            other.change(1, [Edit("note", "", {"text": "x"})], who="B", when=clock()), Applied
        )
        assert verify(other) == ()


def test_a_second_backup_copies_what_is_new(full, tmp_path, clock):
    first = backup(full, tmp_path / "backup")
    full.put_media(io.BytesIO(b"a new recording"), when=clock())
    second = backup(full, tmp_path / "backup")
    assert (second.files, second.new_files) == (first.files + 1, 1)
    with Store.open(tmp_path / "backup") as copy:
        same(full, copy)


def test_backup_while_others_write_is_one_moment(full, tmp_path, clock):
    """Pairs of notes are written together: no backup may hold half a pair."""
    when = clock()
    stop = threading.Event()
    wrote = []

    def write():
        n = 0
        while not stop.is_set():
            n += 1
            pair = [Edit("note", "", {"text": f"{n}{side}"}) for side in "ab"]
            wrote.append(full.change(1, pair, who="Ben", when=when))

    thread = threading.Thread(target=write)
    thread.start()
    try:
        counts = []
        for n in range(3):
            while len(wrote) < 5 * (n + 1):
                pass
            assert backup(full, tmp_path / f"backup{n}").faults == ()
            with Store.open(tmp_path / f"backup{n}") as copy:
                texts = [i.body["text"] for i in copy.load(1).of("note")]
            counts.append(len(texts))
            assert {t[:-1] for t in texts if t[-1] == "a"} == {
                t[:-1] for t in texts if t[-1] == "b"
            }
    finally:
        stop.set()
        thread.join()
    assert counts == sorted(counts)
    assert counts[0] >= 10
    assert all(isinstance(w, Applied) for w in wrote)


def test_what_is_not_overwritten(full, tmp_path):
    (tmp_path / "mine").mkdir()
    (tmp_path / "mine" / "letter.txt").write_text("mine")
    with pytest.raises(StoreError, match="neither empty nor an earlier backup"):
        backup(full, tmp_path / "mine")
    backup(full, tmp_path / "backup")
    with pytest.raises(StoreError, match="there are surveys already"):
        restore(tmp_path / "backup", tmp_path / "backup")
    with pytest.raises(StoreError, match="is no backup"):
        restore(tmp_path / "mine", tmp_path / "new")


def test_a_store_is_not_its_own_backup(full, tmp_path):
    with pytest.raises(StoreError, match=r"is the store itself|neither empty nor"):
        backup(full, tmp_path / "data")


def test_a_damaged_backup_is_told_and_not_restored(full, tmp_path):
    backup(full, tmp_path / "backup")
    first = next(full.files.names())
    path = tmp_path / "backup" / "media" / first[:2] / first
    path.write_bytes(path.read_bytes() + b" ")
    (fault, *_) = check_backup(tmp_path / "backup")
    assert fault == f"kept file {first[:12]}: missing or changed"
    with pytest.raises(StoreError, match="the backup is damaged"):
        restore(tmp_path / "backup", tmp_path / "new")
    assert not (tmp_path / "new").exists()


def test_a_damaged_page_of_the_database_is_told(full, tmp_path):
    backup(full, tmp_path / "backup")
    database = tmp_path / "backup" / "store.db"
    body = bytearray(database.read_bytes())
    for n in range(4096 * 3, len(body), 4096):
        body[n : n + 64] = b"\x00" * 64
    database.write_bytes(body)
    try:
        faults = check_backup(tmp_path / "backup")
    except StoreError as e:
        faults = (str(e),)
    assert faults
    assert "database" in faults[0] or "cannot open" in faults[0]
    with pytest.raises(StoreError, match=r"damaged|cannot|malformed"):
        restore(tmp_path / "backup", tmp_path / "new")


TREE_7 = "(SELECT id FROM items WHERE key = 'tree-7')"
SPOILED = {
    f"UPDATE items SET body = '{{}}' WHERE id = {TREE_7}": "not what its last change left",
    f"DELETE FROM changes WHERE version = 1 AND item_id = {TREE_7}": "breaks at version 2",
    "UPDATE surveys SET revision = 99": "revision 99, last change 2",
    "DELETE FROM media": "trees.csv is not among the kept files",
}


@pytest.mark.parametrize("spoil", SPOILED)
def test_the_check_finds_what_does_not_fit(full, tmp_path, spoil):
    backup(full, tmp_path / "backup")
    assert check_backup(tmp_path / "backup") == ()
    with closing(sqlite3.connect(tmp_path / "backup" / "store.db")) as c:
        c.execute(spoil)
        c.commit()
    faults = check_backup(tmp_path / "backup")
    assert any(SPOILED[spoil] in f for f in faults), faults


def test_a_lost_file_is_told(full):
    assert verify(full) == ()
    shutil.rmtree(full.files.root / next(full.files.names())[:2])
    assert any(f.endswith("missing or changed") for f in verify(full))
    assert verify(full, files=False) == ()
