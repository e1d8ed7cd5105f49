"""Many sites at once: the whole screening in order."""

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from bolewalk.model.problems import Level, Problem
from bolewalk.model.survey import RootZoneMethod
from bolewalk.model.words import Verdict
from bolewalk.region.assemble import write_answer
from bolewalk.region.job import Job, site_of
from bolewalk.region.judge import judge_partition, partition_path
from bolewalk.region.parts import read_note
from bolewalk.region.plan import begin, cells_of, make_job, partitions_of, plan_name
from bolewalk.region.trees import piece_path, read_piece
from bolewalk.region.workers import Workers, workers

__all__ = ["Progress", "Screened", "screen"]

Progress = Callable[[str, int, int], None]
"""Told (what is being done, parts done, parts in all)."""


@dataclass(frozen=True, slots=True)
class Screened:
    """What came of a screening.

    Attributes
    ----------
    rows, left_out, near : int
        Rows read, rows without a usable position, trees that any work comes near.
    verdicts : mapping of verdict to trees
    problems : tuple of Problem
        Those of the works one by one; those of the trees once for each reason, `row` telling how
        many rows. The file problems.csv has every row.
    files : tuple of Path
        What was written.
    kept_parts : int
        Parts taken over from an earlier run.
    """

    rows: int
    left_out: int
    near: int
    verdicts: dict[Verdict, int]
    problems: tuple[Problem, ...]
    files: tuple[Path, ...]
    kept_parts: int


def screen(
    trees: Path,
    works: Path,
    out: Path,
    *,
    columns: Path | None = None,
    method: RootZoneMethod | None = None,
    processes: int = 1,
    scheduler: str | None = None,
    partitions: int | None = None,
    progress: Progress = lambda _what, _done, _all: None,
) -> Screened:
    """Judge every tree that any work comes near.

    Parameters
    ----------
    trees : Path
        Inventory: (Geo)Parquet file or folder of them, GeoPackage, CSV.
    works : Path
        Scheme: the same formats, GeoJSON too.
    out : Path
        Folder for the answer; its folder "parts" keeps what is finished, so that a run that was
        stopped goes on where it stopped.
    columns : Path, optional
        Column mapping (`read_columns`).
    method : RootZoneMethod, optional
        By the units of the mapping where not given.
    processes : int
        Of this machine.
    scheduler : str, optional
        Address of a Dask scheduler instead.
    partitions : int, optional
        Parts the judging is cut into. The answer does not depend on it.
    progress : callable, optional

    Raises
    ------
    TableError, ColumnsError, FrameError
        The input cannot be screened.
    MissingExtraError
        A library of an optional install is needed.
    WorkersLostError
        Workers died again and again.
    OSError
        The answer cannot be written, or the scheduler does not answer.
    """
    job = make_job(trees, works, out, columns=columns, method=method)
    begin(job)
    with workers(processes=processes, scheduler=scheduler) as hands:
        read = [(job, k) for k in range(len(job.pieces))]
        kept = _do(hands, read_piece, read, _read_done, "reading trees", progress)
        notes = [read_note(piece_path(job, k, "json")) or {} for k in range(len(job.pieces))]
        runs = partitions_of(cells_of(notes), partitions)
        plan = plan_name(runs)
        judged = [(job, plan, k, run) for k, run in enumerate(runs)]
        kept += _do(hands, judge_partition, judged, _judge_done, "judging trees", progress)
        site = site_of(job)
        found = write_answer(
            job, [partition_path(job, plan, k, "npy") for k in range(len(runs))], notes,
            site, out, hands=hands, progress=progress,
        )  # fmt: skip
    return Screened(
        rows=sum(n["rows"] for n in notes),
        left_out=sum(n["left_out"] for n in notes),
        near=sum(found.verdicts.values()),
        verdicts=found.verdicts,
        problems=(*site.problems, *_reasons(job, notes, found.repeated)),
        files=found.files,
        kept_parts=kept,
    )


def _reasons(job: Job, notes: Sequence[dict[str, Any]], repeated: int) -> list[Problem]:
    counts: Counter[tuple[str, str, str]] = Counter()
    for note in notes:
        for name, expected, level, count in note["problems"]:
            counts[name, expected, level] += count
    if repeated:
        counts["tree", "an id of its own; all rows that bear it are judged", "notice"] = repeated
    levels: dict[str, Level] = {"fault": "fault", "notice": "notice"}
    return [
        Problem(job.name, f"{n:,} rows", name, None, expected, levels[level])
        for (name, expected, level), n in sorted(counts.items())
    ]


def _read_done(task: tuple[Any, ...]) -> bool:
    return read_note(piece_path(task[0], task[1], "json")) is not None


def _judge_done(task: tuple[Any, ...]) -> bool:
    return read_note(partition_path(task[0], task[1], task[2], "json")) is not None


def _do(
    hands: Workers, work: Callable[..., Any], tasks: Sequence[tuple[Any, ...]],
    is_done: Callable[[tuple[Any, ...]], bool], what: str, progress: Progress,
) -> int:  # fmt: skip
    """Do what is not finished yet; give the number that was."""
    left = [t for t in tasks if not is_done(t)]
    done = len(tasks) - len(left)
    progress(what, done, len(tasks))
    for _ in hands.run(work, left):
        done += 1
        progress(what, done, len(tasks))
    return len(tasks) - len(left)
