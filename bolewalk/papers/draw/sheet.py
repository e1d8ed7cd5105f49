"""A drawing sheet: border, drawing field, legend, north, scale bar and title block."""

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace

from shapely.geometry import LineString
from shapely.geometry import box as rectangle
from shapely.geometry.base import BaseGeometry

from bolewalk.model.units import M_PER_FT, UnitSystem
from bolewalk.model.words import PHASES
from bolewalk.model.works import Part, Work
from bolewalk.papers.draw.frame import Box, Frame, Scale, choose_scale
from bolewalk.papers.draw.hatches import hatch_for
from bolewalk.papers.draw.labels import LabelBoard
from bolewalk.papers.draw.marks import draw_mark
from bolewalk.papers.draw.plan import (
    PlanTree,
    PlanZone,
    draw_plan,
    draw_work,
    draw_zone,
    has_cut_line,
    plan_extent,
    shade,
    shown_cuts,
)
from bolewalk.papers.draw.scene import Note, Scene
from bolewalk.papers.draw.type_metrics import MM_PER_PT, wrapped

__all__ = ["SHEET_SIZES", "Sheet", "SheetText", "plan_sheet"]

SHEET_SIZES: dict[UnitSystem, tuple[float, float]] = {
    "imperial": (431.8, 279.4),  # tabloid, 17 x 11 in
    "metric": (420.0, 297.0),  # ISO 216 A3
}
_MARGIN, _PANEL, _GAP = 9.0, 70.0, 3.0


@dataclass(frozen=True, slots=True)
class SheetText:
    """Words of a sheet, in the reader's language.

    `title_block` holds (head, text) rows from the top down; the scale's row is added by the
    sheet. `words` are the labels of the catalogue's table "plan".
    """

    title: str
    project: str
    title_block: tuple[tuple[str, str], ...]
    words: dict[str, str]
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Sheet:
    """A finished sheet and its scale."""

    scene: Scene
    scale: Scale


def plan_sheet(
    trees: Sequence[PlanTree],
    works: Sequence[Work],
    *,
    units: UnitSystem,
    text: SheetText,
    names: dict[str, str],
    fences: Iterable[BaseGeometry] = (),
    ground: Sequence[BaseGeometry] = (),
    zones: Sequence[PlanZone] = (),
) -> Sheet | None:
    """Draw the site plan on a tabloid (imperial) or A3 (metric) sheet, north up.

    Returns
    -------
    Sheet or None
        None where neither a tree nor a work has a position.
    """
    extent = plan_extent(trees, works)
    if extent is None:
        return None
    width, height = SHEET_SIZES[units]
    scene = Scene(width, height)
    field: Box = (_MARGIN, _MARGIN, width - _MARGIN - _PANEL, height - _MARGIN)
    pad = 5.0
    inner = (field[0] + pad, field[1] + pad, field[2] - pad, field[3] - pad)
    west, south, east, north = extent
    scale = choose_scale(east - west, north - south, inner, units=units)
    frame = Frame(field, ((west + east) / 2, (south + north) / 2), scale)
    board = LabelBoard(field[0] + 1, field[1] + 1, field[2] - 1, field[3] - 1)
    for piece in ground:
        shade(scene, frame.placed(piece))
    _grid(scene, frame, units)
    fences = tuple(fences)
    draw_plan(scene, frame, trees, works, names=names, board=board, fences=fences, zones=zones)
    text = replace(text, notes=(*text.notes, *_left_out(board, text)))
    scene.rect(*field[:2], field[2] - field[0], field[3] - field[1], "heavy")
    panel: Box = (field[2], field[1], width - _MARGIN, field[3])
    scene.rect(*panel[:2], panel[2] - panel[0], panel[3] - panel[1], "heavy")
    top = _title_block(scene, panel, scale, text)
    top = _scale_and_north(scene, panel, top, scale, units, text)
    _legend(scene, panel, top, trees, works, bool(fences), bool(ground), zones, text)
    return Sheet(scene, scale)


def _grid(scene: Scene, frame: Frame, units: UnitSystem) -> None:
    step = 50 * M_PER_FT if units == "imperial" else 10.0
    while step * frame.scale.mm_per_m < 28:
        step *= 2
    x0, y0, x1, y1 = frame.box
    k = frame.scale.mm_per_m
    reach_e, reach_n = (x1 - x0) / 2 / k, (y1 - y0) / 2 / k
    ce, cn = frame.centre_m
    for i in range(math.ceil((ce - reach_e) / step), math.floor((ce + reach_e) / step) + 1):
        for j in range(math.ceil((cn - reach_n) / step), math.floor((cn + reach_n) / step) + 1):
            x, y = frame.point(i * step, j * step)
            scene.line([(x - 1.2, y), (x + 1.2, y)], "existing")
            scene.line([(x, y - 1.2), (x, y + 1.2)], "existing")


