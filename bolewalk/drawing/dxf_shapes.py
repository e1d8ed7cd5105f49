"""Drawn entities turned into points, lines and areas; curves into chords of a known sagitta."""

import math
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from ezdxf import const
from ezdxf.entities.boundary_paths import ArcEdge, EllipseEdge, LineEdge, PolylinePath, SplineEdge
from ezdxf.entities.dxfentity import DXFEntity
from ezdxf.math import OCS

from bolewalk.drawing.dxf_open import DAMAGE, short
from bolewalk.drawing.joining import rings_of
from bolewalk.drawing.settings import reading_settings
from bolewalk.drawing.shapes import ShapeError
from bolewalk.model.works import Shape

__all__ = ["READ_TYPES", "Drawn", "arc_points", "bulge_points", "insertion_of", "shapes_of"]

XY = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Drawn:
    """One shape in drawing units. A closed line repeats its first point; `diameter` is that of a
    circle, whose centre is then `centre`."""

    shape: Shape
    points: tuple[XY, ...]
    holes: tuple[tuple[XY, ...], ...] = ()
    centre: XY | None = None
    diameter: float | None = None

    @property
    def closed(self) -> bool:
        """Whether the shape encloses an area."""
        return self.shape == "polygon" or (
            self.shape == "line" and len(self.points) > 3 and self.points[0] == self.points[-1]
        )


def arc_points(centre: XY, start: XY, turn_rad: float, sagitta: float) -> list[XY]:
    """Give the corners of the chords of an arc, both ends included.

    Parameters
    ----------
    centre, start : (x, y)
    turn_rad : float
        Angle swept from `start`, positive counter-clockwise [rad].
    sagitta : float
        Largest distance between arc and chord, > 0, in the unit of the points.

    Notes
    -----
    A chord over the angle w of a circle of radius r lies r (1 - cos(w/2)) inside it.
    """
    dx, dy = start[0] - centre[0], start[1] - centre[1]
    r = math.hypot(dx, dy)
    # On a circle smaller than the sagitta one chord would do, and a circle would vanish.
    widest = 2 * math.acos(1 - min(sagitta / r, 0.1)) if r > 0 else math.pi
    n = max(1, math.ceil(abs(turn_rad) / widest)) if widest > 0 else math.inf
    _check_chords(n)
    points = []
    for i in range(int(n) + 1):
        c, s = math.cos(turn_rad * i / n), math.sin(turn_rad * i / n)
        points.append((centre[0] + c * dx - s * dy, centre[1] + s * dx + c * dy))
    points[0] = start
    return points


def _check_chords(n: float) -> None:
    limit = reading_settings().chords
    if not n <= limit:
        raise ShapeError(f"a curve of at most {limit:,} chords", "a larger one")


def bulge_points(start: XY, end: XY, bulge: float, sagitta: float) -> list[XY]:
    """Give the corners of the chords of a polyline segment with a bulge, both ends included.

    bulge = tan(angle / 4), positive where the arc turns counter-clockwise from start to end.
    """
    chord = math.dist(start, end)
    if bulge == 0 or chord == 0:
        return [start, end]
    turn = 4 * math.atan(bulge)
    mx, my = (start[0] + end[0]) / 2, (start[1] + end[1]) / 2
    # The centre lies on the chord's normal, chord / (2 tan(turn/2)) to its left.
    k = (1 - bulge * bulge) / (4 * bulge)
    centre = (mx - k * (end[1] - start[1]), my + k * (end[0] - start[0]))
    points = arc_points(centre, start, turn, sagitta)
    points[-1] = end
    return points


def shapes_of(entity: DXFEntity, sagitta: float) -> list[Drawn]:
    """Give the shapes of one entity that is no block reference.

    Parameters
    ----------
    entity : ezdxf entity
    sagitta : float
        In drawing units.

    Returns
    -------
    list of Drawn
        In world coordinates, seen from above.

    Raises
    ------
    ShapeError
        The entity's numbers make no shape.
    """
    try:
        found = _READERS[entity.dxftype()](entity, sagitta)
    except DAMAGE as e:
        if isinstance(e, ShapeError):
            raise
        raise ShapeError("numbers that make a shape", short(e)) from None
    for drawn in found:
        if not all(math.isfinite(v) for p in drawn.points for v in p):
            raise ShapeError("coordinates that are numbers", "NaN or infinite")
    return found


