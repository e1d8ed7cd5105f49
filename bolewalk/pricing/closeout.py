"""What the crew writes down at the end: the shape of the close-out and its way into learning."""

from collections.abc import Sequence
from dataclasses import dataclass

from bolewalk.pricing.learning import JOB_COLUMNS, PastJob
from bolewalk.pricing.price import Price

__all__ = ["CloseoutLine", "CloseoutRecord", "closeout_form", "past_jobs", "past_jobs_csv"]


@dataclass(frozen=True, slots=True)
class CloseoutLine:
    """One line of the work order after the day. None = not written down.

    `done` False: not done that day. Depths in metres, loads as counted at the dump.
    """

    item: str
    tree: str
    task: str
    access: str
    estimated_hours: float
    actual_hours: float | None = None
    done: bool | None = None
    stump_depth_m: float | None = None
    left_on_site: str = ""
    found: str = ""


@dataclass(frozen=True, slots=True)
class CloseoutRecord:
    """A finished job: its lines, loads, aftercare and the next look.

    Dates are ISO text as written on the form; nothing here is computed.
    """

    job: str
    lines: tuple[CloseoutLine, ...]
    estimated_loads: int
    date: str = ""
    crew_leader: str = ""
    actual_loads: int | None = None
    aftercare: str = ""
    next_look: str = ""
    photos_before: tuple[str, ...] = ()
    photos_after: tuple[str, ...] = ()


def closeout_form(price: Price, *, job: str) -> CloseoutRecord:
    """Make the empty form of a job: its base lines with the hours estimated."""
    return CloseoutRecord(
        job=job,
        lines=tuple(
            CloseoutLine(x.item.id, x.item.tree, x.item.task, x.hours.access, x.hours.hours)
            for x in price.of("base")
            if x.hours is not None
        ),
        estimated_loads=price.loads.count,
    )


def past_jobs(record: CloseoutRecord) -> tuple[PastJob, ...]:
    """Give the lines that were done and timed, for learning."""
    return tuple(
        PastJob(x.task, x.access, x.estimated_hours, x.actual_hours, record.job)
        for x in record.lines
        if x.done is not False and x.actual_hours is not None and x.actual_hours > 0
        and x.estimated_hours > 0
    )  # fmt: skip


def past_jobs_csv(records: Sequence[CloseoutRecord]) -> tuple[tuple[str, ...], ...]:
    """Give rows for the file of past jobs, header first, as `learning.read_jobs` reads them."""
    rows: list[tuple[str, ...]] = [JOB_COLUMNS]
    for record in records:
        loads = "" if record.actual_loads is None else str(record.actual_loads)
        for n, x in enumerate(past_jobs(record)):
            rows.append(
                (
                    record.job,
                    record.date,
                    x.task,
                    x.access,
                    x.estimator,
                    f"{x.estimated_hours:.2f}",
                    f"{x.actual_hours:.2f}",
                    loads if n == 0 else "",
                    "",
                )
            )
    return tuple(rows)
