"""Pictures of one tree: its photographs, and the still cut from the walk where it is spoken of."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Literal
from urllib.parse import quote

from bolewalk.desk.drawer import Drawer, Sheet
from bolewalk.desk.stills import stills_key, stills_of
from bolewalk.desk.tasks import Task
from bolewalk.desk.underlays import file_address
from bolewalk.drawing.pictures import PICTURE_ENDINGS, read_picture
from bolewalk.intake.reading import suffix_of
from bolewalk.papers.reading import Reading

__all__ = ["TreePictures", "tree_pictures"]

StillsState = Literal["none", "there", "cutting", "to cut", "failed"]


@dataclass(frozen=True, slots=True)
class PictureView:
    """One picture. `when` is the time it shows, in words; `start` its second on the walk, None
    for a photograph; `shown` is False for a file a browser does not draw."""

    address: str
    name: str
    when: str
    start: float | None
    shown: bool


@dataclass(frozen=True, slots=True)
class TreePictures:
    """Pictures of a tree, photographs first, and how its stills stand."""

    pictures: tuple[PictureView, ...]
    stills: StillsState
    says: str


def tree_pictures(
    sheet: Sheet, drawer: Drawer, desk: Path, tasks: Sequence[Task], reading: Reading, tree_id: str
) -> TreePictures:
    """Give the pictures of a tree.

    Parameters
    ----------
    sheet, drawer
    desk : Path
        Folder of what the desk makes.
    tasks : sequence of Task
        Those that cut stills of this survey, newest first.
    reading : Reading
    tree_id : str
    """
    tree = sheet.job.survey.trees[sheet.reckoning.row_of[tree_id]]
    photos = [tree.photo] if tree.photo else []
    # One dropped on a tree bears its id in front; the table names only the first.
    own = f"{tree_id}-".lower()
    photos += [
        n for n in sheet.job.photos
        if n.rpartition("/")[2].lower().startswith(own) and n not in photos
    ]  # fmt: skip
    found = [p for n in photos if (p := _photo(sheet, drawer, n)) is not None]
    clock = reading.speaker.amounts.clock
    root = f"/surveys/{sheet.stored.id}/stills"
    for still in stills_of(sheet, desk):
        if still.tree == tree_id:
            when = f"{clock(still.at_s)} on the walk"
            found.append(
                PictureView(f"{root}/{quote(still.file)}", "still", when, still.at_s, True)
            )
    return TreePictures(tuple(found), *_state(sheet, desk, tasks))


def _photo(sheet: Sheet, drawer: Drawer, name: str) -> PictureView | None:
    item = sheet.stored.get("file", name)
    if item is None or item.body is None:
        return None
    try:
        picture = read_picture(drawer.store.files.path(item.body["sha256"]))
    except OSError:
        picture = None
    when = "" if picture is None else picture.taken
    shown = picture is not None and suffix_of(name) in PICTURE_ENDINGS
    plain = name.rpartition("/")[2]
    return PictureView(file_address(sheet.stored.id, name), plain, when, None, shown)


def _state(sheet: Sheet, desk: Path, tasks: Sequence[Task]) -> tuple[StillsState, str]:
    if not stills_key(sheet.stored, sheet.job):
        return "none", ""
    if tasks and tasks[0].open:
        return "cutting", tasks[0].step or "waiting for its turn"
    if stills_of(sheet, desk):
        return "there", ""
    if tasks and tasks[0].state == "failed":
        return "failed", tasks[0].says
    return "to cut", ""
