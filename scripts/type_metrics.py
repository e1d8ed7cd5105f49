"""Read the widths and the coverage of the papers' fonts into bolewalk/papers/draw/data.

Run after a font has changed: python scripts/type_metrics.py
"""

import json
from pathlib import Path
from typing import Any

from fontTools.ttLib import TTFont

ROOM = Path(__file__).parents[1] / "bolewalk" / "papers"
WEIGHTS = {"regular": "Regular", "semibold": "Semibold", "bold": "Bold"}
FALLBACKS = ("DejaVuSans.ttf", "DroidSansFallback.ttf")


def metrics() -> dict[str, Any]:
    """Give what the fonts say: units per em, advance widths by weight, code points carried."""
    advances: dict[str, dict[str, int]] = {}
    carried: set[int] = set()
    em = 0
    for weight, name in WEIGHTS.items():
        with TTFont(ROOM / "fonts" / f"SourceSans3-{name}.otf") as font:
            em = font["head"].unitsPerEm
            cmap, widths = font.getBestCmap(), font["hmtx"].metrics
            advances[weight] = {chr(c): widths[g][0] for c, g in sorted(cmap.items())}
            carried |= set(cmap) if weight == "regular" else set()
    for file in FALLBACKS:
        with TTFont(ROOM / "fonts" / file) as font:
            carried |= set(font.getBestCmap())
    return {"units_per_em": em, "advances": advances, "covered": runs(sorted(carried))}


def runs(points: list[int]) -> list[list[int]]:
    """Give sorted code points as first and last of each unbroken run."""
    out: list[list[int]] = []
    for p in points:
        if out and p == out[-1][1] + 1:
            out[-1][1] = p
        else:
            out.append([p, p])
    return out


if __name__ == "__main__":
    target = ROOM / "draw" / "data" / "type_metrics.json"
    target.write_text(json.dumps(metrics(), ensure_ascii=True, separators=(",", ":")) + "\n")
