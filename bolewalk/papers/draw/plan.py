"""The site plan: trunks, crowns, root zones, works and nearest-cut lines at a true scale."""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry import LinearRing, LineString, Polygon
from shapely.geometry.base import BaseGeometry

from bolewalk.impact.results import TreeImpact
from bolewalk.model.trees import Tree
from bolewalk.model.works import Work
from bolewalk.papers.draw.frame import Box, Frame
from bolewalk.papers.draw.hatches import hatch_for, hatch_lines
from bolewalk.papers.draw.inked import inked
from bolewalk.papers.draw.labels import Label, LabelBoard
from bolewalk.papers.draw.marks import draw_mark
from bolewalk.papers.draw.scene import Point, Scene, chords
from bolewalk.papers.shapes import (
    CutSide,
    Outline,
    crown_outline,
    cut_lines,
    cut_sides,
    drawn_bounds,
    part_centre,
    work_geometry,
    zone_outline,
)

__all__ = [
    "PlanTree",
    "PlanZone",
    "draw_plan",
    "draw_work",
    "draw_zone",
    "has_cut_line",
    "met_by_works",
    "plan_extent",
    "shade",
    "shown_cuts",
]

_LINES = {"boundary": "boundary", "wire": "wire", "fence": "line", "beam": "beam"}
_NEAR_M = 12.0
"""Works further than this from every tree do not widen the plan; they are cut off at its edge."""


@dataclass(frozen=True, slots=True)
class PlanZone:
    """Ground set aside for a use: its hatch, its shape [m], its label and its legend's row."""

    hatch: str
    shape: BaseGeometry
    label: str
    legend: str


@dataclass(frozen=True, slots=True)
class PlanTree:
    """A tree as the plan needs it."""

    tree: Tree
    impact: TreeImpact

    @property
    def mark(self) -> str:
        """The mark of its verdict."""
        return self.impact.verdict.now if self.impact.verdict else "none"


def met_by_works(impact: TreeImpact) -> bool:
    """Tell whether any works, possible later ones included, reach the root zone or the crown."""
    if impact.roots is None:
        return False
    loss = impact.roots.with_later
    low, high = loss.severed_pct_range
    crown = impact.crown is not None and bool(impact.crown.removed_pct)
    return crown or max(loss.severed_pct, loss.covered_pct, loss.overlap_pct, low, high) > 0


def has_cut_line(t: PlanTree) -> bool:
    """Tell whether the plan shows a tree's nearest allowed cut: works meet it and it stays."""
    return met_by_works(t.impact) and t.tree.decision != "remove"


def plan_extent(
    trees: Sequence[PlanTree], works: Sequence[Work], *, root_zones: bool = True
) -> Box | None:
    """Give the extent to draw [m]: west, south, east, north; None where nothing has a place.

    `root_zones` tells whether they are drawn and need room.
    """
    told = [drawn_bounds(t.tree, t.impact.zone if root_zones else None) for t in trees]
    bounds = [b for b in told if b is not None]
    shapes = [s for w in works if not (s := work_geometry(w)).is_empty]
    if bounds:
        whole = _around(bounds)
        # Works within the trees' own extent cannot widen it.
        beyond = [s for s in shapes if not _holds(whole, s.bounds)]
        if beyond:
            reach = shapely.union_all(shapely.box(*np.array(bounds).T)).buffer(_NEAR_M)
            near = shapely.intersection(np.array(beyond), reach)
            bounds += [s.bounds for s in near if not s.is_empty]
    else:
        bounds = [s.bounds for s in shapes]
    return _around(bounds) if bounds else None


def _around(bounds: Sequence[Box]) -> Box:
    b = np.array(bounds)
    return (
        float(b[:, 0].min()), float(b[:, 1].min()), float(b[:, 2].max()), float(b[:, 3].max()),
    )  # fmt: skip


