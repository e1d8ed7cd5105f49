"""Trees from their table: read, held against the works, and kept where any comes near."""

import csv
import io
from collections import Counter
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from bolewalk.region.columns import TREE_COLUMNS, Columns
from bolewalk.region.job import Job, Site, site_of
from bolewalk.region.kinds import KIND_COLUMNS, Fault
from bolewalk.region.parts import read_note, write_array, write_note, write_text
from bolewalk.region.settings import settings
from bolewalk.region.tables import Piece, Rows, read_rows

__all__ = ["TEXTS", "piece_path", "read_piece", "wanted_columns"]

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

TEXTS = ("tree", *KIND_COLUMNS, "place")
"""Cells carried along as written."""


@dataclass(frozen=True, slots=True)
class _Coded:
    """A column as positions in its distinct texts; "" = nothing."""

    codes: Ints
    texts: list[str]

    def some(self, rows: Ints) -> NDArray[np.str_]:
        return np.array(self.texts or [""], dtype=np.str_)[self.codes[rows]]


def wanted_columns(columns: Columns) -> list[str]:
    """Give the names of the columns that are read."""
    return [columns.tree_column(m) for m in TREE_COLUMNS]


def piece_path(job: Job, k: int, ending: str) -> Path:
    """Give the path of what was kept of a piece."""
    return Path(job.parts) / "read" / f"{k:06d}.{ending}"


def read_piece(job: Job, k: int) -> dict[str, Any]:
    """Read piece k, keep its trees that any work comes near, and list what is wrong with it.

    Returns
    -------
    dict
        `rows` read, `left_out` (no usable position), `near`, `cells` ([cy, cx, trees] kept in
        each), `problems` ([field, expected, level, count]). The note of an earlier run is given
        back where the piece is finished.
    """
    done = read_note(piece_path(job, k, "json"))
    if done is not None:
        return done
    site, columns = site_of(job), job.mapping()
    piece = job.pieces[k]
    rows = read_rows(piece, wanted_columns(columns))
    n = len(rows)
    cells = {m: _coded(rows.columns.get(columns.tree_column(m)), n) for m in TEXTS}
    problems = _Problems(Path(piece.path).name, rows.row)
    source, placed = _positions(rows, columns, problems)
    east, north = job.frame.to_metric(source[:, 0], source[:, 1])
    lost = placed & ~(np.isfinite(east) & np.isfinite(north))
    problems.add(
        np.flatnonzero(lost), "position", "", "a place its reference system reaches; left out",
        "fault",
    )  # fmt: skip
    placed &= ~lost
    error = _errors(rows, columns, problems)
    _read_cells(cells, site, problems)
    reach = _reach(cells, site) + error
    at = np.flatnonzero(placed)
    xy = np.column_stack([east, north])
    kept = at[site.near(xy[at], reach[at])]
    table = _kept(kept, cells, rows, source, xy, error, job, piece)
    write_array(piece_path(job, k, "npy"), table)
    ids = cells["tree"]
    write_array(piece_path(job, k, "ids.npy"), ids.some(np.arange(n)))
    write_array(piece_path(job, k, "rows.npy"), rows.row)
    write_text(piece_path(job, k, "csv"), problems.text())
    where, count = np.unique(np.stack([table["cy"], table["cx"]]), axis=1, return_counts=True)
    note = {
        "rows": n,
        "left_out": int(n - placed.sum()),
        "near": len(kept),
        "cells": [[int(y), int(x), int(c)] for y, x, c in zip(*where, count, strict=True)],
        "problems": problems.counts(),
        "sizes": problems.sizes,
    }
    write_note(piece_path(job, k, "json"), note)
    return note


def _coded(values: NDArray[Any] | None, n: int) -> _Coded:
    if values is None:
        return _Coded(np.zeros(n, dtype=np.int64), [""])
    if values.dtype.kind in "fiub":
        found, codes = np.unique(values, return_inverse=True)
        return _Coded(codes.astype(np.int64).ravel(), [_number(v) for v in found.tolist()])
    known: dict[Any, int] = {}
    codes = np.fromiter((known.setdefault(v, len(known)) for v in values.tolist()), np.int64, n)
    return _Coded(codes, ["" if v is None or v != v else str(v).strip() for v in known])


