"""Works from GeoJSON: every feature's shape and properties, each checked on its own."""

import contextlib
import json
import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import pyproj
from pyproj.exceptions import CRSError

from bolewalk.drawing.details import Place, read_details, shown
from bolewalk.drawing.grid import Grid, GridError, to_grid
from bolewalk.drawing.settings import reading_settings
from bolewalk.drawing.shapes import ShapeError, check_parts, line_part, point_part, polygon_part
from bolewalk.model.problems import Problem
from bolewalk.model.units import UnitSystem
from bolewalk.model.works import Part, Work

__all__ = ["only_degrees", "read_features", "read_geojson"]

XY = tuple[float, float]
_EXPECTED = "a GeoJSON FeatureCollection"


class _UnusableError(ValueError):
    """A whole file that cannot be used: expected, and what was found."""

    def __init__(self, expected: str, value: object = None, field: str | None = None) -> None:
        super().__init__(expected)
        self.value = value
        self.field = field


@dataclass(frozen=True, slots=True)
class _Reader:
    """What turns coordinates of the file into metres on the survey's grid."""

    move: Callable[[float, float], XY]
    m_per_unit: float
    noted: set[str] = field(default_factory=set)

    def point(self, raw: Any) -> XY:
        if not isinstance(raw, list) or len(raw) < 2:
            raise ShapeError("coordinates [east, north]", shown(raw))
        x, y = (_number(v) for v in raw[:2])
        east, north = self.move(x, y)
        return east * self.m_per_unit, north * self.m_per_unit

    def points(self, raw: Any) -> list[XY]:
        if not isinstance(raw, list):
            raise ShapeError("a list of coordinates", shown(raw))
        return [self.point(p) for p in raw]

    def polygon(self, raw: Any) -> Part:
        if not isinstance(raw, list) or not raw:
            raise ShapeError("a polygon with an outline", shown(raw))
        rings = [self.points(r) for r in raw]
        return polygon_part(rings[0], rings[1:], m_per_unit=self.m_per_unit)

    def parts(self, geometry: Any, depth: int = 0) -> Iterator[Part]:
        if not isinstance(geometry, Mapping):
            raise ShapeError("a geometry", None if geometry is None else shown(geometry))
        kind, raw = geometry.get("type"), geometry.get("coordinates")
        if kind == "GeometryCollection":
            limit = reading_settings().collection_depth
            if depth >= limit:
                raise ShapeError(f"collections at most {limit} deep", "a deeper one")
            for inner in _list(geometry.get("geometries"), "a list of geometries"):
                yield from self.parts(inner, depth + 1)
            return
        one: dict[str, Callable[[Any], Part]] = {
            "Point": lambda c: point_part(self.point(c)),
            "LineString": lambda c: line_part(self.points(c)),
            "Polygon": self.polygon,
        }
        single = str(kind).removeprefix("Multi")
        if not isinstance(kind, str) or single not in one:
            raise ShapeError(
                "a Point, LineString, Polygon, their Multi forms or a GeometryCollection",
                shown(kind),
            )
        if kind == single:
            yield one[single](raw)
        else:
            for c in _list(raw, f"the coordinates of a {kind}"):
                yield one[single](c)

    def extent(self, feature: Any) -> tuple[float, ...]:
        """Give west, south, east, north [m] of what can be read of a feature's place."""
        points = []
        for x, y in _all_points([feature]):
            with contextlib.suppress(ShapeError, GridError):
                points.append(self.point([x, y]))
        if not points:
            return ()
        xs, ys = zip(*points, strict=True)
        extent = (min(xs), min(ys), max(xs), max(ys))
        return extent if all(map(math.isfinite, extent)) else ()


def _list(raw: Any, expected: str) -> list[Any]:
    if not isinstance(raw, list):
        raise ShapeError(expected, shown(raw))
    return raw


def _number(value: Any) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise ShapeError("coordinates that are numbers", shown(value))
    try:
        number = float(value)
    except OverflowError:
        number = math.inf
    if not math.isfinite(number):
        raise ShapeError("coordinates that are numbers", str(number))
    return number


