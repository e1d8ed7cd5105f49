"""A file that has arrived, taken into its survey: told by content, kept, put in its place."""

from collections.abc import Callable
from datetime import datetime
from io import BufferedReader
from typing import BinaryIO, cast

from bolewalk.desk.apart.check import check_arrival
from bolewalk.desk.incoming import Incoming
from bolewalk.desk.landing import Landing, LandingError, land
from bolewalk.intake.kinds import tell_kind
from bolewalk.store.items import Conflict, StoredSurvey, stamp
from bolewalk.store.store import Store

__all__ = ["put_in_place", "take_in", "taken_before"]

_BROUGHT = "brought"
_TRIES = 5
_TOLD_EVERY = 0.05


def take_in(
    store: Store, incoming: Incoming, key: str, *, survey: int, name: str, tree: str, who: str,
    when: datetime, step: Callable[[str], None],
) -> str:  # fmt: skip
    """Take a file in, once, however often it is begun.

    Parameters
    ----------
    store : Store
    incoming : Incoming
    key : str
        Of the arrival.
    survey : int
    name : str
        The file's name as it came.
    tree : str
        The tree it was dropped on.
    who : str
    when : datetime
        The change bears it; by it a change that was made before a crash is known again.
    step : callable
        Told what is being done.

    Returns
    -------
    str
        What came of it, in words.

    Raises
    ------
    LandingError
        It is nothing a survey takes.
    StoreError
        The store cannot take it.
    """
    if taken_before(store, survey, _BROUGHT, who=who, when=when):
        incoming.drop(key)
        return f"{name} was taken in before the desk stopped."
    path = incoming.path(key)
    if not path.is_file():
        raise LandingError(f"{name} is not here any more: bring it again")
    try:
        step("looking at what it is")
        # Before anything of it is opened here.
        faults = check_arrival(path, name)
        if faults:
            raise LandingError("; ".join(p.line() for p in faults))
        told = tell_kind(path, name)
        if told.kind is None:
            raise LandingError(told.why)
        step("keeping it")
        with path.open("rb") as stream:
            size = path.stat().st_size
            medium = store.put_media(
                cast(BinaryIO, _Watched(stream, size, step)), when=when
            )  # fmt: skip
        step("putting it in its place")
        landing = put_in_place(
            store, survey, name, _BROUGHT, who=who, when=when,
            place=lambda now: land(
                now, name=name, path=path, medium=medium, told=told, tree=tree
            ),
        )  # fmt: skip
    except LandingError:
        incoming.drop(key)
        raise
    incoming.drop(key)
    return landing.says


def put_in_place(
    store: Store, survey: int, name: str, how: str, *, who: str, when: datetime,
    place: Callable[[StoredSurvey], Landing],
) -> Landing:  # fmt: skip
    """Make the change that takes a file into a survey, however others change it meanwhile.

    Parameters
    ----------
    store, survey
    name : str
        For what is told.
    how : str
        The word its note in the history begins with.
    who, when
    place : callable
        Finds its place in the survey as it is.

    Raises
    ------
    LandingError
        It has no place, or others change the survey all the time.
    """
    for _ in range(_TRIES):
        landing = place(store.load(survey))
        if not landing.edits:
            return landing
        note = f"{how} {landing.name}"
        done = store.change(survey, landing.edits, who=who, when=when, note=note)
        if not isinstance(done, Conflict):
            return landing
    raise LandingError(f"{name}: others change this survey all the time; do it again")


def taken_before(store: Store, survey: int, how: str, *, who: str, when: datetime) -> bool:
    """Tell whether a file was put in its place by a process that was stopped before it said so."""
    at = stamp(when)
    return any(
        c.at == at and c.who == who and c.note.startswith(f"{how} ")
        for c in store.history(survey, "file")
    )


class _Watched:
    """A file that tells how far it was read."""

    def __init__(self, stream: BufferedReader, size: int, step: Callable[[str], None]) -> None:
        self._stream, self._size, self._step = stream, size, step
        self._read, self._told = 0, 0.0

    def read(self, n: int = -1) -> bytes:
        piece = self._stream.read(n)
        self._read += len(piece)
        share = self._read / self._size
        if share - self._told >= _TOLD_EVERY:
            self._told = share
            self._step(f"keeping it, {share:.0%}")
        return piece
