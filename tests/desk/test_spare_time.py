"""Work in spare time waits for whoever asks, gets on all the same, and waits for no line."""

import asyncio
import threading
import time
from collections.abc import Iterator

import pytest
from starlette.types import Message, Receive, Scope, Send

from bolewalk.demo import survey_folder
from bolewalk.desk.reckoning import Reckoning
from bolewalk.desk.spare_time import SPARE, Answered, SpareTime
from bolewalk.intake.folder import read_folder

_SOON_S = 20.0
"""Longer than anything here takes, on any machine."""


def steps(done: list[float], count: int) -> Iterator[None]:
    """Note when each piece was done."""
    for _ in range(count):
        done.append(time.monotonic())
        yield


def test_two_works_take_turns_on_one_thread() -> None:
    spare = SpareTime()
    threads, order = set(), []

    def told(name: str) -> Iterator[None]:
        for _ in range(3):
            threads.add(threading.get_ident())
            order.append(name)
            yield

    spare.begin_answer()  # so that both stand in the line before the first piece
    works = [spare.ask(told("a")), spare.ask(told("b"))]
    spare.end_answer()
    for work in works:
        work.wait(_SOON_S)
        assert work.over
    assert order == ["a", "b"] * 3
    assert len(threads) == 1


def test_a_piece_waits_for_the_answer_but_not_for_ever() -> None:
    spare = SpareTime()
    done: list[float] = []
    spare.begin_answer()
    asked = time.monotonic()
    work = spare.ask(steps(done, 2))
    work.wait(_SOON_S)  # an answer that never ends
    assert work.over
    assert done[0] - asked >= 0.2
    assert done[1] - done[0] >= 0.2
    spare.end_answer()


def test_a_piece_is_begun_once_it_has_been_quiet_for_a_moment() -> None:
    spare = SpareTime()
    done: list[float] = []
    spare.begin_answer()
    work = spare.ask(steps(done, 1))
    time.sleep(0.05)
    assert done == []
    ended = time.monotonic()
    spare.end_answer()
    work.wait(_SOON_S)
    assert done[0] - ended >= 0.025


def test_who_waits_for_spare_work_does_not_hold_it_up() -> None:
    spare = SpareTime()
    done: list[float] = []
    spare.begin_answer()
    asked = time.monotonic()
    work = spare.ask(steps(done, 10))
    spare.wait_for(work, _SOON_S)
    # Ten pieces held up in full would take 2.5 s.
    assert work.over
    assert time.monotonic() - asked < 2.0
    spare.end_answer()


def test_the_thread_ends_with_its_work_and_comes_back() -> None:
    spare = SpareTime()
    for _ in range(3):
        work = spare.ask(iter([None]))
        work.wait(_SOON_S)
        assert work.over


def test_a_piece_that_raises_ends_its_own_work_and_no_other(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    told: list[BaseException | None] = []
    monkeypatch.setattr(threading, "excepthook", lambda args: told.append(args.exc_value))
    spare = SpareTime()
    done: list[float] = []
    fault = ValueError("fails")

    def failing() -> Iterator[None]:
        yield
        raise fault

    spare.begin_answer()  # so that both stand in the line before the first piece
    works = [spare.ask(failing()), spare.ask(steps(done, 4))]
    spare.end_answer()
    works.append(spare.ask(iter([None])))
    for work in works:
        work.wait(_SOON_S)
        assert work.over
    assert len(done) == 4
    assert told == [fault]


def test_neither_the_way_in_nor_the_way_out_counts_as_answering() -> None:
    """A slow line up or down, and a program that fails, leave the spare time as it was."""
    spare = SpareTime()
    seen: list[int] = []

    def note() -> None:
        seen.append(spare._answering)

    async def app(_: Scope, receive: Receive, send: Send) -> None:
        note()
        await receive()
        note()
        await send({"type": "http.response.start"})
        note()
        await send({"type": "http.response.body"})
        note()
        raise ValueError("fails")

    async def slow_in() -> Message:
        note()
        return {"type": "http.request"}

    async def slow_out(_: Message) -> None:
        note()

    async def run() -> None:
        try:
            await Answered(app, spare=spare)({"type": "http"}, slow_in, slow_out)
        except ValueError:
            note()

    asyncio.run(run())
    #   asked, in, asked, out, after, out, after, failed
    assert seen == [1, 0, 1, 0, 0, 0, 0, 0]


def test_a_survey_is_worked_out_to_the_end_while_an_answer_waits_for_it() -> None:
    job = read_folder(survey_folder())
    SPARE.begin_answer()
    try:
        reckoning = Reckoning(job)
        assert reckoning.pending
        assert reckoning.begin(patience_s=_SOON_S * 5)
        assert reckoning.pending == ()
        # Nothing more is worked out for this.
        assert reckoning.findings() is reckoning.findings()
    finally:
        SPARE.end_answer()
