"""Surveys of a client forgotten: rows, files, seals and links gone, and a certificate of it."""

import hashlib
import json
from collections.abc import Collection, Mapping
from dataclasses import asdict, dataclass, replace
from datetime import datetime
from typing import Any

from sqlalchemy import ColumnElement, Connection, Table, delete, func, select

from bolewalk.intake.toml_file import TomlError, parse_toml
from bolewalk.store.changes import locked
from bolewalk.store.database import reading, writing
from bolewalk.store.errors import NotWipedError
from bolewalk.store.items import SurveyEntry, from_text, stamp
from bolewalk.store.media import Medium
from bolewalk.store.removing import files_named, finish_removal, intend_removal
from bolewalk.store.schema import (
    changes,
    client_links,
    groups,
    issue_marks,
    issues,
    items,
    link_openings,
    media,
    surveys,
)
from bolewalk.store.store import Store
from bolewalk.store.wiping import wipe

__all__ = ["Certificate", "SurveyGone", "forget", "surveys_of_client", "would_forget"]


@dataclass(frozen=True, slots=True)
class SurveyGone:
    """One survey, without a word of it. `seals` are the SHA-256 of its issues with their days."""

    id: int
    taken_in_at: str
    items: int
    changes: int
    seals: tuple[tuple[str, str], ...]
    issue_marks: int
    links: int
    link_openings: int


@dataclass(frozen=True, slots=True)
class Certificate:
    """What went, in counts, hashes and dates: no name, no place, nothing anybody entered.

    Attributes
    ----------
    at : str
        When, ISO 8601 in UTC.
    surveys : tuple of SurveyGone
    files : tuple of Medium
        Gone for good, by SHA-256.
    files_elsewhere : tuple of str
        SHA-256 of files that other surveys have as well: they stay, for those.
    written_anew : bool
        The database was written anew: no page and no log of it holds what was deleted.
    """

    at: str
    surveys: tuple[SurveyGone, ...]
    files: tuple[Medium, ...]
    files_elsewhere: tuple[str, ...]
    written_anew: bool

    def as_dict(self) -> dict[str, Any]:
        """Give it as JSON values, with a SHA-256 over all the rest under "sha256"."""
        told: dict[str, Any] = {"certificate": "bolewalk removal 1", **asdict(self)}
        text = json.dumps(told, ensure_ascii=True, sort_keys=True, separators=(",", ":"))
        return {**told, "sha256": hashlib.sha256(text.encode()).hexdigest()}


def surveys_of_client(store: Store, name: str) -> tuple[SurveyEntry, ...]:
    """Give the surveys whose survey.toml names a client, now or at any time before.

    Parameters
    ----------
    store : Store
    name : str
        As under `people.client`; capitals and spaces do not count.
    """
    wanted = _plain(name)
    with reading(store.engine) as c:
        heads = c.execute(
            select(items.c.survey_id, changes.c.after)
            .join(items, items.c.id == changes.c.item_id)
            .where(items.c.kind == "head", changes.c.after.is_not(None))
        )
        found = {row.survey_id for row in heads if wanted in _clients(row.after)}
    return tuple(e for e in store.surveys() if e.id in found)


def _plain(name: str) -> str:
    return " ".join(name.casefold().split())


def _clients(after: str) -> set[str]:
    body = from_text(after) or {}
    try:
        people = parse_toml(str(body.get("text", ""))).get("people")
    except TomlError:
        return set()
    told = people.get("client") if isinstance(people, Mapping) else None
    name = told.get("name") if isinstance(told, Mapping) else told
    return {_plain(name)} if isinstance(name, str) else set()


def would_forget(store: Store, survey_ids: Collection[int], *, when: datetime) -> Certificate:
    """Give what `forget` would take away, and take nothing away. Raises StoreError as it does."""
    with reading(store.engine) as c:
        for survey_id in sorted(survey_ids):
            locked(c, survey_id)
        return _certificate(c, survey_ids, when)


