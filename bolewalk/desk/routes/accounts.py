"""The accounts of a firm, kept by its owners."""

from typing import Any, cast

import anyio
from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from bolewalk.desk.accounts.access import access_of, person_of
from bolewalk.desk.pages import page
from bolewalk.desk.routes.sign_in import hashers
from bolewalk.desk.views.accounts import accounts_view
from bolewalk.store.accounts import (
    Account,
    add_account,
    find_account,
    list_accounts,
    set_active,
    set_password,
    set_role,
)
from bolewalk.store.errors import StoreError
from bolewalk.store.roles import Role
from bolewalk.store.sessions import end_sessions

__all__ = ["accounts", "add", "disable", "enable", "password", "role", "sign_out_of"]


async def accounts(request: Request) -> Response:
    """Send the list of accounts."""
    return await _listed(request)


async def _listed(request: Request, *says: str) -> Response:
    reader = _reader(request)
    firm = None if reader is None else reader.firm
    found = await run_in_threadpool(lambda: list_accounts(access_of(request).store, firm=firm))
    view = accounts_view(found, reader=reader, says=says)
    return page(request, "accounts", view, status=422 if says else 200)


def _reader(request: Request) -> Account | None:
    person = person_of(request)
    return None if person is None else person.account


async def add(request: Request) -> Response:
    """Add an account to the reader's firm."""
    form = await request.form()
    reader, access = _reader(request), access_of(request)
    told = {k: str(form.get(k, "")) for k in ("name", "password", "role", "firm")}
    try:
        await anyio.to_thread.run_sync(
            lambda: add_account(
                access.store, told["name"], password=told["password"],
                role=cast(Role, told["role"]),
                firm=told["firm"] if reader is None else reader.firm,
                who=access.who if reader is None else reader.name, when=access.clock(),
            ),
            limiter=hashers,
        )  # fmt: skip
    except StoreError as e:
        return await _listed(request, str(e))
    return _back()


async def _wanted(request: Request) -> Account:
    """Give the account a request names; 404 where the reader's firm has none of that number."""
    reader = _reader(request)
    try:
        found = await run_in_threadpool(
            find_account, access_of(request).store, int(request.path_params["account"])
        )
    except StoreError:
        found = None
    if found is None or (reader is not None and found.firm != reader.firm):
        raise HTTPException(404, "There is no such account.")
    return found


async def _done(request: Request, work: Any, *arguments: Any, **options: Any) -> Response:
    try:
        await anyio.to_thread.run_sync(
            lambda: work(access_of(request).store, *arguments, **options), limiter=hashers
        )
    except StoreError as e:
        return await _listed(request, str(e))
    return _back()


async def role(request: Request) -> Response:
    """Give an account another role."""
    wanted = await _wanted(request)
    form = await request.form()
    return await _done(request, set_role, wanted.id, str(form.get("role", "")))


async def password(request: Request) -> Response:
    """Give an account a new password, for whoever has lost theirs."""
    wanted = await _wanted(request)
    form = await request.form()
    return await _done(request, set_password, wanted.id, str(form.get("password", "")))


async def disable(request: Request) -> Response:
    """Let an account sign in no more."""
    wanted = await _wanted(request)
    return await _done(request, set_active, wanted.id, False, when=access_of(request).clock())


async def enable(request: Request) -> Response:
    """Let an account sign in again."""
    wanted = await _wanted(request)
    return await _done(request, set_active, wanted.id, True, when=access_of(request).clock())


async def sign_out_of(request: Request) -> Response:
    """Sign an account out everywhere."""
    wanted = await _wanted(request)
    return await _done(request, end_sessions, wanted.id)


def _back() -> Response:
    return RedirectResponse("/accounts", status_code=303)
