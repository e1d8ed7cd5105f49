"""A drawing before it is set on paper or screen: strokes and notes in millimetres.

x runs right and y down from the top left corner. Strokes carry no text and notes no markup, so a
scene can be written as SVG or handed to the typesetter without a text from outside ever being
read as code.
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Literal

__all__ = [
    "PENS",
    "Anchor",
    "Ink",
    "Note",
    "Pen",
    "Point",
    "Scene",
    "Stroke",
    "Weight",
    "arc",
    "chords",
    "circle",
]

Point = tuple[float, float]
Ink = Literal["black", "grey", "pale", "wash", "shade", "accent", "white"]
Anchor = Literal["start", "middle", "end"]
Weight = Literal["regular", "semibold", "bold"]


@dataclass(frozen=True, slots=True)
class Pen:
    """A line type: width and dashes [mm]. `dash` empty = unbroken."""

    width_mm: float
    ink: Ink = "black"
    dash: tuple[float, ...] = ()


PENS: dict[str, Pen] = {
    "hair": Pen(0.09),
    "thin": Pen(0.13),
    "line": Pen(0.2),
    "bold": Pen(0.35),
    "heavy": Pen(0.5),
    "hatch": Pen(0.09),
    "hatch_existing": Pen(0.09, "grey"),
    "existing": Pen(0.18, "grey"),
    "later": Pen(0.25, "black", (1.6, 0.9)),
    "crown": Pen(0.13, "black", (1.5, 0.8)),
    "zone": Pen(0.16, "grey", (3.2, 0.8, 0.5, 0.8)),
    "structural": Pen(0.16, "grey", (0.35, 0.7)),
    "cut": Pen(0.4, "accent"),
    "cut_if": Pen(0.4, "accent", (1.8, 0.9)),
    "cut_tick": Pen(0.15, "accent"),
    "cut_band": Pen(0.13, "accent", (0.5, 0.5)),
    "boundary": Pen(0.3, "black", (6.0, 1.2, 0.6, 1.2, 0.6, 1.2)),
    "wire": Pen(0.16, "black", (2.5, 0.8)),
    "beam": Pen(0.2, "black", (0.9, 0.5)),
    "leader": Pen(0.09),
    "accent": Pen(0.35, "accent"),
    "grid": Pen(0.06, "pale"),
}


@dataclass(frozen=True, slots=True)
class Stroke:
    """Connected points drawn with a pen, filled or not. Empty `pen` = fill only."""

    points: tuple[Point, ...]
    pen: str = "line"
    closed: bool = False
    fill: Ink | None = None
    holes: tuple[tuple[Point, ...], ...] = ()


@dataclass(frozen=True, slots=True)
class Note:
    """Words on a drawing, their baseline at (x, y). `size_pt` of the type; `turn_deg` clockwise."""

    x: float
    y: float
    text: str
    size_pt: float = 6.5
    anchor: Anchor = "start"
    weight: Weight = "regular"
    italic: bool = False
    ink: Ink = "black"
    turn_deg: float = 0.0


@dataclass(slots=True)
class Scene:
    """A drawing of given size, painted in the order of its strokes, notes on top."""

    width_mm: float
    height_mm: float
    strokes: list[Stroke] = field(default_factory=list)
    notes: list[Note] = field(default_factory=list)

    def line(self, points: Iterable[Point], pen: str = "line") -> None:
        """Draw connected points."""
        self.strokes.append(Stroke(tuple(points), pen))

    def shape(
        self,
        points: Iterable[Point],
        pen: str = "line",
        *,
        fill: Ink | None = None,
        holes: Iterable[Sequence[Point]] = (),
    ) -> None:
        """Draw a closed outline."""
        self.strokes.append(Stroke(tuple(points), pen, True, fill, tuple(tuple(h) for h in holes)))

    def circle(self, x: float, y: float, r: float, pen: str, *, fill: Ink | None = None) -> None:
        """Draw a circle."""
        self.strokes.append(Stroke(circle(x, y, r), pen, True, fill))

    def rect(
        self, x: float, y: float, w: float, h: float, pen: str, *, fill: Ink | None = None
    ) -> None:
        """Draw a rectangle from its top left corner."""
        self.shape([(x, y), (x + w, y), (x + w, y + h), (x, y + h)], pen, fill=fill)

    def note(self, note: Note) -> None:
        """Set words."""
        self.notes.append(note)


def chords(r: float) -> int:
    """Give the number of chords that keep within 0.01 mm of a circle of radius `r` [mm]."""
    return max(16, math.ceil(math.pi / math.acos(max(0.0, 1 - 0.01 / max(r, 0.02)))))


def circle(x: float, y: float, r: float) -> tuple[Point, ...]:
    """Give a circle as chords no further than 0.01 mm from it."""
    n = chords(r)
    return tuple(
        (x + r * math.cos(2 * math.pi * i / n), y + r * math.sin(2 * math.pi * i / n))
        for i in range(n)
    )


def arc(x: float, y: float, r: float, from_deg: float, to_deg: float) -> list[Point]:
    """Give an arc by bearings clockwise from north (up), from < to, as chords of 2 degrees."""
    n = max(2, math.ceil((to_deg - from_deg) / 2) + 1)
    bearings = (math.radians(from_deg + (to_deg - from_deg) * i / (n - 1)) for i in range(n))
    return [(x + r * math.sin(b), y - r * math.cos(b)) for b in bearings]
