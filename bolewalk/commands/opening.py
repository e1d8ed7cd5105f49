"""The store as commands are given it and open it."""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

import click

from bolewalk.commands.talk import misuse

if TYPE_CHECKING:
    from bolewalk.store.store import Store

__all__ = ["Data", "Media", "opened"]

Data = click.option(
    "--data",
    required=True,
    help="Data folder of the desk, or the URL of a PostgreSQL database.",
)
Media = click.option(
    "--media",
    type=click.Path(path_type=Path, file_okay=False),
    help="Folder of the kept files; needed with a URL.",
)


@contextmanager
def opened(data: str, media: Path | None, *, make: bool = False) -> "Iterator[Store]":
    """Open the store for a command; what it cannot do is told, and the command left with 2.

    Parameters
    ----------
    data, media
        As Data and Media give them.
    make : bool
        Begin an empty store where there is none; else that is misuse.
    """
    from bolewalk.store.database import is_url
    from bolewalk.store.errors import StoreError
    from bolewalk.store.store import DATABASE, Store

    if not make and not is_url(data) and not Path(data, DATABASE).is_file():
        misuse(f"no store in {data}: there is no {DATABASE} in it")
    try:
        with Store.open(data, media=media) as store:
            yield store
    except StoreError as e:
        misuse(str(e))
