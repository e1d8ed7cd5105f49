"""The store: one place that keeps surveys, their history, their media and their sealed papers."""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path
from types import TracebackType
from typing import BinaryIO, Self

import tomlkit
from sqlalchemy import Connection, Engine, insert, select, update
from sqlalchemy.dialects import postgresql, sqlite

from bolewalk.intake.folder import read_survey
from bolewalk.intake.job import Job
from bolewalk.intake.toml_file import TomlError, parse_toml
from bolewalk.intake.tree_table import COLUMNS
from bolewalk.model.problems import Problem
from bolewalk.model.units import UnitSystem
from bolewalk.store import changes as changing
from bolewalk.store.database import is_url, open_database, reading, writing
from bolewalk.store.errors import StoreError
from bolewalk.store.folders import HEAD_FILE, read_files, written_files
from bolewalk.store.items import (
    Applied,
    Change,
    Conflict,
    Edit,
    Item,
    StoredSurvey,
    SurveyEntry,
    from_text,
    stamp,
)
from bolewalk.store.jobs import PlanReader, source_of
from bolewalk.store.media import MediaFolder, Medium
from bolewalk.store.schema import changes, groups, items, media, surveys

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
            rows = c.execute(select(surveys).order_by(surveys.c.id.desc())).mappings()
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
    ) -> int:
        """Begin an empty survey with a tree table and a file of works; give its number."""
        head = tomlkit.dumps(
            {
                "survey": {"name": name, "date": visited, "units": units, "purpose": purpose},
                "files": {"trees": "trees.csv", "works": ["works.geojson"]},
            }
        )
        edits = (
            Edit("head", HEAD_FILE, {"text": head}),
            Edit("columns", "trees.csv", {"columns": list(COLUMNS)}),
            Edit("works", "works.geojson", {"top": {"type": "FeatureCollection"}}),
        )
        with writing(self.engine) as c:
            return self._begin(c, edits, who=who, when=when, firm=firm)

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
            found = _items_now(c, survey_id) if revision is None else _items_at(c, survey_id, now)
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
        self, survey_id: int, edits: Sequence[Edit], *, who: str, when: datetime, note: str = ""
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

        Returns
        -------
        Applied or Conflict
            Conflict where an item has another version now: nothing was changed, and both sides
            are in it. Edits that change nothing are left out.

        Raises
        ------
        StoreError
            No such survey, an unknown kind, an item twice, a file that was never put.
        """
        with self._writing(survey_id, edits) as c:
            done = changing.apply(c, survey_id, edits, who=who, when=when, note=note)
            _retitle(c, survey_id, done)
        return done

    def undo(self, survey_id: int, *, who: str, when: datetime) -> Applied | Conflict | None:
        """Take back a person's last change that stands; None where there is none.

        Conflict where someone else has changed one of its items since.
        """
        with writing(self.engine) as c:
            done = changing.undo(c, survey_id, who=who, when=when)
            _retitle(c, survey_id, done)
        return done

    def redo(self, survey_id: int, *, who: str, when: datetime) -> Applied | Conflict | None:
        """Do again what a person took back last; None where there is nothing."""
        with writing(self.engine) as c:
            done = changing.undo(c, survey_id, who=who, when=when, again=True)
            _retitle(c, survey_id, done)
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
            _know(c, [medium], when)
        return medium

    def open_media(self, sha256: str) -> BinaryIO:
        """Open a kept file for reading. Raises StoreError where it is not there."""
        return self.files.open(sha256)

    # Folders

    def import_folder(self, folder: Path, *, who: str, when: datetime, firm: str = "") -> Imported:
        """Take in a survey folder, every file of it.

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
            _know(c, kept, when)
            number = self._begin(c, read.edits, who=who, when=when, firm=firm)
        return Imported(number, read.problems)

    def export_folder(
        self, survey_id: int, out: Path, *, revision: int | None = None
    ) -> tuple[Path, ...]:
        """Write a survey as a folder; give what was written.

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
        for name, content in written_files(stored, self.files.path):
            path = out / name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(content if isinstance(content, bytes) else content.read_bytes())
            written.append(path)
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

    def _begin(
        self, c: Connection, edits: Sequence[Edit], *, who: str, when: datetime, firm: str
    ) -> int:
        made = insert(surveys).values(
            firm=firm, name="", visited="", created_at=stamp(when), created_by=who, revision=0
        )
        number: int = c.execute(made.returning(surveys.c.id)).scalar_one()
        done = changing.apply(c, number, edits, who=who, when=when, action="import")
        _retitle(c, number, done)
        return number


def _retitle(c: Connection, survey_id: int, result: Applied | Conflict | None) -> None:
    """Keep the list of surveys in step with the head."""
    if not isinstance(result, Applied):
        return
    for item in result.items:
        if item.kind == "head" and item.body is not None:
            name, visited = _title(item.body["text"])
            row = update(surveys).where(surveys.c.id == survey_id)
            c.execute(row.values(name=name, visited=visited))


def _title(head: str) -> tuple[str, str]:
    try:
        table = parse_toml(head).get("survey")
    except TomlError:
        return "", ""
    if not isinstance(table, dict):
        return "", ""
    return str(table.get("name", "")).replace("\x00", ""), str(table.get("date", ""))


def _know(c: Connection, kept: Sequence[Medium], when: datetime) -> None:
    # Two may bring the same file at the same moment.
    insert_new = postgresql.insert if c.dialect.name == "postgresql" else sqlite.insert
    for medium in kept:
        row = insert_new(media).values(sha256=medium.sha256, size=medium.size, added_at=stamp(when))
        c.execute(row.on_conflict_do_nothing())


def _items_now(c: Connection, survey_id: int) -> tuple[Item, ...]:
    rows = c.execute(
        select(items)
        .where(items.c.survey_id == survey_id, items.c.body.is_not(None))
        .order_by(items.c.kind, items.c.place, items.c.id)
    )
    return tuple(Item(r.kind, r.key, r.version, r.place, from_text(r.body)) for r in rows)


def _items_at(c: Connection, survey_id: int, revision: int) -> tuple[Item, ...]:
    rows = c.execute(
        select(
            items.c.id, items.c.kind, items.c.key, changes.c.version, changes.c.place_after,
            changes.c.after,
        )
        .join(changes, changes.c.item_id == items.c.id)
        .join(groups, groups.c.id == changes.c.group_id)
        .where(groups.c.survey_id == survey_id, groups.c.id <= revision)
        .order_by(changes.c.id)
    )  # fmt: skip
    last = {row.id: row for row in rows}
    there = sorted(
        (r for r in last.values() if r.after is not None),
        key=lambda r: (r.kind, r.place_after, r.id),
    )
    return tuple(Item(r.kind, r.key, r.version, r.place_after, from_text(r.after)) for r in there)
