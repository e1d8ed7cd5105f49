"""Tables of places, read in pieces: GeoParquet and Parquet, GeoPackage and its like, CSV."""

import csv
import io
import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pyogrio
import pyogrio.errors
import pyogrio.raw
import pyproj
import shapely
from numpy.typing import NDArray
from pyproj.exceptions import CRSError

from bolewalk.model.extras import extra

__all__ = [
    "Piece",
    "Rows",
    "TableError",
    "crs_of",
    "files_of",
    "names_of",
    "pieces_of",
    "read_rows",
]

_CSV = {".csv", ".tsv", ".txt"}
_PARQUET = {".parquet", ".geoparquet", ".pq"}
_BLOCK = 1 << 24
_SHAPES = ("geometry", "geom", "wkt", "wkb", "shape")


class TableError(ValueError):
    """A table that cannot be read; the text says which, and what was expected."""


@dataclass(frozen=True, slots=True)
class Piece:
    """Some rows of one file. `start` and `stop` count rows, feature ids or bytes, as the format
    is read; `first_row` numbers rows as a person finds them (header of a CSV = row 1)."""

    path: str
    group: int
    start: int
    stop: int
    first_row: int


@dataclass(frozen=True, slots=True)
class Rows:
    """Columns of some rows.

    Attributes
    ----------
    row : ndarray of int64, shape (n,)
        Number of each row in its file.
    columns : dict of str to ndarray
        Floats with NaN for nothing, or objects with None for nothing.
    geometry : ndarray of shapely geometry, or None
        None where the table has no geometry column.
    """

    row: NDArray[np.int64]
    columns: dict[str, NDArray[Any]]
    geometry: NDArray[np.object_] | None

    def __len__(self) -> int:
        return len(self.row)


def files_of(path: Path) -> tuple[Path, ...]:
    """Give the files of a table: itself, or the Parquet files of a folder, by name.

    Raises
    ------
    TableError
        Nothing there that can be read.
    """
    if path.is_dir():
        found = tuple(sorted(p for p in path.rglob("*") if p.suffix.lower() in _PARQUET))
        if not found:
            raise TableError(f"{path.name}: no Parquet file in this folder")
        return found
    if not path.is_file():
        raise TableError(f"{path.name}: no such file")
    return (path,)


def _parquet(path: Path) -> Any:
    with extra("cluster", what="Reading Parquet"):
        import pyarrow.parquet as pq
    try:
        return pq.ParquetFile(path)
    except Exception as e:
        raise TableError(f"{path.name}: not a Parquet file ({e})") from None


def _geo(path: Path) -> dict[str, Any]:
    meta = _parquet(path).schema_arrow.metadata or {}
    try:
        return dict(json.loads(meta.get(b"geo", b"{}")))
    except ValueError:
        raise TableError(f"{path.name}: its geo metadata is not JSON") from None


def crs_of(path: Path) -> pyproj.CRS | None:
    """Give the reference system a file names, None where it names none.

    GeoParquet without one is in longitude and latitude by its standard; a crs of null means
    not known. A GeoJSON without a crs member likewise, unless its numbers cannot be degrees.

    Raises
    ------
    TableError
        The file cannot be read, or names a system pyproj does not know.
    """
    suffix = path.suffix.lower()
    if suffix in _CSV:
        return None
    if suffix in _PARQUET:
        geo = _geo(path)
        if not geo:
            return None
        column = geo.get("columns", {}).get(geo.get("primary_column"), {})
        name = column.get("crs", "OGC:CRS84")
        if isinstance(name, dict):
            name = json.dumps(name)
    else:
        try:
            info = pyogrio.read_info(str(path), layer=_layer(path))
        except pyogrio.errors.DataSourceError as e:
            raise TableError(f"{path.name}: cannot be read ({e})") from None
        name = info["crs"]
        if suffix in (".geojson", ".json") and not _names_crs(path):
            west, south, east, north = info["total_bounds"]
            if not (-180 <= west <= east <= 180 and -90 <= south <= north <= 90):
                return None
    if name is None or "Undefined" in str(name):
        return None
    try:
        return pyproj.CRS.from_user_input(name)
    except CRSError:
        raise TableError(f"{path.name}: names a reference system that is not known") from None


def names_of(path: Path) -> tuple[list[str], bool]:
    """Give the names of a file's columns, and whether it has shapes.

    Raises
    ------
    TableError
        The file cannot be read.
    """
    suffix = path.suffix.lower()
    if suffix in _PARQUET:
        names = list(_parquet(path).schema_arrow.names)
        return names, bool(_geo(path)) or any(n.lower() in _SHAPES for n in names)
    if suffix in _CSV:
        try:
            names = _header(path)[0]
        except UnicodeDecodeError:
            raise TableError(f"{path.name}: expected a CSV in UTF-8") from None
        return names, any(n.lower() in _SHAPES for n in names)
    info = pyogrio.read_info(str(path), layer=_layer(path))
    return [str(n) for n in info["fields"]], info["geometry_type"] is not None


