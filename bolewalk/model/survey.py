"""A survey: one property, one walk, its trees and the works planned among them."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Literal

from bolewalk.model.trees import Tree
from bolewalk.model.units import UnitSystem
from bolewalk.model.words import Purpose
from bolewalk.model.works import LeftOut, Work

__all__ = [
    "ROOT_ZONE_METHODS", "Drawing", "Method", "People", "Person", "RootZoneMethod", "Site",
    "Survey",
]  # fmt: skip

RootZoneMethod = Literal["bs5837-2012", "as4970-2009", "inch-foot", "tolerance-age", "din18920"]
ROOT_ZONE_METHODS: tuple[RootZoneMethod, ...] = (
    "bs5837-2012", "as4970-2009", "inch-foot", "tolerance-age", "din18920",
)  # fmt: skip


Day = date
"""The class under a second name: a field named `date` hides the first inside its own class."""


@dataclass(frozen=True, slots=True)
class Person:
    """Someone named in the papers. `expires` is the credential's last valid day."""

    name: str
    role: str
    credential: str = ""
    number: str = ""
    expires: date | None = None
    contact: str = ""


@dataclass(frozen=True, slots=True)
class People:
    """The assessor, the client and others."""

    assessor: Person | None = None
    client: Person | None = None
    others: tuple[Person, ...] = ()


@dataclass(frozen=True, slots=True)
class Drawing:
    """A plan that was read: what a report must name."""

    file: str
    title: str = ""
    revision: str = ""
    date: Day | None = None
    author: str = ""

    @property
    def label(self) -> str:
        """Title and revision, as papers print it."""
        name = self.title or self.file
        return f"{name}, revision {self.revision}" if self.revision else name


@dataclass(frozen=True, slots=True)
class Method:
    """Choices of method. `cut_length_m` None = across the whole zone."""

    root_zone: RootZoneMethod
    growth_region: str | None = None
    cut_length_m: float | None = None
    cut_bearings: Literal[8, 16] = 8
    root_zone_defaulted: bool = False


@dataclass(frozen=True, slots=True)
class Site:
    """The ground and the way to the truck. None = not told."""

    slope_pct: float | None = None
    slope_bearing_deg: float | None = None
    carry_m: float | None = None
    gate_m: float | None = None


@dataclass(frozen=True, slots=True)
class Survey:
    """Everything known of the site. `m_per_grid_unit` turns grid coordinates of the crs (or of
    the survey's own grid) into the metres used inside and back. `left_out` are works whose records
    could not be used: a tree near one is not judged as if it were not there. `told` holds texts
    that papers print as they stand, "site.soil" -> its text."""

    name: str
    date: date
    units: UnitSystem
    purpose: Purpose
    method: Method
    crs: str | None = None
    m_per_grid_unit: float = 1.0
    people: People = field(default_factory=People)
    site: Site = field(default_factory=Site)
    trees: tuple[Tree, ...] = ()
    works: tuple[Work, ...] = ()
    drawings: tuple[Drawing, ...] = ()
    place: str = ""
    told: Mapping[str, str] = field(default_factory=dict)
    left_out: tuple[LeftOut, ...] = ()
