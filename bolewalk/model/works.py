"""What is built, dug, laid or stored on the site, as footprints on the survey's grid."""

from dataclasses import dataclass, field
from typing import Literal

from bolewalk.model.figures import Figure
from bolewalk.model.words import Foundation, Making, Phase, PositionBasis, Presence, WorkKind

__all__ = ["LeftOut", "Part", "Ring", "Shape", "Work"]

Shape = Literal["point", "line", "polygon"]
Ring = tuple[tuple[float, float], ...]
"""(east, north) pairs [m]; a polygon ring is not closed by repeating its first point."""


@dataclass(frozen=True, slots=True)
class Part:
    """One geometry of a work: a point (one pair), a line (two or more) or a polygon (three or
    more, with holes). Curves have been turned into chords before they come here."""

    shape: Shape
    ring: Ring
    holes: tuple[Ring, ...] = ()


@dataclass(frozen=True, slots=True)
class Work:
    """One feature of the works. Lengths in metres; None = not told.

    `file` and `ref` say where it came from (file in the survey folder; feature number, entity
    handle); `drawing` is the title and revision of its drawing, "" where there is none.
    `entered` keeps the properties as they were written. `replaces` names the drawn work this one
    stands for, "" where it stands for none.
    """

    id: str
    kind: WorkKind
    parts: tuple[Part, ...]
    depth_m: Figure | None = None
    width_m: float = 0.0
    diameter_m: float | None = None
    made: Making | None = None
    founded: Foundation = "strip"
    low_m: float | None = None
    high_m: float | None = None
    clearance_m: float = 0.0
    phase: Phase = "proposed"
    basis: PositionBasis = "drawn"
    offset_m: float = 0.0
    present: Presence = "yes"
    file: str = ""
    ref: str = ""
    drawing: str = ""
    layer: str = ""
    label: str = ""
    replaces: str = ""
    entered: dict[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A work whose record could not be used, and which therefore stands in no figure.

    `name` is its id, its number, or its file where all of a file is meant. `extent_m` is west,
    south, east, north of what could be read of its place [m]; None = it may lie anywhere.
    """

    name: str
    file: str
    extent_m: tuple[float, float, float, float] | None = None
