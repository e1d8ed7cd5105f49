"""A file brought to a survey: where it belongs there, as edits of one step of undo."""

import re
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path, PurePosixPath
from typing import Any

from bolewalk.desk.drawing_entries import drawing_entries, drawing_of, listing
from bolewalk.intake.kinds import ARRIVAL_KINDS, ArrivalKind, Told
from bolewalk.intake.reading import stem_of, suffix_of
from bolewalk.intake.recording import PLAYABLE
from bolewalk.intake.survey_toml import HEAD_FILE, FilesNamed, read_head
from bolewalk.intake.toml_file import parse_toml
from bolewalk.intake.walked import TRANSCRIPT_ENDINGS
from bolewalk.store.edits import file_edits, new_tree, set_cells
from bolewalk.store.items import Edit, Item, StoredSurvey
from bolewalk.store.media import Medium
from bolewalk.store.tables import read_columns_and_rows, set_toml
from bolewalk.walk.transcript import sections_of

__all__ = ["Landing", "LandingError", "land", "plain_name", "take_as", "take_out"]

_LONGEST_NAME = 100
_BROUGHT = "brought"
_LISTED_TABLES = ("rates", "planting", "phases", "futures")
_NEWER: tuple[ArrivalKind, ...] = ("drawing", "underlay", "works", "transcript", "table")
"""Kinds of which a file of the same name is a newer one; cameras give the same name anew."""


class LandingError(ValueError):
    """A file that cannot be brought to the survey; the text says what to do."""


@dataclass(frozen=True, slots=True)
class Landing:
    """What bringing a file does: the edits, the name it is kept under, and what to tell."""

    edits: tuple[Edit, ...]
    name: str
    says: str


@dataclass(slots=True)
class _Survey:
    """A survey a file is brought to: what it has, and the edits so far."""

    stored: StoredSurvey
    head: Item
    text: str
    edits: list[Edit] = field(default_factory=list)

    @property
    def files(self) -> FilesNamed:
        return read_head(self.toml).files

    @property
    def names(self) -> list[str]:
        return [i.key for i in self.stored.of("file")]

    def set(self, path: Sequence[str | int], value: Any) -> None:
        self.text = set_toml(self.text, path, value)

    @property
    def toml(self) -> dict[str, Any]:
        return parse_toml(self.text)

    def done(self, name: str, says: str) -> Landing:
        edits = list(self.edits)
        if self.text != (self.head.body or {})["text"]:
            edits.append(Edit("head", HEAD_FILE, {"text": self.text}, self.head.version))
        return Landing(tuple(edits), name, says)


def _survey(stored: StoredSurvey) -> _Survey:
    head = stored.get("head", HEAD_FILE)
    if head is None or head.body is None:
        raise LandingError(f"{HEAD_FILE} of this survey cannot be read; mend it first")
    return _Survey(stored, head, head.body["text"])


def plain_name(name: str, ending: str) -> str:
    """Give the name a file is kept under: no folders, no characters other systems refuse.

    Examples
    --------
    >>> plain_name("C:\\\\scans\\\\Plan: rev B.JPG", ".jpg")
    'Plan rev B.jpg'
    """
    last = unicodedata.normalize("NFC", name.replace("\\", "/").rpartition("/")[2])
    kept = "".join(c for c in last if unicodedata.category(c)[0] != "C" and c not in '<>:"|?*/')
    stem = PurePosixPath(kept).stem if suffix_of(kept) else kept
    stem = re.sub(r"\s+", " ", stem).strip(" .") or "file"
    return stem[:_LONGEST_NAME].strip(" .") + ending


def _apart(name: str, names: Sequence[str]) -> str:
    """Give a name nothing has yet, whatever a system makes of upper and lower case."""
    taken = {n.lower() for n in names}
    ending = suffix_of(name)
    stem = stem_of(name)
    n = 1
    while name.lower() in taken:
        n += 1
        name = f"{stem}-{n}{ending}"
    return name


def land(
    stored: StoredSurvey, *, name: str, path: Path, medium: Medium, told: Told, tree: str = "",
    of: str = "",
) -> Landing:  # fmt: skip
    """Find the place of a file in a survey.

    Parameters
    ----------
    stored : StoredSurvey
    name : str
        As it came.
    path : Path
        Where its bytes lie.
    medium : Medium
        What the store keeps of it.
    told : Told
        What it is.
    tree : str
        The tree it was dropped on, for a photograph.
    of : str
        The recording a transcript was taken down from: it is kept beside it, under its name.

    Raises
    ------
    LandingError
        It is nothing a survey takes, or its table cannot be read whole.
    """
    if told.kind is None:
        raise LandingError(f"{name}: {told.why}")
    same = [i.key for i in stored.of("file") if (i.body or {}).get("sha256") == medium.sha256]
    if same:
        return Landing(
            (), same[0], f"The same file is here already, as {same[0]}; nothing changed."
        )
    survey = _survey(stored)
    kept = plain_name(name, told.ending)
    before = kept in survey.names
    if before and told.kind not in _NEWER:
        kept = _apart(kept, survey.names)
    if of:
        kept, before = stem_of(of) + told.ending, False
    return _PLACES[told.kind](survey, _File(kept, path, medium, tree, before, of))


