"""Where a scene has ink, so that labels can keep off it."""

import math

import numpy as np

from bolewalk.papers.draw.scene import PENS, Point, Scene

__all__ = ["inked"]


def inked(scene: Scene) -> np.ndarray[tuple[int, int], np.dtype[np.float64]]:
    """Give points along what is drawn, 1 mm apart, hatches left out."""
    short: list[tuple[Point, Point]] = []
    out = []
    for stroke in scene.strokes:
        if stroke.pen in ("hatch", "hatch_existing", "grid", "") or len(stroke.points) < 2:
            continue
        step = 1.0 if PENS[stroke.pen].width_mm > 0.15 else 1.6
        ring = [*stroke.points, stroke.points[0]] if stroke.closed else stroke.points
        if len(ring) == 2 and math.dist(*ring) <= step:
            short.append((ring[0], ring[1]))
            continue
        xy = np.array(ring)
        along = np.concatenate([[0.0], np.hypot(*np.diff(xy, axis=0).T).cumsum()])
        at = np.linspace(0.0, along[-1], max(2, math.ceil(along[-1] / step)))
        out.append(
            np.column_stack([np.interp(at, along, xy[:, 0]), np.interp(at, along, xy[:, 1])])
        )
    if short:
        out.append(np.array(short).reshape(-1, 2))
    return np.vstack(out) if out else np.empty((0, 2))