def _names_crs(path: Path) -> bool:
    # The member may stand behind the features, so that the whole file has to be read.
    try:
        whole = json.loads(path.read_bytes().decode("utf-8-sig"))
    except (OSError, ValueError, RecursionError):
        return False
    return isinstance(whole, dict) and whole.get("crs") is not None


def _layer(path: Path) -> str | None:
    """The layer to read: the only one, or the one named as the table."""
    try:
        layers = [str(name) for name, kind in pyogrio.list_layers(str(path)) if kind]
    except pyogrio.errors.DataSourceError as e:
        raise TableError(f"{path.name}: cannot be read ({e})") from None
    if len(layers) <= 1:
        return layers[0] if layers else None
    for name in ("trees", "works"):
        if name in layers and name in path.stem.lower():
            return name
    raise TableError(
        f"{path.name}: has the layers {', '.join(layers)}; give a file with one, or named after "
        "the layer wanted (trees, works)"
    )


def pieces_of(path: Path, rows_a_piece: int) -> tuple[Piece, ...]:
    """Cut a file into pieces of about so many rows, in file order.

    Raises
    ------
    TableError
        The file cannot be read.
    """
    suffix, name = path.suffix.lower(), str(path)
    if suffix in _PARQUET:
        meta = _parquet(path).metadata
        found, first = [], 1
        for group in range(meta.num_row_groups):
            n = meta.row_group(group).num_rows
            for start in range(0, n, rows_a_piece):
                stop = min(start + rows_a_piece, n)
                found.append(Piece(name, group, start, stop, first + start))
            first += n
        return tuple(found)
    if suffix in _CSV:
        return tuple(_csv_pieces(path, rows_a_piece))
    try:
        info = pyogrio.read_info(name, layer=_layer(path), force_feature_count=True)
    except pyogrio.errors.DataSourceError as e:
        raise TableError(f"{path.name}: cannot be read ({e})") from None
    n = int(info["features"])
    if suffix == ".gpkg" and n > rows_a_piece:
        low, high = _id_range(path)
        return tuple(
            Piece(name, 1, k, min(k + rows_a_piece, high + 1), k)
            for k in range(low, high + 1, rows_a_piece)
        )
    steps = range(0, n, rows_a_piece)
    return tuple(Piece(name, 0, k, min(k + rows_a_piece, n), k + 1) for k in steps)


def _id_range(path: Path) -> tuple[int, int]:
    layer = str(_layer(path)).replace('"', '""')
    info = pyogrio.read_info(str(path), layer=_layer(path))
    column = str(info["fid_column"]).replace('"', '""')
    sql = f'SELECT MIN("{column}") AS low, MAX("{column}") AS high FROM "{layer}"'  # nosec B608
    _, _, _, (low, high) = pyogrio.raw.read(str(path), sql=sql)
    return int(low[0]), int(high[0])


def _csv_pieces(path: Path, rows: int) -> Iterator[Piece]:
    """Cut at line ends outside of quotes; rows are counted without the blank ones' text read."""
    quoted, at, row, start, first = 0, 0, 1, 0, 1
    with path.open("rb") as f:
        while block := f.read(_BLOCK):
            raw = np.frombuffer(block, dtype=np.uint8)
            quotes = (np.cumsum(raw == 0x22) + quoted) % 2
            ends = np.flatnonzero((raw == 0x0A) & (quotes == 0))
            quoted = int(quotes[-1])
            for k in range(rows - (row - first) - 1, len(ends), rows):
                stop = at + int(ends[k]) + 1
                yield Piece(str(path), 0, start, stop, first)
                start, first = stop, first + rows
            row += len(ends)
            at += len(block)
    if at > start:
        yield Piece(str(path), 0, start, at, first)


def read_rows(piece: Piece, wanted: Sequence[str] | None) -> Rows:
    """Read the rows of a piece.

    Parameters
    ----------
    piece : Piece
    wanted : sequence of str, optional
        Columns to read; those the table lacks are left out. None = all.

    Raises
    ------
    TableError
        The file cannot be read.
    """
    path = Path(piece.path)
    if path.suffix.lower() in _PARQUET:
        return _read_parquet(path, piece, wanted)
    if path.suffix.lower() in _CSV:
        return _read_csv(path, piece, wanted)
    return _read_features(path, piece, wanted)


