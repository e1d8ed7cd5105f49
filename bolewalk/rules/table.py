"""Local rules as data: what a rule table holds once it was read."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Literal, get_args

from bolewalk.model.words import Decision, Owner

__all__ = [
    "ACTS", "PARTIES", "READINGS", "SEASON_KINDS", "Act", "Bond", "Consent", "DepositLimit",
    "DiggingRule", "FireRule", "Grove", "LineTold", "OwnerNamed", "Party", "Permit", "PermitGiven",
    "ProtectedZone", "ReadingName", "Replacement", "Rule", "RuleTable", "Season", "SeasonKind",
    "SizeTest", "SpeciesTest", "StemRule", "Window", "WireRule",
]  # fmt: skip

Act = Literal["remove", "prune", "roots", "trench", "grade", "build"]
ACTS: tuple[Act, ...] = get_args(Act)
"""What is done to a tree or in its root zone. roots: cutting them; trench: digging; grade:
cut or fill; build: anything put on the ground."""

ReadingName = Literal[
    "equal_area", "sum", "largest_plus_half_of_rest", "largest_plus_mean_of_rest", "two_largest"
]
READINGS: tuple[ReadingName, ...] = get_args(ReadingName)
"""The five ways of giving several stems one size; as in findings.json."""

StemRule = Literal[
    "equal_area", "sum", "largest_plus_half_of_rest", "largest_plus_mean_of_rest", "two_largest",
    "unknown",
]  # fmt: skip

SeasonKind = Literal["nesting", "raptors", "bats", "pruning", "disease", "other"]
SEASON_KINDS: tuple[SeasonKind, ...] = get_args(SeasonKind)

Party = Literal["client", "co-owner", "neighbour", "authority", "utility", "board"]
PARTIES: tuple[Party, ...] = get_args(Party)

Day = date
"""The class under a second name: a field named `date` hides the first inside its own class."""

Window = tuple[tuple[int, int], tuple[int, int]]
"""First and last day, both inclusive, as (month, day); the last may lie in the next year."""


@dataclass(frozen=True, slots=True)
class SpeciesTest:
    """Which plants an entry speaks of: names as written, with the keys they are compared by.

    `listed` empty = any plant. A key of one word is a whole genus.
    """

    listed: tuple[tuple[str, str], ...] = ()
    excepted: tuple[tuple[str, str], ...] = ()

    @property
    def any_plant(self) -> bool:
        """Whether every plant counts but for the exceptions."""
        return not self.listed


@dataclass(frozen=True, slots=True)
class SizeTest:
    """From which trunk on a tree counts. Thresholds are diameters [cm], girths turned by pi.

    `below_cm` is the upper end of a class, itself outside. `multi_from_cm` counts for trees of
    several stems; `heritage_cm` begins the higher class. `at_m` is where the rule measures.
    """

    stems: StemRule
    from_cm: float
    multi_from_cm: float
    below_cm: float | None = None
    heritage_cm: float | None = None
    at_m: float | None = None
    by_girth: bool = False


@dataclass(frozen=True, slots=True)
class Permit:
    """Who gives leave and what it takes. None = not told. `hearing_over` is the number of trees
    above which a hearing is held. `name` is the permit's name in the firm's rates. `working`
    counts the waits in working days; `expires_days` is how long a permit holds once given."""

    body: str
    name: str = ""
    fee_minor: int | None = None
    wait_days: int | None = None
    author: str = ""
    hearing_over: int | None = None
    hearing_wait_days: int | None = None
    working: bool = False
    expires_days: int | None = None


@dataclass(frozen=True, slots=True)
class PermitGiven:
    """A permit that was given. `trees` empty = every tree the rule covers; `until` is its last
    day, None = by the rule's own term."""

    rule: str
    date: date
    trees: tuple[str, ...] = ()
    number: str = ""
    until: Day | None = None


@dataclass(frozen=True, slots=True)
class Replacement:
    """What is planted for each tree removed."""

    ratio: int
    stock: str = ""
    like_for_like: bool = False


@dataclass(frozen=True, slots=True)
class Bond:
    """What is held until the replacements live."""

    years: int
    amount_minor: int | None = None


@dataclass(frozen=True, slots=True)
class Grove:
    """Trees protected together: from how many, each at most so far from the next [m], each of at
    least a size [cm]. None = not told."""

    trees: int
    within_m: float | None = None
    from_cm: float | None = None


