"""The works of a scheme, from any table of shapes, in metres."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
import pyproj
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from bolewalk.drawing.details import PROPERTIES, Place, read_details
from bolewalk.drawing.shapes import ShapeError, check_parts, line_part, point_part, polygon_part
from bolewalk.impact.footprints import covers, severs
from bolewalk.model.problems import Problem
from bolewalk.model.units import UnitSystem
from bolewalk.model.works import Part, Work
from bolewalk.region.columns import Columns
from bolewalk.region.frames import Frame, carry, read_crs
from bolewalk.region.tables import Rows, TableError, crs_of, files_of, pieces_of, read_rows

__all__ = ["WorksTable", "counts", "open_works", "works_of"]


@dataclass(frozen=True, slots=True)
class WorksTable:
    """Features as the files give them. `crs` None = not told."""

    name: str
    rows: tuple[Rows, ...]
    crs: pyproj.CRS | None

    def __len__(self) -> int:
        return sum(len(r) for r in self.rows)


def open_works(path: Path, columns: Columns) -> WorksTable:
    """Read the features of a works file, or of a folder of Parquet files.

    Raises
    ------
    TableError
        It cannot be read, has no geometry, or its files are in different reference systems.
    """
    files = files_of(path)
    systems = {None if c is None else c.to_wkt(): c for c in map(crs_of, files)}
    if len(systems) > 1:
        raise TableError(f"{path.name}: its files are in different reference systems")
    crs = next(iter(systems.values()))
    if columns.works_crs is not None:
        told = read_crs(columns.works_crs, path.name)
        crs = _told(crs, told, path.name)
    rows = []
    for file in files:
        for piece in pieces_of(file, 1 << 30):
            found = read_rows(piece, None)
            if found.geometry is None:
                raise TableError(
                    f"{file.name}: has no shapes; expected a geometry column (in a CSV: WKT in a "
                    "column named geometry or wkt)"
                )
            rows.append(found)
    return WorksTable(path.name, tuple(rows), crs)


def _told(named: pyproj.CRS | None, told: pyproj.CRS, name: str) -> pyproj.CRS:
    # A GeoJSON in plain site coordinates can look like degrees: what the mapping says counts.
    if named is None or name.lower().endswith((".geojson", ".json")):
        return told
    if not named.equals(told, ignore_axis_order=True):
        raise TableError(
            f"{name}: is in {named.name}, the column mapping says {told.name}; take one away"
        )
    return named


def bounds_of(table: WorksTable, crs: pyproj.CRS) -> tuple[float, float, float, float] | None:
    """Give west, south, east, north of all works in a reference system, None without any."""
    boxes = [shapely.total_bounds(r.geometry) for r in table.rows if len(r)]
    boxes = [b for b in boxes if np.isfinite(b).all()]
    if not boxes or table.crs is None:
        return None
    b = np.array(boxes)
    west, south = b[:, :2].min(axis=0).tolist()
    east, north = b[:, 2:].max(axis=0).tolist()
    corners = np.array([[west, south], [west, north], [east, south], [east, north]])
    carried = carry(table.crs, crs, corners)
    if not np.isfinite(carried).all():
        return None
    low, high = carried.min(axis=0), carried.max(axis=0)
    return float(low[0]), float(low[1]), float(high[0]), float(high[1])


def counts(work: Work) -> bool:
    """Tell whether a work does anything to roots."""
    return work.present != "no" and (severs(work) or covers(work))


def works_of(
    table: WorksTable, frame: Frame, columns: Columns, *, units: UnitSystem
) -> tuple[tuple[Work, ...], tuple[Problem, ...]]:
    """Read every feature as a work in the frame's metres.

    Returns
    -------
    works : tuple of Work
        In file order; ids made unique by their feature number where they are not.
    problems : tuple of Problem
        A feature whose kind or shape cannot be used is left out, with its reason.
    """
    works: list[Work] = []
    problems: list[Problem] = []
    noted: set[str] = set()
    source = pyproj.CRS.from_user_input(frame.source)
    for rows in table.rows:
        assert rows.geometry is not None
        moved = _moved(rows.geometry, table.crs or source, source, frame)
        for i, number in enumerate(rows.row.tolist()):
            place = Place(table.name, f"feature {number}", problems)
            raw = _properties(rows, i, columns)
            work = read_details(raw, units=units, source=table.name, place=place, noted=noted)
            try:
                parts = tuple(_parts(moved[i]))
                if work is None:
                    continue
                parts = check_parts(replace(work, parts=parts), m_per_unit=1.0)
            except ShapeError as e:
                place.tell("geometry", e.value, f"{e}; left out")
                continue
            ref = f"feature {number}"
            works.append(
                replace(work, id=work.id or ref, parts=parts, file=table.name, ref=ref, entered={})
            )
    return tuple(works), tuple(problems)


def _moved(
    shapes: NDArray[np.object_], works: pyproj.CRS, trees: pyproj.CRS, frame: Frame
) -> NDArray[np.object_]:
    def move(xy: NDArray[np.float64]) -> NDArray[np.float64]:
        carried = carry(works, trees, xy)
        return np.column_stack(frame.to_metric(carried[:, 0], carried[:, 1]))

    flat = shapely.force_2d(shapes)
    return np.asarray(shapely.transform(flat, move), dtype=object)


def _properties(rows: Rows, i: int, columns: Columns) -> dict[str, Any]:
    found: dict[str, Any] = dict(columns.work_defaults)
    named = {c: p for p, c in columns.works.items()}
    for column, values in rows.columns.items():
        # Columns of a scheme's own file that mean nothing here are passed over.
        name = named.get(column, column)
        if name not in PROPERTIES or (name in columns.works and column not in named):
            continue
        value = values[i]
        value = value.item() if isinstance(value, np.generic) else value
        if value is None or value == "" or value != value:
            continue
        if isinstance(value, float) and value.is_integer() and name == "id":
            value = int(value)
        found[name] = value
    return found


def _parts(shape: BaseGeometry | None) -> Iterator[Part]:
    if shape is None or shape.is_empty:
        raise ShapeError("a shape that is not empty", "none")
    for part in shapely.get_parts(shapely.get_parts(shape)):
        kind = part.geom_type
        if kind == "Point":
            yield point_part(_pairs(part)[0])
        elif kind in ("LineString", "LinearRing"):
            yield line_part(_pairs(part))
        elif kind == "Polygon":
            holes = [_pairs(r) for r in part.interiors]
            yield polygon_part(_pairs(part.exterior), holes, m_per_unit=1.0)
        else:
            yield from _parts(part)


def _pairs(shape: BaseGeometry) -> list[tuple[float, float]]:
    return [(float(x), float(y)) for x, y in shapely.get_coordinates(shape).tolist()]
