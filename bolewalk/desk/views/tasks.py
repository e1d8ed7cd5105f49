"""A piece of long work as the sheet that watches it tells it."""

from dataclasses import dataclass

from bolewalk.desk.tasks import Task
from bolewalk.desk.views.head import SurveyHead

__all__ = ["TaskPart", "TaskView", "sheet_that_shows", "task_view"]

_LISTENED_ON = ("walk", "files")


@dataclass(frozen=True, slots=True)
class TaskView:
    """A task as the page tells it.

    `share` is how far it is, 0 to 1, None where nobody can say. `watch` is where its state is
    asked for, `stop` where it is stopped, `back` the sheet it stands on, called `sheet`.
    """

    head: SurveyHead
    id: str
    what: str
    state: str
    step: str
    steps: int
    share: float | None
    says: str
    open: bool
    watch: str
    stop: str
    back: str
    sheet: str


@dataclass(frozen=True, slots=True)
class TaskPart:
    """The part of a sheet that watches a task."""

    task: TaskView


def sheet_that_shows(task: Task, asked: str) -> str:
    """Give the sheet a task is watched on, as SHEETS calls it."""
    if task.kind == "speech":
        return asked if asked in _LISTENED_ON else _LISTENED_ON[0]
    return "papers"


def task_view(head: SurveyHead, task: Task) -> TaskView:
    """Give a task as the page tells it.

    Parameters
    ----------
    head : SurveyHead
        Of the sheet it is watched on.
    task : Task
    """
    here = f"{head.root}/tasks/{task.id}"
    stop, on = f"{here}/cancel{head.suffix}", head.suffix
    if task.kind == "speech":
        what = f"Taking down {task.title}"
        stop, on = f"{head.root}/speech/{task.id}/stop", f"?on={head.sheet}"
    else:
        what = "Issuing the papers" if task.kind == "issue" else "Making the papers"
    return TaskView(
        head=head,
        id=task.id,
        what=what,
        state=task.state,
        step=task.step,
        steps=task.steps,
        share=task.share,
        says=task.says,
        open=task.open,
        watch=f"{here}{on}",
        stop=stop,
        back=f"{head.root}/{head.sheet}{head.suffix}",
        sheet=head.title.lower(),
    )