def _title_block(scene: Scene, panel: Box, scale: Scale, text: SheetText) -> float:
    """Draw the title block from the foot of the panel up; give its top."""
    x0, _, x1, y1 = panel
    inner = x1 - x0 - 7
    rows = [*text.title_block, (text.words["scale"], scale.text)]
    laid = [(head, wrapped(body, inner - 21, 7.5, lines=3)) for head, body in rows]
    height = 15.0 + sum(max(1, len(b)) * 3.6 + 2.0 for _, b in laid) + 1.5
    name = wrapped(text.project, inner, 12, "bold", lines=3)
    height += len(name) * 5.2
    top = y1 - height
    scene.line([(x0, top), (x1, top)], "heavy")
    y = top + 7.0
    for line in name:
        scene.note(Note(x0 + 3.5, y, line, 12, weight="bold"))
        y += 5.2
    scene.note(Note(x0 + 3.5, y + 1.2, text.title, 10, ink="accent", weight="semibold"))
    y += 5.0
    scene.line([(x0, y), (x1, y)], "line")
    for head, body in laid:
        lines = body or ["–"]
        scene.note(Note(x0 + 3.5, y + 4.1, head, 6.5, ink="grey"))
        for i, line in enumerate(lines):
            scene.note(Note(x0 + 24.5, y + 4.1 + i * 3.6, line, 7.5))
        y += len(lines) * 3.6 + 2.0
        scene.line([(x0, y), (x1, y)], "thin")
    return top


def _scale_and_north(
    scene: Scene, panel: Box, foot: float, scale: Scale, units: UnitSystem, text: SheetText
) -> float:
    x0, _, x1, _ = panel
    unit_m = M_PER_FT if units == "imperial" else 1.0
    room = x1 - x0 - 34
    step = 1.0
    for s in (1, 2, 5, 10, 20, 25, 50, 100, 200, 250, 500, 1000, 2000, 5000):
        if s * unit_m * scale.mm_per_m * 4 <= room:
            step = float(s)
    w = step * unit_m * scale.mm_per_m
    y = foot - 9.0
    x = x0 + 5.0
    for i in range(4):
        scene.rect(x + i * w, y, w, 1.5, "line", fill="black" if i % 2 == 0 else "white")
    unit = "ft" if units == "imperial" else "m"
    for i in (0, 2, 4):
        label = f"{i * step:g}" + (f" {unit}" if i == 4 else "")
        scene.note(Note(x + i * w, y - 1.2, label, 6.5, anchor="middle"))
    scene.note(Note(x, y + 5.0, text.words["true_scale"], 6.0, ink="grey"))
    cx, cy = x1 - 10.0, foot - 10.5
    scene.line([(cx, cy + 7), (cx, cy - 5.5)], "line")
    scene.shape([(cx, cy - 7.5), (cx + 2.0, cy - 0.5), (cx, cy - 2.0)], "line", fill="black")
    scene.shape([(cx, cy - 7.5), (cx - 2.0, cy - 0.5), (cx, cy - 2.0)], "line", fill="white")
    scene.note(Note(cx, cy - 9.0, text.words["north"], 9, anchor="middle", weight="bold"))
    top = foot - 25.0
    scene.line([(x0, top), (x1, top)], "line")
    return top


