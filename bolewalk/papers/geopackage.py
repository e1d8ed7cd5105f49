"""The survey as a GeoPackage: one file, one layer for each kind of thing drawn."""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from datetime import date
from pathlib import Path

import numpy as np
import pyogrio
import pyogrio.errors
import pyogrio.raw
import shapely

from bolewalk.papers.layers import Layer
from bolewalk.papers.plain_text import one_line

__all__ = ["write_geopackage"]


def write_geopackage(path: Path, layers: Sequence[Layer], *, crs: str | None, dated: date) -> None:
    """Write layers to a GeoPackage, replacing what was there.

    Parameters
    ----------
    path : Path
        Its folder must exist.
    layers : sequence of Layer
    crs : str or None
        As the survey names it; None = a plain grid, written as "undefined Cartesian".
    dated : date
        The day written as the layers' last change: the survey's, so that the same survey gives
        the same bytes.

    Raises
    ------
    OSError
        The file cannot be written.
    """
    path.unlink(missing_ok=True)
    try:
        _write(path, layers, crs=crs, dated=dated)
    except pyogrio.errors.DataSourceError as e:
        raise OSError(str(e)) from e


def _write(path: Path, layers: Sequence[Layer], *, crs: str | None, dated: date) -> None:
    with _fixed_day(dated):
        for i, layer in enumerate(layers):
            pyogrio.raw.write(
                str(path),
                geometry=np.array([shapely.to_wkb(f.geometry) for f in layer.features], object),
                field_data=[_column(layer, j, kind) for j, (_, kind) in enumerate(layer.fields)],
                fields=np.array([name for name, _ in layer.fields], object),
                field_mask=[
                    np.array([f.attributes[j] is None for f in layer.features])
                    for j in range(len(layer.fields))
                ],
                layer=layer.name,
                driver="GPKG",
                geometry_type=layer.geometry_type,
                crs=crs or _NO_CRS,
                append=i > 0,
                promote_to_multi=False,
                layer_options={"SPATIAL_INDEX": "YES"},
            )


_NO_CRS = 'LOCAL_CS["Undefined Cartesian SRS"]'


def _column(layer: Layer, j: int, kind: str) -> np.ndarray[tuple[int], np.dtype[np.generic]]:
    values = [f.attributes[j] for f in layer.features]
    if kind == "real":
        return np.array([np.nan if v is None else float(v) for v in values], np.float64)
    return np.array([None if v is None else one_line(str(v)) for v in values], object)


@contextmanager
def _fixed_day(day: date) -> Iterator[None]:
    name = "OGR_CURRENT_DATE"
    before = pyogrio.get_gdal_config_option(name)
    pyogrio.set_gdal_config_options({name: f"{day.isoformat()}T00:00:00.000Z"})
    try:
        yield
    finally:
        pyogrio.set_gdal_config_options({name: before})
