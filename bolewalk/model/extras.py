"""Optional installs: what to say when a part of the job needs one that is not there."""

from collections.abc import Iterator
from contextlib import contextmanager

__all__ = ["MissingExtraError", "extra"]


class MissingExtraError(RuntimeError):
    """A library of an optional install is missing. `extra` names the install."""

    def __init__(self, extra: str, what: str) -> None:
        super().__init__(f"{what} needs the extra {extra}: pip install 'bolewalk[{extra}]'")
        self.extra = extra
        self.what = what


@contextmanager
def extra(name: str, *, what: str) -> Iterator[None]:
    """Import libraries of an optional install inside this block.

    Parameters
    ----------
    name : str
        The extra in pyproject.toml.
    what : str
        What cannot be done without it, as the beginning of a sentence.

    Raises
    ------
    MissingExtraError
        One of the imports is not installed.
    """
    try:
        yield
    except ModuleNotFoundError as e:
        raise MissingExtraError(name, what) from e