def forget(store: Store, survey_ids: Collection[int], *, when: datetime) -> Certificate:
    """Take surveys out of the store for good, with all that hangs on them.

    Parameters
    ----------
    store : Store
    survey_ids : collection of int
    when : datetime

    Returns
    -------
    Certificate
        Of what is gone when this returns: items, their whole history, sealed issues with what was
        said of them, links of clients and their openings, and every file no other survey has. The
        database is written anew, so that no page and no log of it holds what was deleted.

    Raises
    ------
    StoreError
        No such survey; nothing is taken away then.
    NotWipedError
        All is gone, but others kept the database from being written anew; its `done` is the
        certificate, which says so. Run it again on no survey.

    Notes
    -----
    Killed before the rows are gone nothing has happened; killed after, the files that were to go
    are taken away when the store is opened next.
    """
    if survey_ids:
        with writing(store.engine) as c:
            for survey_id in sorted(survey_ids):
                locked(c, survey_id)
            told = _certificate(c, survey_ids, when)
            intend_removal(store.files, [m.sha256 for m in told.files])
            _delete(c, survey_ids, [m.sha256 for m in told.files])
    else:
        told = Certificate(stamp(when), (), (), (), written_anew=False)
    finish_removal(store.engine, store.files)
    try:
        wipe(store.engine)
    except NotWipedError as e:
        e.done = told
        raise
    return replace(told, written_anew=True)


def _of_items(table: Table, survey_ids: Collection[int]) -> ColumnElement[bool]:
    return table.c.item_id.in_(select(items.c.id).where(items.c.survey_id.in_(survey_ids)))


def _certificate(c: Connection, survey_ids: Collection[int], when: datetime) -> Certificate:
    named = files_named(c, survey_ids)
    sizes = {m.sha256: m.size for m in c.execute(select(media))}
    gone = sorted((named.here - named.elsewhere) & set(sizes))
    return Certificate(
        stamp(when),
        tuple(_gone(c, survey_id) for survey_id in sorted(survey_ids)),
        tuple(Medium(sha256, sizes[sha256]) for sha256 in gone),
        tuple(sorted(named.here & named.elsewhere)),
        written_anew=False,
    )


def _gone(c: Connection, survey_id: int) -> SurveyGone:
    def count(table: Table, condition: ColumnElement[bool]) -> int:
        return c.execute(select(func.count()).select_from(table).where(condition)).scalar_one()

    mine = select(issues.c.id).where(issues.c.survey_id == survey_id)
    links = select(client_links.c.id).where(client_links.c.issue_id.in_(mine))
    seals = c.execute(
        select(issues.c.sha256, issues.c.at)
        .where(issues.c.survey_id == survey_id)
        .order_by(issues.c.id)
    )
    created = select(surveys.c.created_at).where(surveys.c.id == survey_id)
    return SurveyGone(
        survey_id,
        c.execute(created).scalar_one(),
        count(items, items.c.survey_id == survey_id),
        count(groups, groups.c.survey_id == survey_id),
        tuple((sha256, at) for sha256, at in seals),
        count(issue_marks, issue_marks.c.issue_id.in_(mine)),
        count(client_links, client_links.c.issue_id.in_(mine)),
        count(link_openings, link_openings.c.link_id.in_(links)),
    )


def _delete(c: Connection, survey_ids: Collection[int], files: Collection[str]) -> None:
    mine = select(issues.c.id).where(issues.c.survey_id.in_(survey_ids))
    links = select(client_links.c.id).where(client_links.c.issue_id.in_(mine))
    for table, condition in (
        (link_openings, link_openings.c.link_id.in_(links)),
        (client_links, client_links.c.issue_id.in_(mine)),
        # Rows that name rows of their own table go first.
        (issue_marks, issue_marks.c.issue_id.in_(mine) | issue_marks.c.by_issue.in_(mine)),
        (issues, issues.c.survey_id.in_(survey_ids)),
        (changes, _of_items(changes, survey_ids)),
        (groups, groups.c.survey_id.in_(survey_ids) & groups.c.of_group.is_not(None)),
        (groups, groups.c.survey_id.in_(survey_ids)),
        (items, items.c.survey_id.in_(survey_ids)),
        (surveys, surveys.c.id.in_(survey_ids)),
    ):
        c.execute(delete(table).where(condition))
    for sha256 in files:
        c.execute(delete(media).where(media.c.sha256 == sha256))