@dataclass(frozen=True, slots=True)
class _File:
    name: str
    path: Path
    medium: Medium
    tree: str
    before: bool
    of: str = ""

    @property
    def newer(self) -> str:
        return "; it takes the place of the older file of that name" if self.before else ""


def _keep(survey: _Survey, file: _File, name: str, role: str = "") -> None:
    survey.edits += file_edits(survey.stored, name, file.path, file.medium, role=role)


def _drawing(survey: _Survey, file: _File) -> Landing:
    says = "Say below what its layers are: nothing is read from a layer without a kind."
    return _listed(survey, file, "drawing", says)


def _underlay(survey: _Survey, file: _File) -> Landing:
    return _listed(survey, file, "underlay", "Place it on the site plan by two points.")


def _listed(survey: _Survey, file: _File, kind: ArrivalKind, says: str) -> Landing:
    _keep(survey, file, file.name)
    head = survey.toml
    if drawing_of(head, file.name) is None:
        survey.set(*listing(head, {"file": file.name, "title": stem_of(file.name)}))
    return survey.done(file.name, f"{ARRIVAL_KINDS[kind]}, kept as {file.name}{file.newer}. {says}")


def _photo(survey: _Survey, file: _File) -> Landing:
    folder = survey.files.photos
    if not folder:
        folder = "photos"
        survey.set(("files", "photos"), folder)
    own = f"{file.tree}-{file.name}" if file.tree else file.name
    name = _apart(f"{folder}/{plain_name(own, suffix_of(file.name))}", survey.names)
    _keep(survey, file, name)
    of = ""
    row = survey.stored.tree(file.tree) if file.tree else None
    if row is not None:
        of = f" of {file.tree}"
        if not str((row.body or {})["cells"].get("photo", "")).strip():
            survey.edits.append(set_cells(row, {"photo": name.rpartition("/")[2]}))
    return survey.done(name, f"{ARRIVAL_KINDS['photo']}{of}, kept as {name}.")


def _works(survey: _Survey, file: _File) -> Landing:
    _keep(survey, file, file.name, "works")
    files = survey.files.works
    if file.name not in files:
        survey.set(("files", "works"), [*files, file.name])
    return survey.done(file.name, f"{ARRIVAL_KINDS['works']}, kept as {file.name}{file.newer}.")


def _recording(survey: _Survey, file: _File) -> Landing:
    walk = survey.files.walk
    stems = {stem_of(n) for n in walk if suffix_of(n) in TRANSCRIPT_ENDINGS}
    heard = {stem_of(n) for n in survey.names if suffix_of(n) in PLAYABLE}
    alone = sorted(stems - heard)
    name = file.name
    if stem_of(name) not in stems and len(alone) == 1:
        # A recording plays with the transcript that has its name.
        name = _apart(alone[0] + suffix_of(name), survey.names)
    _keep(survey, file, name)
    says = f"{ARRIVAL_KINDS['recording']}, kept as {name}"
    if stem_of(name) in stems:
        return survey.done(name, f"{says}: it plays with the transcript of that name.")
    survey.set(("files", "walk"), [*walk, name])
    return survey.done(
        name,
        f"{says}. Bring its transcript as well (.vtt, .srt or lines of “[m:ss] text”), or have it "
        "taken down here.",
    )


def _transcript(survey: _Survey, file: _File) -> Landing:
    walk = list(survey.files.walk)
    named = {
        s.name.rpartition("/")[2]
        for s in sections_of(file.path.read_text(encoding="utf-8", errors="replace"))
    }
    recordings = [n for n in walk if suffix_of(n) in PLAYABLE]
    there = {stem_of(n) for n in survey.names if suffix_of(n) in TRANSCRIPT_ENDINGS}
    alone = [n for n in recordings if stem_of(n) not in there and n not in named]
    name = file.name
    if (
        not file.of
        and not named
        and not file.before
        and len(alone) == 1
        and stem_of(name) != stem_of(alone[0])
    ):
        name = _apart(stem_of(alone[0]) + suffix_of(name), survey.names)
    _keep(survey, file, name)
    if name not in walk and not any(stem_of(n) == stem_of(name) for n in walk if n not in named):
        # It stands where the first recording it names stood: the order of the walk stays.
        place = next((k for k, n in enumerate(walk) if n in named), len(walk))
        walk.insert(place, name)
    # Recordings the transcript itself names are played by it and need no place of their own.
    walk = [n for n in walk if n not in named]
    if tuple(walk) != survey.files.walk:
        survey.set(("files", "walk"), walk)
    return survey.done(
        name, f"{ARRIVAL_KINDS['transcript']}, kept as {name}{file.newer}. The walk shows it."
    )