def _holds(outer: Box, inner: Box) -> bool:
    return all(o <= i for o, i in zip(outer[:2], inner[:2], strict=True)) and all(
        o >= i for o, i in zip(outer[2:], inner[2:], strict=True)
    )


def draw_plan(
    scene: Scene,
    frame: Frame,
    trees: Sequence[PlanTree],
    works: Sequence[Work],
    *,
    names: dict[str, str],
    board: LabelBoard,
    fences: Iterable[BaseGeometry] = (),
    zones: Sequence[PlanZone] = (),
) -> None:
    """Draw the plan into a sheet's field.

    What is known to be absent is not drawn. Labels that find no room are left out; the board
    tells which.

    Parameters
    ----------
    scene : Scene
    frame : Frame
    trees, works : sequences
        What stands on the site; unlocated trees are left to the tables.
    names : dict
        The label of each work by its id, in the reader's language.
    board : LabelBoard
        Keeps labels apart, with what the sheet has set already.
    fences : iterable of geometries
        Protection fences [m], drawn as crossed lines.
    zones : sequence of PlanZone
        Ground set aside to work from.
    """
    shapes = [(w, frame.placed(work_geometry(w))) for w in works if w.present != "no"]
    shapes = [(w, s) for w, s in shapes if not s.is_empty]
    ground = [(z, s) for z in zones if not (s := frame.placed(z.shape)).is_empty]
    for work, shape in shapes:
        if work.phase == "existing":
            draw_work(scene, work, shape)
    for t in trees:
        _zone_and_crown(scene, frame, t)
    for work, shape in shapes:
        if work.phase != "existing":
            draw_work(scene, work, shape)
    for zone, shape in ground:
        draw_zone(scene, zone, shape)
    for fence in fences:
        _fence(scene, frame.placed(fence))
    for t in trees:
        if has_cut_line(t):
            _cut_line(scene, frame, t)
    _trunks_and_labels(scene, frame, trees, shapes, names, board)
    for zone, shape in ground:
        pieces = [p for p in shapely.get_parts(shape) if isinstance(p, Polygon)]
        if pieces:
            x, y = part_centre(max(pieces, key=lambda p: p.area))
            board.place(scene, Label(x, y, zone.label, 6.0, "semibold"))


def draw_zone(scene: Scene, zone: PlanZone, shape: BaseGeometry) -> None:
    """Draw ground set aside, already placed on the sheet."""
    hatch = hatch_for(zone.hatch)
    assert hatch is not None
    for piece in shapely.get_parts(shape):
        if isinstance(piece, Polygon):
            for line in hatch_lines(piece, hatch):
                scene.line(line, "hatch")
            scene.shape(_xy(piece.exterior.coords[:-1]), "bold",
                        holes=[_xy(r.coords[:-1]) for r in piece.interiors])  # fmt: skip


def draw_work(scene: Scene, work: Work, shape: BaseGeometry) -> None:
    """Draw one work already placed on the sheet, with the hatch of its kind and the line of its
    phase: grey for what is there, black for what is proposed, broken and wide for what may come."""
    pen = {"existing": "existing", "proposed": "bold", "possible later": "later"}[work.phase]
    if work.kind in _LINES:
        pen = _LINES[work.kind]
    for piece in shapely.get_parts(shape):
        if isinstance(piece, LineString):
            if work.kind == "fence":
                _crossed(scene, piece, "existing" if work.phase == "existing" else "line")
            else:
                scene.line(_xy(piece.coords), pen)
        elif isinstance(piece, Polygon):
            hatch = hatch_for(work.kind)
            if hatch is not None:
                widen = 1.8 if work.phase == "possible later" else 1.0
                ink = "hatch_existing" if work.phase == "existing" else "hatch"
                for line in hatch_lines(piece, hatch, widen=widen):
                    scene.line(line, ink)
            scene.shape(_xy(piece.exterior.coords[:-1]), pen,
                        holes=[_xy(r.coords[:-1]) for r in piece.interiors])  # fmt: skip
        else:
            x, y = piece.coords[0]
            scene.circle(float(x), float(y), 0.6, pen)


