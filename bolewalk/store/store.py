"""The store: one place that keeps surveys, their history, their media and their sealed papers."""

import hashlib
import shutil
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, fields
from datetime import date, datetime
from pathlib import Path
from types import TracebackType
from typing import BinaryIO, Self

from sqlalchemy import Connection, Engine, select

from bolewalk.intake.folder import read_survey
from bolewalk.intake.job import Job
from bolewalk.model.problems import Problem
from bolewalk.model.units import UnitSystem
from bolewalk.store import changes as changing
from bolewalk.store.beginning import begin, begun, empty_survey, new_row
from bolewalk.store.database import is_url, open_database, reading, writing
from bolewalk.store.edits import folder_edits
from bolewalk.store.errors import StoreError
from bolewalk.store.folders import read_files, written_files
from bolewalk.store.items import (
    Applied,
    Change,
    Conflict,
    Edit,
    StoredSurvey,
    SurveyEntry,
)
from bolewalk.store.jobs import PlanReader, source_of
from bolewalk.store.media import MediaFolder, Medium
from bolewalk.store.record import RECORD_FILE, RECORD_FOLDER, record_told, write_groups
from bolewalk.store.record_issues import write_issues, write_removed
from bolewalk.store.removing import finish_removal, still_there
from bolewalk.store.rows import items_at, items_now, know, retitle, title
from bolewalk.store.schema import media, surveys

__all__ = ["DATABASE", "MEDIA", "Imported", "Store"]

DATABASE = "store.db"
MEDIA = "media"


@dataclass(frozen=True, slots=True)
class Imported:
    """A folder that was taken in: its survey, and what was wrong with its files."""

    survey_id: int
    problems: tuple[Problem, ...]


