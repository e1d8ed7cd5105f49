"""Labels that keep apart: each is tried in a ring of places, the least crowded one is taken.

Greedy in a fixed order, so the same drawing always gets the same labels.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bolewalk.papers.draw.scene import Note, Scene, Weight
from bolewalk.papers.draw.type_metrics import MM_PER_PT, width_mm, wrapped

__all__ = ["Label", "LabelBoard"]

_RINGS = (0.9, 2.2, 4.0, 6.5, 9.5, 13.0)
_BEARINGS = (45, 315, 135, 225, 90, 270, 0, 180, 22, 68, 112, 158, 202, 248, 292, 338)
_LEADER_FROM_MM = 1.9
_LONGEST_MM = 52.0
"""A longer label ends in an ellipsis; the tables hold it whole."""


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
    """The boxes taken so far on one sheet, within its drawing field."""

    def __init__(self, x0: float, y0: float, x1: float, y1: float) -> None:
        self._field = (x0, y0, x1, y1)
        self._hard: list[tuple[float, float, float, float]] = []
        self._soft: NDArray[np.float64] = np.empty((0, 2))

    def block(self, x0: float, y0: float, x1: float, y1: float) -> None:
        """Keep a box free of labels."""
        self._hard.append((x0, y0, x1, y1))

    def avoid(self, points: NDArray[np.float64]) -> None:
        """Add points [mm], shape (n, 2), that labels had better not cover."""
        self._soft = np.vstack([self._soft, points])

    def place(self, scene: Scene, label: Label) -> None:
        """Set one label, with a leader where it had to move away."""
        text = "".join(wrapped(label.text, _LONGEST_MM, label.size_pt, label.weight, lines=1))
        w = width_mm(text, label.size_pt, label.weight)
        h = label.size_pt * MM_PER_PT * 0.72
        best: tuple[float, float, float, float] | None = None
        for ring in _RINGS:
            for rank, bearing in enumerate(_BEARINGS):
                x, y = self._corner(label, w, h, ring, bearing)
                cost = self._cost(x, y, w, h) + ring * 1.1 + rank * 0.05
                if best is None or cost < best[0]:
                    best = (cost, x, y, ring)
            if best is not None and best[0] < 3.0:
                break
        assert best is not None
        _, x, y, ring = best
        self._hard.append((x - 0.4, y - 0.4, x + w + 0.4, y + h + 0.4))
        scene.rect(x - 0.3, y - 0.3, w + 0.6, h + 0.6, "", fill="white")
        if ring > _LEADER_FROM_MM:
            self._leader(scene, label, x, y, w, h)
        scene.note(
            Note(
                x, y + h, text, label.size_pt,
                weight=label.weight, italic=label.italic,
            )
        )  # fmt: skip

    def _corner(
        self, label: Label, w: float, h: float, ring: float, bearing: int
    ) -> tuple[float, float]:
        reach = label.clear_mm + ring
        dx, dy = math.sin(math.radians(bearing)), -math.cos(math.radians(bearing))
        cx, cy = label.x + dx * (reach + w / 2), label.y + dy * (reach + h / 2)
        return cx - w / 2, cy - h / 2

    def _cost(self, x: float, y: float, w: float, h: float) -> float:
        fx0, fy0, fx1, fy1 = self._field
        outside = max(0.0, fx0 - x, fy0 - y, x + w - fx1, y + h - fy1)
        cost = 1000.0 * (outside > 0) + outside
        for x0, y0, x1, y1 in self._hard:
            if x < x1 and x + w > x0 and y < y1 and y + h > y0:
                cost += 60.0 + 10 * min(x1 - x, x + w - x0) * min(y1 - y, y + h - y0)
        if len(self._soft):
            p = self._soft
            inside = (p[:, 0] > x) & (p[:, 0] < x + w) & (p[:, 1] > y) & (p[:, 1] < y + h)
            cost += 0.35 * float(np.count_nonzero(inside))
        return cost

    @staticmethod
    def _leader(scene: Scene, label: Label, x: float, y: float, w: float, h: float) -> None:
        ex = min(max(label.x, x - 0.3), x + w + 0.3)
        ey = min(max(label.y, y - 0.3), y + h + 0.3)
        length = math.hypot(ex - label.x, ey - label.y)
        if length <= label.clear_mm:
            return
        t = label.clear_mm / length
        start = label.x + (ex - label.x) * t, label.y + (ey - label.y) * t
        scene.line([start, (ex, ey)], "leader")
