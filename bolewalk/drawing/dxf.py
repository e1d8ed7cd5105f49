"""Works from a DXF drawing: layers mapped to kinds, units honoured or asked for, shapes checked."""

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
from ezdxf.document import Drawing as Document

from bolewalk.drawing.details import AREA_KINDS, Place, nearest, read_details
from bolewalk.drawing.dxf_blocks import Piece, Walked, walk_model_space
from bolewalk.drawing.dxf_open import DxfError, open_dxf
from bolewalk.drawing.dxf_shapes import READ_TYPES, Drawn, insertion_of, shapes_of
from bolewalk.drawing.dxf_units import resolve_placement
from bolewalk.drawing.grid import Grid
from bolewalk.drawing.joining import rings_of
from bolewalk.drawing.placement import Pair, Placement
from bolewalk.drawing.settings import reading_settings
from bolewalk.drawing.shapes import ShapeError, check_parts, line_part, point_part, polygon_part
from bolewalk.model.problems import Problem
from bolewalk.model.survey import Drawing
from bolewalk.model.units import UnitSystem
from bolewalk.model.works import Part, Work

__all__ = ["IGNORED", "PlanRead", "read_dxf"]

XY = tuple[float, float]
IGNORED = "ignore"
"""What a layer is mapped to so that it is neither read nor told."""


@dataclass(frozen=True, slots=True)
class PlanRead:
    """What a drawing gave.

    Attributes
    ----------
    works : tuple of Work
        In the order of the drawing; joined outlines stand where their layer ends.
    problems : tuple of Problem
    unit : str or None
        Unit the drawing is in, a key of DRAWING_UNITS; None where it was placed by points only.
    extent_m : (west, south, east, north) or None
        Of everything drawn, on the survey's grid [m].
    """

    works: tuple[Work, ...]
    problems: tuple[Problem, ...]
    unit: str | None
    extent_m: tuple[float, float, float, float] | None


@dataclass(frozen=True, slots=True)
class _Found:
    """One shape on a mapped layer, in drawing units."""

    piece: Piece
    drawn: Drawn


def read_dxf(
    path: Path,
    *,
    drawing: Drawing,
    layers: Mapping[str, Any],
    grid: Grid,
    units: UnitSystem,
    listed: Place,
    unit: str | None = None,
    ignore_header_unit: bool = False,
    at: tuple[Pair, Pair] | None = None,
) -> PlanRead:
    """Read works from a DXF drawing.

    Parameters
    ----------
    path : Path
    drawing : Drawing
        Its `file` is the name within the survey folder; title and revision name the source.
    layers : mapping
        Layer name -> kind, "ignore", or a table of properties with a kind. Upper and lower case
        are one, as in drawings.
    grid : Grid
        Of the survey.
    units : UnitSystem
        Of plain numbers in `layers`.
    listed : Place
        Where the drawing is listed, for problems of `layers`; its problem list is not written to.
    unit : str or None
        Unit said by the survey, a key of DRAWING_UNITS.
    ignore_header_unit : bool
        Believe `unit` and not the drawing.
    at : two Pairs or None
        Points that place the drawing; its unit then only checks the scale.

    Returns
    -------
    PlanRead
        Curves stand as chords within `sagitta_m` of the settings, inside the curve.
    """
    place = Place(drawing.file, None)
    here = Place(listed.file, listed.row, place.problems)
    mapped = _mapped(layers, units, drawing, here)
    try:
        doc = open_dxf(path, place)
        walked = Walked(doc, place, frozenset(n for n, w in mapped.items() if _is_pile(w)))
        pieces = list(walk_model_space(walked))
        placed = resolve_placement(
            doc, grid=grid, unit=unit, ignore_header=ignore_header_unit, at=at, place=place
        )
    except DxfError as e:
        place.tell(None, e.value, str(e))
        if mapped:
            place.leaves_out()
        return PlanRead((), tuple(place.problems), None, None)
    _tell_layers(layers, doc, walked, here, place)
    sagitta = reading_settings().sagitta_m / placed.placement.m_per_unit
    reader = _Reader(drawing, placed.placement, grid, sagitta, place)
    works = reader.works(pieces, mapped)
    extent = reader.extent(pieces)
    if placed.on_us_feet and extent is not None:
        _tell_feet(extent, place)
    return PlanRead(tuple(works), tuple(place.problems), placed.unit, extent)


def _is_pile(work: Work | None) -> bool:
    return work is not None and work.kind == "pile"


