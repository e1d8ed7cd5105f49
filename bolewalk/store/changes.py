"""Changes of a survey: applied whole or not at all, undone, redone, remembered."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, RowMapping, func, insert, select, tuple_, update

from bolewalk.store.bodies import check_body
from bolewalk.store.errors import StoreError
from bolewalk.store.items import (
    Action,
    Applied,
    Change,
    Clash,
    Conflict,
    Edit,
    Item,
    as_text,
    from_text,
    stamp,
)
from bolewalk.store.rows import column_text, fits_column
from bolewalk.store.schema import changes, groups, items, surveys

__all__ = ["apply", "check_edits", "history", "locked", "sent", "undo"]

_FEW = 50


@dataclass(frozen=True, slots=True)
class _Step:
    """One item to write: its row (None = new), and what it becomes."""

    row: RowMapping | None
    kind: str
    key: str
    body: str | None
    place: float


def locked(connection: Connection, survey_id: int) -> RowMapping:
    """Give a survey's row and keep other writers of the survey waiting.

    Raises
    ------
    StoreError
        There is no such survey.
    """
    row = connection.execute(
        select(surveys).where(surveys.c.id == survey_id).with_for_update()
    ).mappings().first()  # fmt: skip
    if row is None:
        raise StoreError(f"there is no survey {survey_id}")
    return row


def sent(connection: Connection, survey_id: int, *, who: str, send: str) -> Applied | None:
    """Give what came of a person's sending, None where it is not known: its first time, or it
    changed nothing."""
    if not send:
        return None
    revision = connection.execute(
        select(groups.c.id).where(
            groups.c.survey_id == survey_id, groups.c.who == column_text(who), groups.c.send == send
        )
    ).scalar()
    if revision is None:
        return None
    found = connection.execute(
        select(items.c.kind, items.c.key, changes.c.version, changes.c.place_after, changes.c.after)
        .join(items, items.c.id == changes.c.item_id)
        .where(changes.c.group_id == revision)
        .order_by(changes.c.id)
    )
    return Applied(revision, tuple(Item(*row[:4], from_text(row.after)) for row in found))


def apply(
    connection: Connection,
    survey_id: int,
    edits: Sequence[Edit],
    *,
    who: str,
    when: datetime,
    note: str = "",
    action: Action = "change",
    send: str = "",
) -> Applied | Conflict:
    """Apply edits as one group; see `Store.change`."""
    revision: int = locked(connection, survey_id)["revision"]
    check_edits(edits)
    rows = _rows(connection, survey_id, [(e.kind, e.key) for e in edits])
    clashes = [
        _clash(connection, e, rows.get((e.kind, e.key)))
        for e in edits
        if e.key and not _fits(e, rows.get((e.kind, e.key)))
    ]
    if clashes:
        return Conflict(tuple(clashes))
    steps = _steps(edits, rows, _ends(connection, survey_id))
    if not steps:
        return Applied(revision, ())
    group = _group(survey_id, who, when, action, None, note, send)
    return _write(connection, survey_id, steps, group)


def check_edits(edits: Sequence[Edit]) -> None:
    """Refuse edits that could not be kept. Raises StoreError."""
    named = Counter((e.kind, e.key) for e in edits if e.key)
    for (kind, key), times in named.items():
        if times > 1:
            raise StoreError(f"{kind} {key} is edited twice in one change")
    for e in edits:
        check_body(e.kind, e.key, e.body)
        if not fits_column(e.key):
            raise StoreError(
                f"a key of a {e.kind} cannot hold a null, nor half a character: {ascii(e.key)[:80]}"
            )
        if not e.key and (e.version or e.body is None):
            raise StoreError(f"an edit of a {e.kind} that is there must name it")


def _rows(
    connection: Connection, survey_id: int, wanted: Sequence[tuple[str, str]]
) -> dict[tuple[str, str], RowMapping]:
    query = select(items).where(items.c.survey_id == survey_id)
    # Beyond some dozens the whole survey comes faster than its parts, within every limit of SQL.
    if len(wanted) <= _FEW:
        query = query.where(tuple_(items.c.kind, items.c.key).in_(wanted))
    found = connection.execute(query).mappings()
    return {(r["kind"], r["key"]): r for r in found}


def _ends(connection: Connection, survey_id: int) -> dict[str, tuple[float, int]]:
    """Give, by kind, the last place and how many items there ever were."""
    found = connection.execute(
        select(items.c.kind, func.max(items.c.place), func.count())
        .where(items.c.survey_id == survey_id)
        .group_by(items.c.kind)
    )
    return {kind: (last, count) for kind, last, count in found}


def _version(row: RowMapping | None) -> int:
    return 0 if row is None else row["version"]


def _fits(edit: Edit, row: RowMapping | None) -> bool:
    """Tell whether an edit was made on an item as it is: one that was removed may be made anew."""
    if edit.version == 0 and row is not None and row["body"] is None:
        return edit.body is not None
    return _version(row) == edit.version


def _steps(
    edits: Sequence[Edit],
    rows: dict[tuple[str, str], RowMapping],
    ends: dict[str, tuple[float, int]],
) -> list[_Step]:
    steps = []
    for e in edits:
        row = rows.get((e.kind, e.key)) if e.key else None
        body = as_text(e.body)
        if row is not None:
            place = row["place"] if e.place is None else e.place
            if body == row["body"] and place == row["place"]:
                continue
        elif body is None:
            continue
        else:
            last, count = ends.get(e.kind, (0.0, 0))
            place = last + 1 if e.place is None else e.place
            ends[e.kind] = (max(last, place), count + 1)
        # Items are never taken out of the table, so their count makes a new name.
        key = e.key or f"{e.kind}-{ends[e.kind][1]}"
        steps.append(_Step(row, e.kind, key, body, place))
    return steps


def _clash(connection: Connection, edit: Edit, row: RowMapping | None) -> Clash:
    if row is None:
        return Clash(edit, None, None, "", "")
    base = None
    # A version that never was has nothing to it; a number no database takes must not reach one.
    if 0 < edit.version <= row["version"]:
        base = connection.execute(
            select(changes.c.after).where(
                changes.c.item_id == row["id"], changes.c.version == edit.version
            )
        ).scalar()
    by = connection.execute(
        select(groups.c.who, groups.c.at)
        .join(changes, changes.c.group_id == groups.c.id)
        .where(changes.c.item_id == row["id"], changes.c.version == row["version"])
    ).one()
    return Clash(edit, from_text(base), _item(row), by.who, by.at)


def _item(row: RowMapping) -> Item:
    return Item(row["kind"], row["key"], row["version"], row["place"], from_text(row["body"]))


def _group(
    survey_id: int, who: str, when: datetime, action: Action, of: int | None, note: str, send: str
) -> dict[str, Any]:
    return {
        "survey_id": survey_id, "at": stamp(when), "who": column_text(who), "action": action,
        "of_group": of, "note": column_text(note), "send": send or None,
    }  # fmt: skip


def _write(
    connection: Connection, survey_id: int, steps: Sequence[_Step], group: dict[str, Any]
) -> Applied:
    revision = connection.execute(insert(groups).values(group).returning(groups.c.id)).scalar_one()
    now: list[Item] = []
    entries: list[dict[str, Any]] = []
    for step in steps:
        old = step.row
        version = _version(old) + 1
        values = {"body": step.body, "place": step.place, "version": version}
        if old is None:
            made = insert(items).values(
                survey_id=survey_id, kind=step.kind, key=step.key, **values
            )  # fmt: skip
            item_id = connection.execute(made.returning(items.c.id)).scalar_one()
        else:
            item_id = old["id"]
            connection.execute(update(items).where(items.c.id == item_id).values(values))
        entries.append({
            "group_id": revision, "item_id": item_id, "version": version,
            "before": None if old is None else old["body"], "after": step.body,
            "place_before": None if old is None else old["place"], "place_after": step.place,
        })  # fmt: skip
        now.append(Item(step.kind, step.key, version, step.place, from_text(step.body)))
    connection.execute(insert(changes), entries)
    connection.execute(update(surveys).where(surveys.c.id == survey_id).values(revision=revision))
    return Applied(revision, tuple(now))


def undo(
    connection: Connection,
    survey_id: int,
    *,
    who: str,
    when: datetime,
    again: bool = False,
    send: str = "",
) -> Applied | Conflict | None:
    """Take back a person's last change, or do the last one taken back `again`.

    None where there is nothing to take back. Conflict where someone has changed one of its items
    since: `base` is then what the person's own change had left.
    """
    locked(connection, survey_id)
    done, undone = _stacks(connection, survey_id, who)
    stack = undone if again else done
    if not stack:
        return None
    target = stack[-1]
    entries = (
        connection.execute(
            select(changes, items.c.kind, items.c.key)
            .join(items, items.c.id == changes.c.item_id)
            .where(changes.c.group_id == target)
            .order_by(changes.c.id)
        )
        .mappings()
        .all()
    )
    rows = _rows(connection, survey_id, [(e["kind"], e["key"]) for e in entries])
    steps: list[_Step] = []
    clashes: list[Clash] = []
    for entry in entries:
        row = rows[entry["kind"], entry["key"]]
        left, wanted = (entry["before"], entry["after"]) if again else (
            entry["after"], entry["before"]
        )  # fmt: skip
        place = entry["place_after" if again else "place_before"]
        if row["body"] != left:
            edit = Edit(entry["kind"], entry["key"], from_text(wanted), entry["version"])
            clash = _clash(connection, edit, row)
            clashes.append(replace(clash, base=from_text(left)))
        place = row["place"] if place is None else place
        steps.append(_Step(row, entry["kind"], entry["key"], wanted, place))
    if clashes:
        return Conflict(tuple(clashes))
    action: Action = "redo" if again else "undo"
    group = _group(survey_id, who, when, action, target, "", send)
    return _write(connection, survey_id, steps, group)


def _stacks(connection: Connection, survey_id: int, who: str) -> tuple[list[int], list[int]]:
    """Give a person's changes that stand, and those taken back, each in order."""
    done: list[int] = []
    undone: list[int] = []
    found = connection.execute(
        select(groups.c.id, groups.c.action, groups.c.of_group)
        .where(groups.c.survey_id == survey_id, groups.c.who == column_text(who))
        .order_by(groups.c.id)
    )
    for number, action, of in found:
        if action == "change":
            done.append(number)
            undone.clear()
        elif action == "undo" and of in done:
            done.remove(of)
            undone.append(of)
        elif action == "redo" and of in undone:
            undone.remove(of)
            done.append(of)
    return done, undone


def history(
    connection: Connection, survey_id: int, *, kind: str | None, key: str | None
) -> tuple[Change, ...]:
    """Give the changes of a survey, a kind or one item, oldest first."""
    query = (
        select(
            groups.c.id, groups.c.at, groups.c.who, groups.c.action, groups.c.of_group,
            groups.c.note, items.c.kind, items.c.key, changes.c.version, changes.c.before,
            changes.c.after,
        )
        .join(changes, changes.c.group_id == groups.c.id)
        .join(items, items.c.id == changes.c.item_id)
        .where(groups.c.survey_id == survey_id)
        .order_by(changes.c.id)
    )  # fmt: skip
    if kind is not None:
        query = query.where(items.c.kind == kind)
    if key is not None:
        query = query.where(items.c.key == key)
    return tuple(
        Change(*row[:9], from_text(row.before), from_text(row.after))
        for row in connection.execute(query)
    )
