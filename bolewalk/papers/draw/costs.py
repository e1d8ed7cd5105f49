"""What a tree costs over the years: one stepped line for each way to go, added up."""

from collections.abc import Sequence
from itertools import accumulate

from bolewalk.papers.draw.scene import Note, Scene
from bolewalk.papers.draw.type_metrics import width_mm

__all__ = ["draw_costs"]

_PENS = ("bold", "later", "wire", "accent")
_STEPS = (1, 2, 2.5, 5)


def _tick(top: float) -> float:
    power = 1.0
    while True:
        for s in _STEPS:
            if top / (s * power) <= 5:
                return s * power
        power *= 10


def draw_costs(
    paths: Sequence[tuple[str, Sequence[float]]],
    *,
    width_mm_: float,
    height_mm: float,
    currency: str,
    year: str,
) -> Scene:
    """Draw running totals.

    Parameters
    ----------
    paths : sequence of (name, yearly)
        What is paid in years 0, 1, 2 ... in whole money, all of one length.
    width_mm_, height_mm : float
        Size of the drawing.
    currency, year : str
        Words at the axes.
    """
    scene = Scene(width_mm_, height_mm)
    totals = [(name, list(accumulate(yearly))) for name, yearly in paths]
    years = max((len(t) for _, t in totals), default=1) - 1
    tick = _tick(max((max(t) for _, t in totals), default=1.0) or 1.0)
    top = max((max(t) for _, t in totals), default=tick)
    names = max((width_mm(n, 7) for n, _ in totals), default=0.0)
    x0, y0 = 15.0, height_mm - 8.0
    x1, y1 = width_mm_ - names - 4.0, 5.0

    def place(y: float, money: float) -> tuple[float, float]:
        return x0 + (x1 - x0) * y / max(years, 1), y0 - (y0 - y1) * money / top

    money = 0.0
    while money <= top + 1e-9:
        at = place(0, money)
        scene.line([(x0, at[1]), (x1, at[1])], "grid")
        scene.note(Note(x0 - 1.5, at[1] + 0.9, f"{money:,.0f}", 6.5, "end", ink="grey"))
        money += tick
    step = next(s for s in (1, 2, 5, 10, 20, 50, 100) if years / s <= 10)
    for y in range(0, years + 1, step):
        at = place(y, 0)
        scene.line([at, (at[0], at[1] + 1.0)], "line")
        scene.note(Note(at[0], at[1] + 3.8, f"{y}", 6.5, "middle", ink="grey"))
    scene.line([(x0, y0), (x1, y0)], "line")
    scene.note(Note(x0 - 1.5, 2.4, currency, 6.5, "end", ink="grey"))
    scene.note(Note(x1 + 3.0, y0 + 3.8, year, 6.5, ink="grey"))
    ends: list[float] = []
    for i, (name, total) in enumerate(totals):
        points = [place(0, 0), place(0, total[0])]
        for y in range(1, len(total)):
            points += [place(y, total[y - 1]), place(y, total[y])]
        scene.line(points, _PENS[i % len(_PENS)])
        end = points[-1][1]
        while any(abs(end - e) < 3.0 for e in ends):
            end += 3.0
        ends.append(end)
        scene.note(Note(x1 + 1.5, end + 0.9, name, 7, weight="semibold"))
    return scene
