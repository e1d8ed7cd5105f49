"""The files of a survey: what is there, what is on its way, layers that want a name."""

from collections.abc import Sequence
from dataclasses import dataclass

from bolewalk.desk.drawer import Sheet
from bolewalk.desk.drawing_entries import drawing_entries
from bolewalk.desk.incoming import Arrival
from bolewalk.desk.tasks import Task
from bolewalk.desk.underlays import file_address
from bolewalk.desk.views.head import SurveyHead, survey_head
from bolewalk.desk.views.sizes import bytes_in_words
from bolewalk.desk.views.speech import SpeechView, speech_view
from bolewalk.drawing.pictures import PICTURE_ENDINGS
from bolewalk.intake.kinds import ARRIVAL_KINDS
from bolewalk.intake.reading import suffix_of
from bolewalk.intake.recording import PLAYABLE
from bolewalk.intake.walked import TRANSCRIPT_ENDINGS
from bolewalk.model.words import PHASES, WORK_KINDS
from bolewalk.papers.reading import Reading

__all__ = ["FilesView", "files_view", "work_of"]

_SHOWN = 20
_TABLES = ("head", "table", "columns", "works")


@dataclass(frozen=True, slots=True)
class FileRow:
    """One kept file. `other` is what a picture may be taken as instead, "" for all else."""

    name: str
    what: str
    size: str
    address: str
    other: str
    removable: bool


@dataclass(frozen=True, slots=True)
class DrawingLayers:
    """A drawing with layers nobody has named: (layer, what is on it)."""

    file: str
    layers: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class WorkRow:
    """A file being taken in, or one that was: what it is, how it stands, what came of it."""

    id: str
    name: str
    state: str
    says: str
    open: bool


@dataclass(frozen=True, slots=True)
class FilesView:
    """The page. `waiting` are files broken off on their way: (id, name, how far)."""

    head: SurveyHead
    files: tuple[FileRow, ...]
    drawings: tuple[DrawingLayers, ...]
    waiting: tuple[tuple[str, str, str], ...]
    work: tuple[WorkRow, ...]
    takes: tuple[str, ...]
    kinds: tuple[str, ...]
    phases: tuple[str, ...]
    speech: SpeechView
    say: str


def files_view(
    sheet: Sheet,
    reading: Reading,
    *,
    arrivals: Sequence[tuple[Arrival, int]],
    tasks: Sequence[Task],
    say: str = "",
) -> FilesView:
    """Give the page.

    Parameters
    ----------
    sheet, reading
    arrivals : sequence of (Arrival, int)
        Files on their way and how many bytes of them are here.
    tasks : sequence of Task
        Of files and of recordings that are taken down, newest first.
    say : str
        What could not be done.
    """
    head = survey_head(sheet, reading, "files")
    at_work = {t.arrival for t in tasks if t.open}
    heard = tuple(t for t in tasks if t.kind == "speech")
    return FilesView(
        head=head,
        files=tuple(_rows(sheet)),
        drawings=_drawings(sheet),
        waiting=tuple(
            (a.id, a.name, f"{bytes_in_words(at)} of {bytes_in_words(a.size)}")
            for a, at in arrivals
            if a.id not in at_work
        ),
        # A recording without transcript says in its own row how it stands.
        work=tuple(
            work_of(t) for t in [t for t in tasks if t.kind == "file" or t.state == "done"][:_SHOWN]
        ),
        takes=tuple(ARRIVAL_KINDS.values()),
        kinds=WORK_KINDS,
        phases=PHASES,
        speech=speech_view(sheet, head, heard),
        say=say,
    )


def work_of(task: Task) -> WorkRow:
    """Give how taking a file in stands."""
    words = {
        "waiting": "waiting for its turn",
        "running": task.step,
        "done": task.told or "done",
        "failed": task.says,
        "cancelled": "stopped",
    }
    return WorkRow(task.id, task.title, task.state, words[task.state], task.open)


def _rows(sheet: Sheet) -> list[FileRow]:
    drawn = {d.file for d in drawing_entries(sheet.head())}
    tables = {i.key for kind in _TABLES for i in sheet.stored.of(kind)}
    rows = []
    for item in sheet.stored.of("file"):
        body = item.body or {}
        name = item.key
        picture = suffix_of(name) in PICTURE_ENDINGS
        other = "" if not picture else "photo" if name in drawn else "underlay"
        rows.append(
            FileRow(
                name,
                _what(name, drawn, tables, sheet),
                bytes_in_words(int(body.get("size", 0))),
                file_address(sheet.stored.id, name),
                other,
                name not in tables,
            )
        )
    return rows


def _what(name: str, drawn: set[str], tables: set[str], sheet: Sheet) -> str:
    ending = suffix_of(name)
    if name in drawn:
        return ARRIVAL_KINDS["underlay" if ending in PICTURE_ENDINGS else "drawing"]
    if name in tables:
        if sheet.stored.get("columns", name) is not None:
            return ARRIVAL_KINDS["trees"]
        works = sheet.stored.get("works", name) is not None
        return ARRIVAL_KINDS["works" if works else "table"]
    if ending in PLAYABLE:
        return ARRIVAL_KINDS["recording"]
    if name in sheet.job.photos:
        return ARRIVAL_KINDS["photo"]
    if any(p.transcript == name for p in sheet.job.parts) and ending in TRANSCRIPT_ENDINGS:
        return ARRIVAL_KINDS["transcript"]
    return "kept"


def _drawings(sheet: Sheet) -> tuple[DrawingLayers, ...]:
    """Give the layers nobody has named, as reading the drawing told of them."""
    unnamed: dict[str, list[tuple[str, str]]] = {}
    for p in sheet.job.problems:
        if p.level == "notice" and p.field and "[drawing.layers]" in p.expected:
            unnamed.setdefault(p.file, []).append((p.field, p.value or ""))
    return tuple(DrawingLayers(file, tuple(layers)) for file, layers in sorted(unnamed.items()))
