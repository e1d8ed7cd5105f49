"""Files on their way to a survey: taken piece by piece, gone on with after any break.

A file that is being brought is known by what the browser tells of it, so that the same file dropped
again goes on where it stopped, whether the browser, the line or the desk broke off.
"""

import hashlib
import json
import os
import tempfile
import threading
from dataclasses import asdict, dataclass
from datetime import datetime, timedelta
from pathlib import Path

from bolewalk.desk.uploads import LIMIT_BYTES, UploadError

__all__ = ["Arrival", "Incoming", "OutOfStepError"]

_KEPT = timedelta(days=7)
"""A break longer than this is no break: what lies there is taken away when the desk starts."""

_OPEN_AT_ONCE = 200


class OutOfStepError(ValueError):
    """A piece that does not begin where the file so far ends; `at` is where it does."""

    def __init__(self, at: int) -> None:
        super().__init__(f"the file is here up to byte {at:,}: go on from there")
        self.at = at


@dataclass(frozen=True, slots=True)
class Arrival:
    """One file being brought. `begun_at` is ISO 8601; `tree` the tree it was dropped on."""

    id: str
    survey: int
    name: str
    size: int
    tree: str
    begun_at: str


class Incoming:
    """The files being brought to a desk's surveys. Safe for several threads.

    Parameters
    ----------
    folder : Path
        Where they grow.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._lock = threading.Lock()

    def begin(
        self, survey: int, name: str, size: int, stamp: str, *, tree: str, when: datetime
    ) -> tuple[Arrival, int]:
        """Begin a file, or find it where it was broken off.

        Parameters
        ----------
        survey, name, size
        stamp : str
            When the file was last changed, as the browser tells.
        tree : str
        when : datetime

        Returns
        -------
        arrival, at
            The byte to go on from.

        Raises
        ------
        UploadError
            Too large, empty, or too many at once.
        """
        if size > LIMIT_BYTES:
            raise UploadError(f"{name}: at most {LIMIT_BYTES // 1_000_000_000} GB")
        if size < 1:
            raise UploadError(f"{name}: an empty file")
        told = json.dumps([survey, name, size, stamp, tree])
        key = hashlib.sha256(told.encode("utf-8", errors="surrogatepass")).hexdigest()[:32]
        with self._lock:
            known = self.get(key)
            if known is not None:
                return known, self.at(key)
            self.folder.mkdir(parents=True, exist_ok=True)
            if len(list(self.folder.glob("*.json"))) >= _OPEN_AT_ONCE:
                raise UploadError(f"at most {_OPEN_AT_ONCE} files at once: let these arrive first")
            arrival = Arrival(key, survey, name[:400], size, tree, when.isoformat())
            self.path(key).write_bytes(b"")
            with tempfile.NamedTemporaryFile(
                "w", dir=self.folder, delete=False, encoding="utf-8"
            ) as out:
                json.dump(asdict(arrival), out)
                out.flush()
                os.fsync(out.fileno())
            os.replace(out.name, self.folder / f"{key}.json")
            return arrival, 0

    def get(self, key: str) -> Arrival | None:
        """Give a file being brought, None where there is none."""
        if not key.isalnum():
            return None
        try:
            return Arrival(**json.loads((self.folder / f"{key}.json").read_text("utf-8")))
        except (OSError, ValueError, TypeError):
            return None

    def path(self, key: str) -> Path:
        """Give where it grows."""
        return self.folder / f"{key}.part"

    def at(self, key: str) -> int:
        """Give how many bytes are here."""
        try:
            return self.path(key).stat().st_size
        except OSError:
            return 0

    def add(self, arrival: Arrival, at: int, piece: bytes) -> int:
        """Add a piece; give how many bytes are here now, on disk.

        Raises
        ------
        OutOfStepError
            It does not begin where the file so far ends.
        UploadError
            More bytes than were announced.
        OSError
            The disk does not take it; the file so far stays as it was.
        """
        with self._lock:
            here = self.at(arrival.id)
            if at != here:
                raise OutOfStepError(here)
            if here + len(piece) > arrival.size:
                raise UploadError(f"{arrival.name}: more than the {arrival.size:,} bytes announced")
            with self.path(arrival.id).open("ab") as out:
                try:
                    out.write(piece)
                    out.flush()
                    os.fsync(out.fileno())
                except OSError:
                    out.truncate(here)
                    raise
            return here + len(piece)

    def of(self, survey: int) -> tuple[tuple[Arrival, int], ...]:
        """Give the files being brought to a survey and how far they are, oldest first."""
        found = [self.get(p.stem) for p in sorted(self.folder.glob("*.json"))]
        mine = [a for a in found if a is not None and a.survey == survey]
        return tuple((a, self.at(a.id)) for a in sorted(mine, key=lambda a: (a.begun_at, a.id)))

    def drop(self, key: str) -> None:
        """Take a file away."""
        (self.folder / f"{key}.json").unlink(missing_ok=True)
        self.path(key).unlink(missing_ok=True)

    def tidy(self, *, now: datetime) -> None:
        """Take away what was given up, or lost its other half in a crash."""
        for path in sorted(self.folder.glob("*")):
            arrival = self.get(path.stem) if path.suffix in (".json", ".part") else None
            if arrival is None or datetime.fromisoformat(arrival.begun_at) < now - _KEPT:
                path.unlink(missing_ok=True)
