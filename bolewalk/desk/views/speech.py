"""Recordings without a transcript, and how taking them down stands."""

from collections.abc import Sequence
from dataclasses import dataclass

from bolewalk.desk.drawer import Sheet
from bolewalk.desk.speech import Wanting, untaken, wanting
from bolewalk.desk.tasks import Task
from bolewalk.desk.underlays import file_address
from bolewalk.desk.views.head import SurveyHead
from bolewalk.desk.views.tasks import TaskView, task_view
from bolewalk.intake.reading import suffix_of
from bolewalk.intake.recording import PLAYABLE
from bolewalk.reference.plants import REGIONS, Region
from bolewalk.walk.recogniser import MODEL_VARIABLE

__all__ = ["SpeechView", "speech_view"]

_REGION_WORDS: dict[Region, str] = {
    "us-e": "of the eastern United States",
    "us-s": "of the southern United States",
    "us-w": "of the western United States",
    "uk": "of Great Britain",
    "au": "of Australia",
}


@dataclass(frozen=True, slots=True)
class UntakenView:
    """One recording without a transcript.

    `task` is there while it is being taken down; `says` is what came of the last try, `button`
    what the next one is called.
    """

    name: str
    kind: str
    address: str
    task: TaskView | None
    failed: bool
    says: str
    button: str


@dataclass(frozen=True, slots=True)
class SpeechView:
    """What a sheet shows of recordings without transcript.

    `wanting` is what has to be installed first, `variable` the one that names the model; `regions`
    are (code, words) to choose from, `region` the one chosen last; `told` is what came of those
    taken down here.
    """

    recordings: tuple[UntakenView, ...]
    wanting: Wanting | None
    variable: str
    regions: tuple[tuple[str, str], ...]
    region: str
    told: tuple[str, ...]


def speech_view(sheet: Sheet, head: SurveyHead, tasks: Sequence[Task]) -> SpeechView:
    """Give what a sheet shows.

    Parameters
    ----------
    sheet : Sheet
    head : SurveyHead
        Of the sheet that shows it.
    tasks : sequence of Task
        Of recordings that are taken down, newest first.
    """
    last: dict[str, Task] = {}
    for task in tasks:
        last.setdefault(task.title, task)
    names = untaken(sheet.stored, sheet.job.parts)
    played = {p.recording for p in sheet.job.parts}
    return SpeechView(
        recordings=tuple(_untaken(sheet, head, name, last.get(name)) for name in names),
        wanting=wanting() if names else None,
        variable=MODEL_VARIABLE,
        regions=(("", "no list"), *((r, _REGION_WORDS[r]) for r in REGIONS)),
        region=next((t.region for t in tasks), ""),
        told=tuple(
            f"{t.title}: {t.told}" for t in last.values() if t.state == "done" and t.title in played
        ),
    )


def _untaken(sheet: Sheet, head: SurveyHead, name: str, last: Task | None) -> UntakenView:
    says, button = "", "Take down what is said"
    if last is not None and last.state == "failed":
        says, button = f"It was not taken down. {last.says}", "Try again"
    elif last is not None and last.state == "cancelled":
        far = "" if last.share is None else f" after {last.share:.0%} of it"
        says, button = f"Stopped{far}; what was heard until then is kept.", "Go on taking it down"
    return UntakenView(
        name=name,
        kind=PLAYABLE[suffix_of(name)].split("/")[0],
        address=file_address(sheet.stored.id, name),
        task=task_view(head, last) if last is not None and last.open else None,
        failed=last is not None and last.state == "failed",
        says=says,
        button=button,
    )