@dataclass(frozen=True, slots=True)
class ProtectedZone:
    """The zone a rule draws: crown radius plus a margin, a least radius, or trunk diameters."""

    dripline_plus_m: float | None = None
    least_m: float | None = None
    trunk_times: float | None = None


@dataclass(frozen=True, slots=True)
class Rule:
    """One protected-tree rule; keys in docs/rules.md."""

    id: str
    place: str
    citation: str
    checked: date
    species: SpeciesTest
    acts: tuple[Act, ...]
    size: SizeTest | None = None
    grove: Grove | None = None
    native_only: bool = False
    planted_exempt: bool = False
    dead_exempt: bool = False
    height_from_m: float | None = None
    zone: str = ""
    in_zone: Literal["yes", "no", "unknown"] = "unknown"
    owner: tuple[Owner, ...] = ()
    prune_over_pct: float | None = None
    roots_over_pct: float | None = None
    permit: Permit | None = None
    replacement: Replacement | None = None
    bond: Bond | None = None
    protected_zone: ProtectedZone | None = None
    withheld_years: int | None = None
    penalty: str = ""
    emergency: str = ""


@dataclass(frozen=True, slots=True)
class Season:
    """A window of the year in which acts are barred, or (`only`) the only one they may be done
    in. `unless` says in words what lifts it."""

    id: str
    place: str
    citation: str
    checked: date
    kind: SeasonKind
    window: Window
    acts: tuple[Act, ...]
    species: SpeciesTest = field(default_factory=SpeciesTest)
    only: bool = False
    unless: str = ""
    buffer_m: float | None = None


@dataclass(frozen=True, slots=True)
class WireRule:
    """One wire of the site: its voltage, the clearance asked for, who may work near it."""

    id: str
    citation: str
    who: str
    work: str = ""
    kv: float | None = None
    clearance_m: float | None = None
    wait_days: int | None = None
    working: bool = False


@dataclass(frozen=True, slots=True)
class DiggingRule:
    """Notice before the ground is broken. Days are working days, the day of notice not counted."""

    citation: str
    notice_days: int
    expires_days: int | None = None
    hand_within_m: float | None = None
    call: str = ""


@dataclass(frozen=True, slots=True)
class FireRule:
    """What a fire rule asks of a tree within a distance of things built."""

    id: str
    citation: str
    of: tuple[str, ...]
    within_m: float
    asks: Decision
    measured_from: Literal["trunk", "crown"] = "trunk"
    species: SpeciesTest = field(default_factory=SpeciesTest)
    what: str = ""


@dataclass(frozen=True, slots=True)
class OwnerNamed:
    """Somebody who must sign for trees."""

    trees: tuple[str, ...]
    name: str
    party: Party


@dataclass(frozen=True, slots=True)
class Consent:
    """A consent that was given and is on record."""

    tree: str
    by: str
    party: Party
    acts: tuple[Act, ...]
    date: date
    how: str
    file: str = ""


@dataclass(frozen=True, slots=True)
class LineTold:
    """What was told of a trunk and a boundary line: distance from the trunk's middle to the line
    [m], growth of the trunk [cm of diameter a year]; None = not told."""

    tree: str
    distance_m: float | None = None
    growth_cm_year: float | None = None
    basis: Literal["surveyed", "fence", "told"] = "told"


@dataclass(frozen=True, slots=True)
class DepositLimit:
    """The most that may be asked for in advance: the lesser of the two that are told."""

    citation: str
    max_minor: int | None = None
    pct: float | None = None


@dataclass(frozen=True, slots=True)
class RuleTable:
    """One rules.toml. `left_out` names the rules and seasons that could not be read: where there
    are any, nothing on this table may be called unprotected or open."""

    file: str
    place: str
    source: str
    checked: date
    version: str = ""
    example: bool = False
    rules: tuple[Rule, ...] = ()
    seasons: tuple[Season, ...] = ()
    wires: tuple[WireRule, ...] = ()
    digging: DiggingRule | None = None
    fire: tuple[FireRule, ...] = ()
    owners: tuple[OwnerNamed, ...] = ()
    consents: tuple[Consent, ...] = ()
    lines: tuple[LineTold, ...] = ()
    deposit: DepositLimit | None = None
    permits: tuple[PermitGiven, ...] = ()
    holidays: tuple[date, ...] = ()
    left_out: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
