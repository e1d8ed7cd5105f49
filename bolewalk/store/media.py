"""Files by their content: each kept once, under its own SHA-256."""

import hashlib
import os
import re
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

from bolewalk.store.errors import StoreError

try:
    import fcntl
except ImportError:  # Windows has no such locks, and does not remove a file that is open.
    fcntl = None  # type: ignore[assignment]

__all__ = ["MediaFolder", "Medium"]

_CHUNK = 1 << 20
_SHA256 = re.compile(r"[0-9a-f]{64}")


@dataclass(frozen=True, slots=True)
class Medium:
    """One file: its SHA-256 in hexadecimal and its size in bytes."""

    sha256: str
    size: int


@dataclass(frozen=True, slots=True)
class MediaFolder:
    """A folder of files named by their content."""

    root: Path

    @property
    def incoming(self) -> Path:
        """Where files grow until they are whole."""
        return self.root / "incoming"

    def put(self, stream: BinaryIO, *, limit: int | None = None) -> Medium:
        """Keep a stream, read piece by piece.

        Parameters
        ----------
        stream : binary file
        limit : int or None
            Most bytes taken.

        Returns
        -------
        Medium
            On disk for good when this returns.

        Raises
        ------
        StoreError
            Longer than `limit`, or the disk does not take it; nothing is kept.
        """
        try:
            return self._put(stream, limit)
        except OSError as e:
            raise StoreError(f"the file cannot be kept: {e.strerror or e}") from e

    def _put(self, stream: BinaryIO, limit: int | None) -> Medium:
        self.incoming.mkdir(parents=True, exist_ok=True)
        digest = hashlib.sha256()
        size = 0
        with tempfile.NamedTemporaryFile(dir=self.incoming, delete=False) as out:
            try:
                _hold(out.fileno())
                while chunk := stream.read(_CHUNK):
                    size += len(chunk)
                    if limit is not None and size > limit:
                        raise StoreError(f"larger than {limit:,} bytes")
                    digest.update(chunk)
                    out.write(chunk)
                out.flush()
                os.fsync(out.fileno())
            except BaseException:
                Path(out.name).unlink(missing_ok=True)
                raise
        medium = Medium(digest.hexdigest(), size)
        path = self.path(medium.sha256)
        if path.exists():
            Path(out.name).unlink()
        else:
            path.parent.mkdir(exist_ok=True)
            os.replace(out.name, path)
            _sync(path.parent)
            _sync(self.root)
        return medium

    def clear_leftovers(self) -> int:
        """Take away files that were growing when their process was killed; give how many.

        One that another process is still writing is left alone: it holds its lock.
        """
        gone = 0
        for path in sorted(self.incoming.glob("*")):
            try:
                with path.open("rb") as file:
                    if _hold(file.fileno()):
                        path.unlink(missing_ok=True)
                        gone += 1
            except OSError:
                # Gone in the meantime, or held open by a process of a system without such locks.
                continue
        return gone

    def path(self, sha256: str) -> Path:
        """Give where a file of this content lies, or would lie."""
        if not _SHA256.fullmatch(sha256):
            raise StoreError(f"not the name of a kept file: {sha256!r}")
        return self.root / sha256[:2] / sha256

    def open(self, sha256: str) -> BinaryIO:
        """Open a kept file. Raises StoreError where it is not there."""
        try:
            return self.path(sha256).open("rb")
        except OSError as e:
            raise StoreError(f"the kept file {sha256[:12]} cannot be read: {e.strerror}") from e

    def names(self) -> Iterator[str]:
        """Give the SHA-256 of every file that is there, sorted."""
        for folder in sorted(self.root.glob("[0-9a-f][0-9a-f]")):
            yield from sorted(p.name for p in folder.iterdir() if _SHA256.fullmatch(p.name))

    def check(self, sha256: str) -> int | None:
        """Give the size of a file that still has its content, None where it has not."""
        digest = hashlib.sha256()
        size = 0
        try:
            with self.path(sha256).open("rb") as file:
                while chunk := file.read(_CHUNK):
                    size += len(chunk)
                    digest.update(chunk)
        except OSError:
            return None
        return size if digest.hexdigest() == sha256 else None


def _hold(handle: int) -> bool:
    """Take the lock of a growing file, which ends with the process; False where another has it."""
    if fcntl is None:
        return True
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        return False
    return True


def _sync(folder: Path) -> None:
    # A rename lasts once its folder is on disk; Windows has no such call and needs none.
    if os.name != "posix":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
