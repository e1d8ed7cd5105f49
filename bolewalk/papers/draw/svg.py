"""A scene written as SVG: linework alone for the typesetter, or with its words for a page."""

from html import escape
from itertools import groupby

from bolewalk.papers.draw.scene import PENS, Ink, Note, Scene, Stroke
from bolewalk.papers.draw.type_metrics import MM_PER_PT, printable

__all__ = ["INKS", "svg"]

INKS: dict[Ink, str] = {
    "black": "#141414",
    "grey": "#707070",
    "pale": "#c9c9c9",
    "wash": "#ededed",
    "shade": "#e4e4e0",
    "accent": "#9a3412",
    "white": "#ffffff",
}
"""One accent, a mason's red chalk; everything else is ink and its greys."""


def svg(scene: Scene, *, words: bool, title: str = "") -> str:
    """Write a scene as one SVG document.

    Parameters
    ----------
    scene : Scene
    words : bool
        Whether the notes are written too; without them the document holds no text at all.
    title : str
        Text alternative of the drawing, for a reader who cannot see it.

    Returns
    -------
    str
        SVG 1.1, sized in millimetres; every text escaped.
    """
    out = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{_n(scene.width_mm)}mm" '
        f'height="{_n(scene.height_mm)}mm" viewBox="0 0 {_n(scene.width_mm)} '
        f'{_n(scene.height_mm)}">'
    ]
    if title and words:
        out.append(f"<title>{escape(printable(title))}</title>")
    # Neighbours drawn alike become one path: a hatch of 2,000 lines is one element.
    for (pen, fill, closed), run in groupby(scene.strokes, key=lambda s: (s.pen, s.fill, s.closed)):
        if fill is None:
            out.append(_path("".join(_d(s) for s in run), pen, None, closed=closed))
        else:
            out.extend(_path(_d(s), pen, fill, closed=closed) for s in run)
    if words:
        out.extend(_text(n) for n in scene.notes)
    out.append("</svg>\n")
    return "\n".join(out)


def _path(d: str, pen_name: str, fill: Ink | None, *, closed: bool) -> str:
    painted = f'fill="{INKS[fill]}" fill-rule="evenodd"' if fill else 'fill="none"'
    if not pen_name:
        return f'<path d="{d}" {painted}/>'
    pen = PENS[pen_name]
    dash = f' stroke-dasharray="{" ".join(_n(v) for v in pen.dash)}"' if pen.dash else ""
    ends = 'stroke-linejoin="miter"' if closed else 'stroke-linecap="butt" stroke-linejoin="round"'
    return (
        f'<path d="{d}" {painted} stroke="{INKS[pen.ink]}" '
        f'stroke-width="{_n(pen.width_mm)}" {ends}{dash}/>'
    )


def _d(stroke: Stroke) -> str:
    rings = [stroke.points, *stroke.holes]
    end = "Z" if stroke.closed else ""
    # A hundredth of a millimetre is finer than any printer.
    return "".join("M" + "L".join(f"{_h(x)} {_h(y)}" for x, y in r) + end for r in rings if r)


def _text(note: Note) -> str:
    turn = f' transform="rotate({_n(note.turn_deg)} {_n(note.x)} {_n(note.y)})"'
    weight = {"regular": "400", "semibold": "600", "bold": "700"}[note.weight]
    return (
        f'<text x="{_n(note.x)}" y="{_n(note.y)}" font-size="{_n(note.size_pt * MM_PER_PT)}" '
        f'font-family="Source Sans 3, sans-serif" font-weight="{weight}" '
        f"{'font-style=' + chr(34) + 'italic' + chr(34) + ' ' if note.italic else ''}"
        f'text-anchor="{note.anchor}" fill="{INKS[note.ink]}"{turn if note.turn_deg else ""}>'
        f"{escape(printable(note.text))}</text>"
    )


def _h(value: float) -> str:
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def _n(value: float) -> str:
    text = f"{value:.3f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text
