"""Rows of the store's tables read and written for the store."""

from collections.abc import Sequence
from datetime import datetime

from sqlalchemy import Connection, select, update
from sqlalchemy.dialects import postgresql, sqlite

from bolewalk.intake.toml_file import TomlError, parse_toml
from bolewalk.store.items import Applied, Conflict, Item, from_text, stamp
from bolewalk.store.media import Medium
from bolewalk.store.schema import changes, groups, items, media, surveys

__all__ = ["column_text", "fits_column", "items_at", "items_now", "know", "retitle", "title"]


def retitle(c: Connection, survey_id: int, result: Applied | Conflict | None) -> None:
    """Keep the list of surveys in step with the head."""
    if isinstance(result, Applied):
        for item in result.items:
            if item.kind == "head" and item.body is not None:
                title(c, survey_id, item.body["text"])


def title(c: Connection, survey_id: int, head: str) -> None:
    """Write name and date of a head into the list of surveys."""
    name, visited = _title(head)
    row = update(surveys).where(surveys.c.id == survey_id)
    c.execute(row.values(name=name, visited=visited))


def _title(head: str) -> tuple[str, str]:
    try:
        table = parse_toml(head).get("survey")
    except TomlError:
        return "", ""
    if not isinstance(table, dict):
        return "", ""
    return column_text(str(table.get("name", ""))), str(table.get("date", ""))


def column_text(text: str) -> str:
    """Give a text as a column of every database takes it: without nulls, half characters marked.

    Bodies need none of it, they are kept as JSON.
    """
    return text.replace("\x00", "").encode("utf-8", "replace").decode("utf-8")


def fits_column(text: str) -> bool:
    """Tell whether a column of every database takes a text as it is."""
    return column_text(text) == text


def know(c: Connection, kept: Sequence[Medium], when: datetime) -> None:
    """Write down files that are kept now."""
    # Two may bring the same file at the same moment.
    insert_new = postgresql.insert if c.dialect.name == "postgresql" else sqlite.insert
    for medium in kept:
        row = insert_new(media).values(sha256=medium.sha256, size=medium.size, added_at=stamp(when))
        c.execute(row.on_conflict_do_nothing())


def items_now(c: Connection, survey_id: int) -> tuple[Item, ...]:
    """Give the items of a survey that are there, by kind and in order."""
    rows = c.execute(
        select(items)
        .where(items.c.survey_id == survey_id, items.c.body.is_not(None))
        .order_by(items.c.kind, items.c.place, items.c.id)
    )
    return tuple(Item(r.kind, r.key, r.version, r.place, from_text(r.body)) for r in rows)


def items_at(c: Connection, survey_id: int, revision: int) -> tuple[Item, ...]:
    """Give the items that were there at a revision, by kind and in order."""
    rows = c.execute(
        select(
            items.c.id, items.c.kind, items.c.key, changes.c.version, changes.c.place_after,
            changes.c.after,
        )
        .join(changes, changes.c.item_id == items.c.id)
        .join(groups, groups.c.id == changes.c.group_id)
        .where(groups.c.survey_id == survey_id, groups.c.id <= revision)
        .order_by(changes.c.id)
    )  # fmt: skip
    last = {row.id: row for row in rows}
    there = sorted(
        (r for r in last.values() if r.after is not None),
        key=lambda r: (r.kind, r.place_after, r.id),
    )
    return tuple(Item(r.kind, r.key, r.version, r.place_after, from_text(r.after)) for r in there)
