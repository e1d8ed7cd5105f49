"""Issued papers, sealed: number, date, hash, the inputs they were made from, and their bytes."""

import hashlib
import io
import json
import tempfile
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any, BinaryIO, Literal

from sqlalchemy import Connection, RowMapping, insert, select

from bolewalk.intake.folder import read_folder
from bolewalk.papers.language import Catalogue
from bolewalk.papers.reading import IssueStamp
from bolewalk.papers.write import files_in, write_papers
from bolewalk.store.changes import locked
from bolewalk.store.database import reading, writing
from bolewalk.store.errors import NumberTakenError, StoreError
from bolewalk.store.folders import written_files
from bolewalk.store.items import StoredSurvey, stamp
from bolewalk.store.media import Medium
from bolewalk.store.rows import column_text
from bolewalk.store.schema import issue_marks, issues, removed_media
from bolewalk.store.store import Store
from bolewalk.survey import assess

__all__ = [
    "Issue", "Mark", "check_issue", "get_issue", "issue_papers", "list_issues", "open_paper",
    "seal", "supersede", "withdraw", "write_issue",
]  # fmt: skip

State = Literal["issued", "withdrawn", "superseded"]


@dataclass(frozen=True, slots=True)
class Mark:
    """What was said of an issue afterwards. `by_issue` is the one that took its place."""

    at: str
    who: str
    mark: Literal["withdrawn", "superseded"]
    by_issue: int | None
    reason: str


@dataclass(frozen=True, slots=True)
class Issue:
    """One sealed set of papers.

    `sha256` is that of the whole: number, title, date, name and the hash of every input and every
    paper. `inputs` is the survey folder it was made from, `papers` what was issued, both name ->
    kept file.
    """

    id: int
    survey_id: int
    number: str
    title: str
    at: str
    who: str
    revision: int
    sha256: str
    inputs: Mapping[str, Medium]
    papers: Mapping[str, Medium]
    marks: tuple[Mark, ...]

    @property
    def state(self) -> State:
        """What the issue is now."""
        return self.marks[-1].mark if self.marks else "issued"


def issue_papers(
    store: Store,
    survey_id: int,
    *,
    title: str,
    who: str,
    when: datetime,
    number: str = "",
    catalogue: Catalogue | None = None,
    progress: Callable[[str], None] = lambda _: None,
) -> Issue:
    """Make all papers of a survey as it is, and seal them.

    The papers are made from the very folder that is sealed with them, so that anyone can make
    them again from it. Where no number is asked for and somebody else's issue takes the next one
    meanwhile, they are printed anew with the one after it.

    Raises
    ------
    SurveyUnreadableError
        survey.toml cannot be read.
    StoreError
        As `seal`.
    """
    stored = store.load(survey_id)
    inputs_sha256 = _sha256(_listing(_keep_inputs(store, stored, when)))
    with tempfile.TemporaryDirectory() as made:
        folder, out = Path(made, "survey"), Path(made, "papers")
        store.export_folder(survey_id, folder, revision=stored.revision, record=False)
        findings = None
        while True:
            # On the papers stands the number, so it is chosen before they are made; `seal` refuses
            # it where another issue took it meanwhile.
            named = number or _next_number(i.number for i in list_issues(store, survey_id))
            findings = findings or assess(read_folder(folder), progress=progress)
            write_papers(
                findings, out, progress=progress, catalogue=catalogue, files=files_in(folder),
                issue=IssueStamp(named, stamp(when)[:10], inputs_sha256),
            )  # fmt: skip
            progress("sealing the papers")
            try:
                return seal(
                    store, survey_id, out, revision=stored.revision, title=title, who=who,
                    when=when, number=named,
                )  # fmt: skip
            except NumberTakenError:
                if number:
                    raise


def _next_number(taken: Iterable[str]) -> str:
    used = set(taken)
    return next(str(n) for n in range(1, len(used) + 2) if str(n) not in used)


def _keep_inputs(store: Store, stored: StoredSurvey, when: datetime) -> dict[str, Medium]:
    """Keep the files of a survey as one revision has them."""
    inputs: dict[str, Medium] = {}
    for name, content in written_files(stored, store.files.path):
        with content.open("rb") if isinstance(content, Path) else io.BytesIO(content) as stream:
            inputs[name] = store.put_media(stream, when=when)
    return inputs