def insertion_of(insert: Any) -> Drawn:
    """Give the insertion point of a block reference, with the diameter of its one circle.

    Raises
    ------
    ShapeError
        The reference's numbers make no place.
    """
    try:
        point = insert.ocs().to_wcs(insert.dxf.insert)
        at = (float(point.x), float(point.y))
        circles = [e for e in insert.virtual_entities() if e.dxftype() == "CIRCLE"]
        diameter = 2 * abs(float(circles[0].dxf.radius)) if len(circles) == 1 else None
    except DAMAGE as e:
        raise ShapeError("numbers that make a place", short(e)) from None
    return Drawn("point", (at,), centre=at, diameter=diameter)


def _flat(points: Iterable[Any]) -> tuple[XY, ...]:
    return tuple((float(p[0]), float(p[1])) for p in points)


def _world(ocs: OCS, points: Sequence[XY], elevation: float) -> tuple[XY, ...]:
    if not ocs.transform:
        return tuple(points)
    return _flat(ocs.points_to_wcs([(x, y, elevation) for x, y in points]))


def _line(e: Any, _: float) -> list[Drawn]:
    return [Drawn("line", _flat([e.dxf.start, e.dxf.end]))]


def _point(e: Any, _: float) -> list[Drawn]:
    return [Drawn("point", _flat([e.dxf.location]))]


def _arc(e: Any, sagitta: float) -> list[Drawn]:
    turn = math.radians((e.dxf.end_angle - e.dxf.start_angle) % 360 or 360)
    return [Drawn("line", _round(e, math.radians(e.dxf.start_angle), turn, sagitta))]


def _circle(e: Any, sagitta: float) -> list[Drawn]:
    ring = _round(e, 0.0, math.tau, sagitta)
    centre = _world(e.ocs(), _flat([e.dxf.center]), e.dxf.center.z)[0]
    ring = (*ring[:-1], ring[0])
    return [Drawn("line", ring, centre=centre, diameter=2 * abs(float(e.dxf.radius)))]


def _round(e: Any, start_rad: float, turn_rad: float, sagitta: float) -> tuple[XY, ...]:
    r = abs(float(e.dxf.radius))
    if not r > 0:
        raise ShapeError("a radius above 0", str(r))
    cx, cy = float(e.dxf.center.x), float(e.dxf.center.y)
    start = (cx + r * math.cos(start_rad), cy + r * math.sin(start_rad))
    return _world(e.ocs(), arc_points((cx, cy), start, turn_rad, sagitta), e.dxf.center.z)


def _flattened(e: Any, sagitta: float) -> list[Drawn]:
    if e.dxftype() == "ELLIPSE":
        frame = [e.dxf.major_axis.vec2, -e.dxf.major_axis.vec2]
    else:
        frame = [*e.control_points, *e.fit_points]
    array = np.array(_flat(frame))
    if len(array) < 2 or not np.isfinite(array).all():
        raise ShapeError("coordinates that are numbers", "NaN, infinite or missing")
    # Halving gives about pi sqrt(r / 2s) chords on a circle of radius r.
    size = float(np.ptp(array, axis=0).max())
    _check_chords(math.pi * math.sqrt(size / sagitta) / 2)
    points = _flat(e.flattening(sagitta))
    if len(points) > 3 and math.dist(points[0], points[-1]) < sagitta:
        points = (*points[:-1], points[0])
    return [Drawn("line", points)]


def _lwpolyline(e: Any, sagitta: float) -> list[Drawn]:
    raw = [(float(x), float(y), float(b)) for x, y, b in e.get_points("xyb")]
    points = _bulged(raw, closed=bool(e.closed), sagitta=sagitta)
    return [Drawn("line", _world(e.ocs(), points, float(e.dxf.elevation)))]


def _polyline(e: Any, sagitta: float) -> list[Drawn]:
    if not (e.is_2d_polyline or e.is_3d_polyline):
        raise ShapeError("a polyline, not a mesh", e.get_mode())
    # Flag 16 marks the frame a fitted curve was drawn from, which is not on the curve.
    vertices = [v for v in e.vertices if not v.dxf.flags & 16]
    if e.is_3d_polyline:
        points = list(_flat(v.dxf.location for v in vertices))
        return [Drawn("line", tuple([*points, points[0]] if e.is_closed else points))]
    raw = [(float(v.dxf.location.x), float(v.dxf.location.y), float(v.dxf.bulge)) for v in vertices]
    points = _bulged(raw, closed=bool(e.is_closed), sagitta=sagitta)
    return [Drawn("line", _world(e.ocs(), points, float(e.dxf.elevation.z)))]