def _number(value: Any) -> str:
    if value != value:
        return ""
    if isinstance(value, float) and value.is_integer() and abs(value) < 1e15:
        return str(int(value))
    return str(value)


class _Problems:
    """What is wrong with the rows of one piece, written row by row and counted by reason."""

    def __init__(self, file: str, row: Ints) -> None:
        self._file, self._row = file, row
        self._found: list[tuple[int, str, str, str, str]] = []
        self._counts: Counter[tuple[str, str, str]] = Counter()
        self.sizes: dict[str, int] = {}

    def add(self, rows: Ints, field: str, value: str, expected: str, level: str) -> None:
        if not len(rows):
            return
        self._counts[field, expected, level] += len(rows)
        self._found += [(int(i), field, value, expected, level) for i in rows]

    def counts(self) -> list[list[Any]]:
        return [[*key, n] for key, n in sorted(self._counts.items())]

    def text(self) -> str:
        out = io.StringIO()
        writer = csv.writer(out, lineterminator="\n")
        for i, field, value, expected, level in sorted(self._found):
            cell = f"'{value}" if value[:1] in "=+-@\t\r" and value[:1] else value
            writer.writerow([self._file, int(self._row[i]), field, cell, expected, level])
        return out.getvalue()


def _positions(
    rows: Rows, columns: Columns, problems: _Problems
) -> tuple[Floats, NDArray[np.bool_]]:
    n = len(rows)
    xy = np.full((n, 2), np.nan)
    if rows.geometry is not None:
        shapes = rows.geometry
        kind = shapely.get_type_id(shapes)
        single = (kind == 4) & (shapely.get_num_geometries(shapes) == 1)
        shapes = np.where(single, shapely.get_geometry(shapes, 0), shapes)
        points = np.array(shapes, dtype=object)
        points[shapely.get_type_id(shapes) != 0] = None
        xy = np.column_stack([shapely.get_x(points), shapely.get_y(points)])
    else:
        for k, name in enumerate(("x", "y")):
            values = rows.columns.get(columns.tree_column(name))
            if values is not None:
                xy[:, k] = _floats(values)
    placed: NDArray[np.bool_] = np.isfinite(xy).all(axis=1)
    problems.add(
        np.flatnonzero(~placed), "position", "", "a point with two numbers; left out", "fault"
    )
    return xy, placed


def _floats(values: NDArray[Any]) -> Floats:
    if values.dtype.kind in "fiu":
        return values.astype(np.float64)
    known: dict[Any, float] = {}
    return np.fromiter((_float(v, known) for v in values.tolist()), np.float64, len(values))


def _float(value: Any, known: dict[Any, float]) -> float:
    if value not in known:
        try:
            known[value] = float(value)
        except (TypeError, ValueError):
            known[value] = np.nan
    return known[value]


def _errors(rows: Rows, columns: Columns, problems: _Problems) -> Floats:
    values = rows.columns.get(columns.tree_column("position_error"))
    if values is None:
        return np.full(len(rows), columns.position_error_m)
    error = _floats(values)
    bad = np.flatnonzero(~(np.isfinite(error) & (error >= 0) & (error < 1000)))
    problems.add(
        bad, "position_error", "", f"metres from 0 up; {columns.position_error_m:g} m is taken",
        "notice",
    )  # fmt: skip
    error[bad] = columns.position_error_m
    return error


def _read_cells(cells: dict[str, _Coded], site: Site, problems: _Problems) -> None:
    kinds = site.kinds
    told: dict[str, dict[int, tuple[Fault, ...]]] = {}
    for name in ("species", "age", "tolerance", "crown", "form"):
        read = kinds.cell
        told[name] = {
            k: (kinds.species(text)[1] if name == "species" else read(name, text))
            for k, text in enumerate(cells[name].texts)
        }
    for name, by_code in told.items():
        order, start = _grouped(cells[name].codes, len(cells[name].texts))
        for k, faults in by_code.items():
            for _, value, expected, level in faults:
                problems.add(order[start[k] : start[k + 1]], name, value, expected, level)
    both = cells["diameter"].codes * len(cells["girth"].texts) + cells["girth"].codes
    found, codes = np.unique(both, return_inverse=True)
    order, start = _grouped(codes.ravel(), len(found))
    for k, code in enumerate(found.tolist()):
        d, g = divmod(code, len(cells["girth"].texts))
        diameter, girth = cells["diameter"].texts[d], cells["girth"].texts[g]
        trunk = kinds.trunk(diameter, girth)
        size = start[k + 1] - start[k]
        problems.sizes[trunk.basis] = problems.sizes.get(trunk.basis, 0) + int(size)
        if trunk.why:
            rows = order[start[k] : start[k + 1]]
            name = "girth" if trunk.by_girth else "diameter"
            problems.add(rows, name, diameter or girth, trunk.why, trunk.level)
    missing = np.array([not t for t in cells["tree"].texts])[cells["tree"].codes]
    problems.add(
        np.flatnonzero(missing), "tree", "", "an id; the number of the row stands for it", "notice"
    )


