"""Stills of a survey's trees, cut from its video once; they last as long as the video does."""

import hashlib
import json
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from bolewalk.desk.drawer import Sheet
from bolewalk.desk.reckoning import Reckoning
from bolewalk.desk.whole_folder import whole_folder
from bolewalk.intake.job import Job
from bolewalk.intake.reading import suffix_of
from bolewalk.intake.recording import PLAYABLE
from bolewalk.store.items import StoredSurvey
from bolewalk.store.store import Store
from bolewalk.walk.recordings import Recording, probe
from bolewalk.walk.stills import Footage, cut_stills

__all__ = ["StillOf", "make_stills", "still_path", "stills_key", "stills_of"]

_LIST = "stills.json"


@dataclass(frozen=True, slots=True)
class StillOf:
    """One still: its tree (id of the table, else of the draft), its file, its second on the walk's
    time line."""

    tree: str
    file: str
    at_s: float


def stills_key(stored: StoredSurvey, job: Job) -> str:
    """Give the mark of what stills are cut from: the walk's files; "" where no video is there."""
    items = {i.key: (i.body or {}).get("sha256", "") for i in stored.of("file")}
    videos = [
        p.recording
        for p in job.parts
        if PLAYABLE.get(suffix_of(p.recording), "").startswith("video")
    ]
    if not videos:
        return ""
    told = [[p.recording, items.get(p.recording), items.get(p.transcript)] for p in job.parts]
    return hashlib.sha256(json.dumps(told).encode()).hexdigest()[:24]


def _folder(desk: Path, survey: int, key: str) -> Path:
    return desk / "stills" / str(survey) / key


def make_stills(
    store: Store, desk: Path, survey: int, *, step: Callable[[str], None]
) -> str:  # fmt: skip
    """Cut the stills of a survey.

    Parameters
    ----------
    store : Store
    desk : Path
        Folder of what the desk makes.
    survey : int
    step : callable

    Returns
    -------
    str
        What came of it, in words.

    Raises
    ------
    MissingExtraError
        The media library is not installed.
    """
    stored = store.load(survey)
    job = store.job_of(stored)
    key = stills_key(stored, job)
    if not key:
        return "no video to cut stills from"
    out = _folder(desk, survey, key)
    if out.is_dir():
        return ""
    step("finding the trees of the walk")
    draft, matched = Reckoning(job).heard()
    if draft is None:
        return "no tree is named on this walk"
    footage = []
    for part in job.parts:
        item = stored.get("file", part.recording)
        if item is None or item.body is None:
            continue
        found, _ = probe(store.files.path(item.body["sha256"]), file=part.recording)
        if found is not None:
            named = Recording(
                found.path, part.recording, found.duration_s, found.sound_s, found.has_audio,
                found.has_video,
            )  # fmt: skip
            footage.append(Footage(named, part.start_s))
    step("cutting stills")
    ids = {found_tree.id: row for row, found_tree in matched.items()}
    with whole_folder(out) as made:
        cut, problems = cut_stills(draft.trees, footage, out=made, ids=ids)
        listed = [{"tree": s.tree, "file": s.path.name, "at_s": s.at_s} for s in cut]
        (made / _LIST).write_text(json.dumps(listed), encoding="utf-8")
    told = f"{len(cut)} stills cut"
    return "; ".join([told, *(p.line() for p in problems)])


def stills_of(sheet: Sheet, desk: Path) -> tuple[StillOf, ...]:
    """Give the stills of a survey as it is, none where they were not cut yet."""
    key = stills_key(sheet.stored, sheet.job)
    if not key:
        return ()
    try:
        listed = json.loads((_folder(desk, sheet.stored.id, key) / _LIST).read_text("utf-8"))
        return tuple(StillOf(s["tree"], s["file"], float(s["at_s"])) for s in listed)
    except (OSError, ValueError, KeyError, TypeError):
        return ()


def still_path(sheet: Sheet, desk: Path, name: str) -> Path | None:
    """Give where a still lies, None where there is none of that name."""
    if not any(s.file == name for s in stills_of(sheet, desk)):
        return None
    path = _folder(desk, sheet.stored.id, stills_key(sheet.stored, sheet.job)) / name
    return path if path.is_file() else None