def shade(scene: Scene, shape: BaseGeometry) -> None:
    """Shade ground already placed on the sheet."""
    for piece in shapely.get_parts(shape):
        if isinstance(piece, Polygon):
            holes = [_xy(r.coords[:-1]) for r in piece.interiors]
            scene.shape(_xy(piece.exterior.coords[:-1]), "", fill="shade", holes=holes)


def _zone_and_crown(scene: Scene, frame: Frame, t: PlanTree) -> None:
    crown = crown_outline(t.tree)
    if crown:
        _ring(scene, frame, crown, "crown")
    if t.tree.decision == "remove":
        return
    outline = zone_outline(t.tree, t.impact.zone)
    if outline and t.impact.zone is not None and t.tree.x_m is not None:
        _ring(scene, frame, outline, "zone")
        x, y = frame.point(t.tree.x_m, t.tree.y_m or 0.0)
        r = t.impact.zone.structural_radius_m * frame.scale.mm_per_m
        if frame.inside(x, y):
            scene.circle(x, y, r, "structural")


def _ring(scene: Scene, frame: Frame, outline: Outline, pen: str) -> None:
    points = frame.points(np.array(outline))
    x0, y0, x1, y1 = frame.box
    low, high = points.min(axis=0), points.max(axis=0)
    # No more chords than a circle of this size needs: small crowns have many points to spare.
    spare = len(points) // max(chords(float((high - low).max()) / 2), 1)
    if x0 < low[0] and y0 < low[1] and high[0] < x1 and high[1] < y1:
        scene.shape(_xy(points[:: max(spare, 1)].tolist()), pen)
        return
    # Cut off at the field's edge, the outline is drawn but not the cut.
    for run in shapely.get_parts(
        shapely.line_merge(shapely.box(x0, y0, x1, y1).intersection(LinearRing(points)))
    ):
        if isinstance(run, LineString) and run.length > 0:
            scene.line(_xy(run.coords), pen)


def shown_cuts(t: PlanTree) -> tuple[CutSide, ...]:
    """Give the nearest-cut sides to draw: those of "keep", or where that level is lost on every
    side, those of "keep if"."""
    sides = cut_sides(t.tree, t.impact.nearest_cut)
    keep = tuple(s for s in sides if s.level == "keep")
    return keep or sides


def _cut_line(scene: Scene, frame: Frame, t: PlanTree) -> None:
    """Draw the line closed, with teeth to the tree and its error as two thin lines beside it."""
    tick, step = 0.9, 2.2
    sides = shown_cuts(t)
    for line in cut_lines(t.tree, t.impact.nearest_cut):
        if not sides or line.level != sides[0].level:
            continue
        _closed(scene, frame, line.ring, "cut" if line.level == "keep" else "cut_if")
        for edge in (line.inner, line.outer):
            if edge is not None:
                _closed(scene, frame, edge, "cut_band")
    for side in sides:
        a, b = frame.point(*side.start), frame.point(*side.end)
        # Ticks point to the trunk: the side on which nothing may be dug.
        length = math.dist(a, b)
        bearing = math.radians(side.bearing_deg)
        dx, dy = -math.sin(bearing) * tick, math.cos(bearing) * tick
        for k in range(1, math.floor(length / step) + 1):
            share = (k - 0.5) * step / length
            x, y = a[0] + (b[0] - a[0]) * share, a[1] + (b[1] - a[1]) * share
            if frame.inside(x, y):
                scene.line([(x, y), (x + dx, y + dy)], "cut_tick")


def _closed(scene: Scene, frame: Frame, ring: Outline, pen: str) -> None:
    points = [frame.point(*p) for p in ring]
    if all(frame.inside(*p) for p in points):
        scene.shape(points, pen)
        return
    for a, b in zip(points, [*points[1:], points[0]], strict=True):
        for run in _runs(frame, a, b):
            scene.line(run, pen)


