"""The summary of a screening: one page with counts and a map, opened from disk."""

import html
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from bolewalk.model.words import VERDICT_WORDS, Verdict
from bolewalk.region.job import Site
from bolewalk.region.settings import settings

__all__ = ["Overview", "write_summary"]

_GRAVEST_FIRST: tuple[Verdict, ...] = ("redesign", "undecided", "keep_if", "keep")
_TOURS_SHOWN = 40
_CORNERS = 24  # of a work on the map, about: a pixel holds tens of metres of a city

_STYLE = """
body{font:15px/1.45 Georgia,serif;color:#000;background:#fff;max-width:960px;margin:2em auto;
padding:0 1em}
h1{font-size:1.5em;margin:0 0 .2em}h2{font-size:1.1em;margin:1.6em 0 .4em}
table{border-collapse:collapse;font-variant-numeric:tabular-nums}
th,td{text-align:left;padding:.15em 1em .15em 0;border-bottom:1px solid #999;vertical-align:top}
td.n,th.n{text-align:right}
svg{width:100%;height:auto;border:1px solid #000}
p.note{max-width:44em}
@media print{body{margin:0}}
"""

_SIZES = {
    "measured": "trunk measured",
    "class": "trunk given as a size class",
    "missing": "trunk not measured, or not usable",
}


@dataclass(frozen=True, slots=True)
class Overview:
    """What the page tells in words. `tours`: (number, stops, trees, straight metres)."""

    trees: str
    works: str
    method: str
    units: str
    frame: str
    rows: int
    left_out: int
    sizes: dict[str, int]
    repeated: int
    verdicts: dict[Verdict, int]
    visits: int
    tours: tuple[tuple[int, int, int, float], ...]


def write_summary(
    path: Path, overview: Overview, tables: Sequence[NDArray[Any]], site: Site
) -> Path:
    """Write the page.

    Parameters
    ----------
    path : Path
    overview : Overview
    tables : sequence of structured ndarray
        Judged partitions, in order.
    site : Site

    Raises
    ------
    OSError
        The file cannot be written.
    """
    o = overview
    near = sum(o.verdicts.values())
    parts = [
        "<!doctype html><html lang='en'><head><meta charset='utf-8'>",
        "<meta name='viewport' content='width=device-width'>",
        f"<title>{html.escape(o.works)} against {html.escape(o.trees)}</title>",
        f"<style>{_STYLE}</style></head><body>",
        f"<h1>{html.escape(o.works)} against {html.escape(o.trees)}</h1>",
        f"<p>{o.rows:,} rows read; works that matter to roots: {len(site.works):,}; "
        f"{near:,} trees have works in reach of their roots.</p>",
        "<h2>Verdicts on the works as drawn</h2>",
        _table(
            ("Verdict", "Trees", "Share of those in reach"),
            [
                (f"{v}: {VERDICT_WORDS[v]}", f"{o.verdicts[v]:,}", _share(o.verdicts[v], near))
                for v in _GRAVEST_FIRST
            ],
        ),
        "<p class='note'>Roots are taken to run straight out from the trunk, and what lies beyond "
        "the first cut met is counted as lost. This is a cautious comparison, not a forecast. "
        f"Root zones by {html.escape(o.method)}; plain numbers read as {o.units}; measured on "
        f"{html.escape(o.frame)}. Crowns were not looked at.</p>",
        "<h2>Map</h2>",
        _map(tables, site),
        "<h2>What was not known</h2>",
        _table(
            ("Of all rows", "Rows"),
            [
                *((_SIZES[k], f"{o.sizes[k]:,}") for k in _SIZES if k in o.sizes),
                ("no usable position: not judged", f"{o.left_out:,}"),
                ("id shared with another row: each judged by itself", f"{o.repeated:,}"),
            ],
        ),
        "<p class='note'>A tree is undecided where its size, its place, its species or something "
        "not told of the works moves it across the line between redesign and the rest. "
        "problems.csv lists every row and its reason.</p>",
        "<h2>Visits</h2>",
        f"<p>{o.visits:,} trees to look at, in {len(o.tours):,} tours; visits.csv gives them stop "
        "by stop. Lengths are straight lines between stops.</p>",
        _table(
            ("Tour", "Stops", "Trees", "Length, km"),
            [
                (str(k), f"{stops:,}", f"{trees:,}", f"{length / 1000:.1f}")
                for k, stops, trees, length in o.tours[:_TOURS_SHOWN]
            ],
        )
        if o.tours
        else "",
        f"<p>{len(o.tours) - _TOURS_SHOWN:,} more in visits.csv.</p>"
        if len(o.tours) > _TOURS_SHOWN
        else "",
        "<p class='note'>No tree is free of risk. A screening from tables replaces no visit; "
        "local codes, the utility, a licensed engineer, a surveyor or a lawyer decide what is "
        "theirs.</p></body></html>\n",
    ]
    path.write_text("\n".join(p for p in parts if p), encoding="utf-8", newline="\n")
    return path


def _share(part: int, whole: int) -> str:
    return f"{100 * part / whole:.1f} %" if whole else "–"


