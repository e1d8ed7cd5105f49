"""A tree as it was found on the walk."""

from dataclasses import dataclass, field

from bolewalk.model.figures import Figure
from bolewalk.model.words import Age, CrownForm, Decision, Grade, Owner, Tolerance

__all__ = ["Crown", "Species", "Tree"]


@dataclass(frozen=True, slots=True)
class Species:
    """What the plant was called and what it was taken for.

    `botanical` is None where nothing matched well enough: the words as heard then stand alone.
    """

    botanical: str | None
    common: str | None
    as_heard: str
    confidence: float | None = None
    alternatives: tuple[str, ...] = ()

    @property
    def label(self) -> str:
        """Common name where there is one, else botanical, else the words as heard."""
        return self.common or self.botanical or self.as_heard

    @property
    def genus(self) -> str | None:
        """First word of the botanical name, None where not matched."""
        return self.botanical.split()[0] if self.botanical else None


@dataclass(frozen=True, slots=True)
class Crown:
    """Crown radii on four sides [m]; one basis for all four."""

    north_m: float
    east_m: float
    south_m: float
    west_m: float
    basis: Figure

    @property
    def radii_m(self) -> tuple[float, float, float, float]:
        """North, east, south, west [m]."""
        return self.north_m, self.east_m, self.south_m, self.west_m

    @property
    def mean_m(self) -> float:
        """Mean of the four radii [m]."""
        return sum(self.radii_m) / 4


@dataclass(frozen=True, slots=True)
class Tree:
    """One row of the tree table. Lengths in metres, trunks in centimetres, None = not recorded.

    `x_m`, `y_m` are on the survey's grid (east, north), both None where the tree is not located.
    `stems_cm` holds one figure a stem, empty where no trunk was measured; `by_girth` tells that
    the figures were derived from girth. `row` is the row in the tree table file (header = 1).
    """

    id: str
    species: Species
    row: int | None = None
    x_m: float | None = None
    y_m: float | None = None
    stems_cm: tuple[Figure, ...] = ()
    by_girth: bool = False
    height_m: Figure | None = None
    crown_base_m: Figure | None = None
    crown: Crown | None = None
    flare_cm: Figure | None = None
    measured_at_m: float | None = None
    age: Age | None = None
    health: Grade | None = None
    structure: Grade | None = None
    owner: Owner = "unknown"
    decision: Decision | None = None
    form: CrownForm | None = None
    tag: str = ""
    photo: str = ""
    tolerance: Tolerance | None = None
    access: str = ""
    failure: str = ""
    impact: str = ""
    consequence: str = ""
    notes: str = ""
    entered: dict[str, str] = field(default_factory=dict)
    """Every cell of the row as it was written, unknown columns included."""
    offset_m: float | None = None
    """How far off the position may be [m]."""

    @property
    def located(self) -> bool:
        """Whether plan questions can be answered for this tree."""
        return self.x_m is not None and self.y_m is not None