def read_geojson(
    path: Path, *, file: str, grid: Grid, units: UnitSystem, drawing: str = ""
) -> tuple[tuple[Work, ...], tuple[Problem, ...]]:
    """Read works from a GeoJSON file.

    Parameters
    ----------
    path : Path
        The file to read.
    file : str
        Its name within the survey folder, for problems and sources.
    grid : Grid
        Of the survey. A file that names no reference system is in it.
    units : UnitSystem
        Of plain numbers among the properties.
    drawing : str
        Title and revision of the drawing it belongs to, "" for none.

    Returns
    -------
    works : tuple of Work
        In file order, coordinates in metres on the survey's grid. `ref` is the number of the
        feature (first = 1) where it has no id.
    problems : tuple of Problem
        `row` is the feature's id, or its number. A feature whose kind or shape cannot be used is
        left out; a property that cannot be used is left out of its feature.
    """
    try:
        raw = _loaded(path)
    except _UnusableError as e:
        whole = Place(file, None)
        whole.tell(e.field, e.value, str(e))
        whole.leaves_out()
        return (), tuple(whole.problems)
    return read_features(raw, file=file, grid=grid, units=units, drawing=drawing)


def read_features(
    raw: Any, *, file: str, grid: Grid, units: UnitSystem, drawing: str = ""
) -> tuple[tuple[Work, ...], tuple[Problem, ...]]:
    """Read works from what a JSON reader gave of a GeoJSON file, as `read_geojson` does."""
    whole = Place(file, None)
    try:
        features = _features(raw, whole)
        move = _mover(raw, grid)
        if _source(raw) is None and only_degrees(_all_points(features), grid=grid):
            raise _UnusableError(
                f"coordinates in the survey's grid ({grid.unit}), or a crs member naming the "
                "system the degrees are in, beside a [survey] crs",
                "degrees",
                "coordinates",
            )
    except _UnusableError as e:
        whole.tell(e.field, e.value, str(e))
        whole.leaves_out()
        return (), tuple(whole.problems)
    reader = _Reader(move, grid.m_per_unit)
    works: list[Work] = []
    problems = list(whole.problems)
    source = f"{drawing}, {file}" if drawing else file
    for n, feature in enumerate(features, start=1):
        place = Place(file, _row(feature, n), problems)
        work = _work(feature, reader, units, source, place)
        if work is not None:
            ref = str(place.row)
            works.append(replace(work, file=file, ref=ref, drawing=drawing))
        else:
            place.leaves_out(reader.extent(feature))
    return tuple(works), tuple(problems)


def _loaded(path: Path) -> Any:
    limit = reading_settings().geojson_bytes
    try:
        if path.stat().st_size > limit:
            raise _UnusableError(f"a file of at most {limit:,} bytes", path.stat().st_size)
        data = path.read_bytes()
    except OSError as e:
        raise _UnusableError("a file that can be read", e.strerror) from None
    if not data.strip():
        raise _UnusableError(_EXPECTED, "an empty file")
    try:
        return json.loads(data.decode("utf-8-sig"))
    except UnicodeDecodeError:
        raise _UnusableError("a file in UTF-8", "other bytes") from None
    except RecursionError:
        raise _UnusableError(_EXPECTED, "lists nested without end") from None
    except ValueError as e:
        raise _UnusableError(_EXPECTED + "; the file may be cut short", e) from None


def _features(raw: Any, whole: Place) -> list[Any]:
    kind = raw.get("type") if isinstance(raw, Mapping) else None
    if kind == "Feature":
        return [raw]
    features = raw.get("features") if isinstance(raw, Mapping) else None
    if kind != "FeatureCollection" or not isinstance(features, list):
        raise _UnusableError(_EXPECTED, kind)
    if not features:
        whole.tell("features", "none", "at least one feature", level="notice")
    return features


def _source(raw: Mapping[str, Any]) -> Any:
    """Give the name in the crs member, None where there is none."""
    member = raw.get("crs")
    if member is None:
        return None
    named = member.get("properties") if isinstance(member, Mapping) else None
    name = named.get("name") if isinstance(named, Mapping) else None
    if not isinstance(name, str):
        raise _UnusableError(
            'a named crs member, {"type": "name", "properties": {"name": "urn:ogc:def:crs:..."}}',
            member,
            "crs",
        )
    return name


