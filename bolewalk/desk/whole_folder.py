"""Folders of what the desk makes, each of which appears only once all of it is there."""

import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

__all__ = ["clear_unfinished", "whole_folder"]

_UNFINISHED = "making-"


@contextmanager
def whole_folder(out: Path) -> Iterator[Path]:
    """Give a new folder to fill; left without an error it becomes `out`, else it goes."""
    out.parent.mkdir(parents=True, exist_ok=True)
    made = Path(tempfile.mkdtemp(dir=out.parent, prefix=_UNFINISHED))
    try:
        yield made
        made.rename(out)
    finally:
        shutil.rmtree(made, ignore_errors=True)


def clear_unfinished(folder: Path, *places: str) -> None:
    """Take away what a process left that was stopped while it filled a folder.

    Parameters
    ----------
    folder : Path
        Folder of what the desk makes.
    *places : str
        Patterns of the folders in it that hold such folders.
    """
    for place in places:
        for made in folder.glob(f"{place}/{_UNFINISHED}*"):
            shutil.rmtree(made, ignore_errors=True)
