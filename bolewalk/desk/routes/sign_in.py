"""Signing in and out, and one's own account."""

import anyio
from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from bolewalk.desk.accounts.access import (
    access_of,
    begin_session_cookie,
    person_of,
    session_token,
)
from bolewalk.desk.pages import page
from bolewalk.desk.routes.parsing import own_place
from bolewalk.desk.views.accounts import ROLE_WORDS, OwnView, SignInView, wait_words
from bolewalk.store.accounts import Account, set_password
from bolewalk.store.errors import StoreError
from bolewalk.store.limits import limits
from bolewalk.store.sessions import SignIn, end_session, end_sessions, sign_in, try_password
from bolewalk.store.store import Store

__all__ = [
    "account", "change_password", "enter", "hashers", "sign_in_page", "sign_out",
    "sign_out_everywhere",
]  # fmt: skip

hashers = anyio.CapacityLimiter(limits().at_once)
"""Threads that reckon passwords: whoever tries many must not hold up everybody's pages."""


async def sign_in_page(request: Request) -> Response:
    """Send the page to sign in."""
    back = own_place(request.query_params.get("back", "/"))
    if await access_of(request).person(request) is not None:
        return RedirectResponse(back, status_code=303)
    return page(request, "sign_in", SignInView(back, "", ""))


async def enter(request: Request) -> Response:
    """Sign in."""
    access = access_of(request)
    if not access.login:
        raise HTTPException(404, "Nobody has to sign in here.")
    form = await request.form()
    name, password, back = (str(form.get(k, "")) for k in ("name", "password", "back"))
    back = own_place(back)
    done = await _signed_in(request, access.store, name, password)
    if done.account is None:
        headers = {"retry-after": str(done.wait_s)} if done.wait_s else {}
        say = wait_words(done.wait_s) if done.wait_s else "Name or password is not right."
        view = SignInView(back, name, say)
        return page(request, "sign_in", view, status=429 if done.wait_s else 401, headers=headers)
    before = session_token(request)
    if before:
        await run_in_threadpool(end_session, access.store, before)
    answer = RedirectResponse(back, status_code=303)
    begin_session_cookie(request, answer, done.token)
    return answer


async def _signed_in(request: Request, store: Store, name: str, password: str) -> SignIn:
    when = access_of(request).clock()
    address = request.client.host if request.client else ""
    return await anyio.to_thread.run_sync(
        lambda: sign_in(store, name, password, address=address, when=when), limiter=hashers
    )


async def sign_out(request: Request) -> Response:
    """Sign this browser out."""
    await run_in_threadpool(end_session, access_of(request).store, session_token(request))
    return _out(request)


async def sign_out_everywhere(request: Request) -> Response:
    """Sign the reader out of every browser."""
    await run_in_threadpool(end_sessions, access_of(request).store, _own(request).id)
    return _out(request)


def _out(request: Request) -> Response:
    answer = RedirectResponse("/sign-in", status_code=303)
    begin_session_cookie(request, answer, "")
    # What the browser kept of pages and of typed forms goes with the person.
    answer.headers["clear-site-data"] = '"cache", "storage"'
    return answer


def _own(request: Request) -> Account:
    person = person_of(request)
    if person is None or person.account is None:
        raise HTTPException(404, "Nobody has to sign in here: there is no account to look at.")
    return person.account


async def account(request: Request) -> Response:
    """Send the page of one's own account."""
    return page(request, "account", _view(_own(request)))


def _view(own: Account, *says: str) -> OwnView:
    return OwnView(own.name, own.role, ROLE_WORDS[own.role], own.role == "owner", says)


async def change_password(request: Request) -> Response:
    """Change one's own password; every other browser is signed out."""
    own = _own(request)
    store, when = access_of(request).store, access_of(request).clock()
    form = await request.form()
    old, new, again = (str(form.get(k, "")) for k in ("old", "new", "again"))
    if new != again:
        say = "The new password was typed in two ways."
        return page(request, "account", _view(own, say), status=422)
    address = request.client.host if request.client else ""
    known, wait_s = await anyio.to_thread.run_sync(
        lambda: try_password(store, own.name, old, address=address, when=when), limiter=hashers
    )
    if known is None:
        say = wait_words(wait_s) if wait_s else "The old password is not right."
        return page(request, "account", _view(own, say), status=429 if wait_s else 422)
    try:
        await anyio.to_thread.run_sync(set_password, store, own.id, new, limiter=hashers)
    except StoreError as e:
        return page(request, "account", _view(own, str(e)), status=422)
    done = await _signed_in(request, store, own.name, new)
    answer = RedirectResponse("/account", status_code=303)
    begin_session_cookie(request, answer, done.token)
    return answer