def _mover(raw: Mapping[str, Any], grid: Grid) -> Callable[[float, float], XY]:
    name = _source(raw)
    if name is None:
        return lambda x, y: (x, y)
    try:
        return to_grid(pyproj.CRS.from_user_input(name), grid)
    except CRSError:
        raise _UnusableError("a crs member pyproj knows", name, "crs") from None
    except GridError as e:
        raise _UnusableError(str(e), name, "crs") from None


def _all_points(features: list[Any]) -> list[XY]:
    """Give every pair of numbers of the file, wherever it stands in its geometries."""
    found: list[XY] = []
    waiting: list[Any] = [f.get("geometry") for f in features if isinstance(f, Mapping)]
    while waiting:
        item = waiting.pop()
        if isinstance(item, Mapping):
            waiting += [item.get("coordinates"), item.get("geometries")]
        elif isinstance(item, list):
            pair = item[:2]
            if len(pair) == 2 and all(isinstance(v, int | float) for v in pair):
                found.append((pair[0], pair[1]))
            else:
                waiting += item
    return found


def only_degrees(points: list[XY], *, grid: Grid) -> bool:
    """Tell whether coordinates said to be on a grid can only be degrees.

    They can where all lie within ±180 and ±90 and either there are several, spread over less
    than anything built measures in feet or metres, or the grid's reference system does not
    reach there.

    Parameters
    ----------
    points : list of (east, north)
        In the grid's unit, or so it is said.
    grid : Grid
    """
    # Not math.isfinite: whole numbers of any length may stand here.
    finite = [p for p in points if all(abs(v) < math.inf for v in p)]
    if not finite or not all(abs(x) <= 180 and abs(y) <= 90 for x, y in finite):
        return False
    xs, ys = zip(*finite, strict=True)
    spread = max(max(xs) - min(xs), max(ys) - min(ys))
    if 0 < spread < reading_settings().degree_spread:
        return True
    return grid.crs is not None and not _reaches(grid.crs, finite[0])


def _reaches(crs: pyproj.CRS, point: XY) -> bool:
    area = crs.area_of_use
    if area is None:
        return True
    back = pyproj.Transformer.from_crs(crs, crs.geodetic_crs, always_xy=True)
    lon, lat = back.transform(*point)
    # One degree of margin: areas of use are drawn tight, sites stand on their edges.
    west, east = area.west - 1, area.east + 1
    inside = west <= lon <= east if area.west <= area.east else lon >= west or lon <= east
    return bool(inside and area.south - 1 <= lat <= area.north + 1)


def _row(feature: Any, n: int) -> int | str:
    if isinstance(feature, Mapping):
        properties = feature.get("properties")
        given = properties.get("id") if isinstance(properties, Mapping) else None
        for name in (given, feature.get("id")):
            if not isinstance(name, str | int) or isinstance(name, bool):
                continue
            if 0 < len(str(name).strip()) <= reading_settings().characters["id"]:
                return str(name).strip()
    return f"feature {n}"


def _work(
    feature: Any, reader: _Reader, units: UnitSystem, source: str, place: Place
) -> Work | None:
    if not isinstance(feature, Mapping) or feature.get("type") != "Feature":
        place.tell(None, feature, "a Feature; left out")
        return None
    properties = feature.get("properties")
    if properties is not None and not isinstance(properties, Mapping):
        place.tell("properties", properties, "an object of properties; left out")
        return None
    work = read_details(
        properties or {}, units=units, source=source, place=place, noted=reader.noted
    )
    try:
        parts = tuple(reader.parts(feature.get("geometry")))
        if not parts:
            raise ShapeError("a geometry that is not empty", "none")
        if work is None:
            return None
        parts = check_parts(replace(work, parts=parts), m_per_unit=reader.m_per_unit)
    except ShapeError as e:
        place.tell("geometry", e.value, f"{e}; left out")
        return None
    if work.kind == "pile" and work.diameter_m is None and any(p.shape == "point" for p in parts):
        place.tell("diameter", None, "a diameter; read as a bare point", level="notice")
    return replace(work, id=work.id or str(place.row), parts=parts)
