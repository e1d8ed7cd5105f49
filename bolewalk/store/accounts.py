"""Accounts: who may sign in, for which firm, and what they may do."""

import unicodedata
from dataclasses import dataclass
from datetime import datetime
from typing import cast

from sqlalchemy import Connection, RowMapping, delete, insert, select, update
from sqlalchemy.exc import IntegrityError

from bolewalk.store.database import reading, writing
from bolewalk.store.errors import DatabaseError, StoreError
from bolewalk.store.items import stamp
from bolewalk.store.passwords import hashed, password_faults
from bolewalk.store.roles import ROLES, Role
from bolewalk.store.schema import accounts, sessions, surveys
from bolewalk.store.store import Store

__all__ = [
    "Account", "add_account", "as_account", "find_account", "firm_of",
    "folded_name", "has_accounts", "list_accounts", "set_active", "set_password", "set_role",
]  # fmt: skip

_LONGEST_NAME = 80


@dataclass(frozen=True, slots=True)
class Account:
    """One person who may sign in. `disabled_at` is None where they may."""

    id: int
    firm: str
    name: str
    role: Role
    created_at: str
    created_by: str
    disabled_at: str | None


def folded_name(name: str) -> str:
    """Give the form of a name under which it is taken: letter case and spaces do not count."""
    return " ".join(unicodedata.normalize("NFKC", name).casefold().split())


def add_account(
    store: Store, name: str, *, password: str, role: Role, who: str, when: datetime, firm: str = ""
) -> Account:
    """Add an account.

    Parameters
    ----------
    store : Store
    name : str
        As it will stand in the history of surveys; taken once in a store, whatever the firm.
    password : str
    role : Role
    who, when
        By whom, on which day.
    firm : str
        Whose surveys it sees; "" is the firm of a store that has one only.

    Raises
    ------
    StoreError
        The name is taken or none, the password is too weak, no such role.
    """
    plain = " ".join(name.split())
    if not plain or len(plain) > _LONGEST_NAME or not plain.isprintable():
        raise StoreError(f"An account needs a name of up to {_LONGEST_NAME} characters.")
    _check_role(role)
    faults = password_faults(password, name=plain)
    if faults:
        raise StoreError(faults[0])
    values = {
        "firm": _firm(firm), "name": plain, "key": folded_name(plain), "role": role,
        "password": hashed(password), "created_at": stamp(when), "created_by": who,
    }  # fmt: skip
    taken = StoreError(f"There is an account called {plain!r} already.")
    try:
        with writing(store.engine) as c:
            same = select(accounts.c.id).where(accounts.c.key == values["key"])
            if c.execute(same).first() is not None:
                raise taken
            row = c.execute(insert(accounts).values(values).returning(accounts)).mappings().one()
            return as_account(row)
    except DatabaseError as e:
        # Two at the same moment: the second is told by the database itself.
        raise (taken if isinstance(e.__cause__, IntegrityError) else e) from None


def _firm(firm: str) -> str:
    plain = " ".join(firm.split())
    if len(plain) > _LONGEST_NAME or not (plain.isprintable() or not plain):
        raise StoreError(f"The name of a firm has up to {_LONGEST_NAME} characters.")
    return plain


def _check_role(role: str) -> None:
    if role not in ROLES:
        raise StoreError(f"There is no role {role!r}; there are {', '.join(ROLES)}.")


def as_account(row: RowMapping) -> Account:
    """Give the account a row of the table holds; its password stays behind."""
    return Account(
        id=row["id"], firm=row["firm"], name=row["name"], role=cast(Role, row["role"]),
        created_at=row["created_at"], created_by=row["created_by"],
        disabled_at=row["disabled_at"],
    )  # fmt: skip


def list_accounts(store: Store, *, firm: str | None = None) -> tuple[Account, ...]:
    """Give the accounts of a firm, or all of them, by name."""
    query = select(accounts).order_by(accounts.c.key)
    if firm is not None:
        query = query.where(accounts.c.firm == firm)
    with reading(store.engine) as c:
        return tuple(as_account(row) for row in c.execute(query).mappings())


def find_account(store: Store, which: int | str) -> Account:
    """Give an account by its number or its name. Raises StoreError where there is none."""
    by = accounts.c.id == which if isinstance(which, int) else accounts.c.key == folded_name(which)
    with reading(store.engine) as c:
        row = c.execute(select(accounts).where(by)).mappings().first()
    if row is None:
        raise StoreError(f"There is no account {which!r}.")
    return as_account(row)


def has_accounts(store: Store) -> bool:
    """Tell whether anybody may sign in."""
    with reading(store.engine) as c:
        found = c.execute(select(accounts.c.id).where(accounts.c.disabled_at.is_(None)).limit(1))
        return found.first() is not None


def set_password(store: Store, account_id: int, password: str) -> None:
    """Change a password, and sign its account out everywhere. Raises StoreError for a weak one."""
    account = find_account(store, account_id)
    faults = password_faults(password, name=account.name)
    if faults:
        raise StoreError(faults[0])
    kept = hashed(password)
    with writing(store.engine) as c:
        c.execute(update(accounts).where(accounts.c.id == account_id).values(password=kept))
        c.execute(delete(sessions).where(sessions.c.account_id == account_id))


def set_role(store: Store, account_id: int, role: Role) -> None:
    """Give an account another role. Raises StoreError for the last owner of a firm."""
    _check_role(role)
    with writing(store.engine) as c:
        if role != "owner":
            _keep_an_owner(c, account_id)
        c.execute(update(accounts).where(accounts.c.id == account_id).values(role=role))


def set_active(store: Store, account_id: int, active: bool, *, when: datetime) -> None:
    """Let an account sign in or not; one that may not is signed out everywhere at once.

    Raises
    ------
    StoreError
        It is the last owner of its firm: nobody could let it in again.
    """
    with writing(store.engine) as c:
        if not active:
            _keep_an_owner(c, account_id)
            c.execute(delete(sessions).where(sessions.c.account_id == account_id))
        at = None if active else stamp(when)
        c.execute(update(accounts).where(accounts.c.id == account_id).values(disabled_at=at))


def _keep_an_owner(c: Connection, account_id: int) -> None:
    # Locked, so that two owners cannot disable each other in the same moment.
    owners = c.execute(
        select(accounts.c.id, accounts.c.firm)
        .where(accounts.c.role == "owner", accounts.c.disabled_at.is_(None))
        .order_by(accounts.c.id)
        .with_for_update()
    ).all()
    firm = next((o.firm for o in owners if o.id == account_id), None)
    if firm is not None and sum(o.firm == firm for o in owners) == 1:
        raise StoreError("This is the last owner: make another account an owner first.")


def firm_of(c: Connection, survey_id: int) -> str | None:
    """Give the firm a survey belongs to, None where there is no such survey."""
    firm: str | None = c.execute(select(surveys.c.firm).where(surveys.c.id == survey_id)).scalar()
    return firm