def _table(head: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    def line(cells: Sequence[str], tag: str) -> str:
        first, *rest = (html.escape(c) for c in cells)
        return f"<tr><{tag}>{first}</{tag}>" + "".join(
            f"<{tag} class='n'>{c}</{tag}>" for c in rest
        ) + "</tr>"  # fmt: skip

    return f"<table>{line(head, 'th')}{''.join(line(r, 'td') for r in rows)}</table>"


# --- map ---------------------------------------------------------------------------------------


def _map(tables: Sequence[NDArray[Any]], site: Site) -> str:
    boxes = [shapely.total_bounds(site.outlines)] if len(site.outlines) else []
    boxes += [
        np.array([t["x"].min(), t["y"].min(), t["x"].max(), t["y"].max()]) for t in tables if len(t)
    ]
    if not boxes:
        return "<p>Nothing to draw.</p>"
    b = np.array(boxes)
    low, high = b[:, :2].min(axis=0), b[:, 2:].max(axis=0)
    span = max(float((high - low).max()), 1.0)
    low, width = low - span * 0.02, settings().map_width_px
    scale = width / (span * 1.04)
    height = float((high - low)[1] + span * 0.02) * scale

    def at(x: float, y: float) -> str:
        return f"{(x - low[0]) * scale:.1f},{height - (y - low[1]) * scale:.1f}"

    total = sum(len(t) for t in tables)
    drawn = _works(site, at)
    if total <= settings().map_single_trees:
        marks, legend = _trees(tables, at), "circle: keep_if, square: undecided, cross: redesign"
    else:
        marks, legend = (
            _cells(tables, at, scale),
            (
                "discs: one for each square of the grid, area by the number of trees that cannot "
                "be kept as drawn or cannot be judged yet"
            ),
        )
    bar = 10.0 ** np.floor(np.log10(span / 3))
    bar_px = bar * scale
    words = f"{bar / 1000:g} km" if bar >= 1000 else f"{bar:g} m"
    rule = (
        f"<path d='M10,{height - 10:.1f}h{bar_px:.1f}' stroke='#000' stroke-width='2'/>"
        f"<text x='10' y='{height - 15:.1f}' font-size='12'>{words}</text>"
    )
    return (
        f"<svg viewBox='0 0 {width} {height:.0f}' role='img' aria-label='Map of the works and the "
        f"trees in their reach'>{drawn}{marks}{rule}</svg><p>Lines: works. {legend}. North is up."
        "</p>"
    )


def _works(site: Site, at: Any) -> str:
    size = shapely.length(site.outlines)
    rows = np.sort(np.argsort(-size, kind="stable")[: settings().map_lines])
    paths = []
    for i in rows.tolist():
        for part in site.works[i].parts:
            step = max(1, len(part.ring) // _CORNERS)
            ring = [*part.ring[::step], part.ring[-1]]
            close = "Z" if part.shape == "polygon" else ""
            paths.append("M" + "L".join(at(x, y) for x, y in ring) + close)
    look = "stroke='#555' stroke-width='1' fill='none' stroke-linecap='round'"
    return f"<path d='{''.join(paths)}' {look}/>"


_MARKS: dict[str, str] = {
    "keep_if": "<circle cx='{x}' cy='{y}' r='3' fill='#fff' stroke='#000'/>",
    "undecided": "<path d='M{x},{y}m-3,-3h6v6h-6z' fill='#fff' stroke='#000'/>",
    "redesign": "<path d='M{x},{y}m-3,-3l6,6m0,-6l-6,6' stroke='#a00' stroke-width='2'/>",
}


def _trees(tables: Sequence[NDArray[Any]], at: Any) -> str:
    found = []
    for t in tables:
        for x, y, verdict in zip(
            t["x"].tolist(), t["y"].tolist(), t["verdict"].tolist(), strict=True
        ):
            if verdict in _MARKS:
                px, py = at(x, y).split(",")
                found.append(_MARKS[verdict].format(x=px, y=py))
    return "".join(found)


def _cells(tables: Sequence[NDArray[Any]], at: Any, scale: float) -> str:
    side = settings().cell_m
    counts: dict[tuple[int, int], int] = {}
    for t in tables:
        grave = t[np.isin(t["verdict"], ("redesign", "undecided"))]
        cells, n = np.unique(np.stack([grave["cx"], grave["cy"]]), axis=1, return_counts=True)
        for (cx, cy), k in zip(cells.T.tolist(), n.tolist(), strict=True):
            counts[cx, cy] = counts.get((cx, cy), 0) + k
    most = max(counts.values(), default=1)
    found = []
    for (cx, cy), k in sorted(counts.items()):
        x, y = at((cx + 0.5) * side, (cy + 0.5) * side).split(",")
        r = max(1.0, side * scale * 0.48 * (k / most) ** 0.5)
        found.append(
            f"<circle cx='{x}' cy='{y}' r='{r:.1f}' fill='#a00' fill-opacity='.35' stroke='#a00'>"
            f"<title>{k} trees</title></circle>"
        )
    return "".join(found)
