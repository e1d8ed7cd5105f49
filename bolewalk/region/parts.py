"""Finished parts on disk: whole or not there, whatever stops the run."""

import json
import os
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

__all__ = ["read_array", "read_note", "write_array", "write_note", "write_text"]


def _put(path: Path, data: bytes) -> None:
    # Two workers may finish one part, after one was given up for lost: each writes its own
    # file and the last rename stands, of the same bytes.
    path.parent.mkdir(parents=True, exist_ok=True)
    mine = path.with_name(f"{path.name}.{os.getpid()}.part")
    mine.write_bytes(data)
    os.replace(mine, path)


def write_array(path: Path, values: NDArray[Any]) -> None:
    """Write an array; the file appears when it is whole."""
    path.parent.mkdir(parents=True, exist_ok=True)
    mine = path.with_name(f"{path.name}.{os.getpid()}.part")
    with mine.open("wb") as f:
        np.save(f, values, allow_pickle=False)
    os.replace(mine, path)


def read_array(path: Path) -> NDArray[Any]:
    """Read an array without loading more of it than is used."""
    values: NDArray[Any] = np.load(path, mmap_mode="r", allow_pickle=False)
    return values


def write_note(path: Path, note: dict[str, Any]) -> None:
    """Write a small record, last of all: its presence says that the part is finished."""
    _put(path, json.dumps(note, ensure_ascii=False, sort_keys=True).encode())


def read_note(path: Path) -> dict[str, Any] | None:
    """Read a record, None where the part is not finished."""
    try:
        return dict(json.loads(path.read_bytes()))
    except (OSError, ValueError):
        return None


def write_text(path: Path, text: str) -> None:
    """Write a text; the file appears when it is whole."""
    _put(path, text.encode())
