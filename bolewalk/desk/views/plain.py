"""A page with nothing but something to say."""

from dataclasses import dataclass

__all__ = ["Plain"]


@dataclass(frozen=True, slots=True)
class Plain:
    """A title and what is to be said under it; `home`: with the way to the list of surveys."""

    title: str
    says: tuple[str, ...]
    home: bool = True
