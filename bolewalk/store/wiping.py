"""The database written anew, so that what was deleted is in none of its pages."""

import sqlite3
import time

from sqlalchemy import Connection, Engine, Text, select, text
from sqlalchemy.exc import DBAPIError

from bolewalk.store.errors import NotWipedError
from bolewalk.store.schema import METADATA

__all__ = ["wipe"]

_WAIT_MS = 30_000
"""For what others do to come to its end; ours, no source."""


def wipe(engine: Engine) -> None:
    """Write the database anew, so that what was deleted is in none of its pages, nor in its log.

    Raises
    ------
    NotWipedError
        Others kept it open all the time, the disk is full, or the server does not let this user;
        the text says what to do.

    Notes
    -----
    On PostgreSQL the tables are written anew, and what the server knows of the values in them; its
    own log of writing holds what was deleted until the server has gone on far enough to use it
    again.
    """
    try:
        if engine.dialect.name == "postgresql":
            _postgres(engine)
        else:
            _sqlite(engine)
    except DBAPIError as e:
        raise NotWipedError(str(e.orig).splitlines()[0]) from e
    except sqlite3.Error as e:
        raise NotWipedError(str(e)) from e


def _sqlite(engine: Engine) -> None:
    raw = engine.raw_connection()
    try:
        cursor = raw.cursor()
        cursor.execute("VACUUM")
        busy = cursor.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()[0]
        cursor.close()
    finally:
        raw.close()
    if busy:
        raise NotWipedError("others read the database all the time")


def _postgres(engine: Engine) -> None:
    with engine.connect().execution_options(isolation_level="AUTOCOMMIT") as c:
        c.execute(text(f"SET lock_timeout = {_WAIT_MS}"))
        _wait_for_readers(c)
        _forget_statistics(c)
        for table in METADATA.sorted_tables:
            c.execute(text(f'VACUUM FULL "{table.name}"'))
        if not c.execute(text(_MAY_WRITE_STATISTICS)).scalar_one():
            raise NotWipedError(
                "this user does not own the database, and so cannot write anew what the server "
                "knows of the values in it"
            )
        c.execute(text("VACUUM FULL pg_statistic"))


_OLDER_READERS = """
SELECT count(*) FROM (
    SELECT backend_xmin AS xmin FROM pg_stat_activity
        WHERE datname = current_database() AND pid <> pg_backend_pid()
    UNION ALL SELECT xmin FROM pg_replication_slots
    UNION ALL SELECT transaction FROM pg_prepared_xacts WHERE database = current_database()
) AS open WHERE age(xmin) > age(CAST(:now AS xid))
"""
_MAY_WRITE_STATISTICS = """
SELECT pg_has_role(datdba, 'USAGE') FROM pg_database WHERE datname = current_database()
"""


def _wait_for_readers(c: Connection) -> None:
    """Wait until nobody reads a state from before now: for them the server keeps what was deleted,
    and copies it with the table."""
    now = c.execute(text("SELECT CAST(pg_current_xact_id() AS xid)::text")).scalar_one()
    until = time.monotonic() + _WAIT_MS / 1000
    while c.execute(text(_OLDER_READERS), {"now": now}).scalar_one():
        if time.monotonic() > until:
            raise NotWipedError("others read an earlier state of the database all the time")
        time.sleep(0.1)


def _forget_statistics(c: Connection) -> None:
    """Let the server forget samples it took of values that are gone."""
    for table in METADATA.sorted_tables:
        if c.execute(select(text("1")).select_from(table).limit(1)).first() is not None:
            continue
        # Samples of a table that is empty now are kept, unless a column is given its type anew.
        for column in table.columns:
            if isinstance(column.type, Text):
                c.execute(
                    text(f'ALTER TABLE "{table.name}" ALTER COLUMN "{column.name}" TYPE text')
                )
    c.execute(text(f"ANALYZE {', '.join(t.name for t in METADATA.sorted_tables)}"))