def _listing(files: Mapping[str, Medium]) -> str:
    """List files with their hashes: the hash of the list stands for them all."""
    listed = {n: m.sha256 for n, m in files.items()}
    return json.dumps(listed, ensure_ascii=True, sort_keys=True, separators=(",", ":"))


def seal(
    store: Store,
    survey_id: int,
    papers: Path,
    *,
    revision: int,
    title: str,
    who: str,
    when: datetime,
    number: str = "",
) -> Issue:
    """Seal papers that were made from one revision of a survey.

    Parameters
    ----------
    store : Store
    survey_id : int
    papers : Path
        Folder of the papers; every file in it is sealed.
    revision : int
        The state they were made from.
    title, who, when
        What, by whom, on which day.
    number : str
        "" gives the next whole number.

    Raises
    ------
    NumberTakenError
        Another issue has the number.
    StoreError
        No papers, no such survey.
    """
    title, who, number = column_text(title), column_text(who), column_text(number)
    stored = store.load(survey_id, revision=revision)
    inputs = _keep_inputs(store, stored, when)
    issued: dict[str, Medium] = {}
    for path in sorted(p for p in papers.rglob("*") if p.is_file()):
        with path.open("rb") as stream:
            issued[path.relative_to(papers).as_posix()] = store.put_media(stream, when=when)
    if not issued:
        raise StoreError("there are no papers to issue")
    with writing(store.engine) as c:
        locked(c, survey_id)
        taken = set(c.execute(select(issues.c.number).where(issues.c.survey_id == survey_id)).scalars())  # fmt: skip  # noqa: E501
        if number in taken:
            raise NumberTakenError(
                f"issue {number} of this survey is there already; it cannot be edited"
            )
        number = number or _next_number(taken)
        manifest = _manifest(
            stored.name, number, title, stamp(when), who, revision, inputs, issued
        )  # fmt: skip
        made = insert(issues).values(
            survey_id=survey_id, number=number, title=title, at=stamp(when), who=who,
            revision=revision, sha256=_sha256(manifest), manifest=manifest,
        )  # fmt: skip
        key: int = c.execute(made.returning(issues.c.id)).scalar_one()
        return get_issue(c, key)


def _manifest(
    survey: str,
    number: str,
    title: str,
    at: str,
    who: str,
    revision: int,
    inputs: Mapping[str, Medium],
    papers: Mapping[str, Medium],
) -> str:
    listed: dict[str, Any] = {
        "survey": survey, "number": number, "title": title, "at": at, "who": who,
        "revision": revision,
    }  # fmt: skip
    for kind, files in (("inputs", inputs), ("papers", papers)):
        listed[kind] = {n: {"sha256": m.sha256, "size": m.size} for n, m in files.items()}
    return json.dumps(listed, ensure_ascii=True, sort_keys=True, separators=(",", ":"))


def _sha256(manifest: str) -> str:
    return hashlib.sha256(manifest.encode()).hexdigest()


def list_issues(store: Store, survey_id: int) -> tuple[Issue, ...]:
    """Give the issues of a survey, in the order they were sealed."""
    with reading(store.engine) as c:
        query = select(issues.c.id).where(issues.c.survey_id == survey_id).order_by(issues.c.id)
        return tuple(get_issue(c, key) for key in c.execute(query).scalars().all())


def get_issue(c: Connection, key: int) -> Issue:
    """Give an issue by its key. Raises StoreError where there is none."""
    row: RowMapping | None = (
        c.execute(select(issues).where(issues.c.id == key)).mappings().first()
    )  # fmt: skip
    if row is None:
        raise StoreError(f"there is no issue {key}")
    marks = c.execute(
        select(
            issue_marks.c.at, issue_marks.c.who, issue_marks.c.mark, issue_marks.c.by_issue,
            issue_marks.c.reason,
        )
        .where(issue_marks.c.issue_id == key)
        .order_by(issue_marks.c.id)
    )  # fmt: skip
    listed = json.loads(row["manifest"])
    inputs, papers = (
        {name: Medium(**m) for name, m in listed[kind].items()} for kind in ("inputs", "papers")
    )
    return Issue(
        id=row["id"], survey_id=row["survey_id"], number=row["number"], title=row["title"],
        at=row["at"], who=row["who"], revision=row["revision"], sha256=row["sha256"],
        inputs=inputs, papers=papers, marks=tuple(Mark(*m) for m in marks),
    )  # fmt: skip