def _table(survey: _Survey, file: _File) -> Landing:
    files = survey.files
    role = stem_of(file.name)
    named = {files.rates, *files.rules, files.planting, files.phases, files.futures}
    if file.name not in named:
        if role == "rules":
            survey.set(("files", "rules"), [*files.rules, file.name])
        elif role in _LISTED_TABLES and not getattr(files, role):
            survey.set(("files", role), file.name)
        else:
            raise LandingError(
                f"{file.name}: a table of settings is known by its name: "
                f"{', '.join(f'{r}.toml' for r in (*_LISTED_TABLES, 'rules'))}, or the name of one "
                "the survey has"
            )
    _keep(survey, file, file.name, "table")
    return survey.done(
        file.name, f"{ARRIVAL_KINDS['table']}, kept as {file.name}{file.newer}."
    )  # fmt: skip


def _trees(survey: _Survey, file: _File) -> Landing:
    read = read_columns_and_rows(file.path)
    if read is None:
        raise LandingError(
            "it cannot be read as a tree table: that needs a column “tree” with a number for each "
            "tree, quotes in pairs, and at most 20 MB"
        )
    table = survey.files.trees or "trees.csv"
    if not survey.stored.of("tree"):
        if not survey.files.trees:
            survey.set(("files", "trees"), table)
        _keep(survey, file, table, "columns")
        return survey.done(table, f"{ARRIVAL_KINDS['trees']}: {len(read[1])} trees.")
    new, changed, same = _merged(survey, file.name, [r["cells"] for r in read[1]])
    kept = _apart(f"{_BROUGHT}/{file.name}", survey.names)
    _keep(survey, file, kept)
    return survey.done(
        kept,
        f"{ARRIVAL_KINDS['trees']}: {new} trees new, {changed} changed, {same} the same; none is "
        f"taken out, and empty cells change nothing. The file is kept as {kept}.",
    )


def _merged(survey: _Survey, name: str, rows: Sequence[dict[str, str]]) -> tuple[int, int, int]:
    seen: set[str] = set()
    new = changed = same = 0
    for cells in rows:
        tree = cells.get("tree", "").strip()
        if tree and tree in seen:
            raise LandingError(f"{name}: {tree} stands in it twice; give each tree one row")
        seen.add(tree)
        item = survey.stored.tree(tree) if tree else None
        told = {k: v for k, v in cells.items() if v.strip()}
        if item is None:
            survey.edits.append(new_tree(told))
            new += 1
            continue
        was = (item.body or {})["cells"]
        differ = {k: v for k, v in told.items() if str(was.get(k, "")).strip() != v.strip()}
        if differ:
            survey.edits.append(set_cells(item, differ))
            changed += 1
        else:
            same += 1
    return new, changed, same


_PLACES = {
    "drawing": _drawing, "underlay": _underlay, "photo": _photo, "works": _works,
    "recording": _recording, "transcript": _transcript, "trees": _trees, "table": _table,
}  # fmt: skip


def take_out(stored: StoredSurvey, name: str) -> Landing:
    """Give the edits that take a file out of a survey; undo brings it back.

    Raises
    ------
    LandingError
        There is no such file, or it is a table that is edited on another sheet.
    """
    survey = _survey(stored)
    _leave(survey, name)
    return survey.done(name, f"{name} was taken out.")


def _leave(survey: _Survey, name: str) -> None:
    item = survey.stored.get("file", name)
    if item is None:
        raise LandingError(f"the survey has no file {name}")
    tables = ("head", "table", "columns", "works")
    if any(survey.stored.get(kind, name) is not None for kind in tables):
        raise LandingError(f"{name} is a table of the survey: change it on its own sheet")
    survey.edits.append(Edit("file", name, None, item.version))
    walk = [n for n in survey.files.walk if n != name]
    if len(walk) != len(survey.files.walk):
        survey.set(("files", "walk"), walk)
    for drawing in reversed(drawing_entries(survey.toml)):
        if drawing.file == name:
            survey.set(drawing.path, None)
    plain = name.rpartition("/")[2]
    for row in survey.stored.of("tree"):
        if str((row.body or {})["cells"].get("photo", "")).strip() in (name, plain):
            survey.edits.append(set_cells(row, {"photo": ""}))


def take_as(stored: StoredSurvey, name: str, path: Path, kind: ArrivalKind) -> Landing:
    """Give the edits that make a photograph of a picture of a plan, or the other way about.

    Raises
    ------
    LandingError
        It is no picture of the survey.
    """
    item = stored.get("file", name)
    if item is None or item.body is None or kind not in ("photo", "underlay"):
        raise LandingError(f"the survey has no picture {name}")
    survey = _survey(stored)
    _leave(survey, name)
    medium = Medium(item.body["sha256"], item.body["size"])
    plain = name.rpartition("/")[2]
    others = [n for n in survey.names if n != name]
    return _PLACES[kind](survey, _File(_apart(plain, others), path, medium, "", False))