def _grouped(codes: Ints, n: int) -> tuple[Ints, Ints]:
    """Rows sorted by code, and where each code's begin."""
    order = np.argsort(codes, kind="stable")
    return order, np.searchsorted(codes[order], np.arange(n + 1))


def _reach(cells: dict[str, _Coded], site: Site) -> Floats:
    """The largest root zone each row may have [m]; only cells it depends on are told apart."""
    kinds = site.kinds
    palm = np.array([kinds.is_palm(t) for t in cells["species"].texts], dtype=bool)
    is_palm = palm[cells["species"].codes]
    as_palm = np.array([t.lower() == "palm" for t in cells["form"].texts], dtype=bool)
    crowned = is_palm | as_palm[cells["form"].codes] | (kinds.method == "din18920")
    blank = {name: np.zeros(len(is_palm), dtype=np.int64) for name in KIND_COLUMNS}
    first = {name: [*cells[name].texts, ""] for name in KIND_COLUMNS}
    for name in KIND_COLUMNS:
        codes, none = cells[name].codes, len(cells[name].texts)
        if name in ("diameter", "girth") or kinds.method == "tolerance-age":
            blank[name] = codes
        elif name in ("crown", "form"):
            blank[name] = np.where(crowned, codes, none)
        elif name == "species":
            blank[name] = np.where(is_palm, codes, none)
        else:
            blank[name] = np.full(len(codes), none)
    key = np.zeros(len(is_palm), dtype=np.int64)
    for name in KIND_COLUMNS:
        # Kept small by numbering anew, so that no product of counts overflows.
        _, key = np.unique(key * len(first[name]) + blank[name], return_inverse=True)
        key = key.ravel().astype(np.int64)
    _, at = np.unique(key, return_index=True)
    reach = np.array(
        [
            kinds.kind(*(first[name][blank[name][i]] for name in KIND_COLUMNS)).reach_m
            for i in at.tolist()
        ],
        dtype=np.float64,
    )
    return reach[key] if len(reach) else np.zeros(0)


def _kept(
    rows: Ints, cells: dict[str, _Coded], table: Rows, source: Floats, xy: Floats, error: Floats,
    job: Job, piece: Piece,
) -> NDArray[Any]:  # fmt: skip
    side = settings().cell_m
    texts = {name: cells[name].some(rows) for name in TEXTS}
    numbered = np.array([f"row {r}" for r in table.row[rows].tolist()], dtype=np.str_)
    texts["tree"] = np.where(texts["tree"] == "", numbered, texts["tree"])
    file = job.files.index(piece.path)
    kinds: list[Any] = [
        ("cy", "i8"), ("cx", "i8"), ("x", "f8"), ("y", "f8"), ("source_x", "f8"),
        ("source_y", "f8"), ("error", "f8"), ("file", "i4"), ("row", "i8"),
    ]  # fmt: skip
    kinds += [(name, f"U{max(1, t.dtype.itemsize // 4)}") for name, t in texts.items()]
    out = np.zeros(len(rows), dtype=kinds)
    out["x"], out["y"] = xy[rows, 0], xy[rows, 1]
    out["cx"], out["cy"] = np.floor(out["x"] / side), np.floor(out["y"] / side)
    out["source_x"], out["source_y"] = source[rows, 0], source[rows, 1]
    out["error"], out["file"], out["row"] = error[rows], file, table.row[rows]
    for name, values in texts.items():
        out[name] = values
    return out[np.lexsort((out["cx"], out["cy"]))]
