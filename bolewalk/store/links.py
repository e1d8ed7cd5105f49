"""Links for clients: each opens some papers of one issue, for a time, and can be withdrawn.

A link is signed: its token holds a random part and a signature of that together with all the link
stands for. The store keeps no token, and a row changed by hand opens nothing. The key is in the
store: whoever holds a copy of that holds the papers too, and needs no link.
"""

import base64
import hashlib
import hmac
import json
import re
import secrets
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Literal

from sqlalchemy import Connection, RowMapping, func, insert, select, update
from sqlalchemy.dialects import postgresql, sqlite

from bolewalk.store.database import reading, writing
from bolewalk.store.errors import StoreError
from bolewalk.store.issues import Issue, get_issue
from bolewalk.store.items import stamp
from bolewalk.store.limits import limits
from bolewalk.store.schema import client_links, issues, link_openings, signing_keys
from bolewalk.store.store import Store

__all__ = [
    "ClientLink", "Opened", "Opening", "list_links", "list_openings", "make_link", "note_opening",
    "open_link", "withdraw_link",
]  # fmt: skip

LinkState = Literal["open", "withdrawn", "expired"]
_KEY = "client links"
_TOKEN = re.compile(r"([1-9][0-9]{0,8})\.([\w-]{22})\.([\w-]{43})", re.ASCII)


@dataclass(frozen=True, slots=True)
class ClientLink:
    """A link as the desk knows it. `papers` are the names of the issue's papers it opens."""

    id: int
    issue_id: int
    papers: tuple[str, ...]
    made_at: str
    made_by: str
    expires_at: str
    withdrawn_at: str | None
    withdrawn_by: str | None
    openings: int
    last_opened: str | None

    def state(self, when: datetime) -> LinkState:
        """Give what the link is at a time."""
        if self.withdrawn_at is not None:
            return "withdrawn"
        return "expired" if stamp(when) >= self.expires_at else "open"


@dataclass(frozen=True, slots=True)
class Opening:
    """One time a link was opened: when, and which paper; "" is the list of them."""

    at: str
    paper: str


@dataclass(frozen=True, slots=True)
class Opened:
    """What a token stands for. Only where `state` is "open" may anything be shown of it."""

    link: ClientLink
    issue: Issue
    state: LinkState


def make_link(
    store: Store, issue: Issue, papers: Sequence[str], *, who: str, when: datetime,
    expires: datetime,
) -> tuple[ClientLink, str]:  # fmt: skip
    """Make a link to papers of an issue; give it and its token, which is shown this once only.

    Raises
    ------
    StoreError
        A paper the issue does not have, none at all, an end in the past or too far off, an issue
        that is withdrawn.
    """
    unknown = sorted(set(papers) - set(issue.papers))
    if unknown or not papers:
        raise StoreError(f"Issue {issue.number} has no {', '.join(unknown) or 'papers chosen'}.")
    if issue.state == "withdrawn":
        raise StoreError(f"Issue {issue.number} is withdrawn: nobody should be sent it.")
    if not when < expires <= when + limits().longest_link:
        raise StoreError(f"A link lasts 1 to {limits().longest_link.days} days.")
    values = {
        "issue_id": issue.id, "papers": json.dumps(sorted(set(papers))), "made_at": stamp(when),
        "made_by": who, "expires_at": stamp(expires),
    }  # fmt: skip
    nonce = secrets.token_urlsafe(16)
    with writing(store.engine) as c:
        row = (
            c.execute(insert(client_links).values(values).returning(client_links)).mappings().one()
        )
        signed = _signature(_made_key(c), row, nonce)
    return _link(row, 0, None), f"{row['id']}.{nonce}.{signed}"


def _made_key(c: Connection) -> bytes:
    """Give the key links are signed with, made where there is none yet."""
    insert_new = postgresql.insert if c.dialect.name == "postgresql" else sqlite.insert
    row = insert_new(signing_keys).values(name=_KEY, value=secrets.token_hex(32))
    # Two may make the first link at the same moment.
    c.execute(row.on_conflict_do_nothing())
    key = _key(c)
    if key is None:
        raise StoreError("the key of client links was lost in the moment it was made")
    return key


