"""Sealed issues in a record: what was sealed, to the letter, and what was said of it since."""

import hashlib
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, insert, select
from sqlalchemy.dialects import postgresql, sqlite

from bolewalk.store.bodies import is_sha256
from bolewalk.store.errors import StoreError
from bolewalk.store.items import stamp
from bolewalk.store.rows import fits_column
from bolewalk.store.schema import issue_marks, issues, removed_media

__all__ = [
    "IssueRecord", "MarkRecord", "RemovedFile", "issues_told", "read_issues", "read_removed",
    "removed_told", "write_issues", "write_removed",
]  # fmt: skip

_TEXTS = ("survey", "number", "title", "at", "who")


@dataclass(frozen=True, slots=True)
class MarkRecord:
    """What was said of an issue; `by` counts the issues from 0."""

    at: str
    who: str
    mark: str
    by: int | None
    reason: str


@dataclass(frozen=True, slots=True)
class IssueRecord:
    """One issue: the sealed text, the group of changes it was made at (counted from 0), the SHA-256
    of every file it lists."""

    manifest: str
    of: int
    files: frozenset[str]
    marks: tuple[MarkRecord, ...]

    def told(self, name: str) -> str:
        """Give a text of what was sealed."""
        value: str = json.loads(self.manifest)[name]
        return value


@dataclass(frozen=True, slots=True)
class RemovedFile:
    """A file that was taken out for good before the record was written."""

    sha256: str
    size: int
    removed_at: str


def issues_told(
    c: Connection, survey_id: int, number: Mapping[int, int]
) -> list[dict[str, Any]]:  # fmt: skip
    """Give the issues of a survey as JSON values; `number` counts its groups of changes."""
    rows = c.execute(
        select(issues).where(issues.c.survey_id == survey_id).order_by(issues.c.id)
    ).all()  # fmt: skip
    rows = [r for r in rows if r.revision in number]
    place = {r.id: n for n, r in enumerate(rows)}
    told = []
    for row in rows:
        marks = c.execute(
            select(issue_marks)
            .where(issue_marks.c.issue_id == row.id)
            .order_by(issue_marks.c.id)
        )  # fmt: skip
        listed = [
            {"at": m.at, "who": m.who, "mark": m.mark, "reason": m.reason,
             "by": None if m.by_issue is None else place.get(m.by_issue)}
            for m in marks
        ]  # fmt: skip
        told.append({"of": number[row.revision], "sealed": row.manifest, "marks": listed})
    return told


def read_issues(raw: object, *, groups: int) -> tuple[IssueRecord, ...]:
    """Read the issues of a record.

    Raises
    ------
    StoreError
        One is not what a store could have sealed.
    """
    if not isinstance(raw, list):
        raise StoreError("issues must be a list")
    read = []
    for n, one in enumerate(raw):
        try:
            read.append(_issue(one, n, len(raw), groups))
        except StoreError as e:
            raise StoreError(f"issue {n}: {e}") from None
    if len({i.told("number") for i in read}) < len(read):
        raise StoreError("a number of an issue twice")
    return tuple(read)


def _issue(raw: object, n: int, total: int, groups: int) -> IssueRecord:
    if not isinstance(raw, Mapping) or not isinstance(raw.get("sealed"), str):
        raise StoreError("no sealed text")
    of = raw.get("of")
    if isinstance(of, bool) or not isinstance(of, int) or not 0 <= of < groups:
        raise StoreError("of must name a group of changes")
    manifest: str = raw["sealed"]
    try:
        sealed = json.loads(manifest)
    except (ValueError, RecursionError):
        raise StoreError("the sealed text is no JSON") from None
    if not isinstance(sealed, dict) or not all(isinstance(sealed.get(k), str) for k in _TEXTS):
        raise StoreError(f"the sealed text must say {', '.join(_TEXTS)}")
    if not all(fits_column(sealed[k]) for k in _TEXTS) or not sealed["number"]:
        raise StoreError("a text of the sealed cannot be kept")
    files = frozenset(
        sha256 for kind in ("inputs", "papers") for sha256 in _files(sealed.get(kind))
    )  # fmt: skip
    marks = raw.get("marks", [])
    if not isinstance(marks, list) or len(marks) > 1:
        raise StoreError("at most one mark")
    return IssueRecord(manifest, of, files, tuple(_mark(m, n, total) for m in marks))


