"""The store checked against itself: the database, the histories, every kept file."""

from collections.abc import Iterator
from typing import Any

from sqlalchemy import Connection, func, select, text

from bolewalk.store.database import reading
from bolewalk.store.errors import StoreError
from bolewalk.store.issues import check_issue, list_issues
from bolewalk.store.items import from_text
from bolewalk.store.schema import METADATA, changes, groups, items, media, surveys
from bolewalk.store.store import Store

__all__ = ["verify"]


def verify(store: Store, *, files: bool = True) -> tuple[str, ...]:
    """Check a store.

    Parameters
    ----------
    store : Store
    files : bool
        Read every kept file as well; without it only the database is checked.

    Returns
    -------
    tuple of str
        What is wrong, in words; empty where nothing is. Checked: the database's own integrity;
        that every item is what its last change left, with no step missing between; that every
        survey's revision is its last group; that every file named by a survey is known, and each
        known file there with its content; that sealed issues are what was sealed.
    """
    faults: list[str] = []
    try:
        with reading(store.engine) as c:
            for check in (_database, _histories, _revisions, _named_files):
                faults += check(c)
            known = {m.sha256: m.size for m in c.execute(select(media).order_by(media.c.sha256))}
        if files:
            for sha256, size in known.items():
                if store.files.check(sha256) != size:
                    faults.append(f"kept file {sha256[:12]}: missing or changed")
            for entry in store.surveys():
                for issue in list_issues(store, entry.id):
                    faults += check_issue(store, issue)
    except StoreError as e:
        faults.append(str(e))
    return tuple(faults)


def _database(c: Connection) -> Iterator[str]:
    if c.dialect.name != "sqlite":
        # Reading every row of every table is what a server offers a client for this.
        for table in METADATA.sorted_tables:
            c.execute(select(table)).all()
        return
    for (line,) in c.execute(text("PRAGMA integrity_check")):
        if line != "ok":
            yield f"database: {line}"
    for row in c.execute(text("PRAGMA foreign_key_check")):
        yield f"database: {row[0]} row {row[1]} names a row of {row[2]} that is not there"


def _histories(c: Connection) -> Iterator[str]:
    now = {r.id: r for r in c.execute(select(items))}
    last: dict[int, Any] = {}
    for row in c.execute(select(changes).order_by(changes.c.item_id, changes.c.version)):
        before = last.get(row.item_id)
        if before is None:
            whole = row.version == 1 and row.before is None
        else:
            whole = row.version == before.version + 1 and row.before == before.after
        if not whole:
            yield f"item {row.item_id}: its history breaks at version {row.version}"
        last[row.item_id] = row
    for key, item in now.items():
        end = last.get(key)
        if end is None or (end.version, end.after) != (item.version, item.body):
            yield f"item {key} ({item.kind} {item.key}): not what its last change left"


def _revisions(c: Connection) -> Iterator[str]:
    last = select(groups.c.survey_id, func.max(groups.c.id)).group_by(groups.c.survey_id)
    newest = {row[0]: row[1] for row in c.execute(last)}
    for row in c.execute(select(surveys)):
        if newest.get(row.id, 0) != row.revision:
            yield f"survey {row.id}: revision {row.revision}, last change {newest.get(row.id, 0)}"


def _named_files(c: Connection) -> Iterator[str]:
    known = set(c.execute(select(media.c.sha256)).scalars())
    named = select(items).where(items.c.kind == "file", items.c.body.is_not(None))
    for item in c.execute(named):
        body = from_text(item.body) or {}
        if body.get("sha256") not in known:
            yield f"survey {item.survey_id}: {item.key} is not among the kept files"
