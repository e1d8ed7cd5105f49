"""A section through a tree and what stands in its crown: upright, to scale, seen from the side.

The plane runs through the trunk towards the nearest point of the work. Heights are those of the
drawing and the survey; roots under ground are not drawn, for nobody has seen them.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry import LineString, Polygon, box
from shapely.geometry.base import BaseGeometry

from bolewalk.impact.clashes import Obstacle
from bolewalk.impact.crown import CrownSolid, outline_radius_m, profile
from bolewalk.papers.amounts import Amounts, compass_point
from bolewalk.papers.draw.frame import Scale, choose_scale
from bolewalk.papers.draw.hatches import hatch_for, hatch_lines
from bolewalk.papers.draw.labels import Label, LabelBoard
from bolewalk.papers.draw.scene import Note, Scene

__all__ = ["CrownSection", "section_bearing", "section_through"]

_STEPS = 48
_BESIDE_M = 2.0
_THIN_M = 0.15
"""A wire seen end on has no width to draw: it is drawn this wide."""
_FOOT_MM, _HEAD_MM, _SIDE_MM = 11.0, 5.0, 4.0


@dataclass(frozen=True, slots=True)
class CrownSection:
    """A finished section: its drawing, its scale, the bearing it looks along [deg]."""

    scene: Scene
    scale: Scale
    bearing_deg: float


def section_bearing(solid: CrownSolid, found: Sequence[Obstacle]) -> float:
    """Give the bearing from the trunk to the nearest point of what stands in the crown [deg].

    Of several, the nearest one counts; where the trunk stands in it, its middle.
    """
    trunk = shapely.Point(solid.centre)
    nearest = min(found, key=lambda o: (o.bare.distance(trunk), o.work.id)).bare
    at = shapely.get_coordinates(shapely.shortest_line(trunk, nearest))[1]
    east, north = at[0] - trunk.x, at[1] - trunk.y
    if math.hypot(east, north) < 1e-6:
        east, north = nearest.centroid.x - trunk.x, nearest.centroid.y - trunk.y
    return math.degrees(math.atan2(east, north)) % 360.0


def section_through(
    solid: CrownSolid,
    found: Sequence[Obstacle],
    *,
    trunk_m: float,
    names: dict[str, str],
    words: dict[str, str],
    amounts: Amounts,
    width_mm: float,
    height_mm: float,
) -> CrownSection:
    """Draw the section.

    Parameters
    ----------
    solid : CrownSolid
        The crown, with its place on the survey's grid.
    found : sequence of Obstacle
        What stands in it or near it; not empty.
    trunk_m : float
        Trunk diameter [m].
    names : dict
        Label of each work by id.
    words : dict
        "section_crown" and "section_ground" of the catalogue's table "plan".
    amounts : Amounts
    width_mm, height_mm : float
        The most room there is; the drawing is as high as it needs.
    """
    bearing = section_bearing(solid, found)
    crown = _crown(solid, bearing)
    shapes = [(o, _seen(o, solid, bearing)) for o in found]
    shapes = [(o, s) for o, s in shapes if not s.is_empty]
    bounds = np.array([crown.bounds, *(s.bounds for _, s in shapes)])
    west, east = float(bounds[:, 0].min()) - _BESIDE_M, float(bounds[:, 2].max()) + _BESIDE_M
    top = float(bounds[:, 3].max())
    room = (0.0, 0.0, width_mm - 2 * _SIDE_MM, height_mm - _FOOT_MM - _HEAD_MM)
    scale = choose_scale(east - west, top, room, units=amounts.units)
    k = scale.mm_per_m
    height = _HEAD_MM + top * k + _FOOT_MM
    scene = Scene(width_mm, height)
    x_mid = width_mm / 2 - (west + east) / 2 * k
    ground = height - _FOOT_MM

    def placed(shape: BaseGeometry) -> BaseGeometry:
        return shapely.transform(
            shape, lambda p: np.column_stack([x_mid + p[:, 0] * k, ground - p[:, 1] * k])
        )

    half = max(trunk_m / 2 * k, 0.4)
    for o, s in shapes:
        _draw_work(scene, o, placed(s))
    scene.shape(_xy(placed(crown)), "crown")
    for o, s in shapes:
        reach = s.buffer(o.work.clearance_m, join_style="mitre") if o.work.clearance_m else s
        for piece in shapely.get_parts(crown.intersection(reach)):
            if isinstance(piece, Polygon) and piece.area > 0:
                scene.shape(_xy(placed(piece)), "accent")
    x_trunk, y_top = x_mid, ground - (solid.base_m + (solid.top_m - solid.base_m) * 0.4) * k
    scene.shape(
        [
            (x_trunk - half, ground),
            (x_trunk - half * 0.5, y_top),
            (x_trunk + half * 0.5, y_top),
            (x_trunk + half, ground),
        ],
        "line",
        fill="white",
    )
    scene.line([(_SIDE_MM, ground), (width_mm - _SIDE_MM, ground)], "heavy")
    _words(scene, shapes, placed, names, words, amounts, bearing, ground, scale)
    return CrownSection(scene, scale, bearing)


def _crown(solid: CrownSolid, bearing_deg: float) -> Polygon:
    """Give the crown's outline in the plane: x along the bearing, y above ground [m]."""
    t = np.linspace(0.0, 1.0, _STEPS + 1)
    wide = profile(solid.form, t)
    ahead, behind = (
        float(outline_radius_m(solid.radii_m, math.radians(b)))
        for b in (bearing_deg, bearing_deg + 180.0)
    )
    y = solid.base_m + t * (solid.top_m - solid.base_m)
    right = np.column_stack([wide * ahead, y])
    left = np.column_stack([-wide * behind, y])[::-1]
    shape = Polygon(np.vstack([right, left]))
    return shape if shape.is_valid else shape.buffer(0)


