"""Files named by a survey: found within its folder, or told."""

import os
from pathlib import Path, PurePosixPath, PureWindowsPath

from bolewalk.drawing.details import Place, nearest

__all__ = ["find_file", "proper_name", "relative_name"]


def relative_name(root: Path, path: Path) -> str:
    """Give the name of a path within the survey folder, with forward slashes."""
    return path.relative_to(root).as_posix()


def find_file(
    root: Path, name: str, place: Place, field: str, *, folder: bool = False
) -> Path | None:
    """Find a file named by the survey.

    Parameters
    ----------
    root : Path
        The survey folder, resolved.
    name : str
        Relative to it, with forward slashes.
    place, field : Place, str
        Take the problem: outside the folder (by name or by link), missing, not a file.
    folder : bool
        A folder is wanted, not a file.

    Returns
    -------
    Path or None
        Within `root` once links are followed, and there.
    """
    what = "folder" if folder else "file"
    plain = proper_name(name, place, field, folder=folder)
    if plain is None:
        return None
    path = root / plain
    try:
        real = path.resolve()
        inside = real.is_relative_to(root)
        there = real.is_dir() if folder else real.is_file()
    except (OSError, RuntimeError):
        inside, there = True, False
    if not inside:
        place.tell(field, name, f"a {what} inside the survey folder, not a link out; not opened")
        return None
    if not there:
        place.tell(field, name, f"a {what} that is there{_hint(root, path)}")
        return None
    return path


def proper_name(name: str, place: Place, field: str, *, folder: bool = False) -> str | None:
    """Give the plain form of a name within the survey folder, whether it is there or not.

    Names that lead out of the folder, or mean something else on another system, are told in
    `place` under `field` and give None.
    """
    what = "folder" if folder else "file"
    if "\x00" in name or not name.strip():
        place.tell(field, name, f"the name of a {what}")
        return None
    pure = PurePosixPath(name)
    windows = PureWindowsPath(name)
    if pure.is_absolute() or windows.drive or windows.root or ".." in windows.parts:
        place.tell(field, name, f"a {what} inside the survey folder; not opened")
        return None
    if "\\" in name:
        place.tell(field, name, f"forward slashes in the name of a {what}; not opened")
        return None
    return pure.as_posix()


def _hint(root: Path, path: Path) -> str:
    try:
        beside = sorted(os.listdir(path.parent)) if path.parent.is_relative_to(root) else []
    except OSError:
        beside = []
    return nearest(path.name, [n for n in beside if n != path.name])
