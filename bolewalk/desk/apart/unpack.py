"""Zips from outside: told whole before a byte is written, and counted while it is."""

import stat
import zipfile
from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import IO, BinaryIO

from bolewalk.desk.apart.limits import limits
from bolewalk.desk.apart.names import FileNameError, folded, proper_parts, shown
from bolewalk.intake.zip_faults import ZIP_FAULTS

__all__ = ["ZipError", "unpacked"]

_LOCAL_HEADER = 30
"""Bytes before the name of an entry (APPNOTE.TXT 4.3.7)."""


class ZipError(ValueError):
    """A zip that is not taken; the text says why."""


def unpacked(file: BinaryIO) -> Iterator[tuple[tuple[str, ...], Iterator[bytes]]]:
    """Give the files of a zip, each by the parts of its name and its bytes in pieces.

    Raises
    ------
    ZipError
        Damaged, locked, packed too densely, with links, with entries that share bytes, with two
        names that are one, or with a zip in it; told before the first file is given, but for
        what only unpacking shows.
    """
    try:
        with zipfile.ZipFile(file) as packed:
            # A folder's entry has no bytes, but its name counts like any other.
            entries = _checked(packed.infolist())
            for entry, parts in entries:
                with packed.open(entry) as stream:
                    yield parts, _counted(stream, entry)
    except ZipError:
        raise
    except FileNameError as e:
        raise ZipError(str(e)) from None
    except ZIP_FAULTS as e:
        raise ZipError(f"the zip cannot be read: {e}") from None


def _checked(listed: Sequence[zipfile.ZipInfo]) -> list[tuple[zipfile.ZipInfo, tuple[str, ...]]]:
    if len(listed) > 2 * limits().files:
        raise ZipError(f"at most {limits().files:,} files in the zip")
    _check_apart(listed)
    entries: list[tuple[zipfile.ZipInfo, tuple[str, ...]]] = []
    seen: dict[str, str] = {}
    for entry in listed:
        name = entry.orig_filename
        parts = proper_parts(name)
        kind = stat.S_IFMT(entry.external_attr >> 16)
        if kind not in (0, stat.S_IFREG, stat.S_IFDIR):
            raise ZipError(f"{shown(name)} is a link or a device, no file")
        if entry.is_dir():
            continue
        if entry.flag_bits & 0x1:
            raise ZipError(f"{shown(name)} is locked with a password: send it unlocked")
        one = folded(parts)
        if one in seen:
            raise ZipError(f"{shown(name)} and {shown(seen[one])} are one name on some computers")
        seen[one] = name
        entries.append((entry, parts))
    if len(entries) > limits().files:
        raise ZipError(f"at most {limits().files:,} files in the zip")
    if sum(e.file_size for e, _ in entries) > limits().upload_bytes:
        raise ZipError(f"more than {limits().upload_bytes // 1_000_000_000} GB unpacked")
    return entries


def _check_apart(listed: Sequence[zipfile.ZipInfo]) -> None:
    """Refuse entries that share bytes: one packed piece, named many times, unpacks to any size."""
    ordered = sorted(listed, key=lambda e: e.header_offset)
    for before, after in pairwise(ordered):
        name = before.orig_filename.encode("utf-8", errors="replace")
        # A name in an old code page may be shorter in the file than in UTF-8.
        least = _LOCAL_HEADER + min(len(name), len(before.orig_filename)) + before.compress_size
        if before.header_offset + least > after.header_offset:
            raise ZipError(
                f"{shown(before.orig_filename)} and {shown(after.orig_filename)} share bytes of "
                "the zip"
            )


def _counted(stream: IO[bytes], entry: zipfile.ZipInfo) -> Iterator[bytes]:
    """Give the bytes of an entry; what the directory says of its size is not believed."""
    most = limits().zip_free_bytes + entry.compress_size * limits().zip_ratio
    size = 0
    while piece := _piece(stream):
        size += len(piece)
        if size > most:
            raise ZipError(
                f"{shown(entry.orig_filename)} unpacks to more than {limits().zip_ratio:g} times "
                "its size"
            )
        yield piece


def _piece(stream: IO[bytes]) -> bytes:
    # Read where the bytes are asked for, so damage shows there and not in `unpacked`.
    try:
        return stream.read(1 << 20)
    except ZIP_FAULTS as e:
        raise ZipError(f"the zip cannot be read: {e}") from None
