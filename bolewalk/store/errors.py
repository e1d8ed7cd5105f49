"""What can go wrong with the store itself, told in words for the person at the desk."""

from typing import Any

__all__ = ["DatabaseError", "NotWipedError", "NumberTakenError", "StoreError"]


class StoreError(Exception):
    """The store cannot do what was asked; the text says why and what to do."""


class NumberTakenError(StoreError):
    """Another issue of the survey has the number."""


class DatabaseError(StoreError):
    """The database is full, busy for too long, cut off or damaged. `detail` is its own words."""

    def __init__(self, detail: str) -> None:
        super().__init__(f"the database does not answer: {detail}")
        self.detail = detail


class NotWipedError(StoreError):
    """All was done, but what was deleted is still in pages of the database, or in its log. `done`
    is what was done."""

    def __init__(self, why: str) -> None:
        super().__init__(
            f"what was deleted is still in pages or the log of the database: {why}; when that is "
            "mended, stop the desk and run `bolewalk forget --wipe`"
        )
        self.done: Any = None
