"""Signing in and out: tries are counted in the store, sessions known by the hash of their token."""

import hashlib
import ipaddress
import secrets
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import delete, func, insert, select, update

from bolewalk.store.accounts import Account, as_account, folded_name
from bolewalk.store.database import reading, writing
from bolewalk.store.items import stamp
from bolewalk.store.limits import limits
from bolewalk.store.passwords import hashed, is_stale, matches, nobodys_hash
from bolewalk.store.schema import accounts, sessions, sign_in_tries
from bolewalk.store.store import Store

__all__ = ["SignIn", "end_session", "end_sessions", "find_session", "sign_in", "try_password"]

_TOKEN_BYTES = 32
_SEEN_EVERY_S = 300.0
"""How often a session writes down that it is used: not at each request."""


@dataclass(frozen=True, slots=True)
class SignIn:
    """What came of signing in.

    `token` is the new session's, "" where it was refused; `wait_s` the seconds until another try
    is looked at, 0 where name or password were wrong.
    """

    account: Account | None
    token: str
    wait_s: int


def sign_in(store: Store, name: str, password: str, *, address: str, when: datetime) -> SignIn:
    """Sign in.

    Parameters
    ----------
    store : Store
    name, password : str
        As typed. An unknown name, a wrong password and an account that may not sign in are told
        alike, and take alike long.
    address : str
        Where the try comes from; "" where unknown.
    when : datetime

    Notes
    -----
    A try is written down before the password is looked at, so that tries at the same moment
    cannot pass the limit together.
    """
    account, wait_s = try_password(store, name, password, address=address, when=when)
    if account is None:
        return SignIn(None, "", wait_s)
    token = secrets.token_urlsafe(_TOKEN_BYTES)
    with writing(store.engine) as c:
        oldest = stamp(when - limits().longest)
        c.execute(delete(sessions).where(sessions.c.begun_at < oldest))
        c.execute(
            insert(sessions).values(
                token_sha256=_sha256(token), account_id=account.id, begun_at=stamp(when),
                seen_at=stamp(when),
            )
        )  # fmt: skip
    return SignIn(account, token, 0)


def try_password(
    store: Store, name: str, password: str, *, address: str, when: datetime
) -> tuple[Account | None, int]:
    """Look at a name and a password; give the account, or None and the seconds to wait."""
    key = folded_name(name)
    subjects = [_sha256(f"account {key}")]
    most = [limits().tries_of_account]
    if address:
        subjects.append(_sha256(f"address {_network(address)}"))
        most.append(limits().tries_of_address)
    made, wait_s = _counted(store, subjects, most, when)
    if wait_s:
        return None, wait_s
    with reading(store.engine) as c:
        row = c.execute(select(accounts).where(accounts.c.key == key)).mappings().first()
    kept = nobodys_hash() if row is None else row["password"]
    right = matches(kept, password)
    if row is None or not right or row["disabled_at"] is not None:
        return None, 0
    with writing(store.engine) as c:
        mine = sign_in_tries.c.id.in_(made) | (sign_in_tries.c.subject == subjects[0])
        c.execute(delete(sign_in_tries).where(mine))
        if is_stale(kept):
            new = update(accounts).where(accounts.c.id == row["id"], accounts.c.password == kept)
            c.execute(new.values(password=hashed(password)))
    return as_account(row), 0


def _counted(
    store: Store, subjects: Sequence[str], most: Sequence[int], when: datetime
) -> tuple[list[int], int]:
    """Write a try down; give its rows, or the seconds to wait where it is one too many."""
    since = stamp(when - limits().window)
    with writing(store.engine) as c:
        c.execute(delete(sign_in_tries).where(sign_in_tries.c.at < since))
        made = [
            c.execute(
                insert(sign_in_tries)
                .values(subject=s, at=stamp(when))
                .returning(sign_in_tries.c.id)
            ).scalar_one()
            for s in subjects
        ]
    wait_s = 0
    with reading(store.engine) as c:
        for subject, limit in zip(subjects, most, strict=True):
            n, first = c.execute(
                select(func.count(), func.min(sign_in_tries.c.at)).where(
                    sign_in_tries.c.subject == subject
                )
            ).one()
            if n > limit:
                ends = datetime.fromisoformat(first) + limits().window
                wait_s = max(wait_s, 1, round((ends - when).total_seconds()))
    if wait_s:
        # Refused tries do not count: else whoever keeps trying keeps the owner out for good.
        with writing(store.engine) as c:
            c.execute(delete(sign_in_tries).where(sign_in_tries.c.id.in_(made)))
    return made, wait_s


def _network(address: str) -> str:
    """Give what one line to the network holds: an address, of version 6 the first half of it."""
    try:
        read = ipaddress.ip_address(address)
    except ValueError:
        return address
    if isinstance(read, ipaddress.IPv6Address):
        return str(ipaddress.ip_network((read, 64), strict=False))
    return str(read)


def find_session(store: Store, token: str, *, when: datetime) -> Account | None:
    """Give whose session a token is, None where it is nobody's any more."""
    known = sessions.c.token_sha256 == _sha256(token)
    with reading(store.engine) as c:
        row = (
            c.execute(
                select(accounts, sessions.c.begun_at, sessions.c.seen_at)
                .join(sessions, sessions.c.account_id == accounts.c.id)
                .where(known, accounts.c.disabled_at.is_(None))
            )
            .mappings()
            .first()
        )
    if row is None:
        return None
    begun, seen = (datetime.fromisoformat(row[n]) for n in ("begun_at", "seen_at"))
    if when - begun > limits().longest or when - seen > limits().idle:
        end_session(store, token)
        return None
    if (when - seen).total_seconds() > _SEEN_EVERY_S:
        with writing(store.engine) as c:
            c.execute(update(sessions).where(known).values(seen_at=stamp(when)))
    return as_account(row)


def end_session(store: Store, token: str) -> None:
    """Sign one browser out."""
    with writing(store.engine) as c:
        c.execute(delete(sessions).where(sessions.c.token_sha256 == _sha256(token)))


def end_sessions(store: Store, account_id: int) -> int:
    """Sign an account out everywhere; give how many sessions that ended."""
    with writing(store.engine) as c:
        return c.execute(delete(sessions).where(sessions.c.account_id == account_id)).rowcount


def _sha256(text: str) -> str:
    return hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()
