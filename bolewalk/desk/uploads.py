"""Survey folders brought in as files: laid out in a folder of their own, checked, within limits."""

from collections.abc import Iterable, Sequence
from functools import partial
from pathlib import Path
from typing import BinaryIO

from bolewalk.desk.apart.check import check_folder
from bolewalk.desk.apart.limits import limits
from bolewalk.desk.apart.names import FileNameError, folded, proper_parts, shown
from bolewalk.desk.apart.unpack import ZipError, unpacked
from bolewalk.intake.survey_toml import HEAD_FILE

__all__ = ["LIMIT_BYTES", "UploadError", "lay_out", "lay_out_checked"]

LIMIT_BYTES = limits().upload_bytes
"""Of one upload."""

_PIECE = 1 << 20


class UploadError(ValueError):
    """What was sent is no survey; the text says what would be."""


def lay_out_checked(sent: Sequence[tuple[str, BinaryIO]], folder: Path) -> Path:
    """Lay out what was sent, as `lay_out`, and check every file of it, as `check_folder`.

    Raises
    ------
    UploadError
        As `lay_out`, or files that are not taken, all of them named.
    """
    survey = lay_out(sent, folder)
    faults = check_folder(survey)
    if faults:
        raise UploadError("\n".join(p.line() for p in faults))
    return survey


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
        try:
            left = LIMIT_BYTES
            for parts, pieces in unpacked(sent[0][1]):
                left = _write(pieces, folder.joinpath(*parts), left)
        except ZipError as e:
            raise UploadError(str(e)) from None
    else:
        _lay_files(sent, folder)
    found = sorted(folder.rglob(HEAD_FILE), key=lambda p: (len(p.parts), p.parts))
    if not found:
        raise UploadError(
            f"no {HEAD_FILE} among the files: choose the folder that holds it, or its zip"
        )
    return found[0].parent


def _lay_files(sent: Sequence[tuple[str, BinaryIO]], folder: Path) -> None:
    if len(sent) > limits().files:
        raise UploadError(f"at most {limits().files:,} files")
    left = LIMIT_BYTES
    seen: set[str] = set()
    for name, file in sent:
        try:
            parts = proper_parts(name)
        except FileNameError as e:
            raise UploadError(str(e)) from None
        if folded(parts) in seen:
            raise UploadError(f"{shown(name)} is there twice on some computers")
        seen.add(folded(parts))
        left = _write(iter(partial(file.read, _PIECE), b""), folder.joinpath(*parts), left)


def _write(pieces: Iterable[bytes], path: Path, left: int) -> int:
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with path.open("wb") as out:
            for piece in pieces:
                left -= len(piece)
                if left < 0:
                    raise UploadError(f"more than {LIMIT_BYTES // 1_000_000_000} GB")
                out.write(piece)
    except (FileExistsError, NotADirectoryError, IsADirectoryError):
        raise UploadError(f"{shown(path.name)} is a file and a folder at once") from None
    return left
