"""The data files of this room: settings, wire distances, examples."""

import tomllib
from functools import lru_cache
from importlib import resources
from typing import Any

__all__ = ["example_files", "packaged"]


@lru_cache(maxsize=8)
def packaged(name: str) -> dict[str, Any]:
    """Read one TOML file of `bolewalk/rules/data`, "examples/nesting.toml" and its siblings.

    Raises
    ------
    FileNotFoundError
        No such file.
    """
    path = resources.files("bolewalk.rules").joinpath("data", *name.split("/"))
    return tomllib.loads(path.read_text(encoding="utf-8"))


def example_files() -> tuple[str, ...]:
    """Name the worked examples that ship, sorted. None applies anywhere until it is copied."""
    folder = resources.files("bolewalk.rules").joinpath("data", "examples")
    return tuple(sorted(f"examples/{f.name}" for f in folder.iterdir() if f.name.endswith("toml")))
