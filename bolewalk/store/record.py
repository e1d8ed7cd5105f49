"""record.json: what the tables of a survey folder cannot hold, so that a folder holds it too.

It is the history of the survey, change by change (the items are what the last change left), and the
sealed issues of its papers. Files only these name lie beside it, in record/ under their SHA-256.
"""

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any, cast, get_args

from sqlalchemy import Connection, insert, select, update

from bolewalk.store.bodies import check_body
from bolewalk.store.errors import StoreError
from bolewalk.store.items import Action, Body, as_text, from_text, stamp
from bolewalk.store.record_issues import (
    IssueRecord,
    RemovedFile,
    issues_told,
    read_issues,
    read_removed,
    removed_told,
)
from bolewalk.store.rows import fits_column
from bolewalk.store.schema import changes, groups, items, surveys
from bolewalk.store.tables import json_bytes

__all__ = [
    "RECORD_FILE", "RECORD_FOLDER", "Group", "Record", "read_record", "record_told",
    "write_groups",
]  # fmt: skip

RECORD_FILE = "record.json"
RECORD_FOLDER = "record"
_FORMAT = "bolewalk record 2"
_FORMER = "bolewalk record 1"
"""Without issues."""
_LONGEST = 400_000_000
"""Bytes: a year of a large office's changes of one survey, many times over."""


@dataclass(frozen=True, slots=True)
class Step:
    """What one item became."""

    kind: str
    key: str
    place: float
    body: Body | None


@dataclass(frozen=True, slots=True)
class Group:
    """One change; `of` counts the groups from 0 and names the one an undo or redo is about."""

    at: str
    who: str
    action: Action
    of: int | None
    note: str
    steps: tuple[Step, ...]


@dataclass(frozen=True, slots=True)
class Record:
    """A record as read: groups of changes, issues, files known to be gone for good."""

    groups: tuple[Group, ...] = ()
    issues: tuple[IssueRecord, ...] = ()
    removed: tuple[RemovedFile, ...] = ()

    @property
    def files(self) -> frozenset[str]:
        """SHA-256 of every file the history or an issue names."""
        steps = (s for g in self.groups for s in g.steps if s.kind == "file")
        named = {s.body["sha256"] for s in steps if s.body is not None}
        return frozenset(named).union(*(i.files for i in self.issues))


def record_told(
    c: Connection, survey_id: int, *, revision: int
) -> tuple[bytes, frozenset[str]] | None:
    """Give the record of a survey up to a revision, and the SHA-256 of the files it names.

    None where the first change is all there is.
    """
    found = c.execute(
        select(groups)
        .where(groups.c.survey_id == survey_id, groups.c.id <= revision)
        .order_by(groups.c.id)
    ).all()  # fmt: skip
    number = {row.id: n for n, row in enumerate(found)}
    listed: list[dict[str, Any]] = [
        {
            "at": row.at, "who": row.who, "action": row.action, "note": row.note,
            **({} if row.of_group is None else {"of": number[row.of_group]}), "steps": [],
        }
        for row in found
    ]  # fmt: skip
    steps = c.execute(
        select(changes, items.c.kind, items.c.key)
        .join(items, items.c.id == changes.c.item_id)
        .where(items.c.survey_id == survey_id, changes.c.group_id <= revision)
        .order_by(changes.c.id)
    )
    for row in steps:
        listed[number[row.group_id]]["steps"].append(
            {
                "kind": row.kind, "key": row.key, "place": row.place_after,
                "body": from_text(row.after),
            }
        )  # fmt: skip
    sealed = issues_told(c, survey_id, number)
    if len(found) < 2 and not sealed:
        return None
    named = {
        step["body"]["sha256"]
        for group in listed
        for step in group["steps"]
        if step["kind"] == "file" and step["body"] is not None
    }
    files = frozenset(named).union(*(i.files for i in read_issues(sealed, groups=len(listed))))
    told = {"format": _FORMAT, "groups": listed, "issues": sealed}
    gone = removed_told(c, files)
    return json_bytes({**told, "removed": gone} if gone else told), files