def _seen(o: Obstacle, solid: CrownSolid, bearing_deg: float) -> BaseGeometry:
    """Give what the plane cuts of a work, as rectangles over the ground [m]."""
    b = math.radians(bearing_deg)
    dx, dy = math.sin(b), math.cos(b)
    cx, cy = solid.centre
    reach = max(solid.radii_m) * 1.6 + 3.0
    plane = LineString([(cx - dx * reach, cy - dy * reach), (cx + dx * reach, cy + dy * reach)])
    bare = o.bare if o.bare.area > 0 else o.bare.buffer(_THIN_M / 2)
    high = o.high_m if math.isfinite(o.high_m) else max(solid.top_m, o.low_m) + 1.0
    high = max(high, o.low_m + _THIN_M)
    pieces = []
    for run in shapely.get_parts(plane.intersection(bare)):
        along = [(x - cx) * dx + (y - cy) * dy for x, y in shapely.get_coordinates(run)]
        if len(along) > 1:
            pieces.append(box(min(along), o.low_m, max(along), high))
    return shapely.union_all(pieces) if pieces else Polygon()


def _draw_work(scene: Scene, o: Obstacle, shape: BaseGeometry) -> None:
    pen = {"existing": "existing", "proposed": "bold", "possible later": "later"}[o.work.phase]
    hatch = hatch_for(o.work.kind)
    for piece in shapely.get_parts(shape):
        if not isinstance(piece, Polygon):
            continue
        if hatch is not None:
            ink = "hatch_existing" if o.work.phase == "existing" else "hatch"
            for line in hatch_lines(piece, hatch, widen=1.0):
                scene.line(line, ink)
        scene.shape(_xy(piece), pen)


def _words(
    scene: Scene,
    shapes: Sequence[tuple[Obstacle, BaseGeometry]],
    placed: Callable[[BaseGeometry], BaseGeometry],
    names: dict[str, str],
    words: dict[str, str],
    amounts: Amounts,
    bearing_deg: float,
    ground: float,
    scale: Scale,
) -> None:
    width = scene.width_mm
    board = LabelBoard(1.0, 1.0, width - 1.0, scene.height_mm - 1.0)
    board.block(0.0, ground - 0.6, width, scene.height_mm)
    for _, s in shapes:
        board.block(*placed(s).bounds)
    for o, s in shapes:
        drawn = placed(s)
        x0, y0, x1, y1 = drawn.bounds
        board.place(scene, Label((x0 + x1) / 2, y0, names[o.work.id], 7.0, clear_mm=1.5))
        if o.low_m > 0:
            x = min(max(x0, 8.0), width - 20.0)
            scene.line([(x, ground), (x, y1)], "leader")
            text = words["section_above"].replace("{height}", amounts.length(o.low_m))
            board.place(scene, Label(x, (ground + y1) / 2, text, 6.5))
    back, ahead = compass_point(bearing_deg + 180.0), compass_point(bearing_deg)
    scene.note(Note(_SIDE_MM, ground + 4.5, back, 8, weight="bold"))
    scene.note(Note(width - _SIDE_MM, ground + 4.5, ahead, 8, "end", weight="bold"))
    scene.note(
        Note(width / 2, ground + 4.2, f"{words['scale']} {scale.text}", 7, "middle", ink="grey")
    )
    scene.note(Note(width / 2, ground + 8.0, words["section_key"], 6.5, "middle", ink="grey"))


def _xy(shape: BaseGeometry) -> list[tuple[float, float]]:
    if not isinstance(shape, Polygon):
        return []
    return [(float(x), float(y)) for x, y in shape.exterior.coords[:-1]]
