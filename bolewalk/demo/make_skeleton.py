"""Start a new survey folder from the commented skeleton."""

from importlib.resources import files
from pathlib import Path

__all__ = ["new_folder"]

_TEXTS = ("survey.toml", "trees.csv", "works.geojson")


def new_folder(path: Path) -> tuple[Path, ...]:
    """Write a survey folder that can be checked and made at once, and filled in.

    Parameters
    ----------
    path : Path
        Folder to make; its parents are made too. An empty folder may be there already.

    Returns
    -------
    tuple of Path
        The files written, sorted by name.

    Raises
    ------
    FileExistsError
        `path` is a file, or a folder with something in it: nothing is ever overwritten.
    OSError
        The folder cannot be written.
    """
    if path.exists() and (not path.is_dir() or any(path.iterdir())):
        raise FileExistsError(f"{path} is not empty: name a folder that does not exist yet")
    skeleton = files("bolewalk.demo") / "skeleton"
    texts = {name: (skeleton / name).read_bytes() for name in _TEXTS}
    # The rates a firm starts from are kept where they are checked and documented.
    rates = files("bolewalk.pricing") / "data" / "example_rates.toml"
    texts["rates.toml"] = rates.read_bytes()
    # Local rules are never presumed: an empty table, read only once the survey names it.
    rules = files("bolewalk.rules") / "data" / "template" / "rules.toml"
    texts["rules.toml"] = rules.read_bytes()
    path.mkdir(parents=True, exist_ok=True)
    for name, text in texts.items():
        (path / name).write_bytes(text)
    return tuple(sorted(path / name for name in texts))