def _mapped(
    layers: Mapping[str, Any], units: UnitSystem, drawing: Drawing, here: Place
) -> dict[str, Work | None]:
    """Give what each mapped layer's works have in common, by lower-case name; None = ignored."""
    mapped: dict[str, Work | None] = {}
    for name, raw in layers.items():
        inner = Place(here.file, here.row, here.problems, prefix=f"drawing.layers.{name}")
        if name.lower() in mapped:
            inner.tell(None, name, "each layer once; the first line counts")
            continue
        if isinstance(raw, str) and raw.strip().lower() == IGNORED:
            mapped[name.lower()] = None
            continue
        if not isinstance(raw, str | Mapping):
            inner.tell(None, raw, 'a kind, "ignore", or a table such as {kind = "trench"}')
            inner.leaves_out()
            continue
        table = {"kind": raw} if isinstance(raw, str) else dict(raw)
        inner.prefix += "."
        source = f"{drawing.label}, {name}"
        work = read_details(table, units=units, source=source, place=inner)
        if work is not None:
            mapped[name.lower()] = work
        else:
            inner.leaves_out()
    return mapped


def _tell_layers(
    layers: Mapping[str, Any], doc: Document, walked: Walked, here: Place, place: Place
) -> None:
    named = {n.lower() for n in layers}
    counts = walked.counts
    present = {n.lower() for n in counts}
    known = sorted({str(layer.dxf.name) for layer in doc.layers} | set(counts), key=str.lower)
    lowered = {n.lower() for n in known}
    for name, raw in layers.items():
        where = f"drawing.layers.{name}"
        if name.lower() not in lowered:
            here.tell(
                where,
                name,
                f"a layer of {place.file}: {', '.join(known)}{nearest(name, known)}",
            )
        elif name.lower() not in present and raw != IGNORED:
            here.tell(
                where, name, f"a layer of {place.file} with something drawn on it", level="notice"
            )
    for name in sorted(counts, key=str.lower):
        if name.lower() not in named:
            place.tell(
                name,
                _tally(counts[name]),
                'a kind of works for this layer under [drawing.layers], or "ignore"; not read as '
                "works",
                level="notice",
            )


def _tally(count: Counter[str]) -> str:
    return ", ".join(f"{n} {kind}" for kind, n in sorted(count.items()))


def _tell_feet(extent: tuple[float, float, float, float], place: Place) -> None:
    off = max(abs(v) for v in extent) * 2e-6
    if off > reading_settings().tell_feet_m:
        place.tell(
            "$INSUNITS",
            "ft",
            "US survey feet, as the survey's grid; read as such (in international feet the "
            f"drawing would lie {off:.2f} m off)",
            level="notice",
        )


