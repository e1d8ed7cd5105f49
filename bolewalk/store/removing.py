"""Files taken out of the store for good: no copy is left in it, whenever it is stopped."""

import json
import os
import re
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from pathlib import Path

from sqlalchemy import Connection, Engine, select, text

from bolewalk.store.database import writing
from bolewalk.store.errors import StoreError
from bolewalk.store.media import MediaFolder
from bolewalk.store.schema import changes, issues, items, media

__all__ = ["Named", "files_named", "finish_removal", "intend_removal", "still_there"]

_HASH = re.compile(r'"sha256":\s*"([0-9a-f]{64})"')
_GOING = "going.json"


@dataclass(frozen=True, slots=True)
class Named:
    """SHA-256 of files: those some surveys name, now, ever or in a seal, and those others do."""

    here: frozenset[str]
    elsewhere: frozenset[str]


def files_named(c: Connection, survey_ids: Collection[int]) -> Named:
    """Give which kept files surveys name, and which of all files the other surveys name."""
    sets: tuple[set[str], set[str]] = (set(), set())
    history = (
        select(items.c.survey_id, changes.c.after)
        .join(items, items.c.id == changes.c.item_id)
        .where(items.c.kind == "file", changes.c.after.is_not(None))
    )
    for query in (history, select(issues.c.survey_id, issues.c.manifest)):
        for survey_id, said in c.execute(query):
            sets[survey_id not in survey_ids].update(_HASH.findall(said))
    return Named(frozenset(sets[0]), frozenset(sets[1]))


def intend_removal(files: MediaFolder, names: Iterable[str]) -> None:
    """Write down which files are to go, before the database forgets them.

    A process killed in between leaves them for `finish_removal`, which the next one calls.
    """
    path = files.root / _GOING
    files.root.mkdir(parents=True, exist_ok=True)
    listed = sorted({*names, *_intended(path)})
    with (files.root / f"{_GOING}.new").open("w", encoding="ascii") as out:
        json.dump(listed, out)
        out.flush()
        os.fsync(out.fileno())
    os.replace(files.root / f"{_GOING}.new", path)


def finish_removal(engine: Engine, files: MediaFolder) -> tuple[str, ...]:
    """Take away the files that were to go and that the database does not know; give which.

    One that was taken in again in the meantime stays.
    """
    path = files.root / _GOING
    if not path.exists():
        return ()
    gone = []
    with writing(engine) as c:
        if c.dialect.name == "postgresql":
            # Whoever takes in a file waits here, and then looks whether it is still there.
            c.execute(text("LOCK TABLE media IN SHARE ROW EXCLUSIVE MODE"))
        known = set(c.execute(select(media.c.sha256)).scalars())
        for sha256 in _intended(path):
            if sha256 not in known:
                files.path(sha256).unlink(missing_ok=True)
                gone.append(sha256)
        path.unlink()
    return tuple(gone)


def _intended(path: Path) -> list[str]:
    try:
        listed = json.loads(path.read_text(encoding="ascii"))
    except (OSError, ValueError):
        return []
    return [x for x in listed if isinstance(x, str)] if isinstance(listed, list) else []


def still_there(files: MediaFolder, names: Iterable[str]) -> None:
    """Refuse to count on files that were taken away while they were taken in; asked by whoever
    has just written them down, before the transaction ends. Raises StoreError."""
    if not all(files.path(n).exists() for n in names):
        raise StoreError("a file was taken away while it was taken in: bring it again")
