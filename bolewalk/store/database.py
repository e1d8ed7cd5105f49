"""The database behind the store: opened, brought to the newest schema, one writer at a time."""

import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from sqlalchemy import URL, Connection, Engine, create_engine, event, inspect, make_url, text
from sqlalchemy.exc import DBAPIError, SQLAlchemyError

from bolewalk.store.errors import DatabaseError, StoreError
from bolewalk.store.schema import HEAD

__all__ = ["is_url", "open_database", "reading", "writing"]

_WAIT_S = 30
_LEAST_BYTES = 500_000
"""Room an open database takes beside itself: its log and the map of it."""
# Any number; it only must be the same in every process that opens the database.
_SCHEMA_LOCK = 4_150_710


def is_url(where: str | Path) -> bool:
    """Tell a database URL from the path of a folder."""
    return isinstance(where, str) and "://" in where


def open_database(where: str | Path) -> Engine:
    """Open a database and bring it to the newest schema.

    Parameters
    ----------
    where : str or Path
        URL of a PostgreSQL database, or path of an SQLite file, made where it is missing.

    Raises
    ------
    StoreError
        It cannot be opened, or a newer version of the program has written it.
    """
    url = _postgres(str(where)) if is_url(where) else URL.create("sqlite", database=str(where))
    try:
        engine = _engine(url)
        try:
            _upgrade(engine)
        except BaseException:
            engine.dispose()
            raise
    except (DatabaseError, SQLAlchemyError, sqlite3.Error, ImportError) as e:
        shown = url.render_as_string(hide_password=True)
        why = e.detail if isinstance(e, DatabaseError) else str(e).splitlines()[0]
        if not is_url(where) and _full(Path(where).parent):
            # Even reading takes a little: the database says only that the disk failed.
            why += "; the disk is full, make a little room on it"
        raise StoreError(f"cannot open {shown}: {why}") from e
    return engine


def _full(folder: Path) -> bool:
    try:
        return shutil.disk_usage(folder).free < _LEAST_BYTES
    except OSError:
        return False


def _postgres(where: str) -> URL:
    url = make_url(where)
    if url.get_backend_name() not in ("postgresql", "postgres"):
        raise StoreError(f"{url.drivername}: give postgresql://..., or the path of a folder")
    return url.set(drivername="postgresql+psycopg")


def _engine(url: URL) -> Engine:
    if url.get_backend_name() == "postgresql":
        return create_engine(url, pool_pre_ping=True, isolation_level="READ COMMITTED")
    engine = create_engine(url, connect_args={"timeout": _WAIT_S})

    @event.listens_for(engine, "connect")
    def _on_connect(connection: Any, _: object) -> None:
        # The driver would begin transactions late and commit them early; ours are explicit.
        connection.isolation_level = None
        connection.execute("PRAGMA journal_mode=WAL")
        # FULL: a confirmed change survives a power cut, not only the end of the process.
        connection.execute("PRAGMA synchronous=FULL")
        connection.execute("PRAGMA foreign_keys=ON")

    @event.listens_for(engine, "begin")
    def _on_begin(connection: Connection) -> None:
        # Writers take their turn at the start: one that began by reading could not wait.
        writes = connection.get_execution_options().get("writes", False)
        connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")

    return engine


@contextmanager
def writing(engine: Engine) -> Iterator[Connection]:
    """Give one transaction that may write: all of it is kept, or nothing.

    Raises
    ------
    DatabaseError
        The database is full, busy for too long, cut off or damaged; nothing is kept. Cut off at
        the very end, a server may have kept it all: load the survey again to see.
    """
    with _told(), engine.execution_options(writes=True).begin() as connection:
        yield connection


@contextmanager
def reading(engine: Engine) -> Iterator[Connection]:
    """Give one transaction that sees one state of the whole database. Errors as `writing`."""
    options: dict[str, Any] = (
        {"isolation_level": "REPEATABLE READ"} if engine.dialect.name == "postgresql" else {}
    )
    with _told(), engine.execution_options(**options).begin() as connection:
        yield connection


@contextmanager
def _told() -> Iterator[None]:
    try:
        yield
    except DBAPIError as e:
        raise DatabaseError(str(e.orig).splitlines()[0]) from e


def _upgrade(engine: Engine) -> None:
    with reading(engine) as connection:
        if _revision(connection) == HEAD:
            return
    # Alembic is loaded only where there is something to do: it costs a tenth of a second.
    from alembic import command
    from alembic.config import Config
    from alembic.script import ScriptDirectory

    config = Config()
    config.set_main_option(
        "script_location", str(Path(__file__).with_name("migrations")).replace("%", "%%")
    )
    with writing(engine) as connection:
        if engine.dialect.name == "postgresql":
            connection.execute(text("SELECT pg_advisory_xact_lock(:n)"), {"n": _SCHEMA_LOCK})
        found = _revision(connection)
        known = {s.revision for s in ScriptDirectory.from_config(config).walk_revisions()}
        if found is not None and found not in known:
            raise StoreError(
                f"the store has schema {found}, this version of bolewalk knows up to {HEAD}: "
                "open it with the newer version"
            )
        if found != HEAD:
            config.attributes["connection"] = connection
            command.upgrade(config, "head")


def _revision(connection: Connection) -> str | None:
    if not inspect(connection).has_table("alembic_version"):
        return None
    return connection.execute(text("SELECT version_num FROM alembic_version")).scalar()
