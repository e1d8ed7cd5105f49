"""Survey folders brought in as files: laid out in a folder of their own, within limits."""

import zipfile
from collections.abc import Sequence
from pathlib import Path, PurePosixPath
from typing import IO, BinaryIO

__all__ = ["LIMIT_BYTES", "UploadError", "lay_out"]

LIMIT_BYTES = 2_000_000_000
"""A day's recordings on video; larger ones are put in the folder by hand."""

_FILES = 5_000
_PIECE = 1 << 20
_HEAD = "survey.toml"


class UploadError(ValueError):
    """What was sent is no survey; the text says what would be."""


def lay_out(sent: Sequence[tuple[str, BinaryIO]], folder: Path) -> Path:
    """Write what was sent into an empty folder and give the one that holds survey.toml.

    Parameters
    ----------
    sent : sequence of (name, file)
        Either one zip, or files with their paths relative to some folder.
    folder : Path
        Empty.

    Raises
    ------
    UploadError
        No survey.toml among them, a name that leads elsewhere, too much.
    """
    if len(sent) == 1 and sent[0][0].lower().endswith(".zip"):
        _unpack(sent[0][1], folder)
    else:
        if len(sent) > _FILES:
            raise UploadError(f"at most {_FILES:,} files")
        left = LIMIT_BYTES
        for name, file in sent:
            left = _write(file, _within(folder, name), left)
    found = sorted(folder.rglob(_HEAD), key=lambda p: (len(p.parts), p.parts))
    if not found:
        raise UploadError(
            f"no {_HEAD} among the files: choose the folder that holds it, or its zip"
        )
    return found[0].parent


def _unpack(file: BinaryIO, folder: Path) -> None:
    try:
        with zipfile.ZipFile(file) as packed:
            entries = [e for e in packed.infolist() if not e.is_dir()]
            if len(entries) > _FILES:
                raise UploadError(f"at most {_FILES:,} files in the zip")
            left = LIMIT_BYTES
            for entry in entries:
                # What the directory says of the size is not believed: bytes are counted.
                with packed.open(entry) as stream:
                    left = _write(stream, _within(folder, entry.filename), left)
    except (zipfile.BadZipFile, NotImplementedError, RuntimeError, EOFError, OSError) as e:
        raise UploadError(f"the zip cannot be read: {e}") from None


def _within(folder: Path, name: str) -> Path:
    plain = PurePosixPath(name.replace("\\", "/"))
    parts = [p for p in plain.parts if p not in ("", ".")]
    if (
        not parts
        or plain.is_absolute()
        or ".." in parts
        or any(":" in p or "\0" in p for p in parts)
    ):
        raise UploadError(f"{name!r} is no name of a file in a folder")
    return folder.joinpath(*parts)


def _write(stream: IO[bytes], path: Path, left: int) -> int:
    path.parent.mkdir(parents=True, exist_ok=True)
    with path.open("wb") as out:
        while chunk := stream.read(_PIECE):
            left -= len(chunk)
            if left < 0:
                raise UploadError(f"more than {LIMIT_BYTES // 1_000_000_000} GB")
            out.write(chunk)
    return left
