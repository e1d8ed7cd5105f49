"""Survey folders in and out of the store, nothing lost on the way.

Every file of a folder is kept as it came. The tables people edit are also taken apart into items;
on the way out a table that still says what its file said is that file, byte for byte.
"""

import os
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from pathlib import Path

from bolewalk.drawing.details import Place
from bolewalk.intake.folder import read_folder
from bolewalk.intake.source import FolderSource
from bolewalk.intake.survey_toml import HEAD_FILE, FilesNamed, read_head
from bolewalk.intake.toml_file import parse_toml
from bolewalk.model.problems import Problem
from bolewalk.store.errors import StoreError
from bolewalk.store.items import Body, Edit, Item, StoredSurvey, as_text
from bolewalk.store.media import Medium
from bolewalk.store.record import RECORD_FILE, RECORD_FOLDER, Record, read_record
from bolewalk.store.tables import (
    csv_bytes,
    geojson_bytes,
    read_columns_and_rows,
    read_features_file,
    read_text,
    records,
)

__all__ = ["Reading", "edits_of_file", "read_files", "written_files"]


@dataclass(frozen=True, slots=True)
class Reading:
    """A folder as edits of an empty survey, each file followed by what its table holds; what was
    wrong with it; and the history it brought."""

    edits: tuple[Edit, ...]
    problems: tuple[Problem, ...]
    record: Record = field(default_factory=Record)


def read_files(folder: Path, put: Callable[[Path], Medium]) -> Reading:
    """Read a survey folder into edits.

    Parameters
    ----------
    folder : Path
    put : callable
        Keeps a file.

    Raises
    ------
    SurveyUnreadableError
        As `read_folder`.
    """
    root = folder.resolve()
    problems = list(read_folder(root).problems)
    head = read_text(root / HEAD_FILE)
    if head is None:
        raise StoreError(f"{HEAD_FILE} is not in UTF-8")
    roles = _roles(root, head)
    edits: list[Edit] = []
    record = _record(root, problems)
    aside: set[str] = set()
    for name in _files(root, Place("", None, problems)):
        if name == RECORD_FILE:
            continue
        medium = put(root / name)
        if record.groups and name == f"{RECORD_FOLDER}/{medium.sha256}":
            aside.add(medium.sha256)
            continue
        edits.append(Edit("file", name, {"sha256": medium.sha256, "size": medium.size}))
        edits += edits_of_file(name, root / name, roles.get(name, ""))
    there = aside | {(e.body or {})["sha256"] for e in edits if e.kind == "file"}
    record = _with_files(record, there, problems)
    return Reading(tuple(edits), tuple(problems), record)


def _record(root: Path, problems: list[Problem]) -> Record:
    path = root / RECORD_FILE
    if path.is_symlink() or not path.is_file():
        return Record()
    try:
        return read_record(path)
    except StoreError as e:
        expected = "the record of this survey, or no such file; not kept"
        problems.append(Problem(RECORD_FILE, None, None, str(e), expected))
        return Record()


def _with_files(record: Record, there: set[str], problems: list[Problem]) -> Record:
    """Leave out issues whose files did not come along, and tell of them."""
    known = there | {r.sha256 for r in record.removed}
    whole = [i.files <= known for i in record.issues]
    if all(whole):
        return record
    for issue, fine in zip(record.issues, whole, strict=True):
        if not fine:
            gone = ", ".join(sorted(s[:12] for s in issue.files - known))
            expected = f"every file of it in {RECORD_FOLDER}/; the issues are left out"
            row = f"issue {issue.told('number')}"
            problems.append(Problem(RECORD_FILE, row, None, f"{gone} missing", expected))
    # Marks name issues by their place: they stand together or not at all.
    return replace(record, issues=())


def _roles(root: Path, head: Body) -> dict[str, str]:
    """Give, by its plain name, what each table of a folder is to be taken apart as."""
    source = FolderSource(root)
    files = read_head(parse_toml(head["text"])).files
    roles = {HEAD_FILE: "head"}
    for role, names in _named(files).items():
        for name in names:
            plain = source.find(name, Place("", None), "") if name else None
            if plain is not None:
                roles.setdefault(plain, role)
    return roles


def _named(files: FilesNamed) -> dict[str, tuple[str, ...]]:
    texts = (
        files.rates, *files.rules, files.planting, files.phases, files.futures, files.choices,
        files.discussion,
    )  # fmt: skip
    return {"columns": (files.trees,), "works": files.works, "table": texts}


def _files(root: Path, whole: Place) -> Iterator[str]:
    """Give the files below a folder, sorted; tell of what is none or cannot be named."""
    for path in sorted(root.rglob("*")):
        whole.file = path.relative_to(root).as_posix()
        if path.is_symlink():
            whole.tell(None, "a link", "a file of its own; not kept")
        elif path.is_dir():
            continue
        elif not path.is_file():
            whole.tell(None, "no ordinary file", "a file; not kept")
        elif os.fsencode(path).decode("utf-8", errors="ignore") != str(path):
            whole.file = whole.file.encode("utf-8", errors="replace").decode()
            whole.tell(None, "a name in another coding", "a file name in UTF-8; not kept")
        else:
            yield whole.file


def edits_of_file(name: str, path: Path, role: str) -> list[Edit]:
    """Give the new items of a table.

    Parameters
    ----------
    name : str
        In the survey folder.
    path : Path
        Where its bytes lie.
    role : str
        "head", "table", "columns" (a tree table) or "works"; "" and tables that cannot be read
        whole give none.
    """
    if role in ("head", "table"):
        text = read_text(path)
        return [] if text is None else [Edit(role, name, text)]
    if role == "columns":
        table = read_columns_and_rows(path)
        if table is None:
            return []
        return [Edit("columns", name, table[0]), *(Edit("tree", "", row) for row in table[1])]
    if role == "works":
        file = read_features_file(path)
        if file is None:
            return []
        features = (Edit("work", "", {"file": name, **body}) for body in file[1])
        return [Edit("works", name, file[0]), *features]
    return []


def written_files(
    stored: StoredSurvey, path_of: Callable[[str], Path]
) -> Iterator[tuple[str, Path | bytes]]:
    """Give the files of a stored survey's folder, sorted by name.

    Each comes as a kept file where it is still what it was, else as bytes made anew.
    """
    kept = {i.key: path_of(i.body["sha256"]) for i in stored.of("file") if i.body is not None}
    tables = {i.key: i for i in stored.items if i.kind in ("head", "table", "columns", "works")}
    for name in sorted({*kept, *tables}):
        table = tables.get(name)
        if table is None:
            yield name, kept[name]
            continue
        rows = _rows_of(stored, table)
        if name in kept and _says_the_same(kept[name], table, rows):
            yield name, kept[name]
        else:
            yield name, _made(table, rows)


def _rows_of(stored: StoredSurvey, table: Item) -> list[Body]:
    if table.kind == "columns":
        return [i.body for i in stored.of("tree") if i.body is not None]
    if table.kind == "works":
        return [
            i.body for i in stored.works() if i.body is not None and i.body["file"] == table.key
        ]
    return []


def _says_the_same(path: Path, table: Item, rows: list[Body]) -> bool:
    was = [as_text(e.body) for e in edits_of_file(table.key, path, table.kind)]
    return was == [as_text(table.body), *map(as_text, rows)]


def _made(table: Item, rows: list[Body]) -> bytes:
    body = table.body or {}
    if table.kind == "columns":
        return csv_bytes(records(body, rows))
    if table.kind == "works":
        return geojson_bytes(body["top"], [row["feature"] for row in rows])
    text: str = body["text"]
    return text.encode()
