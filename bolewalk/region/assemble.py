"""The answer put together: files for maps, the visit list, the summary page."""

import csv
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from bolewalk.model.extras import MissingExtraError
from bolewalk.model.words import VERDICTS, Verdict
from bolewalk.region.geofiles import Batch, batches_of, write_geopackage_layer, write_geoparquet
from bolewalk.region.job import Job, Site
from bolewalk.region.judge import FIGURES, WEIGHT
from bolewalk.region.parts import read_array
from bolewalk.region.settings import settings
from bolewalk.region.summary import Overview, write_summary
from bolewalk.region.trees import piece_path
from bolewalk.region.visits import order_of, plan_visits, tour_length_m
from bolewalk.region.workers import Workers

__all__ = ["Answer", "write_answer"]

Progress = Callable[[str, int, int], None]
Table = NDArray[Any]

_TEXTS = ("tree", "species", "diameter", "girth", "place")
_WORDS = ("verdict", "verdict_best", "verdict_worst", "verdict_with_later", "open", "size")
_VISIT = (
    "verdict", "verdict_best", "verdict_worst", "tree", "species", "place", "diameter",
    "severed_pct", "severed_low_pct", "severed_high_pct", "nearest_cut_m",
    "structural_radius_m", "open", "x", "y", "source_x", "source_y", "file", "row",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Answer:
    """What was written. `repeated`: rows that share their id with another."""

    verdicts: dict[Verdict, int]
    repeated: int
    files: tuple[Path, ...]


def write_answer(
    job: Job, partitions: Sequence[Path], notes: Sequence[dict[str, Any]], site: Site, out: Path,
    *, hands: Workers, progress: Progress,
) -> Answer:  # fmt: skip
    """Write every file of the answer.

    Parameters
    ----------
    job : Job
    partitions : sequence of Path
        Judged partitions in order.
    notes : sequence of dict
        Of the pieces read.
    site : Site
    out : Path
    hands : Workers
        Tours are put in order there.
    progress : callable

    Raises
    ------
    OSError
        A file cannot be written.
    """
    out.mkdir(parents=True, exist_ok=True)
    tables = [read_array(p) for p in partitions]
    steps = 5
    progress("writing", 0, steps)
    repeated = _repeated(job)
    files = [_write_problems(out / "problems.csv", job, site, repeated)]
    progress("writing", 1, steps)
    visits, tours = _visits(tables, hands)
    files.append(_write_visits(out / "visits.csv", visits, job))
    progress("writing", 2, steps)
    crs = job.frame.source
    package = out / "screen.gpkg"
    package.unlink(missing_ok=True)
    write_geopackage_layer(
        package, _batches(tables, job, repeated.ids), layer="trees", geometry_type="Point", crs=crs
    )
    if len(tours):
        write_geopackage_layer(
            package, [_tour_batch(tours)], layer="tours", geometry_type="LineString",
            crs=crs,
        )  # fmt: skip
    files.append(package)
    progress("writing", 3, steps)
    try:
        parquet = out / "screen.parquet"
        write_geoparquet(parquet, _batches(tables, job, repeated.ids), crs=crs)
        files.append(parquet)
    except MissingExtraError:
        parquet.unlink(missing_ok=True)
    progress("writing", 4, steps)
    counts = {v: sum(int((t["verdict"] == v).sum()) for t in tables) for v in VERDICTS}
    overview = _overview(job, notes, counts, visits, tours, repeated)
    files.append(write_summary(out / "summary.html", overview, tables, site))
    progress("writing", steps, steps)
    return Answer(counts, len(repeated.rows), tuple(files))


# --- ids that are not unique -------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Repeated:
    ids: NDArray[np.str_]
    rows: tuple[tuple[str, int, str], ...]
    """File, row and id of every row concerned."""


def _repeated(job: Job) -> _Repeated:
    """Find ids borne by several rows; all rows together are only held as one number each."""
    pieces = range(len(job.pieces))
    numbers = [_number_of(read_array(piece_path(job, k, "ids.npy"))) for k in pieces]
    every = np.sort(np.concatenate(numbers)) if numbers else np.zeros(0, dtype=np.uint64)
    twice = np.unique(every[1:][every[1:] == every[:-1]])
    found: list[tuple[str, int, str]] = []
    for k, number in zip(pieces, numbers, strict=True):
        at = np.flatnonzero(np.isin(number, twice) & (number != 0))
        ids, rows = (
            read_array(piece_path(job, k, "ids.npy")),
            read_array(piece_path(job, k, "rows.npy")),
        )
        name = Path(job.pieces[k].path).name
        found += [(name, int(rows[i]), str(ids[i])) for i in at.tolist()]
    texts, count = np.unique(np.array([t for _, _, t in found], dtype=np.str_), return_counts=True)
    ids = texts[count > 1]
    known = set(ids.tolist())
    return _Repeated(ids, tuple(f for f in found if f[2] in known))


def _number_of(ids: NDArray[np.str_]) -> NDArray[np.uint64]:
    """One number for each text (FNV-1a over its characters), whatever the column's width."""
    letters = np.ascontiguousarray(ids).view(np.uint32).reshape(len(ids), -1).astype(np.uint64)
    number = np.full(len(ids), 0xCBF29CE484222325, dtype=np.uint64)
    for k in range(letters.shape[1]):
        some = letters[:, k] > 0
        number[some] = (number[some] ^ letters[some, k]) * np.uint64(0x100000001B3)
    number[np.asarray(ids) == ""] = 0
    return number


def _write_problems(path: Path, job: Job, site: Site, repeated: _Repeated) -> Path:
    with path.open("w", encoding="utf-8", newline="") as f:
        writer = csv.writer(f, lineterminator="\n")
        writer.writerow(["file", "row", "field", "value", "expected", "level"])
        for p in site.problems:
            writer.writerow([p.file, p.row, p.field, _cell(p.value or ""), p.expected, p.level])
        for k in range(len(job.pieces)):
            f.write(piece_path(job, k, "csv").read_text(encoding="utf-8"))
        for name, row, text in repeated.rows:
            expected = "an id of its own; all rows that bear it are judged"
            writer.writerow([name, row, "tree", _cell(text), expected, "notice"])
    return path


def _cell(text: str) -> str:
    """Text from a file that a spreadsheet must not take for a formula."""
    return f"'{text}" if text[:1] in ("=", "+", "-", "@", "\t", "\r") else text


# --- map files ---------------------------------------------------------------------------------


def _batches(tables: Sequence[Table], job: Job, repeated: NDArray[np.str_]) -> Iterator[Batch]:
    names = ("source_x", "source_y", "file", "row", *_TEXTS, *FIGURES, *_WORDS)
    for batch in batches_of(tables or [_nothing(names)], names, settings().rows_a_group):
        columns: dict[str, NDArray[Any]] = {n: batch[n] for n in _TEXTS}
        files = np.array([Path(p).name for p in job.files])
        columns |= {"file": files[batch["file"]], "row": batch["row"]}
        columns |= {n: batch[n] for n in _WORDS}
        again = np.isin(batch["tree"], repeated)
        columns["id_repeated"] = np.where(again, "yes", "")
        columns |= {n: batch[n] for n in FIGURES}
        shapes = np.asarray(shapely.points(batch["source_x"], batch["source_y"]), dtype=object)
        yield columns, shapes


def _nothing(names: Sequence[str]) -> Table:
    """No trees, so that an answer without any is a file all the same."""
    kinds = {"file": "i4", "row": "i8", **dict.fromkeys((*_TEXTS, *_WORDS), "U1")}
    return np.zeros(0, dtype=[(n, kinds.get(n, "f8")) for n in names])


def _tour_batch(tours: Sequence["_Tour"]) -> Batch:
    shapes = np.array([t.line for t in tours], dtype=object)
    columns: dict[str, NDArray[Any]] = {
        "tour": np.array([t.number for t in tours], dtype=np.int64),
        "stops": np.array([t.stops for t in tours], dtype=np.int64),
        "trees": np.array([t.trees for t in tours], dtype=np.int64),
        "straight_m": np.array([t.length_m for t in tours], dtype=np.float64),
    }
    return columns, shapes


# --- visits ------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Tour:
    number: int
    stops: int
    trees: int
    length_m: float
    line: Any


def _visits(tables: Sequence[Table], hands: Workers) -> tuple[Table, list[_Tour]]:
    """The trees to be looked at, in order of tour and stop, and the tours."""
    some = [t[list(_VISIT)][np.isin(t["verdict"], settings().visited)] for t in tables]
    if not sum(map(len, some)):
        return np.zeros(0), []
    wanted: Table = np.concatenate(some)
    plan = plan_visits(wanted["x"], wanted["y"], wanted["verdict"])
    tour_of, place = np.zeros(len(plan.at), np.int64), np.zeros(len(plan.at), np.int64)
    orders: list[list[int]] = [[] for _ in plan.tours]
    for k, order in hands.run(order_of, [(plan.at[t],) for t in plan.tours]):
        orders[k] = order
    for k, (stops, order) in enumerate(zip(plan.tours, orders, strict=True), start=1):
        tour_of[stops] = k
        place[stops[order]] = np.arange(1, len(stops) + 1)
    weight = np.array([WEIGHT[v] for v in wanted["verdict"].tolist()])
    tour, stop = tour_of[plan.stop], place[plan.stop]
    order_ = np.lexsort(
        (wanted["row"], wanted["tree"], -wanted["severed_pct"], -weight, stop, tour)
    )
    table = np.zeros(len(wanted), dtype=[("tour", "i8"), ("stop", "i8"), *_fields(wanted)])
    table["tour"], table["stop"] = tour, stop
    for name in wanted.dtype.names or ():
        table[name] = wanted[name]
    table = table[order_]
    return table, [
        _tour(k, table[table["tour"] == k], plan.at[stops[order]])
        for k, (stops, order) in enumerate(zip(plan.tours, orders, strict=True), start=1)
    ]


def _fields(table: Table) -> list[Any]:
    return [(n, table.dtype[n]) for n in table.dtype.names or ()]


def _tour(number: int, trees: Table, at: NDArray[np.float64]) -> _Tour:
    count = np.maximum(np.bincount(trees["stop"])[1:], 1)
    ways = [
        np.bincount(trees["stop"], weights=trees[n])[1:] / count for n in ("source_x", "source_y")
    ]
    line = np.column_stack(ways)
    if len(line) == 1:
        line = np.repeat(line, 2, axis=0)
    length = tour_length_m(at, range(len(at)))
    return _Tour(number, len(at), len(trees), length, shapely.LineString(line))


def _write_visits(path: Path, visits: Table, job: Job) -> Path:
    """The list for the walk, as it is read on site: figures rounded, the file keeps them whole."""
    names = (
        "tour", "stop", "tree", "verdict", "verdict_best", "verdict_worst", "open", "species",
        "place", "diameter", "severed_pct", "severed_low_pct", "severed_high_pct",
        "nearest_cut_m", "structural_radius_m", "x", "y", "file", "row",
    )  # fmt: skip
    with path.open("w", encoding="utf-8", newline="") as f:
        writer = csv.writer(f, lineterminator="\n")
        writer.writerow(names)
        if not len(visits):
            return path
        files = [Path(p).name for p in job.files]
        columns = []
        for name in names:
            key = {"x": "source_x", "y": "source_y"}.get(name, name)
            values = visits[key].tolist()
            if name == "file":
                values = [files[v] for v in values]
            elif name.endswith(("_pct", "_m")):
                values = ["" if v != v else f"{v:.2f}" for v in values]
            elif isinstance(values[0], str):
                values = [_cell(v) for v in values]
            columns.append(values)
        writer.writerows(zip(*columns, strict=True))
    return path


def _overview(
    job: Job, notes: Sequence[dict[str, Any]], counts: dict[Verdict, int], visits: Table,
    tours: Sequence[_Tour], repeated: _Repeated,
) -> Overview:  # fmt: skip
    sizes: dict[str, int] = {}
    for note in notes:
        for name, n in note["sizes"].items():
            sizes[name] = sizes.get(name, 0) + n
    return Overview(
        trees=job.name,
        works=Path(job.works).name,
        method=job.method,
        units=job.units,
        frame=job.frame.name,
        rows=sum(n["rows"] for n in notes),
        left_out=sum(n["left_out"] for n in notes),
        sizes=sizes,
        repeated=len(repeated.rows),
        verdicts=counts,
        visits=len(visits),
        tours=tuple((t.number, t.stops, t.trees, t.length_m) for t in tours),
    )
