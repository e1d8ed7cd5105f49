"""What can go wrong with the store itself, told in words for the person at the desk."""

__all__ = ["DatabaseError", "NumberTakenError", "StoreError"]


class StoreError(Exception):
    """The store cannot do what was asked; the text says why and what to do."""


class NumberTakenError(StoreError):
    """Another issue of the survey has the number."""


class DatabaseError(StoreError):
    """The database is full, busy for too long, cut off or damaged. `detail` is its own words."""

    def __init__(self, detail: str) -> None:
        super().__init__(f"the database does not answer: {detail}")
        self.detail = detail
