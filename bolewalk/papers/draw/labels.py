"""Labels that keep apart: each is tried in rings of places, the least crowded free one is taken.

Greedy in a fixed order, so the same drawing always gets the same labels. A label never covers
another, nor a trunk, nor a leader: where no place is free it is left out and counted, and the
sheet says so. What is taken is kept as a raster, so that the time for one label does not grow
with the number of labels.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bolewalk.papers.draw.scene import Note, Scene, Weight
from bolewalk.papers.draw.type_metrics import MM_PER_PT, width_mm, wrapped

__all__ = ["Label", "LabelBoard"]

_RINGS = (0.9, 2.2, 4.0, 6.5, 9.5, 13.0, 18.0)
_BEARINGS = (45, 315, 135, 225, 90, 270, 0, 180, 22, 68, 112, 158, 202, 248, 292, 338)
_TURNS = tuple((math.sin(math.radians(b)), -math.cos(math.radians(b))) for b in _BEARINGS)
_NEAR_RINGS = 4
_CROWDED = 150
"""Once so many labels found no place, the rest are not sought far out: long leaders across a full
sheet lead nowhere."""
_LEADER_FROM_MM = 1.9
_GOOD = 3.0
"""A place this cheap is taken without looking further out."""
_LONGEST_MM = 52.0
"""A longer label ends in an ellipsis; the tables hold it whole."""
_CELL_MM = 0.25
_SOFT_CELL_MM = 0.5
_GAP_MM = 0.4
"""Kept free about a label."""
_BLOCKED, _LABELLED = 1, 2


@dataclass(frozen=True, slots=True)
class Label:
    """Words to set near a point; `clear_mm` is the radius of what is drawn there."""

    x: float
    y: float
    text: str
    size_pt: float = 6.5
    weight: Weight = "regular"
    italic: bool = False
    clear_mm: float = 0.0


class LabelBoard:
    """What is taken so far on one sheet, within its drawing field [mm].

    Attributes
    ----------
    left_out : list of Label
        Those that found no free place, in the order they were tried.
    """

    def __init__(self, x0: float, y0: float, x1: float, y1: float) -> None:
        self._field = (x0, y0, x1, y1)
        self.left_out: list[Label] = []
        cells = (math.ceil((y1 - y0) / _CELL_MM) + 1, math.ceil((x1 - x0) / _CELL_MM) + 1)
        self._taken: NDArray[np.uint8] = np.zeros(cells, dtype=np.uint8)
        ratio = _SOFT_CELL_MM / _CELL_MM
        soft = (math.ceil(cells[0] / ratio) + 1, math.ceil(cells[1] / ratio) + 1)
        self._counts: NDArray[np.int64] = np.zeros(soft, dtype=np.int64)
        self._sums: NDArray[np.int64] | None = None

    def block(self, x0: float, y0: float, x1: float, y1: float) -> None:
        """Keep a box free of labels."""
        self._take(x0, y0, x1, y1, _BLOCKED)

    def _take(self, x0: float, y0: float, x1: float, y1: float, by: int) -> None:
        c0, r0, c1, r1 = self._cells(x0, y0, x1, y1)
        self._taken[max(r0, 0) : max(r1, 0), max(c0, 0) : max(c1, 0)] = by

    def avoid(self, points: NDArray[np.float64]) -> None:
        """Add points [mm], shape (n, 2), that labels had better not cover."""
        at = np.floor((points - np.array(self._field[:2])) / _SOFT_CELL_MM).astype(np.int64)
        rows, columns = self._counts.shape
        inside = (at >= 0).all(axis=1) & (at[:, 0] < columns) & (at[:, 1] < rows)
        np.add.at(self._counts, (at[inside, 1], at[inside, 0]), 1)
        self._sums = None

    def place(self, scene: Scene, label: Label) -> bool:
        """Set one label, with a leader where it had to move away.

        Returns
        -------
        bool
            False where no place was free; the label is then in `left_out`.
        """
        text = "".join(wrapped(label.text, _LONGEST_MM, label.size_pt, label.weight, lines=1))
        w = width_mm(text, label.size_pt, label.weight)
        h = label.size_pt * MM_PER_PT * 0.72
        found = self._best(label, w, h)
        if found is None:
            self.left_out.append(label)
            return False
        x, y, leader = found
        self._take(x - _GAP_MM, y - _GAP_MM, x + w + _GAP_MM, y + h + _GAP_MM, _LABELLED)
        scene.rect(x - 0.3, y - 0.3, w + 0.6, h + 0.6, "", fill="white")
        if leader:
            scene.line(leader, "leader")
            rows, columns = self._along(*leader)
            self._taken[rows, columns] = _LABELLED
        scene.note(
            Note(
                x, y + h, text, label.size_pt,
                weight=label.weight, italic=label.italic,
            )
        )  # fmt: skip
        return True

    def _best(
        self, label: Label, w: float, h: float
    ) -> tuple[float, float, list[tuple[float, float]]] | None:
        best: tuple[float, float, float, list[tuple[float, float]]] | None = None
        crowded = len(self.left_out) >= _CROWDED
        for ring in _RINGS[:_NEAR_RINGS] if crowded else _RINGS:
            if best is not None and best[0] < max(_GOOD, ring * 1.1):
                break
            for rank, (dx, dy) in enumerate(_TURNS):
                reach = label.clear_mm + ring
                x = label.x + dx * (reach + w / 2) - w / 2
                y = label.y + dy * (reach + h / 2) - h / 2
                if not self._free(x, y, w, h):
                    continue
                cost = 0.35 * self._crossed(x, y, w, h) + ring * 1.1 + rank * 0.05
                if best is not None and cost >= best[0]:
                    continue
                leader = [] if ring <= _LEADER_FROM_MM else _leader(label, x, y, w, h)
                if leader and not self._passes(leader):
                    continue
                best = (cost, x, y, leader)
        return None if best is None else best[1:]

    def _cells(self, x0: float, y0: float, x1: float, y1: float) -> tuple[int, int, int, int]:
        fx, fy = self._field[:2]
        return (
            math.floor((x0 - fx) / _CELL_MM),
            math.floor((y0 - fy) / _CELL_MM),
            math.ceil((x1 - fx) / _CELL_MM),
            math.ceil((y1 - fy) / _CELL_MM),
        )

    def _free(self, x: float, y: float, w: float, h: float) -> bool:
        fx0, fy0, fx1, fy1 = self._field
        if x < fx0 or y < fy0 or x + w > fx1 or y + h > fy1:
            return False
        c0, r0, c1, r1 = self._cells(x, y, x + w, y + h)
        return not self._taken[r0:r1, c0:c1].any()

    def _crossed(self, x: float, y: float, w: float, h: float) -> int:
        if self._sums is None:
            self._sums = np.zeros((self._counts.shape[0] + 1, self._counts.shape[1] + 1), np.int64)
            self._sums[1:, 1:] = self._counts.cumsum(axis=0).cumsum(axis=1)
        fx, fy = self._field[:2]
        c0, r0 = round((x - fx) / _SOFT_CELL_MM), round((y - fy) / _SOFT_CELL_MM)
        c1, r1 = round((x + w - fx) / _SOFT_CELL_MM), round((y + h - fy) / _SOFT_CELL_MM)
        s = self._sums
        return int(s[r1, c1] - s[r0, c1] - s[r1, c0] + s[r0, c0])

    def _along(
        self, start: tuple[float, float], end: tuple[float, float]
    ) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
        n = max(2, math.ceil(math.dist(start, end) / (_CELL_MM * 0.5)))
        t = np.linspace(0.0, 1.0, n)
        fx, fy = self._field[:2]
        columns = np.floor((start[0] + (end[0] - start[0]) * t - fx) / _CELL_MM).astype(np.int64)
        rows = np.floor((start[1] + (end[1] - start[1]) * t - fy) / _CELL_MM).astype(np.int64)
        inside = (
            (rows >= 0)
            & (columns >= 0)
            & (rows < self._taken.shape[0])
            & (columns < self._taken.shape[1])
        )
        return rows[inside], columns[inside]

    def _passes(self, leader: list[tuple[float, float]]) -> bool:
        """Tell whether a leader crosses nothing that is taken, but what it starts from."""
        taken = self._taken[self._along(*leader)]
        if not taken.any():
            return True
        # It may start on its own trunk; once off it, it must stay clear.
        first_free = int(np.argmax(taken != _BLOCKED))
        return taken[first_free] == 0 and not taken[first_free:].any()


def _leader(label: Label, x: float, y: float, w: float, h: float) -> list[tuple[float, float]]:
    ex = min(max(label.x, x - 0.3), x + w + 0.3)
    ey = min(max(label.y, y - 0.3), y + h + 0.3)
    length = math.hypot(ex - label.x, ey - label.y)
    if length <= label.clear_mm:
        return []
    t = label.clear_mm / length
    return [(label.x + (ex - label.x) * t, label.y + (ey - label.y) * t), (ex, ey)]