def _files(raw: object) -> list[str]:
    if not isinstance(raw, Mapping):
        raise StoreError("the sealed text must list inputs and papers")
    found = []
    for name, one in raw.items():
        if not isinstance(one, Mapping) or set(one) != {"sha256", "size"}:
            raise StoreError(f"{name}: a SHA-256 and a size")
        size = one["size"]
        if not is_sha256(one["sha256"]) or isinstance(size, bool) or not isinstance(size, int):
            raise StoreError(f"{name}: a SHA-256 and a size")
        found.append(str(one["sha256"]))
    return found


def _mark(raw: object, n: int, total: int) -> MarkRecord:
    if not isinstance(raw, Mapping):
        raise StoreError("a mark is no object")
    who, reason, mark, by = (raw.get(k) for k in ("who", "reason", "mark", "by"))
    if not isinstance(who, str) or not isinstance(reason, str):
        raise StoreError("who and reason of a mark must be texts")
    if not fits_column(who + reason):
        raise StoreError("a text of a mark cannot be kept")
    whole = isinstance(by, int) and not isinstance(by, bool)
    if mark == "withdrawn" and by is None:
        return MarkRecord(_time(raw.get("at")), who, mark, None, reason)
    if mark == "superseded" and isinstance(by, int) and whole and n < by < total:
        return MarkRecord(_time(raw.get("at")), who, mark, by, reason)
    raise StoreError("a mark is withdrawn, or superseded by a later issue")


def _time(raw: object) -> str:
    try:
        return stamp(datetime.fromisoformat(str(raw)))
    except (ValueError, OverflowError):
        raise StoreError(f"at {raw!r} is no time") from None


def write_issues(
    c: Connection, survey_id: int, record: Sequence[IssueRecord], revisions: Sequence[int]
) -> None:
    """Write issues of a record into a survey; `revisions` are those of its groups of changes."""
    keys: list[int] = []
    for one in record:
        made = insert(issues).values(
            survey_id=survey_id, revision=revisions[one.of], manifest=one.manifest,
            sha256=hashlib.sha256(one.manifest.encode()).hexdigest(),
            **{name: one.told(name) for name in ("number", "title", "at", "who")},
        )  # fmt: skip
        keys.append(c.execute(made.returning(issues.c.id)).scalar_one())
    for key, one in zip(keys, record, strict=True):
        for m in one.marks:
            by = None if m.by is None else keys[m.by]
            c.execute(
                insert(issue_marks).values(
                    issue_id=key, at=m.at, who=m.who, mark=m.mark, by_issue=by, reason=m.reason
                )
            )


def removed_told(c: Connection, named: frozenset[str]) -> list[dict[str, Any]]:
    """Give which of some files were taken out for good, as JSON values."""
    rows = c.execute(select(removed_media).order_by(removed_media.c.sha256))
    return [
        {"sha256": r.sha256, "size": r.size, "removed_at": r.removed_at}
        for r in rows
        if r.sha256 in named
    ]


def read_removed(raw: object) -> tuple[RemovedFile, ...]:
    """Read which files were taken out for good. Raises StoreError."""
    if not isinstance(raw, list):
        raise StoreError("removed must be a list")
    read = []
    for one in raw:
        size = one.get("size") if isinstance(one, Mapping) else None
        if (
            not isinstance(one, Mapping)
            or not is_sha256(one.get("sha256"))
            or isinstance(size, bool)
            or not isinstance(size, int)
            or size < 0
        ):
            raise StoreError("a removed file is a SHA-256, a size and a time")
        read.append(RemovedFile(str(one["sha256"]), size, _time(one.get("removed_at"))))
    return tuple(read)


def write_removed(c: Connection, record: Sequence[RemovedFile]) -> None:
    """Note which files are known to be gone for good."""
    insert_new = postgresql.insert if c.dialect.name == "postgresql" else sqlite.insert
    for one in record:
        row = insert_new(removed_media).values(
            sha256=one.sha256, size=one.size, removed_at=one.removed_at
        )
        c.execute(row.on_conflict_do_nothing())
