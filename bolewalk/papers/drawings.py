"""Drawings in the form the templates place: linework as SVG, words beside it as plain text."""

from functools import lru_cache
from typing import Any

from bolewalk.papers.draw.marks import MARKS, draw_mark
from bolewalk.papers.draw.scene import Scene
from bolewalk.papers.draw.svg import INKS, svg

__all__ = ["as_data", "mark_svgs"]


def as_data(scene: Scene, *, alt: str) -> dict[str, Any]:
    """Give a scene as JSON values: size [mm], linework, notes."""
    return {
        "w": scene.width_mm,
        "h": scene.height_mm,
        "alt": alt,
        "lines": svg(scene, words=False),
        "notes": [
            {
                "x": round(n.x, 3), "y": round(n.y, 3), "text": n.text, "size": n.size_pt,
                "anchor": n.anchor, "weight": n.weight, "italic": n.italic,
                "ink": INKS[n.ink], "turn": n.turn_deg,
            }
            for n in scene.notes
        ],
    }  # fmt: skip


@lru_cache(maxsize=1)
def mark_svgs() -> dict[str, str]:
    """Give the small marks that stand beside a verdict's words."""
    out = {}
    for name in MARKS:
        scene = Scene(3.0, 3.0)
        draw_mark(scene, 1.5, 1.5, 1.15, name, remove=False)
        out[name] = svg(scene, words=False)
    scene = Scene(4.6, 4.6)
    draw_mark(scene, 2.3, 2.3, 1.15, "none", remove=True)
    out["remove"] = svg(scene, words=False)
    return out
