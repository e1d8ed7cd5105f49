"""GeoParquet and GeoPackage files, written in batches and the same for the same rows."""

import json
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np
import pyogrio
import pyogrio.errors
import pyogrio.raw
import pyproj
import shapely
from numpy.typing import NDArray

from bolewalk.model.extras import extra

__all__ = ["Batch", "batches_of", "points_at", "write_geopackage_layer", "write_geoparquet"]

Batch = tuple[dict[str, NDArray[Any]], NDArray[np.object_]]
"""Columns (texts; numbers with NaN for nothing) and their shapes."""

_DAY = date(2000, 1, 1)
"""Written as the last change of every layer: the same input must give the same bytes."""


def points_at(xy: NDArray[np.float64]) -> NDArray[np.object_]:
    """Give points at (east, north), shape (n, 2); None where a coordinate is not a number."""
    found = np.atleast_1d(np.asarray(shapely.points(xy.reshape(-1, 2)), dtype=object))
    found[~np.isfinite(xy.reshape(-1, 2)).all(axis=1)] = None
    return found


def write_geoparquet(path: Path, batches: Iterable[Batch], *, crs: str) -> None:
    """Write a GeoParquet 1.1 file, one row group a batch.

    Raises
    ------
    MissingExtraError
        The Parquet library is not installed.
    """
    with extra("cluster", what="Writing Parquet"):
        import pyarrow as pa
        import pyarrow.parquet as pq
    geo = {
        "version": "1.1.0",
        "primary_column": "geometry",
        "columns": {
            "geometry": {
                "encoding": "WKB",
                "geometry_types": ["Point"],
                "crs": json.loads(pyproj.CRS.from_user_input(crs).to_json()),
            }
        },
    }
    writer = None
    for columns, shapes in batches:
        arrays = {}
        for name, values in columns.items():
            none = np.isnan(values) if values.dtype.kind == "f" else None
            if values.dtype.kind == "U":
                values = values.astype(object)
            arrays[name] = pa.array(values, mask=none)
        arrays["geometry"] = pa.array(shapely.to_wkb(shapes), type=pa.binary())
        table = pa.table(arrays).replace_schema_metadata({"geo": json.dumps(geo)})
        if writer is None:
            writer = pq.ParquetWriter(path, table.schema, compression="zstd")
        writer.write_table(table, row_group_size=max(1, table.num_rows))
    if writer is not None:
        writer.close()


def write_geopackage_layer(
    path: Path, batches: Iterable[Batch], *, layer: str, geometry_type: str, crs: str
) -> None:
    """Add a layer to a GeoPackage, batch by batch.

    Raises
    ------
    OSError
        The file cannot be written.
    """
    added = False
    with _fixed_day():
        for columns, shapes in batches:
            fields = [v.astype(object) if v.dtype.kind == "U" else v for v in columns.values()]
            try:
                pyogrio.raw.write(
                    str(path), geometry=np.asarray(shapely.to_wkb(shapes), dtype=object),
                    field_data=fields, fields=np.array(list(columns), object), layer=layer,
                    driver="GPKG", geometry_type=geometry_type, crs=crs,
                    append=added or path.exists(), promote_to_multi=False,
                    layer_options=None if added else {"SPATIAL_INDEX": "YES"},
                )  # fmt: skip
            except pyogrio.errors.DataSourceError as e:
                raise OSError(str(e)) from e
            added = True


@contextmanager
def _fixed_day() -> Iterator[None]:
    name = "OGR_CURRENT_DATE"
    before = pyogrio.get_gdal_config_option(name)
    pyogrio.set_gdal_config_options({name: f"{_DAY.isoformat()}T00:00:00.000Z"})
    try:
        yield
    finally:
        pyogrio.set_gdal_config_options({name: before})


def batches_of(
    tables: Iterable[NDArray[Any]], names: Sequence[str], rows: int
) -> Iterator[NDArray[Any]]:
    """Cut tables in a row into batches of so many rows, whatever their own lengths.

    Where there is no row at all, one batch without rows.
    """
    waiting: list[NDArray[Any]] = []
    count, cut = 0, 0
    for table in tables:
        some = table[list(names)]
        while len(some):
            take = min(rows - count, len(some))
            waiting.append(some[:take])
            some, count = some[take:], count + take
            if count == rows:
                yield np.concatenate(waiting)
                waiting, count, cut = [], 0, cut + 1
        empty = some
    if waiting:
        yield np.concatenate(waiting)
    elif not cut:
        yield empty
