"""The rose of one tree: how much of each side's root zone would be lost."""

import math
from collections.abc import Mapping

from shapely.geometry import Polygon

from bolewalk.impact.results import COMPASS
from bolewalk.papers.draw.hatches import Hatch, hatch_lines
from bolewalk.papers.draw.scene import Note, Scene, arc

__all__ = ["draw_rose"]

_LOST = Hatch((45.0,), 1.1)


def draw_rose(
    sectors_pct: Mapping[str, float],
    *,
    size_mm: float,
    structural_share: float | None,
    north: str,
) -> Scene:
    """Draw eight sectors, the lost share of each hatched from the outside in, true to area.

    Roots beyond a cut are lost, so what is lost of a sector lies outside; a sector that loses p
    percent of its area is hatched from R * sqrt(1 - p/100) out to R.

    Parameters
    ----------
    sectors_pct : mapping
        Severed share [percent] by compass name.
    size_mm : float
        Side of the square drawing.
    structural_share : float or None
        Structural radius over zone radius, drawn as a dotted ring.
    north : str
        The word or letter for north.
    """
    scene = Scene(size_mm, size_mm)
    c = size_mm / 2
    r = c - 5.2
    for i, name in enumerate(COMPASS):
        share = min(max(sectors_pct.get(name, 0.0), 0.0), 100.0)
        start, end = 45.0 * i - 22.5, 45.0 * i + 22.5
        if share > 0:
            inner = r * math.sqrt(1 - share / 100)
            outer = arc(c, c, r, start, end)
            back = arc(c, c, inner, start, end)[::-1] if inner > 0.05 else [(c, c)]
            piece = outer + back
            scene.shape(piece, "", fill="wash")
            for line in hatch_lines(Polygon(piece), _LOST):
                scene.line(line, "hatch")
            scene.shape(piece, "thin")
        b = math.radians(start)
        scene.line([(c, c), (c + r * math.sin(b), c - r * math.cos(b))], "grid")
    scene.circle(c, c, r, "line")
    if structural_share is not None and structural_share < 1:
        scene.circle(c, c, r * structural_share, "structural")
    scene.circle(c, c, 0.55, "", fill="black")
    for i, name in enumerate(COMPASS):
        b = math.radians(45.0 * i)
        x, y = c + (r + 2.7) * math.sin(b), c - (r + 2.7) * math.cos(b)
        share = sectors_pct.get(name, 0.0)
        text = north if i == 0 and share < 0.5 else f"{share:.0f}" if share >= 0.5 else "·"
        bold = share >= 0.5
        scene.note(Note(x, y + 0.85, text, 6.2, "middle", "semibold" if bold else "regular",
                        ink="black" if bold else "grey"))  # fmt: skip
    return scene
