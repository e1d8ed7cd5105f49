"""What a screening is made of: its pieces, its stamp, its partitions."""

import hashlib
import json
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any

import pyproj

from bolewalk import __version__
from bolewalk.model.survey import RootZoneMethod
from bolewalk.region.columns import Columns, ColumnsError, read_columns
from bolewalk.region.frames import FrameError, choose_frame, one_system, read_crs
from bolewalk.region.job import Job
from bolewalk.region.parts import read_note, write_note
from bolewalk.region.settings import default_method, settings
from bolewalk.region.tables import crs_of, files_of, names_of, pieces_of
from bolewalk.region.works import bounds_of, open_works

__all__ = ["begin", "cells_of", "make_job", "partitions_of", "plan_name"]

Cell = tuple[int, int]


def make_job(
    trees: Path, works: Path, out: Path, *, columns: Path | None, method: RootZoneMethod | None
) -> Job:
    """Look at the input and settle everything that workers must agree on.

    Raises
    ------
    TableError, ColumnsError, FrameError
        The input cannot be screened; the text says what to give.
    """
    mapping = read_columns(columns) if columns is not None else Columns()
    files = files_of(trees)
    crs = _trees_crs(files, trees.name, mapping)
    table = open_works(works, mapping)
    known, drawn = one_system(
        crs, table.crs, mixed=mapping.mixed_crs, names=(trees.name, works.name)
    )
    del drawn
    for file in files:
        _check_columns(file, mapping)
    bounds = bounds_of(table, known)
    if bounds is None:
        raise FrameError(f"{works.name}: has no work with a place on earth")
    units = mapping.units or "metric"
    rows = settings().rows_a_piece
    pieces = tuple(p for f in files for p in pieces_of(f, rows))
    chosen = method or default_method(units)
    stamp = _stamp(files, works, columns, [chosen, units, __version__, repr(settings()), rows])
    return Job(
        name=trees.name,
        works=str(works.resolve()),
        columns="" if columns is None else str(columns.resolve()),
        parts=str((out / "parts").resolve()),
        units=units,
        method=chosen,
        frame=choose_frame(known, bounds),
        pieces=pieces,
        files=tuple(str(f) for f in files),
        stamp=stamp,
    )


def _trees_crs(files: Sequence[Path], name: str, columns: Columns) -> pyproj.CRS | None:
    found = [crs_of(f) for f in files]
    told = None if columns.trees_crs is None else read_crs(columns.trees_crs, name)
    first = found[0]
    for file, crs in zip(files, found, strict=True):
        if (crs is None) != (first is None) or (
            crs is not None and first is not None and not crs.equals(first, ignore_axis_order=True)
        ):
            raise FrameError(
                f"mixed reference systems within {name}: {files[0].name} is in "
                f"{'none' if first is None else first.name}, {file.name} in "
                f"{'none' if crs is None else crs.name}"
            )
    if told is None:
        return first
    if first is not None and not first.equals(told, ignore_axis_order=True):
        raise FrameError(f"{name} is in {first.name}, the column mapping says {told.name}")
    return told


def _check_columns(file: Path, columns: Columns) -> None:
    names, shaped = names_of(file)
    listed = ", ".join(names)
    for meaning, column in columns.trees.items():
        if column not in names:
            raise ColumnsError(
                f"{file.name}: has no column {column!r} (mapped as {meaning}); it has {listed}"
            )
    if not {columns.tree_column("diameter"), columns.tree_column("girth")} & set(names):
        raise ColumnsError(
            f"{file.name}: no trunk sizes; map [trees] diameter or girth to one of {listed}"
        )
    if not shaped and not {columns.tree_column("x"), columns.tree_column("y")} <= set(names):
        raise ColumnsError(f"{file.name}: no positions; map [trees] x and y to two of {listed}")


def _stamp(files: Sequence[Path], works: Path, columns: Path | None, told: Sequence[Any]) -> str:
    """Tell two screenings apart by what is in their files, not by where they lie."""
    digest = hashlib.blake2b(digest_size=16)
    # The pieces name their files by path, which finished parts do not keep.
    for path in (*files, *files_of(works), *([columns] if columns else [])):
        with path.open("rb") as f:
            digest.update(hashlib.file_digest(f, "blake2b").digest())
    digest.update(json.dumps([*map(str, told), [f.name for f in files]]).encode())
    return digest.hexdigest()


def begin(job: Job) -> bool:
    """Make the folder for parts ready.

    Returns
    -------
    bool
        Whether parts of an earlier run of the very same screening are there. Those of another
        are deleted.
    """
    parts = Path(job.parts)
    note = read_note(parts / "run.json")
    if note is not None and note.get("stamp") == job.stamp:
        return True
    for folder in ("read", "judged"):
        for path in sorted((parts / folder).glob("*")):
            if path.suffix in (".npy", ".json", ".csv", ".part"):
                path.unlink()
    parts.mkdir(parents=True, exist_ok=True)
    write_note(parts / "run.json", {"stamp": job.stamp})
    return False


def cells_of(notes: Iterable[dict[str, Any]]) -> dict[Cell, int]:
    """Give the trees kept in each cell (cy, cx), cells rising."""
    found: dict[Cell, int] = {}
    for note in notes:
        for cy, cx, count in note["cells"]:
            found[cy, cx] = found.get((cy, cx), 0) + count
    return dict(sorted(found.items()))


def partitions_of(cells: dict[Cell, int], count: int | None) -> list[list[Cell]]:
    """Cut the cells into runs of about as many trees.

    Parameters
    ----------
    cells : dict
        As `cells_of` gives it.
    count : int, optional
        Number of runs; by the number of trees where not given. Never more than cells.
    """
    total = sum(cells.values())
    if count is None:
        count = max(settings().least_partitions, -(-total // settings().trees_a_partition))
    count = max(1, min(count, len(cells)))
    runs: list[list[Cell]] = [[] for _ in range(count)]
    done = 0
    for cell, trees in cells.items():
        runs[min(count - 1, done * count // max(total, 1))].append(cell)
        done += trees
    return [r for r in runs if r]


def plan_name(runs: Sequence[Sequence[Cell]]) -> str:
    """Name a partitioning by its content."""
    text = json.dumps(runs)
    return hashlib.blake2b(text.encode(), digest_size=6).hexdigest()
