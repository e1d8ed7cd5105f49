"""A store copied while it is used, and brought back: a backup is itself a data folder."""

import os
import shutil
import sqlite3
import tempfile
from collections.abc import Sequence
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

from sqlalchemy import Connection, delete, func, insert, select, text

from bolewalk.store.checking import verify
from bolewalk.store.database import open_database, reading, writing
from bolewalk.store.errors import StoreError
from bolewalk.store.media import MediaFolder
from bolewalk.store.schema import METADATA, sessions
from bolewalk.store.store import DATABASE, MEDIA, Store

__all__ = ["Copied", "backup", "check_backup", "restore"]

_ROWS = 500


@dataclass(frozen=True, slots=True)
class Copied:
    """What a backup or restore holds: files and their bytes, how many were copied now, and what
    is wrong with it, in words."""

    files: int
    size: int
    new_files: int
    faults: tuple[str, ...]


def backup(store: Store, out: Path) -> Copied:
    """Copy a store to a folder while others go on working in it.

    Parameters
    ----------
    store : Store
        On SQLite or PostgreSQL.
    out : Path
        Empty or missing, or an earlier backup: it is brought up to date, files it already has are
        not copied again. Its database is put in place last, so that a backup cut short leaves the
        earlier one whole.

    Returns
    -------
    Copied
        One state of the whole store, as of one moment, checked after copying.

    Raises
    ------
    StoreError
        `out` is something else, is the store itself, or cannot be written to.
    """
    target = out / DATABASE
    try:
        out.mkdir(parents=True, exist_ok=True)
        if any(out.iterdir()) and not target.is_file():
            raise StoreError(f"{out} is neither empty nor an earlier backup")
        if (out / MEDIA).resolve() == store.files.root:
            raise StoreError(f"{out} is the store itself")
        if any((out / f"{DATABASE}{end}").exists() for end in ("-wal", "-journal")):
            raise StoreError(f"{out} is open as a store somewhere; give another folder")
        new = out / f"{DATABASE}.new"
        new.unlink(missing_ok=True)
        _copy_database(store, new)
        files, size, copied = _copy_files(store.files, new, MediaFolder(out / MEDIA))
        os.replace(new, target)
        _drop_files(target, MediaFolder(out / MEDIA))
    except OSError as e:
        raise StoreError(f"cannot write the backup to {out}: {e.strerror or e}") from e
    except sqlite3.Error as e:
        raise StoreError(f"cannot write the backup to {out}: {e}") from e
    return Copied(files, size, copied, check_backup(out))


def check_backup(folder: Path) -> tuple[str, ...]:
    """Check a backup without changing it; give what is wrong, in words."""
    with tempfile.TemporaryDirectory() as copy:
        # A copy, for opening brings an older schema up to date.
        shutil.copyfile(folder / DATABASE, Path(copy, DATABASE))
        with Store.open(Path(copy), media=folder / MEDIA) as store:
            return verify(store)


def _copy_database(store: Store, out: Path) -> None:
    if store.engine.dialect.name == "sqlite":
        database = str(store.engine.url.database)
        with closing(sqlite3.connect(database)) as source, closing(sqlite3.connect(out)) as copy:
            source.backup(copy)
            # One file, to be carried anywhere; opening it as a store turns this back.
            copy.execute("PRAGMA journal_mode=DELETE")
        return
    engine = open_database(out)
    try:
        with reading(store.engine) as source_c, writing(engine) as copy_c:
            _copy_rows(source_c, copy_c)
    finally:
        engine.dispose()
    with closing(sqlite3.connect(out)) as copy:
        copy.execute("PRAGMA journal_mode=DELETE")


def _copy_rows(source: Connection, out: Connection) -> None:
    for table in METADATA.sorted_tables:
        order = list(table.primary_key.columns)
        rows = source.execute(select(table).order_by(*order)).mappings()
        while some := rows.fetchmany(_ROWS):
            out.execute(insert(table), [dict(row) for row in some])


def _copy_files(source: MediaFolder, database: Path, out: MediaFolder) -> tuple[int, int, int]:
    """Copy the files a database knows; give how many, their bytes, and how many were new.

    A file that is missing or damaged in the store is left to the check to tell.
    """
    with closing(sqlite3.connect(database)) as c:
        known: Sequence[tuple[str, int]] = c.execute(
            "SELECT sha256, size FROM media ORDER BY sha256"
        ).fetchall()
    copied = 0
    for sha256, _ in known:
        if not out.path(sha256).exists() and source.path(sha256).exists():
            with source.open(sha256) as stream:
                out.put(stream)
            copied += 1
    return len(known), sum(size for _, size in known), copied


def _drop_files(database: Path, out: MediaFolder) -> None:
    """Take away files an earlier backup had and the store has no more: they were to be gone."""
    with closing(sqlite3.connect(database)) as c:
        known = {row[0] for row in c.execute("SELECT sha256 FROM media")}
    for sha256 in list(out.names()):
        if sha256 not in known:
            out.path(sha256).unlink(missing_ok=True)


def restore(folder: Path, where: str | Path, *, media_folder: Path | None = None) -> Copied:
    """Bring a backup back as a store, on SQLite or PostgreSQL whichever it came from.

    Parameters
    ----------
    folder : Path
        What `backup` wrote.
    where : str or Path
        A data folder or a URL, as for `Store.open`; there must be no surveys in it.
    media_folder : Path, optional
        As for `Store.open`.

    Raises
    ------
    StoreError
        No backup, a damaged one (nothing is restored then), or a store that is in use.
    """
    if not (folder / DATABASE).is_file():
        raise StoreError(f"{folder} is no backup: there is no {DATABASE} in it")
    try:
        with tempfile.TemporaryDirectory() as copy:
            shutil.copyfile(folder / DATABASE, Path(copy, DATABASE))
            with Store.open(Path(copy), media=folder / MEDIA) as kept:
                faults = verify(kept)
                if faults:
                    raise StoreError("the backup is damaged: " + "; ".join(faults))
                with Store.open(where, media=media_folder) as store:
                    return _restored(kept, store)
    except OSError as e:
        raise StoreError(f"cannot restore: {e.strerror or e}") from e
    except sqlite3.Error as e:
        raise StoreError(f"cannot restore: {e}") from e


def _restored(kept: Store, store: Store) -> Copied:
    with reading(store.engine) as c:
        for table in METADATA.sorted_tables:
            if c.execute(select(func.count()).select_from(table)).scalar_one():
                raise StoreError("there are surveys already; restore into an empty place")
    database = Path(str(kept.engine.url.database))
    files, size, copied = _copy_files(kept.files, database, store.files)
    with reading(kept.engine) as source, writing(store.engine) as out:
        _copy_rows(source, out)
        # Who had signed out since the backup was made must not be signed in again by it.
        out.execute(delete(sessions))
        _set_counters(out)
    return Copied(files, size, copied, verify(store))


def _set_counters(c: Connection) -> None:
    """Let new rows be numbered after the restored ones; SQLite does so by itself."""
    if c.dialect.name != "postgresql":
        return
    for table in METADATA.sorted_tables:
        if "id" not in table.c:
            continue
        highest = c.execute(select(func.max(table.c.id))).scalar()
        if highest is not None:
            c.execute(
                text("SELECT setval(pg_get_serial_sequence(:t, 'id'), :n)"),
                {"t": table.name, "n": highest},
            )