class Store:
    """Surveys, every change of them, and files by content.

    Safe for several threads and processes at once. Every method that writes is one transaction:
    once it returns, what it did is on disk; if it does not return, nothing of it happened. Times
    are given by the caller and must say their zone; `who` is any name.
    """

    def __init__(self, engine: Engine, files: MediaFolder) -> None:
        self.engine = engine
        self.files = files
        self._plans = PlanReader()
        # What a process killed in the middle of a removal has left.
        finish_removal(engine, files)

    @classmethod
    def open(cls, where: str | Path, *, media: Path | None = None) -> Self:
        """Open a store, made where it is missing.

        Parameters
        ----------
        where : str or Path
            A data folder (SQLite and media inside), or the URL of a PostgreSQL database.
        media : Path, optional
            Folder of the media; needed with a URL, else `where`/media.

        Raises
        ------
        StoreError
            It cannot be opened, or is newer than this program.
        """
        if is_url(where):
            if media is None:
                raise StoreError("a database URL needs a folder for the media as well")
            media.mkdir(parents=True, exist_ok=True)
            return cls(open_database(where), MediaFolder(media.resolve()))
        folder = Path(where)
        try:
            folder.mkdir(parents=True, exist_ok=True)
        except OSError as e:
            raise StoreError(f"cannot open {folder}: {e.strerror}") from e
        return cls(
            open_database(folder / DATABASE), MediaFolder((media or folder / MEDIA).resolve())
        )

    def close(self) -> None:
        """Let go of the database."""
        self.engine.dispose()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, e: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    # Surveys

    def surveys(self) -> tuple[SurveyEntry, ...]:
        """Give the list of surveys, newest first."""
        with reading(self.engine) as c:
            told = [surveys.c[f.name] for f in fields(SurveyEntry)]
            rows = c.execute(select(*told).order_by(surveys.c.id.desc())).mappings()
            return tuple(SurveyEntry(**row) for row in rows)

    def create_survey(
        self,
        name: str,
        *,
        visited: date,
        units: UnitSystem,
        who: str,
        when: datetime,
        purpose: str = "opinion",
        firm: str = "",
        send: str = "",
    ) -> int:
        """Begin an empty survey with a tree table and a file of works; give its number.

        The same `send` again from the same person gives the survey it began the first time.
        """
        edits = empty_survey(name, visited=visited, units=units, purpose=purpose)
        with writing(self.engine) as c:
            known = begun(c, who=who, send=send)
            return known or begin(c, edits, who=who, when=when, firm=firm, send=send)

    def revision_of(self, survey_id: int) -> int:
        """Give the revision a survey is at now.

        Raises
        ------
        StoreError
            There is no such survey.
        """
        with reading(self.engine) as c:
            now = c.scalar(select(surveys.c.revision).where(surveys.c.id == survey_id))
        if now is None:
            raise StoreError(f"there is no survey {survey_id}")
        return int(now)

    def load(self, survey_id: int, *, revision: int | None = None) -> StoredSurvey:
        """Give a survey as it is, or as it was at an earlier revision.

        Raises
        ------
        StoreError
            There is no such survey.
        """
        with reading(self.engine) as c:
            row = c.execute(select(surveys).where(surveys.c.id == survey_id)).mappings().first()
            if row is None:
                raise StoreError(f"there is no survey {survey_id}")
            now = row["revision"] if revision is None else revision
            found = items_now(c, survey_id) if revision is None else items_at(c, survey_id, now)
        return StoredSurvey(survey_id, row["name"], now, found)

    def job(self, survey_id: int, *, variant: str = "", revision: int | None = None) -> Job:
        """Give a survey as `read_folder` would give its folder.

        Parameters
        ----------
        survey_id : int
        variant : str
            Key of a what-if copy of the works; "" = the works themselves.
        revision : int, optional
            An earlier state.

        Raises
        ------
        SurveyUnreadableError
            survey.toml cannot be read.
        StoreError
            There is no such survey.
        """
        return self.job_of(self.load(survey_id, revision=revision), variant=variant)

    def job_of(self, stored: StoredSurvey, *, variant: str = "") -> Job:
        """Give the job of a survey that is loaded."""
        source = source_of(stored, self.files.path, variant=variant, read_plan=self._plans)
        return read_survey(source)

    # Changes

    def change(
        self,
        survey_id: int,
        edits: Sequence[Edit],
        *,
        who: str,
        when: datetime,
        note: str = "",
        send: str = "",
    ) -> Applied | Conflict:
        """Apply edits, all of them as one step of undo, or none.

        Parameters
        ----------
        survey_id : int
        edits : sequence of Edit
            Each with the version it was made on.
        who : str
        when : datetime
        note : str
            What was done, in words for the history.
        send : str
            Id of the sending this came by, "" where it cannot come twice.

        Returns
        -------
        Applied or Conflict
            Conflict where an item has another version now: nothing was changed, and both sides
            are in it. Edits that change nothing are left out. Where the same person's same `send`
            has changed this survey before, what came of it then; nothing is changed again.

        Raises
        ------
        StoreError
            No such survey, an unknown kind, an item twice, a file that was never put.
        """
        with self._writing(survey_id, edits) as c:
            if (before := changing.sent(c, survey_id, who=who, send=send)) is not None:
                return before
            done = changing.apply(c, survey_id, edits, who=who, when=when, note=note, send=send)
            retitle(c, survey_id, done)
        return done

    def sent(self, survey_id: int, *, who: str, send: str) -> Applied | None:
        """Give what came of a person's sending, None where it has changed nothing so far."""
        with reading(self.engine) as c:
            return changing.sent(c, survey_id, who=who, send=send)

    def undo(
        self, survey_id: int, *, who: str, when: datetime, send: str = ""
    ) -> Applied | Conflict | None:
        """Take back a person's last change that stands; None where there is none.

        Conflict where someone else has changed one of its items since. `send` as for `change`.
        """
        return self._undo(survey_id, who=who, when=when, again=False, send=send)

    def redo(
        self, survey_id: int, *, who: str, when: datetime, send: str = ""
    ) -> Applied | Conflict | None:
        """Do again what a person took back last; None where there is nothing."""
        return self._undo(survey_id, who=who, when=when, again=True, send=send)

    def _undo(
        self, survey_id: int, *, who: str, when: datetime, again: bool, send: str
    ) -> Applied | Conflict | None:
        with writing(self.engine) as c:
            changing.locked(c, survey_id)
            if (before := changing.sent(c, survey_id, who=who, send=send)) is not None:
                return before
            done = changing.undo(c, survey_id, who=who, when=when, again=again, send=send)
            retitle(c, survey_id, done)
        return done

    def history(
        self, survey_id: int, kind: str | None = None, key: str | None = None
    ) -> tuple[Change, ...]:
        """Give what happened to a survey, a kind of items or one item, oldest first."""
        with reading(self.engine) as c:
            return changing.history(c, survey_id, kind=kind, key=key)

    # Media

    def put_media(self, stream: BinaryIO, *, when: datetime, limit: int | None = None) -> Medium:
        """Keep a file, read piece by piece; the same content is kept once.

        Raises
        ------
        StoreError
            Longer than `limit` bytes; nothing is kept.
        """
        medium = self.files.put(stream, limit=limit)
        with writing(self.engine) as c:
            know(c, [medium], when)
            still_there(self.files, [medium.sha256])
        return medium

    def open_media(self, sha256: str) -> BinaryIO:
        """Open a kept file for reading. Raises StoreError where it is not there."""
        return self.files.open(sha256)

    # Folders

    def import_folder(
        self, folder: Path, *, who: str, when: datetime, firm: str = "", send: str = ""
    ) -> Imported:
        """Take in a survey folder, every file of it, with its history where it has a record.

        What was changed in the folder since it was written becomes one more step of the history.
        The same `send` again from the same person gives the survey it was taken in as before.

        Raises
        ------
        SurveyUnreadableError
            survey.toml cannot be read; nothing was taken in.
        """
        kept: list[Medium] = []

        def put(path: Path) -> Medium:
            with path.open("rb") as stream:
                kept.append(self.files.put(stream))
            return kept[-1]

        read = read_files(folder, put)
        with writing(self.engine) as c:
            know(c, kept, when)
            still_there(self.files, {m.sha256 for m in kept})
            if (known := begun(c, who=who, send=send)) is not None:
                return Imported(known, read.problems)
            if not read.record.groups:
                number = begin(c, read.edits, who=who, when=when, firm=firm, send=send)
                return Imported(number, read.problems)
            number = new_row(c, who=who, when=when, firm=firm, send=send)
            revisions = write_groups(c, number, read.record.groups)
            write_issues(c, number, read.record.issues, revisions)
            write_removed(c, read.record.removed)
            revision = changing.locked(c, number)["revision"]
            stored = StoredSurvey(number, "", revision, items_now(c, number))
            edits = folder_edits(stored, read.edits)
            changing.apply(c, number, edits, who=who, when=when, action="import")
            head = next(e for e in read.edits if e.kind == "head")
            title(c, number, (head.body or {})["text"])
        return Imported(number, read.problems)

    def export_folder(
        self, survey_id: int, out: Path, *, revision: int | None = None, record: bool = True
    ) -> tuple[Path, ...]:
        """Write a survey as a folder; give what was written.

        With `record`, its history, its sealed issues and what the tables cannot hold are written
        to record.json, where there is any, and the files only these name to record/.

        Raises
        ------
        StoreError
            `out` has files in it already, or there is no such survey.
        OSError
            It cannot be written to.
        """
        stored = self.load(survey_id, revision=revision)
        out.mkdir(parents=True, exist_ok=True)
        if any(out.iterdir()):
            raise StoreError(f"{out} is not empty")
        written = []
        there: set[str] = set()

        def write(name: str, content: Path | bytes) -> None:
            path = out / name
            path.parent.mkdir(parents=True, exist_ok=True)
            if isinstance(content, bytes):
                path.write_bytes(content)
                there.add(hashlib.sha256(content).hexdigest())
            else:
                # In pieces: a recording may be larger than the memory.
                shutil.copyfile(content, path)
                there.add(content.name)
            written.append(path)

        for name, content in written_files(stored, self.files.path):
            write(name, content)
        if record:
            with reading(self.engine) as c:
                told = record_told(c, survey_id, revision=stored.revision)
            if told is not None:
                write(RECORD_FILE, told[0])
                for sha256 in sorted(told[1] - there):
                    # One that was removed for good is not there; the record says so.
                    if (kept := self.files.path(sha256)).is_file():
                        write(f"{RECORD_FOLDER}/{sha256}", kept)
        return tuple(written)

    # Inside

    @contextmanager
    def _writing(self, survey_id: int, edits: Sequence[Edit]) -> Iterator[Connection]:
        changing.check_edits(edits)
        with writing(self.engine) as c:
            changing.locked(c, survey_id)
            wanted = {e.body["sha256"] for e in edits if e.kind == "file" and e.body is not None}
            known = c.execute(select(media.c.sha256).where(media.c.sha256.in_(wanted))).scalars()
            missing = wanted - set(known)
            if missing:
                raise StoreError(f"no such kept file: {', '.join(sorted(missing))}")
            yield c