def _key(c: Connection) -> bytes | None:
    kept = c.execute(select(signing_keys.c.value).where(signing_keys.c.name == _KEY)).scalar()
    return None if kept is None else bytes.fromhex(kept)


def _signature(key: bytes, row: RowMapping, nonce: str) -> str:
    stands_for = [row["id"], row["issue_id"], row["papers"], row["expires_at"], nonce]
    signed = hmac.digest(key, json.dumps(stands_for).encode(), hashlib.sha256)
    return base64.urlsafe_b64encode(signed).decode().rstrip("=")


def open_link(store: Store, token: str, *, when: datetime) -> Opened | None:
    """Give what a token stands for, None where it is none of ours.

    A link to an issue that was withdrawn is withdrawn with it.
    """
    parts = _TOKEN.fullmatch(token)
    if parts is None:
        return None
    with reading(store.engine) as c:
        key = _key(c)
        number = int(parts[1])
        row = c.execute(select(client_links).where(client_links.c.id == number)).mappings().first()
        if row is None or key is None:
            return None
        if not hmac.compare_digest(_signature(key, row, parts[2]), parts[3]):
            return None
        issue = get_issue(c, row["issue_id"])
    link = _link(row, 0, None)
    state = "withdrawn" if issue.state == "withdrawn" else link.state(when)
    return Opened(link, issue, state)


def note_opening(store: Store, link_id: int, paper: str, *, when: datetime) -> None:
    """Write down that a link was opened: when and which paper, nothing of who."""
    with writing(store.engine) as c:
        c.execute(insert(link_openings).values(link_id=link_id, at=stamp(when), paper=paper))


def list_links(store: Store, survey_id: int) -> tuple[ClientLink, ...]:
    """Give the links to issues of a survey, newest first."""
    counted = (
        select(
            link_openings.c.link_id,
            func.count().label("openings"),
            func.max(link_openings.c.at).label("last"),
        )
        .group_by(link_openings.c.link_id)
        .subquery()
    )
    query = (
        select(client_links, counted.c.openings, counted.c.last)
        .join(issues, issues.c.id == client_links.c.issue_id)
        .outerjoin(counted, counted.c.link_id == client_links.c.id)
        .where(issues.c.survey_id == survey_id)
        .order_by(client_links.c.id.desc())
    )
    with reading(store.engine) as c:
        return tuple(_link(r, r["openings"] or 0, r["last"]) for r in c.execute(query).mappings())


def list_openings(store: Store, link_id: int) -> tuple[Opening, ...]:
    """Give when a link was opened, oldest first."""
    query = select(link_openings.c.at, link_openings.c.paper).where(
        link_openings.c.link_id == link_id
    )
    with reading(store.engine) as c:
        return tuple(Opening(*r) for r in c.execute(query.order_by(link_openings.c.id)))


def withdraw_link(store: Store, survey_id: int, link_id: int, *, who: str, when: datetime) -> None:
    """Withdraw a link of a survey; one that is withdrawn stays as it is.

    Raises
    ------
    StoreError
        The survey has no such link.
    """
    if link_id not in {link.id for link in list_links(store, survey_id)}:
        raise StoreError("There is no such link.")
    with writing(store.engine) as c:
        c.execute(
            update(client_links)
            .where(client_links.c.id == link_id, client_links.c.withdrawn_at.is_(None))
            .values(withdrawn_at=stamp(when), withdrawn_by=who)
        )


def _link(row: RowMapping, openings: int, last: Any) -> ClientLink:
    return ClientLink(
        row["id"], row["issue_id"], tuple(json.loads(row["papers"])), row["made_at"],
        row["made_by"], row["expires_at"], row["withdrawn_at"], row["withdrawn_by"], openings, last,
    )  # fmt: skip
