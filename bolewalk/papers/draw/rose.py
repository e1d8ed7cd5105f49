"""The rose of one tree: how much of each side's root zone would be lost."""

import math
from collections.abc import Mapping

from shapely.geometry import Polygon

from bolewalk.impact.results import COMPASS
from bolewalk.papers.draw.hatches import Hatch, hatch_lines
from bolewalk.papers.draw.scene import Note, Scene, arc

__all__ = ["draw_rose"]

_LOST = Hatch((45.0,), 1.1)
_ARC_MM = 0.75
"""The heavy arc lies this far outside the root zone's ring, clear of the figures."""
_KEY_MM = 2.6


def draw_rose(
    sectors_pct: Mapping[str, float],
    *,
    size_mm: float,
    structural_share: float | None,
    north: str,
    best_half_bearing: float | None = None,
    must_keep: str = "",
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
    best_half_bearing : float or None
        Middle [deg] of the half circle that has lost least: what the other side lost, it must
        keep. Drawn as a heavy arc with closed ends; None where every half lost the same.
    must_keep : str
        Words that explain the arc, under the rose.
    """
    marked = best_half_bearing is not None and any(v >= 0.5 for v in sectors_pct.values())
    scene = Scene(size_mm, size_mm + (_KEY_MM if marked else 0.0))
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
    if marked and best_half_bearing is not None:
        heavy = r + _ARC_MM
        start, end = best_half_bearing - 90.0, best_half_bearing + 90.0
        scene.line(arc(c, c, heavy, start, end), "heavy")
        for edge in (start, end):
            b = math.radians(edge)
            scene.line(
                [
                    (c + (r - _ARC_MM) * math.sin(b), c - (r - _ARC_MM) * math.cos(b)),
                    (c + heavy * math.sin(b), c - heavy * math.cos(b)),
                ],
                "bold",
            )
        scene.note(Note(c, size_mm + 1.4, must_keep, 6.2, "middle", ink="grey"))
    for i, name in enumerate(COMPASS):
        b = math.radians(45.0 * i)
        x, y = c + (r + 2.7) * math.sin(b), c - (r + 2.7) * math.cos(b)
        share = sectors_pct.get(name, 0.0)
        text = north if i == 0 and share < 0.5 else f"{share:.0f}" if share >= 0.5 else "·"
        bold = share >= 0.5
        scene.note(Note(x, y + 0.85, text, 6.2, "middle", "semibold" if bold else "regular",
                        ink="black" if bold else "grey"))  # fmt: skip
    return scene