def _read_parquet(path: Path, piece: Piece, wanted: Sequence[str] | None) -> Rows:
    file, geo = _parquet(path), _geo(path)
    names = file.schema_arrow.names
    shape = geo.get("primary_column")
    if shape is None:
        shape = next((n for n in names if n.lower() in _SHAPES), None)
    some = [n for n in names if wanted is None or n in wanted or n == shape]
    table = file.read_row_group(piece.group, columns=some).slice(
        piece.start, piece.stop - piece.start
    )
    columns = {n: _plain(table.column(n)) for n in some if n != shape}
    geometry = None
    if shape in some:
        encoding = geo.get("columns", {}).get(shape, {}).get("encoding", "WKB")
        geometry = _shapes(table.column(shape), str(encoding), path)
    n = table.num_rows
    return Rows(np.arange(piece.first_row, piece.first_row + n), columns, geometry)


def _plain(column: Any) -> NDArray[Any]:
    import pyarrow as pa
    import pyarrow.types as kinds

    if kinds.is_floating(column.type) or kinds.is_integer(column.type):
        if column.null_count == 0 and kinds.is_integer(column.type):
            return np.asarray(column.to_numpy())
        return np.asarray(column.cast(pa.float64()).to_numpy(), dtype=np.float64)
    if kinds.is_dictionary(column.type):
        column = column.combine_chunks().dictionary_decode()
    return np.asarray(column.to_numpy(), dtype=object)


def _shapes(column: Any, encoding: str, path: Path) -> NDArray[np.object_]:
    if encoding.upper() == "WKB":
        raw = np.asarray(column.to_numpy(), dtype=object)
        if len(raw) and isinstance(next((v for v in raw if v is not None), None), str):
            return np.asarray(shapely.from_wkt(raw, on_invalid="ignore"), dtype=object)
        return np.asarray(shapely.from_wkb(raw, on_invalid="ignore"), dtype=object)
    if encoding.lower() == "point":
        flat = column.combine_chunks()
        xy = [np.asarray(flat.field(i).to_numpy(zero_copy_only=False)) for i in range(2)]
        return np.asarray(shapely.points(*xy), dtype=object)
    raise TableError(f"{path.name}: geometry is encoded as {encoding}; expected WKB or point")


def _read_features(path: Path, piece: Piece, wanted: Sequence[str] | None) -> Rows:
    layer = _layer(path)
    options: dict[str, Any] = {"layer": layer, "return_fids": True}
    if piece.group == 1:
        info = pyogrio.read_info(piece.path, layer=layer)
        column = info["fid_column"]
        options["where"] = f'"{column}" >= {piece.start} AND "{column}" < {piece.stop}'
    else:
        options |= {"skip_features": piece.start, "max_features": piece.stop - piece.start}
    try:
        if wanted is not None:
            known = pyogrio.read_info(piece.path, layer=layer)["fields"]
            options["columns"] = [str(n) for n in known if n in wanted]
        meta, fids, shapes, fields = pyogrio.raw.read(piece.path, **options)
    except (pyogrio.errors.DataSourceError, pyogrio.errors.DataLayerError) as e:
        raise TableError(f"{path.name}: cannot be read ({e})") from None
    columns = {str(n): v for n, v in zip(meta["fields"], fields, strict=True)}
    geometry = None
    if shapes is not None:
        geometry = np.asarray(shapely.from_wkb(shapes, on_invalid="ignore"), dtype=object)
    by_id = path.suffix.lower() == ".gpkg"
    row = np.asarray(fids, np.int64) if by_id else np.arange(len(fids)) + piece.first_row
    return Rows(row, columns, geometry)


def _header(path: Path) -> tuple[list[str], str]:
    with path.open("r", encoding="utf-8-sig", newline="") as f:
        line = f.readline()
    delimiter = max(",;\t", key=line.count)
    return [n.strip() for n in next(csv.reader([line], delimiter=delimiter), [])], delimiter


def _read_csv(path: Path, piece: Piece, wanted: Sequence[str] | None) -> Rows:
    try:
        names, delimiter = _header(path)
        with path.open("rb") as f:
            f.seek(piece.start)
            text = f.read(piece.stop - piece.start).decode("utf-8-sig")
    except UnicodeDecodeError:
        raise TableError(f"{path.name}: expected a CSV in UTF-8") from None
    if len(set(names)) < len(names):
        raise TableError(f"{path.name}: two columns have one name")
    found: dict[str, list[str | None]] = {n: [] for n in names}
    rows: list[int] = []
    lists = list(found.values())
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)
    for number, cells in enumerate(reader, start=piece.first_row):
        if number == 1 or not any(cells):
            continue
        rows.append(number)
        for k, column in enumerate(lists):
            column.append(cells[k].strip() if k < len(cells) else None)
    columns: dict[str, NDArray[Any]] = {
        n: np.array(v, dtype=object) for n, v in found.items() if wanted is None or n in wanted
    }
    shape = next((n for n in names if n.lower() in _SHAPES), None)
    geometry = None
    if shape is not None:
        geometry = np.asarray(
            shapely.from_wkt(np.array(found[shape], dtype=object), on_invalid="ignore"), object
        )
        columns.pop(shape, None)
    return Rows(np.array(rows, dtype=np.int64), columns, geometry)
