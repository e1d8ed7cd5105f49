"""A small picture of the site for a letter: buildings, works, crowns, and a number at each tree."""

from collections.abc import Sequence

from shapely.geometry import Polygon

from bolewalk.model.units import M_PER_FT, UnitSystem
from bolewalk.model.works import Work
from bolewalk.papers.draw.frame import Box, Frame, Scale
from bolewalk.papers.draw.inked import inked
from bolewalk.papers.draw.labels import Label, LabelBoard
from bolewalk.papers.draw.marks import draw_mark
from bolewalk.papers.draw.plan import PlanTree, draw_work, plan_extent
from bolewalk.papers.draw.scene import Note, Scene
from bolewalk.papers.shapes import crown_outline, work_geometry

__all__ = ["small_plan"]

_FOOT_MM = 8.0
_DRAWN = frozenset({
    "boundary", "building", "wall", "paving", "access", "roof", "trench", "fill", "slab",
    "excavation", "drain", "utility", "fence", "strip footing",
})  # fmt: skip


def small_plan(
    trees: Sequence[PlanTree],
    works: Sequence[Work],
    *,
    units: UnitSystem,
    width_mm: float,
    height_mm: float,
    north: str,
) -> Scene | None:
    """Draw it, north up; None where no tree has a position.

    Parameters
    ----------
    width_mm, height_mm : float
        The most room there is; the picture is as high as it needs.
    north : str
        The letter at the arrow.
    """
    if not any(t.tree.located for t in trees):
        return None
    extent = plan_extent(trees, works, root_zones=False)
    assert extent is not None
    west, south, east, north_m = extent
    room: Box = (0.0, 0.0, width_mm - 4.0, height_mm - _FOOT_MM - 4.0)
    # A picture, not a drawing to measure on: it fills its room and carries a bar.
    mm_per_m = min(
        (room[2] - room[0]) / max(east - west, 1.0), (room[3] - room[1]) / max(north_m - south, 1.0)
    )
    scale = Scale(1000 / mm_per_m, "")
    field_mm = min((north_m - south) * scale.mm_per_m + 4.0, height_mm - _FOOT_MM)
    scene = Scene(width_mm, field_mm + _FOOT_MM)
    frame = Frame((0.0, 0.0, width_mm, field_mm), ((west + east) / 2, (south + north_m) / 2), scale)
    for work in works:
        if work.kind in _DRAWN and work.present != "no":
            draw_work(scene, work, frame.placed(work_geometry(work)))
    board = LabelBoard(0.5, 0.5, width_mm - 0.5, field_mm - 0.5)
    placed = []
    for t in trees:
        if t.tree.x_m is None or t.tree.y_m is None:
            continue
        outline = crown_outline(t.tree)
        if outline:
            shape = frame.placed(Polygon(outline))
            if isinstance(shape, Polygon) and not shape.is_empty:
                scene.shape([(c[0], c[1]) for c in shape.exterior.coords[:-1]], "crown")
        x, y = frame.point(t.tree.x_m, t.tree.y_m)
        placed.append((t, x, y))
        board.block(x - 1.2, y - 1.2, x + 1.2, y + 1.2)
    board.avoid(inked(scene))
    for t, x, y in placed:
        gone = t.tree.decision == "remove"
        draw_mark(scene, x, y, 1.0, "none" if gone else t.mark, remove=gone)
    for t, x, y in placed:
        board.place(scene, Label(x, y, t.tree.id, 7.5, "bold", clear_mm=1.0))
    _foot(scene, field_mm, scale.mm_per_m, units, north)
    return scene


def _foot(scene: Scene, top: float, mm_per_m: float, units: UnitSystem, north: str) -> None:
    unit_m, unit = (M_PER_FT, "ft") if units == "imperial" else (1.0, "m")
    length = next(
        s for s in (200, 100, 50, 20, 10, 5, 2, 1) if s * unit_m * mm_per_m <= 45 or s == 1
    )
    w, y = length * unit_m * mm_per_m, top + 4.5
    scene.rect(1.0, y, w / 2, 1.2, "line", fill="black")
    scene.rect(1.0 + w / 2, y, w / 2, 1.2, "line", fill="white")
    scene.note(Note(w + 2.5, y + 1.6, f"{length} {unit}", 7))
    x = scene.width_mm - 4.0
    scene.line([(x, y + 2.6), (x, y - 2.6)], "line")
    scene.shape([(x, y - 3.4), (x + 1.1, y - 0.4), (x - 1.1, y - 0.4)], "line", fill="black")
    scene.note(Note(x - 2.2, y + 1.6, north, 8, "end", weight="bold"))