def read_record(path: Path) -> Record:
    """Read a record.

    Raises
    ------
    StoreError
        It is none, or says what no store could have written; the text says where.
    """
    try:
        size = path.stat().st_size
        if size > _LONGEST:
            raise StoreError(f"{size:,} bytes; at most {_LONGEST:,}")
        raw = json.loads(path.read_bytes().decode("utf-8"))
    except (OSError, ValueError, RecursionError) as e:
        raise StoreError(f"no record: {e}") from None
    if not isinstance(raw, dict) or raw.get("format") not in (_FORMAT, _FORMER):
        raise StoreError(f"not a {_FORMAT}")
    listed = raw.get("groups")
    if not isinstance(listed, list) or not listed:
        raise StoreError("no groups of changes")
    read: list[Group] = []
    for n, group in enumerate(listed):
        try:
            read.append(_group(group, read))
        except StoreError as e:
            raise StoreError(f"group {n}: {e}") from None
    sealed = read_issues(raw.get("issues", []), groups=len(read))
    return Record(tuple(read), sealed, read_removed(raw.get("removed", [])))


def _group(raw: Any, before: Sequence[Group]) -> Group:
    if not isinstance(raw, Mapping):
        raise StoreError("not an object")
    who, note, action, of = (raw.get(k) for k in ("who", "note", "action", "of"))
    if not isinstance(who, str) or not isinstance(note, str) or not fits_column(who + note):
        raise StoreError("who and note must be texts")
    if action not in get_args(Action):
        raise StoreError(f"action {action!r}")
    takes_back = action in ("undo", "redo")
    if takes_back != (of is not None) or (takes_back and not _of(of, who, before)):
        raise StoreError("of must name an earlier change by the same person")
    try:
        at = stamp(datetime.fromisoformat(str(raw.get("at"))))
    except (ValueError, OverflowError):
        raise StoreError(f"at {raw.get('at')!r} is no time") from None
    steps = raw.get("steps")
    if not isinstance(steps, list) or not steps:
        raise StoreError("no steps")
    read = tuple(_step(s) for s in steps)
    if len({(s.kind, s.key) for s in read}) < len(read):
        raise StoreError("an item twice")
    return Group(at, who, cast(Action, action), cast("int | None", of), note, read)


def _of(of: object, who: str, before: Sequence[Group]) -> bool:
    if not isinstance(of, int) or isinstance(of, bool) or not 0 <= of < len(before):
        return False
    return before[of].action == "change" and before[of].who == who


def _step(raw: Any) -> Step:
    if not isinstance(raw, Mapping):
        raise StoreError("a step is no object")
    kind, key, place = (raw.get(k) for k in ("kind", "key", "place"))
    if not isinstance(kind, str) or not isinstance(key, str) or not key or not fits_column(key):
        raise StoreError("kind and key must be texts")
    if isinstance(place, bool) or not isinstance(place, int | float) or not abs(place) < 1e300:
        raise StoreError(f"place {place!r}")
    check_body(kind, key, raw.get("body"))
    return Step(kind, key, float(place), raw.get("body"))


def write_groups(c: Connection, survey_id: int, record: Sequence[Group]) -> list[int]:
    """Write the history of a survey that has none yet; give the revision each group became."""
    now: dict[tuple[str, str], dict[str, Any]] = {}
    numbers: list[int] = []
    for group in record:
        made = insert(groups).values(
            survey_id=survey_id, at=group.at, who=group.who, action=group.action,
            of_group=None if group.of is None else numbers[group.of], note=group.note,
        )  # fmt: skip
        numbers.append(c.execute(made.returning(groups.c.id)).scalar_one())
        entries = [_entry(c, survey_id, numbers[-1], step, now) for step in group.steps]
        c.execute(insert(changes), entries)
    for row in now.values():
        c.execute(update(items).where(items.c.id == row["id"]).values(row))
    c.execute(update(surveys).where(surveys.c.id == survey_id).values(revision=numbers[-1]))
    return numbers


def _entry(
    c: Connection,
    survey_id: int,
    group: int,
    step: Step,
    now: dict[tuple[str, str], dict[str, Any]],
) -> dict[str, Any]:
    body = as_text(step.body)
    old = now.get((step.kind, step.key))
    version = 1 if old is None else old["version"] + 1
    values = {"body": body, "place": step.place, "version": version}
    if old is None:
        made = insert(items).values(survey_id=survey_id, kind=step.kind, key=step.key, **values)
        item_id = c.execute(made.returning(items.c.id)).scalar_one()
    else:
        item_id = old["id"]
    now[step.kind, step.key] = {"id": item_id, **values}
    return {
        "group_id": group, "item_id": item_id, "version": version,
        "before": None if old is None else old["body"], "after": body,
        "place_before": None if old is None else old["place"], "place_after": step.place,
    }  # fmt: skip
