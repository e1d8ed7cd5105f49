"""Work nobody waits for, done by one thread of the process between the answers to requests.

Threads of one interpreter take turns: a survey worked out beside a drag makes every step of the
drag many times slower. So such work comes in pieces, and a piece is begun only once the desk has
been quiet for a moment.
"""

import threading
import time
from collections import deque
from collections.abc import Iterator
from contextlib import contextmanager

from starlette.types import ASGIApp, Message, Receive, Scope, Send

__all__ = ["SPARE", "Answered", "SpareTime", "Work"]

_QUIET_S = 0.03
"""No piece is begun so soon after an answer: whoever drags or types asks again at once."""
_LONGEST_S = 0.25
"""After this time a piece is begun however many requests come: the work gets on all the same."""


class Work:
    """Something being done in spare time."""

    def __init__(self, pieces: Iterator[None]) -> None:
        self.pieces = pieces
        self._over = threading.Event()

    @property
    def over(self) -> bool:
        """Whether it has come to its end."""
        return self._over.is_set()

    def do_next(self) -> bool:
        """Do one piece; tell whether there may be more. One that raises is the last."""
        try:
            next(self.pieces)
        except StopIteration:
            self._over.set()
        except BaseException:
            self._over.set()
            raise
        return not self.over

    def wait(self, seconds: float | None) -> None:
        """Wait for its end."""
        self._over.wait(seconds)


class SpareTime:
    """The thread and what it has to do, a piece of each in turn. Safe for several threads."""

    def __init__(self) -> None:
        self._changed = threading.Condition()
        self._answering = 0
        self._waiting = 0
        self._quiet_since = 0.0
        self._works: deque[Work] = deque()
        self._thread: threading.Thread | None = None

    def begin_answer(self) -> None:
        """Say that a request is being answered from now on."""
        with self._changed:
            self._answering += 1

    def end_answer(self) -> None:
        """Say that one is answered, or waits for its line."""
        with self._changed:
            self._answering -= 1
            self._quiet_since = time.monotonic()
            self._changed.notify_all()

    def ask(self, pieces: Iterator[None]) -> Work:
        """Have something done, piece by piece. One that raises ends its own work, and is told as
        what ends a thread is."""
        work = Work(pieces)
        with self._changed:
            self._works.append(work)
            if self._thread is None:
                self._thread = threading.Thread(target=self._do, daemon=True)
                self._thread.start()
        return work

    @contextmanager
    def waiting(self) -> Iterator[None]:
        """Wait for spare work herein, as part of an answer: that one holds it up no longer."""
        with self._changed:
            self._waiting += 1
            self._changed.notify_all()
        try:
            yield
        finally:
            with self._changed:
                self._waiting -= 1

    def wait_for(self, work: Work, seconds: float | None) -> None:
        """Wait for the end of a work, as part of an answer."""
        with self.waiting():
            work.wait(seconds)

    def let_through(self) -> None:
        """Wait until the desk is quiet, for a while: between pieces, or within long ones."""
        end = time.monotonic() + _LONGEST_S
        with self._changed:
            while (now := time.monotonic()) < end:
                until = end
                if self._answering <= self._waiting:
                    until = min(end, self._quiet_since + _QUIET_S)
                if until <= now:
                    return
                self._changed.wait(until - now)

    def _do(self) -> None:
        while True:
            with self._changed:
                if not self._works:
                    self._thread = None
                    return
                work = self._works.popleft()
            self.let_through()
            try:
                more = work.do_next()
            except BaseException as e:
                # The other works still need this thread.
                told = threading.ExceptHookArgs((type(e), e, e.__traceback__, self._thread))
                threading.excepthook(told)
                continue
            if more:
                with self._changed:
                    self._works.append(work)


SPARE = SpareTime()
"""That of this process: its threads take turns, whatever desk they belong to."""


class Answered:
    """Wrap an application: no spare time while a request is being answered.

    Waiting for the line is not answering: neither while something is sent to the desk, nor once
    the answer is on its way.
    """

    def __init__(self, app: ASGIApp, *, spare: SpareTime = SPARE) -> None:
        self._app = app
        self._spare = spare

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass a request on."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        counted = over = False

        def count(now: bool) -> None:
            nonlocal counted
            if now and not counted:
                self._spare.begin_answer()
            elif counted and not now:
                self._spare.end_answer()
            counted = now

        async def received() -> Message:
            count(False)
            message = await receive()
            count(not over)
            return message

        async def sent(message: Message) -> None:
            nonlocal over
            over = over or message["type"] == "http.response.start"
            count(not over)
            await send(message)

        count(True)
        try:
            await self._app(scope, received, sent)
        finally:
            over = True
            count(False)