def open_paper(store: Store, issue: Issue, name: str) -> BinaryIO:
    """Open an issued paper, the bytes that were sealed. Raises StoreError for an unknown name."""
    if name not in issue.papers:
        raise StoreError(f"issue {issue.number} has no {name}: {', '.join(issue.papers)}")
    return store.open_media(issue.papers[name].sha256)


def check_issue(store: Store, issue: Issue) -> tuple[str, ...]:
    """Give what of an issue is no longer what was sealed, in words; empty where all is.

    A file that was removed for good (`privacy_cut`) is no fault: the seal stands, that it is gone
    is known.
    """
    with reading(store.engine) as c:
        row = c.execute(select(issues).where(issues.c.id == issue.id)).mappings().one()
        removed = _removed(c)
    faults = []
    if _sha256(row["manifest"]) != row["sha256"]:
        faults.append(f"issue {row['number']}: its list of papers is not the sealed one")
    for name, medium in [*issue.inputs.items(), *issue.papers.items()]:
        if medium.sha256 not in removed and store.files.check(medium.sha256) is None:
            faults.append(f"issue {issue.number}: {name} is missing or changed")
    return tuple(faults)


def _removed(c: Connection) -> dict[str, str]:
    """Give when each removed file was removed, by its SHA-256."""
    return {r.sha256: r.removed_at for r in c.execute(select(removed_media))}


def withdraw(store: Store, issue_id: int, *, who: str, when: datetime, reason: str) -> Issue:
    """Withdraw an issue; its papers stay as they were. Raises StoreError where it already is."""
    return _mark(store, issue_id, "withdrawn", None, who=who, when=when, reason=reason)


def supersede(
    store: Store, issue_id: int, by: int, *, who: str, when: datetime, reason: str = ""
) -> Issue:
    """Say that a later issue of the same survey takes the place of this one.

    Raises
    ------
    StoreError
        `by` is not a later issue of the survey, or this one is withdrawn or superseded already.
    """
    return _mark(store, issue_id, "superseded", by, who=who, when=when, reason=reason)


def _mark(
    store: Store, issue_id: int, mark: State, by: int | None, *, who: str, when: datetime,
    reason: str,
) -> Issue:  # fmt: skip
    with writing(store.engine) as c:
        issue = get_issue(c, issue_id)
        locked(c, issue.survey_id)
        issue = get_issue(c, issue_id)
        if issue.state != "issued":
            raise StoreError(f"issue {issue.number} is {issue.state} already")
        if by is not None:
            other = get_issue(c, by)
            if other.survey_id != issue.survey_id or other.id <= issue.id:
                raise StoreError(f"issue {issue.number} can only be superseded by a later one")
        c.execute(
            insert(issue_marks).values(
                issue_id=issue_id,
                at=stamp(when),
                who=column_text(who),
                mark=mark,
                by_issue=by,
                reason=column_text(reason),
            )
        )
        return get_issue(c, issue_id)


def write_issue(store: Store, issue: Issue, out: Path) -> tuple[Path, ...]:
    """Write an issue to an empty folder: papers/, inputs/ and what was sealed, sealed.json.

    In the place of a file that was removed for good stands NAME.removed.txt, which says so.

    Raises
    ------
    StoreError
        `out` is not empty, or a kept file cannot be read.
    """
    out.mkdir(parents=True, exist_ok=True)
    if any(out.iterdir()):
        raise StoreError(f"{out} is not empty")
    with reading(store.engine) as c:
        manifest = c.execute(select(issues.c.manifest).where(issues.c.id == issue.id)).scalar_one()
        removed = _removed(c)
    written = [out / "sealed.json"]
    written[0].write_bytes(manifest.encode())
    for folder, files in (("inputs", issue.inputs), ("papers", issue.papers)):
        for name, medium in files.items():
            path = out / folder / name
            path.parent.mkdir(parents=True, exist_ok=True)
            if medium.sha256 in removed and not store.files.path(medium.sha256).exists():
                path = path.with_name(f"{path.name}.removed.txt")
                path.write_text(f"removed {removed[medium.sha256]}; SHA-256 {medium.sha256}\n")
            else:
                with store.open_media(medium.sha256) as stream:
                    path.write_bytes(stream.read())
            written.append(path)
    return tuple(written)