def _legend(
    scene: Scene,
    panel: Box,
    foot: float,
    trees: Sequence[PlanTree],
    works: Sequence[Work],
    fences: bool,
    ground: bool,
    zones: Sequence[PlanZone],
    text: SheetText,
) -> None:
    x0, y, x1, _ = panel
    words = text.words
    rows: list[tuple[Callable[[float, float], None] | None, str]] = [(None, words["legend_trees"])]

    def mark(name: str, *, remove: bool = False) -> Callable[[float, float], None]:
        return lambda x, y: draw_mark(scene, x + 5, y, 1.3, name, remove=remove)

    def pen(name: str) -> Callable[[float, float], None]:
        return lambda x, y: scene.line([(x, y), (x + 10, y)], name)

    def swatch(work: Work) -> Callable[[float, float], None]:
        return lambda x, y: draw_work(scene, work, rectangle(x, y - 1.7, x + 10, y + 1.7))

    present = {t.mark for t in trees}
    rows += [
        (mark(m), words[f"mark_{m}"])
        for m in ("keep", "keep_if", "redesign", "undecided", "none")
        if m in present
    ]
    if any(t.tree.decision == "remove" for t in trees):
        rows.append((mark("none", remove=True), words["mark_remove"]))
    rows += [
        (pen("crown"), words["line_crown"]),
        (pen("zone"), words["line_zone"]),
        (pen("structural"), words["line_structural"]),
    ]
    levels = {s.level for t in trees if has_cut_line(t) for s in shown_cuts(t)}
    if "keep" in levels:
        rows.append((lambda x, y: _cut_sample(scene, x, y, "cut"), words["line_cut"]))
    if "keep_if" in levels:
        rows.append((lambda x, y: _cut_sample(scene, x, y, "cut_if"), words["line_cut_if"]))
    if levels:
        rows.append((pen("cut_band"), words["line_cut_band"]))
    if fences:
        rows.append((lambda x, y: _fence_sample(scene, x, y), words["line_fence"]))
    if ground:
        rows.append(
            (
                lambda x, y: shade(scene, rectangle(x, y - 1.7, x + 10, y + 1.7)),
                words["line_fenced"],
            )
        )
    for zone in {z.hatch: z for z in zones}.values():
        rows.append((_zone_sample(scene, zone), zone.legend))
    rows.append((None, words["legend_works"]))
    for phase in PHASES:
        kinds = sorted({w.kind for w in works if w.phase == phase and w.present != "no"})
        for kind in kinds:
            sample = Work("", kind, (Part("point", ((0.0, 0.0),)),), phase=phase)
            label = words["works_row"].replace("{kind}", words.get(f"kind_{kind}", kind))
            label = label.replace("{phase}", words[f"phase_{phase}"])
            if hatch_for(kind) is None:
                rows.append((_line_sample(scene, sample), label))
            else:
                rows.append((swatch(sample), label))
    noted = [wrapped(n, x1 - x0 - 7, 6.5, lines=6) for n in text.notes]
    pitch = 6.5 * MM_PER_PT * 1.3
    below = 3.5 + sum(len(lines) * pitch + 1.0 for lines in noted)
    step = min(5.0, (foot - y - 4.0 - below) / max(len(rows), 1))
    y += 3.0
    for draw, label in rows:
        y += step
        if draw is None:
            scene.note(Note(x0 + 3.5, y, label, 8, weight="semibold"))
            continue
        draw(x0 + 4.0, y - 1.0)
        label = "".join(wrapped(label, x1 - x0 - 21, 7, lines=1))
        scene.note(Note(x0 + 18.0, y, label, 7))
    y += 2.5
    for lines in noted:
        for line in lines:
            y += pitch
            scene.note(Note(x0 + 3.5, y, line, 6.5, ink="grey"))
        y += 1.0


def _left_out(board: LabelBoard, text: SheetText) -> tuple[str, ...]:
    """Say how many labels found no room; tree numbers are the bold ones."""
    if not board.left_out:
        return ()
    trees = sum(label.weight == "bold" for label in board.left_out)
    said = text.words["left_out"].replace("{trees}", f"{trees:,}")
    return (said.replace("{works}", f"{len(board.left_out) - trees:,}"),)


def _zone_sample(scene: Scene, zone: PlanZone) -> Callable[[float, float], None]:
    return lambda x, y: draw_zone(scene, zone, rectangle(x, y - 1.7, x + 10, y + 1.7))


def _line_sample(scene: Scene, work: Work) -> Callable[[float, float], None]:
    return lambda x, y: draw_work(scene, work, LineString([(x, y), (x + 10, y)]))


def _cut_sample(scene: Scene, x: float, y: float, pen: str) -> None:
    scene.line([(x, y - 0.4), (x + 10, y - 0.4)], pen)
    for i in range(5):
        scene.line([(x + 1 + 2 * i, y - 0.4), (x + 1 + 2 * i, y + 0.6)], "cut_tick")


def _fence_sample(scene: Scene, x: float, y: float) -> None:
    scene.line([(x, y), (x + 10, y)], "bold")
    for i in range(3):
        cx = x + 1.7 + 3.3 * i
        scene.line([(cx - 0.55, y - 0.55), (cx + 0.55, y + 0.55)], "line")
        scene.line([(cx - 0.55, y + 0.55), (cx + 0.55, y - 0.55)], "line")