def _bulged(raw: Sequence[tuple[float, float, float]], *, closed: bool, sagitta: float) -> list[XY]:
    if len(raw) < 2:
        raise ShapeError("a polyline of two points or more", f"{len(raw)}")
    corners = [(x, y) for x, y, _ in raw]
    ends = [*corners[1:], corners[0]] if closed else corners[1:]
    points = [corners[0]]
    for start, end, (_, _, bulge) in zip(corners, ends, raw, strict=False):
        points += bulge_points(start, end, bulge, sagitta)[1:]
    return points


def _face(e: Any, _: float) -> list[Drawn]:
    points = list(dict.fromkeys(_flat(e.wcs_vertices())))
    return [Drawn("polygon", tuple(points))]


def _hatch(e: Any, sagitta: float) -> list[Drawn]:
    ocs, elevation = e.ocs(), float(e.dxf.elevation.z)
    rings = []
    for path in e.paths.rendering_paths(e.dxf.hatch_style):
        if path.path_type_flags & const.BOUNDARY_PATH_TEXTBOX:
            continue
        for ring in _boundary(path, sagitta):
            rings.append(_world(ocs, ring, elevation))
    return _nested(rings)


def _boundary(path: Any, sagitta: float) -> list[list[XY]]:
    if isinstance(path, PolylinePath):
        raw = [(float(v[0]), float(v[1]), float(v[2])) for v in path.vertices]
        return [_bulged(raw, closed=True, sagitta=sagitta)]
    pieces = [list(_edge(edge, sagitta)) for edge in path.edges]
    rings, loose = rings_of([p for p in pieces if len(p) > 1], tolerance=sagitta * 5)
    if loose:
        raise ShapeError("a hatch whose boundary closes", "an open boundary")
    return [list(r.points) for r in rings]


def _edge(edge: Any, sagitta: float) -> Iterator[XY]:
    if isinstance(edge, LineEdge):
        points = _flat([edge.start, edge.end])
    elif isinstance(edge, ArcEdge):
        start = math.radians(edge.start_angle)
        turn = math.radians((edge.end_angle - edge.start_angle) % 360 or 360)
        cx, cy, r = float(edge.center.x), float(edge.center.y), float(edge.radius)
        first = (cx + r * math.cos(start), cy + r * math.sin(start))
        points = tuple(arc_points((cx, cy), first, turn, sagitta))
        if turn == math.tau:
            points = (*points[:-1], points[0])
    elif isinstance(edge, EllipseEdge | SplineEdge):
        points = _flat(edge.construction_tool().flattening(sagitta))
    else:
        raise ShapeError(
            "hatch edges that are lines, arcs, ellipses or splines", type(edge).__name__
        )
    yield from points


def _nested(rings: Sequence[Sequence[XY]]) -> list[Drawn]:
    """Fill rings as a hatch does: every second one, counted from outside, is a hole."""
    areas = []
    for ring in rings:
        area = shapely.Polygon(ring) if len(set(ring)) > 2 else None
        if area is None or not area.is_valid:
            raise ShapeError("a hatch boundary that does not cross itself", None)
        areas.append(area)
    inner = [a.representative_point() for a in areas]
    around = [
        [j for j, other in enumerate(areas) if j != i and other.contains(inner[i])
         and other.area > areas[i].area]
        for i in range(len(areas))
    ]  # fmt: skip
    found = []
    for i, ring in enumerate(rings):
        if len(around[i]) % 2:
            continue
        holes = [
            tuple(rings[j])
            for j in range(len(rings))
            if i in around[j] and len(around[j]) == len(around[i]) + 1
        ]
        found.append(Drawn("polygon", tuple(ring), tuple(holes)))
    return found


_READERS: dict[str, Callable[[Any, float], list[Drawn]]] = {
    "LINE": _line,
    "POINT": _point,
    "ARC": _arc,
    "CIRCLE": _circle,
    "ELLIPSE": _flattened,
    "SPLINE": _flattened,
    "LWPOLYLINE": _lwpolyline,
    "POLYLINE": _polyline,
    "SOLID": _face,
    "TRACE": _face,
    "3DFACE": _face,
    "HATCH": _hatch,
    "MPOLYGON": _hatch,
}
READ_TYPES = frozenset(_READERS)
"""Entity types that are shapes."""