def _runs(frame: Frame, a: Point, b: Point) -> list[list[Point]]:
    """Give what of a straight line lies in the drawing field; nothing of a line of no length."""
    if a == b:
        return []
    if frame.inside(*a) and frame.inside(*b):
        return [[a, b]]
    cut = shapely.box(*frame.box).intersection(LineString([a, b]))
    return [
        _xy(run.coords)
        for run in shapely.get_parts(cut)
        if isinstance(run, LineString) and run.length > 0
    ]


def _fence(scene: Scene, shape: BaseGeometry) -> None:
    for piece in shapely.get_parts(shape):
        if isinstance(piece, LineString):
            _crossed(scene, piece, "bold")


def _crossed(scene: Scene, line: LineString, pen: str) -> None:
    scene.line(_xy(line.coords), pen)
    step, s = 3.6, 0.55
    for k in range(math.floor(line.length / step)):
        p = line.interpolate((k + 0.5) * step)
        scene.line([(p.x - s, p.y - s), (p.x + s, p.y + s)], "line")
        scene.line([(p.x - s, p.y + s), (p.x + s, p.y - s)], "line")


def _trunks_and_labels(
    scene: Scene,
    frame: Frame,
    trees: Sequence[PlanTree],
    shapes: Sequence[tuple[Work, BaseGeometry]],
    names: dict[str, str],
    board: LabelBoard,
) -> None:
    marks = []
    for t in trees:
        if t.tree.x_m is None or t.tree.y_m is None:
            continue
        x, y = frame.point(t.tree.x_m, t.tree.y_m)
        stem = max((s.value for s in t.tree.stems_cm), default=0.0) / 200
        r = min(max(stem * frame.scale.mm_per_m, 0.95), 2.2)
        marks.append((t, x, y, r))
        reach = r * (1.75 if t.tree.decision == "remove" else 1.15)
        board.block(x - reach, y - reach, x + reach, y + reach)
    board.avoid(inked(scene))
    for t, x, y, r in marks:
        draw_mark(scene, x, y, r, t.mark, remove=t.tree.decision == "remove")
    # Where room is short, the trees that need something done are numbered first.
    for t, x, y, r in sorted(marks, key=lambda m: _first(m[0])):
        board.place(scene, Label(x, y, t.tree.id, 7.5, "bold", clear_mm=r))
    for work, shape in _named_once(shapes, names):
        name = names[work.id]
        x, y = _label_point(shape)
        board.place(scene, Label(x, y, name, 6.0, italic=work.phase == "possible later"))


_FIRST = ("redesign", "undecided", "keep_if", "none", "keep")


def _first(t: PlanTree) -> int:
    return -1 if t.tree.decision == "remove" else _FIRST.index(t.mark)


def _label_point(shape: BaseGeometry) -> tuple[float, float]:
    """Give the point a work is labelled at: on the line itself for lines, which may run round."""
    lines = [g for g in shapely.get_parts(shape) if isinstance(g, LineString)]
    if not lines:
        return part_centre(shape)
    middle = max(lines, key=lambda g: g.length).interpolate(0.5, normalized=True)
    return float(middle.x), float(middle.y)


def _named_once(
    shapes: Sequence[tuple[Work, BaseGeometry]], names: dict[str, str]
) -> list[tuple[Work, BaseGeometry]]:
    """Give the works to label, largest first: of several with one name, the middlemost."""
    groups: dict[str, list[tuple[Work, BaseGeometry]]] = {}
    for work, shape in shapes:
        if names.get(work.id):
            groups.setdefault(names[work.id], []).append((work, shape))
    out = []
    for group in groups.values():
        middle = shapely.union_all([s for _, s in group]).envelope.centroid
        out.append(min(group, key=lambda g: g[1].distance(middle)))
    return sorted(out, key=lambda g: -g[1].area)


def _xy(coords: Iterable[Sequence[float]]) -> list[tuple[float, float]]:
    return [(float(c[0]), float(c[1])) for c in coords]