@dataclass(frozen=True, slots=True)
class _Reader:
    """Turns pieces of one drawing into works."""

    drawing: Drawing
    placement: Placement
    grid: Grid
    sagitta: float
    place: Place

    def works(self, pieces: Sequence[Piece], mapped: Mapping[str, Work | None]) -> list[Work]:
        by_layer: dict[str, list[Piece]] = {}
        for piece in pieces:
            if mapped.get(piece.layer.lower()) is not None:
                by_layer.setdefault(piece.layer.lower(), []).append(piece)
        works: list[Work] = []
        # One entity may give several shapes, one outline may take several entities: numbered a
        # layer, in the order of the drawing.
        for layer, on_it in by_layer.items():
            common = mapped[layer]
            if common is not None:
                works += self._layer(on_it, common)
        return works

    def _layer(self, pieces: Sequence[Piece], common: Work) -> list[Work]:
        found = list(self._found(pieces, common))
        if common.kind in AREA_KINDS and not common.width_m:
            found = self._joined(found, common)
        found = _without_fills(found, self.sagitta * 5)
        name = common.id or (pieces[0].layer if pieces else "")
        works: list[Work] = []
        for f in found:
            work = self._work(f, common)
            if work is not None:
                works.append(replace(work, id=f"{name}-{len(works) + 1}"))
        bare = sum(w.diameter_m is None and w.parts[0].shape == "point" for w in works)
        if bare:
            self.place.tell(
                pieces[0].layer,
                f"{bare} without",
                "a diameter for points on this layer; read as bare points",
                level="notice",
            )
        return works

    def _found(self, pieces: Sequence[Piece], common: Work) -> Iterable[_Found]:
        unread: Counter[str] = Counter()
        for piece in pieces:
            if piece.entity.dxftype() not in READ_TYPES | {"INSERT"}:
                unread[piece.entity.dxftype()] += 1
                continue
            try:
                if piece.entity.dxftype() == "INSERT":
                    yield _Found(piece, insertion_of(piece.entity))
                    continue
                for drawn in shapes_of(piece.entity, self.sagitta):
                    yield _Found(piece, drawn)
            except ShapeError as e:
                self._tell(piece, e)
        if unread:
            self.place.tell(
                pieces[0].layer,
                _tally(unread),
                f"lines, curves, areas, points or blocks for {common.kind}; these are not read",
                level="notice",
            )

    def _tell(self, piece: Piece, error: ShapeError, points: Sequence[XY] = ()) -> None:
        here = Place(self.place.file, piece.row, self.place.problems)
        here.tell(piece.layer, error.value, f"{error}; left out")
        here.leaves_out(self._extent(points))

    def _extent(self, points: Sequence[XY]) -> tuple[float, ...]:
        """Give west, south, east, north [m] of points of the drawing; nothing for none."""
        if not points:
            return ()
        moved = np.array([self.placement.move(*p) for p in points])
        if not np.isfinite(moved).all():
            return ()
        return (*map(float, moved.min(axis=0)), *map(float, moved.max(axis=0)))

    def _joined(self, found: Sequence[_Found], common: Work) -> list[_Found]:
        """Join the open lines among the shapes into outlines; tell of those that close none."""
        open_lines = [f for f in found if f.drawn.shape == "line" and not f.drawn.closed]
        whole = [f for f in found if f.drawn.shape != "line" or f.drawn.closed]
        tolerance = reading_settings().join_m / self.placement.m_per_unit
        rings, loose = rings_of([f.drawn.points for f in open_lines], tolerance=tolerance)
        for i in loose:
            piece = open_lines[i].piece
            ends = (open_lines[i].drawn.points[0], open_lines[i].drawn.points[-1])
            here = Place(self.place.file, piece.row, self.place.problems)
            here.tell(
                piece.layer,
                "an open line, " + " to ".join(f"{x:g}, {y:g}" for x, y in ends),
                f"lines that close an outline for {common.kind}, or a width; left out",
            )
            here.leaves_out(self._extent(open_lines[i].drawn.points))
        for ring in rings:
            first = open_lines[ring.lines[0]].piece if ring.lines else open_lines[0].piece
            whole.append(_Found(first, Drawn("line", ring.points)))
        return whole

    def _work(self, found: _Found, common: Work) -> Work | None:
        drawn, piece = found.drawn, found.piece
        try:
            diameter = common.diameter_m
            if common.kind == "pile" and drawn.diameter is not None:
                # The circle drawn says more about this pile than the layer says about all.
                diameter = drawn.diameter * self.placement.m_per_unit
            work = replace(
                common,
                parts=(self._part(drawn, common),),
                diameter_m=diameter,
                file=self.drawing.file,
                ref=piece.handle,
                drawing=self.drawing.label,
                layer=piece.layer,
                label=common.label or _attribute(piece),
            )
            return replace(work, parts=check_parts(work, m_per_unit=self.grid.m_per_unit))
        except ShapeError as e:
            self._tell(piece, e, drawn.points)
            return None

    def _part(self, drawn: Drawn, common: Work) -> Part:
        if common.kind == "pile" and drawn.centre is not None:
            return point_part(self.placement.move(*drawn.centre))
        points = [self.placement.move(*p) for p in drawn.points]
        if drawn.shape == "point":
            return point_part(points[0])
        area = drawn.closed and (common.kind in AREA_KINDS or common.kind == "pile")
        if drawn.shape == "polygon" or area:
            holes = [[self.placement.move(*p) for p in h] for h in drawn.holes]
            return polygon_part(points, holes, m_per_unit=self.grid.m_per_unit)
        return line_part(points)

    def extent(self, pieces: Sequence[Piece]) -> tuple[float, float, float, float] | None:
        """Give the extent [m] of every shape drawn, mapped or not."""
        corners: list[XY] = []
        for piece in pieces:
            if piece.entity.dxftype() not in READ_TYPES:
                continue
            try:
                # A hundred times as coarse as the works: the sheet's size, nothing finer.
                shapes = shapes_of(piece.entity, self.sagitta * 100)
            except ShapeError:
                continue
            for drawn in shapes:
                array = np.array(drawn.points)
                (west, south), (east, north) = array.min(axis=0), array.max(axis=0)
                corners += [(west, south), (east, south), (west, north), (east, north)]
        if not corners:
            return None
        moved = np.array([self.placement.move(float(x), float(y)) for x, y in corners])
        if not np.isfinite(moved).all():
            return None
        (west, south), (east, north) = moved.min(axis=0), moved.max(axis=0)
        return float(west), float(south), float(east), float(north)


def _attribute(piece: Piece) -> str:
    """Give the first text attached to a block reference, "" for none."""
    entity: Any = piece.entity
    if entity.dxftype() != "INSERT":
        return ""
    texts = [str(a.dxf.get("text", "")).strip() for a in entity.attribs]
    return next((t for t in texts if t), "")


def _without_fills(found: Sequence[_Found], tolerance: float) -> list[_Found]:
    """Leave out fills of outlines that are drawn as well: they would count each work twice."""
    outlines = [_bounds(f.drawn) for f in found if f.drawn.closed and not _is_fill(f)]
    if not outlines:
        return list(found)
    known = np.array(outlines)
    kept = []
    for f in found:
        if _is_fill(f) and not f.drawn.holes:
            bounds = np.array(_bounds(f.drawn))
            if (np.abs(known - bounds).max(axis=1) < tolerance).any():
                continue
        kept.append(f)
    return kept


def _is_fill(found: _Found) -> bool:
    return found.piece.entity.dxftype() in ("HATCH", "SOLID")


def _bounds(drawn: Drawn) -> tuple[float, float, float, float]:
    xs, ys = zip(*drawn.points, strict=True)
    return min(xs), min(ys), max(xs), max(ys)
