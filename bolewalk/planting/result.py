"""What the planting advice holds: everything the papers, the desk and the layers read."""

from dataclasses import dataclass

from bolewalk.model.statements import Statement
from bolewalk.planting.budget import WaterBudget
from bolewalk.planting.candidates import Candidate
from bolewalk.planting.fire import FireSpacing
from bolewalk.planting.later import Later
from bolewalk.planting.likeness import Likeness
from bolewalk.planting.lines import Planted, PlantingLine, WaterCard
from bolewalk.planting.placing import Placing
from bolewalk.planting.plan import PlantingPlan
from bolewalk.planting.room import Room
from bolewalk.planting.shade import SpotShade

__all__ = ["Alternative", "Gap", "KindRoom", "PlantingResult"]


@dataclass(frozen=True, slots=True)
class Gap:
    """What one tree that goes leaves: its crown, and the part no crown that stays covers [m2]."""

    tree: str
    crown_m2: float
    open_m2: float


@dataclass(frozen=True, slots=True)
class KindRoom:
    """Room for one kind, or one plant set by hand."""

    kind: str
    room: Room


@dataclass(frozen=True, slots=True)
class Alternative:
    """One whole alternative.

    `today_m2` is the ground under crowns before anything goes; `cover_m2` holds (year, ground
    under crowns) once the trees are gone and in later years; `water_l` the first year's,
    `water_later_l` the third's, 0 after it. `first_cost_minor` and `cost_20_minor` are
    None where a price is missing; `back_years` the year today's cover is back, None = not
    within the horizon.
    """

    name: str
    removed: tuple[str, ...]
    planted_count: int
    today_m2: float
    cover_m2: tuple[tuple[int, float], ...]
    water_l: float
    water_later_l: float
    first_cost_minor: int | None
    cost_20_minor: int | None
    back_years: int | None
    horizon: int
    said: tuple[Statement, ...]


@dataclass(frozen=True, slots=True)
class PlantingResult:
    """The planting advice of one survey.

    Attributes
    ----------
    plan : PlantingPlan
    candidates : tuple of Candidate
        Every plant of the palette with its reasons.
    gaps : tuple of Gap
    rooms : tuple of KindRoom
    fire : tuple of (kind, FireSpacing)
        One for each shrub kind where fire matters.
    placings : tuple of Placing
        One layout, or one for each fire basis where no guide was named.
    used : int or None
        Which of them the plants come from: the one with the widest spacing.
    plants : tuple of Planted
        By hand first, then laid out from west to east.
    lines : tuple of PlantingLine
    water : WaterCard
    budget : WaterBudget or None
        The Californian budget, where its inputs were given; gallons.
    later : Later
    shade : tuple of SpotShade
    likeness : tuple of Likeness
    alternatives : tuple of Alternative
    cost_minor : int or None
        Of the plants, None where one has no price.
    statements : tuple of Statement
        What to tell before anything is planted.
    """

    plan: PlantingPlan
    candidates: tuple[Candidate, ...]
    gaps: tuple[Gap, ...]
    rooms: tuple[KindRoom, ...]
    fire: tuple[tuple[str, FireSpacing], ...]
    placings: tuple[Placing, ...]
    used: int | None
    plants: tuple[Planted, ...]
    lines: tuple[PlantingLine, ...]
    water: WaterCard
    budget: WaterBudget | None
    later: Later
    shade: tuple[SpotShade, ...]
    likeness: tuple[Likeness, ...]
    alternatives: tuple[Alternative, ...]
    cost_minor: int | None
    statements: tuple[Statement, ...]
