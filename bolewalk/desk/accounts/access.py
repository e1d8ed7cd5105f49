"""Who is at the desk, and whether a request of theirs may pass."""

import secrets
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from urllib.parse import quote

from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import HTTPConnection, Request
from starlette.responses import JSONResponse, RedirectResponse, Response
from starlette.routing import Route
from starlette.types import Receive, Scope, Send

from bolewalk.desk.accounts.rules import MAY, RULES, Need
from bolewalk.desk.accounts.tokens import is_token, new_token, sent_token
from bolewalk.store.accounts import Account, firm_of
from bolewalk.store.database import reading
from bolewalk.store.limits import limits
from bolewalk.store.sessions import find_session
from bolewalk.store.store import Store

__all__ = [
    "Access", "Door", "Person", "access_of", "begin_session_cookie", "begin_visit_cookie",
    "person_of", "session_token",
]  # fmt: skip

_LARGEST = 2**31 - 1
"""Largest number of a row: an integer as PostgreSQL keeps it."""

_READING = frozenset({"GET", "HEAD", "OPTIONS"})


@dataclass(frozen=True, slots=True)
class Person:
    """Who a request comes from. Without an account: whoever sits at this computer."""

    name: str
    account: Account | None = None

    @property
    def firm(self) -> str | None:
        """Whose surveys the person sees, None for everybody's."""
        return None if self.account is None else self.account.firm

    def may(self, need: Need) -> bool:
        """Tell whether the person may do what needs this much."""
        return self.account is None or need <= MAY[self.account.role]


@dataclass(frozen=True, slots=True)
class Access:
    """How a desk lets people in.

    `login`: whether they have to sign in; `who`: the person at it where they need not.
    """

    store: Store
    clock: Callable[[], datetime]
    login: bool = False
    who: str = "desk"

    async def person(self, request: HTTPConnection) -> Person | None:
        """Give who a request comes from, None for nobody we know."""
        if not self.login:
            return Person(self.who)
        token = session_token(request)
        if not token:
            return None
        account = await run_in_threadpool(
            lambda: find_session(self.store, token, when=self.clock())
        )
        return None if account is None else Person(account.name, account)

    def form_token(self, request: HTTPConnection) -> tuple[str, str]:
        """Give a token for the forms of a page, and the cookie to set for it, "" where it is set.

        Both are "" where nobody signs in: a browser that holds no proof of who it is has none
        that another page could use, and other pages are refused by where they come from.
        """
        if not self.login:
            return "", ""
        known = session_token(request) or request.cookies.get(_name("visit", request), "")
        if known:
            return new_token(known), ""
        visit = secrets.token_urlsafe(32)
        return new_token(visit), visit

    async def refusal(
        self, need: Need, scope: Scope, receive: Receive
    ) -> tuple[Response | None, Receive]:
        """Give the answer to a request that may not pass, None where it may.

        Raises
        ------
        HTTPException
            403 or 404, to be told as every other fault is.
        """
        request = Request(scope)
        # Scripts, styles and clients' papers are the same whoever asks: nobody is looked up.
        person = None if need == Need.NOTHING else await self.person(request)
        scope["person"] = person
        if person is None and need > Need.NOTHING:
            return _sign_in_first(request), receive
        if person is not None and person.account is not None:
            await self._refuse_another_firms(person.account, request)
        if person is not None and not person.may(need):
            raise HTTPException(403, "Your account may look at this, not do it: ask an owner.")
        if self.login and scope["method"] not in _READING:
            token, receive = await sent_token(scope, receive)
            cookie = session_token(request) or request.cookies.get(_name("visit", request), "")
            if not is_token(token, cookie):
                raise HTTPException(
                    403, "This page was opened before you signed in: load it again and repeat."
                )
        return None, receive

    async def _refuse_another_firms(self, account: Account, request: Request) -> None:
        survey = request.path_params.get("survey")
        if survey is None:
            return
        firm = await run_in_threadpool(self._firm_of, survey)
        if firm != account.firm:
            # As where there is none: that another firm has it is nobody's business.
            raise HTTPException(404, f"there is no survey {survey}")

    def _firm_of(self, survey: int) -> str | None:
        with reading(self.store.engine) as c:
            return firm_of(c, survey)


def _sign_in_first(request: Request) -> Response:
    if request.url.path.startswith("/api/"):
        say = "You are not signed in any more: sign in in another window, then repeat this."
        return JSONResponse({"say": say}, status_code=401)
    wanted = request.url.path + (f"?{request.url.query}" if request.url.query else "")
    # What was sent to be changed is not sent again: the reader goes to where they were.
    if request.method not in _READING:
        wanted = "/"
    place = f"/sign-in?back={quote(wanted, safe='/')}"
    if "hx-request" in request.headers:
        return Response(status_code=401, headers={"hx-redirect": place})
    return RedirectResponse(place, status_code=303)


class Door(Route):
    """A route that looks at its rule before it lets anybody in."""

    def __init__(self, route: Route) -> None:
        super().__init__(
            route.path, route.endpoint, methods=sorted(route.methods or ()), name=route.name
        )
        self.rules = {m: RULES.get(f"{m} {route.path}", Need.NEVER) for m in self.methods or ()}
        if "GET" in self.rules:
            self.rules["HEAD"] = self.rules["GET"]

    async def handle(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let a request through, or answer it."""
        scope["route_path"] = self.path
        access: Access = scope["app"].state.access
        # A database has no row of such a number, and not even a way to ask for one.
        if any(n > _LARGEST for n in scope["path_params"].values() if isinstance(n, int)):
            raise HTTPException(404, "Not Found")
        # A method that is none of the route's is refused as such, whoever comes.
        if scope["method"] in self.rules:
            need = self.rules[scope["method"]]
            answer, receive = await access.refusal(need, scope, receive)
            if answer is not None:
                await answer(scope, receive, send)
                return
        await super().handle(scope, receive, send)


def person_of(request: HTTPConnection) -> Person | None:
    """Give who a request comes from, as its door found it."""
    person: Person | None = request.scope.get("person")
    return person


def access_of(request: HTTPConnection) -> Access:
    """Give how the desk a request came to lets people in."""
    access: Access = request.app.state.access
    return access


def session_token(request: HTTPConnection) -> str:
    """Give the token of the session a browser says it has, "" where it says none."""
    return request.cookies.get(_name("session", request), "")


def begin_session_cookie(request: HTTPConnection, answer: Response, token: str) -> None:
    """Give a browser its session, or with "" take it away."""
    _set(request, answer, "session", token, int(limits().longest.total_seconds()) if token else 0)


def begin_visit_cookie(request: HTTPConnection, answer: Response, visit: str) -> None:
    """Give a browser that nobody signed in with what its forms are known by, until it is closed."""
    _set(request, answer, "visit", visit, None)


def _set(
    request: HTTPConnection, answer: Response, what: str, value: str, max_age: int | None
) -> None:
    answer.set_cookie(
        _name(what, request), value, max_age=max_age, path="/", httponly=True, samesite="lax",
        secure=request.url.scheme == "https",
    )  # fmt: skip


def _name(what: str, request: HTTPConnection) -> str:
    # A browser takes a cookie of such a name only over TLS, for this host alone.
    return f"__Host-{what}" if request.url.scheme == "https" else what
