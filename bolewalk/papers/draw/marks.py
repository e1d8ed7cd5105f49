"""Marks at the trunk: one for each verdict, told apart by form, printed beside its word.

The same marks stand on the plan, in the tables and in the legend.
"""

import math

from bolewalk.papers.draw.scene import Scene, arc

__all__ = ["MARKS", "draw_mark"]

MARKS = ("keep", "keep_if", "redesign", "undecided", "none")
"""keep: full dot. keep_if: half dot. redesign: barred ring. undecided: ring with a dot in its
middle. none: small open ring, no verdict asked."""


def draw_mark(scene: Scene, x: float, y: float, r: float, mark: str, *, remove: bool) -> None:
    """Draw a trunk's mark of radius `r` [mm]; `remove` adds the two strokes of a felled tree."""
    if mark == "keep":
        scene.circle(x, y, r, "line", fill="black")
    elif mark == "keep_if":
        scene.circle(x, y, r, "line", fill="white")
        half = arc(x, y, r, 180.0, 360.0)
        scene.shape(half, "line", fill="black")
    elif mark == "redesign":
        scene.circle(x, y, r, "bold", fill="white")
        d = r * math.sqrt(0.5)
        scene.line([(x - d, y + d), (x + d, y - d)], "bold")
    elif mark == "undecided":
        scene.circle(x, y, r, "line", fill="white")
        scene.circle(x, y, r * 0.3, "hair", fill="black")
    else:
        scene.circle(x, y, r * 0.6, "line", fill="white")
    if remove:
        d = r * 1.75
        scene.line([(x - d, y - d), (x + d, y + d)], "line")
        scene.line([(x - d, y + d), (x + d, y - d)], "line")
