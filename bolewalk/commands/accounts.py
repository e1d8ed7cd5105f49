"""Accounts of the desk, from the command line."""

import getpass
import sys
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import click

from bolewalk.commands.opening import Data, Media, opened
from bolewalk.commands.talk import misuse, say
from bolewalk.store.roles import ROLES

__all__ = ["account"]


@click.group(short_help="Say who may use the desk from elsewhere.")
def account() -> None:
    """Accounts of the desk: who may use it from other computers.

    Passwords are asked for; where there is no terminal, the first line of stdin is taken.
    """


def _password() -> str:
    if not sys.stdin.isatty():
        return sys.stdin.readline().rstrip("\r\n")
    typed = getpass.getpass("Password: ")
    if typed != getpass.getpass("Again: "):
        misuse("the password was typed in two ways")
    return typed


def _one(work: Callable[..., Any], name: str, data: str, media: Path | None, *told: Any) -> None:
    from bolewalk.store.accounts import find_account

    with opened(data, media) as store:
        work(store, find_account(store, name).id, *told)


@account.command()
@click.argument("name")
@click.option("--role", type=click.Choice(ROLES), required=True, help="What it may do.")
@click.option("--firm", default="", help="Whose surveys it sees; leave out where there is one.")
@Data
@Media
def add(*, name: str, role: Any, firm: str, data: str, media: Path | None) -> None:
    """Add the account NAME; what it does stands under that name in the history."""
    from bolewalk.store.accounts import add_account

    password = _password()
    with opened(data, media, make=True) as store:
        made = add_account(
            store, name, password=password, role=role, firm=firm, who=getpass.getuser(),
            when=datetime.now(UTC),
        )  # fmt: skip
    say(f"{made.name} can sign in")


@account.command("list")
@Data
@Media
def list_all(*, data: str, media: Path | None) -> None:
    """Print the accounts: name, role, firm, and since when one is closed; tabs between."""
    from bolewalk.store.accounts import list_accounts

    with opened(data, media) as store:
        for a in list_accounts(store):
            closed = f"closed {a.disabled_at[:10]}" if a.disabled_at else ""
            click.echo("\t".join((a.name, a.role, a.firm, closed)))


@account.command()
@click.argument("name")
@Data
@Media
def password(*, name: str, data: str, media: Path | None) -> None:
    """Give NAME a new password, and sign it out everywhere."""
    from bolewalk.store.accounts import set_password

    _one(set_password, name, data, media, _password())


@account.command()
@click.argument("name")
@click.argument("role", type=click.Choice(ROLES))
@Data
@Media
def role(*, name: str, role: Any, data: str, media: Path | None) -> None:
    """Give NAME another ROLE."""
    from bolewalk.store.accounts import set_role

    _one(set_role, name, data, media, role)


@account.command()
@click.argument("name")
@Data
@Media
def close(*, name: str, data: str, media: Path | None) -> None:
    """Let NAME sign in no more; what it did stays in the history."""
    from bolewalk.store.accounts import set_active

    _one(lambda s, n: set_active(s, n, False, when=datetime.now(UTC)), name, data, media)


@account.command("open")
@click.argument("name")
@Data
@Media
def open_again(*, name: str, data: str, media: Path | None) -> None:
    """Let NAME sign in again."""
    from bolewalk.store.accounts import set_active

    _one(lambda s, n: set_active(s, n, True, when=datetime.now(UTC)), name, data, media)


@account.command("sign-out")
@click.argument("name")
@Data
@Media
def sign_out(*, name: str, data: str, media: Path | None) -> None:
    """Sign NAME out everywhere."""
    from bolewalk.store.sessions import end_sessions

    _one(end_sessions, name, data, media)
