"""What comes out of setting works against trees: the shapes every reader of it relies on."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from bolewalk.model.statements import Statement
from bolewalk.model.survey import RootZoneMethod
from bolewalk.model.words import Verdict

__all__ = [
    "COMPASS",
    "CrownClash",
    "CutLimit",
    "FillOver",
    "NearestCut",
    "Question",
    "QuestionAnswer",
    "RootLoss",
    "RootLosses",
    "RootZone",
    "Span",
    "TreeImpact",
    "TreeVerdict",
]

COMPASS: tuple[str, ...] = ("N", "NE", "E", "SE", "S", "SW", "W", "NW")

CutLimit = Literal["severed", "structural", "best_half", "already"]


@dataclass(frozen=True, slots=True)
class RootZone:
    """The root zone of one tree under one method.

    `outline_m` holds 360 distances from the trunk on whole degrees of bearing (0 = north,
    clockwise) where the method draws a polygon, else None and the zone is the disc of `radius_m`
    (for an outline, `radius_m` is its largest distance). `structural_by` names the formula and
    the diameter (flare or trunk) behind `structural_radius_m`. `notes` are statements a paper
    must print (capped, floor, palm rule, flare not measured).
    """

    method: RootZoneMethod
    radius_m: float
    structural_radius_m: float
    area_m2: float
    diameter_cm: float | None
    structural_by: Literal["flare", "trunk"] | None
    outline_m: tuple[float, ...] | None = None
    notes: tuple[Statement, ...] = ()
    sources: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class RootLoss:
    """Root loss of one tree from one set of works. Definitions: docs/roots.md.

    Shares in percent of the zone. `nearest_cut_m` None = no severing footprint at all.
    `severed_pct_range` is (all piles dodged, all piles blind). `best_half_bearing` None = every
    half-disc loses the same.
    """

    overlap_pct: float
    severed_pct: float
    severed_by_depth_pct: float
    covered_pct: float
    nearest_cut_m: float | None
    widest_clear_arc_deg: float
    best_half_severed_pct: float
    best_half_bearing: float | None
    severed_pct_range: tuple[float, float]
    sectors_pct: Mapping[str, float]


@dataclass(frozen=True, slots=True)
class RootLosses:
    """Running totals: existing alone, with proposed, with possible later works."""

    existing: RootLoss
    proposed: RootLoss
    with_later: RootLoss


Span = tuple[float | None, float | None]
"""Least and most of a distance [m]; None where the level is lost."""


@dataclass(frozen=True, slots=True)
class NearestCut:
    """Per compass bearing, how near a straight trench may come [m in plan, from trunk centre to
    its near face] before the verdict leaves the level; None where the level is lost already.

    All other works count as recorded. `keep_span` and `keep_if_span` hold what each distance
    comes to with tree, trunk and other works off by their errors, at best and at worst; `band_m`
    is the most by which any of them leaves the distance given. `tape_times` is how many times a
    distance a tape on sloping ground reads, by bearing; empty where it is told no slope.
    `notes` are statements a paper must print beside the distances.
    """

    keep: Mapping[str, float | None]
    keep_if: Mapping[str, float | None]
    limit_keep: Mapping[str, CutLimit]
    limit_keep_if: Mapping[str, CutLimit]
    band_m: float = 0.0
    keep_span: Mapping[str, Span] = field(default_factory=dict)
    keep_if_span: Mapping[str, Span] = field(default_factory=dict)
    tape_times: Mapping[str, float] = field(default_factory=dict)
    notes: tuple[Statement, ...] = ()


@dataclass(frozen=True, slots=True)
class CrownClash:
    """Crown against roofs, walls, wires. None = cannot be told from what was recorded."""

    volume_m3: float | None
    removed_pct: float | None
    clearance_m: float | None
    clash_in_years: float | None
    lowest_clash_m: float | None = None
    sides: tuple[str, ...] = ()
    thickest_limb_cm: float | None = None


@dataclass(frozen=True, slots=True)
class FillOver:
    """Fill over a root zone: area, volume in place and dug loose, loads to haul it off; `at_trunk`
    names what lies against the trunk. None = a thickness was not told."""

    works: tuple[str, ...]
    area_m2: float
    in_place_m3: float | None
    loose_m3: float | None
    loads: int | None
    at_trunk: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class QuestionAnswer:
    """One answer to a question and the verdict it leads to, other facts as recorded."""

    answer: Statement
    verdict: Verdict


@dataclass(frozen=True, slots=True)
class Question:
    """One missing fact that can change the verdict, for the person who can answer it.

    `flips` is the share (0..1) of joint combinations of the other facts in which this fact's
    values do not all give one verdict. `fact` identifies the fact across trees ("W4.depth").
    `flips_error` is the half width of its 95 % interval, 0 where every combination was tried.
    `only_with` is None where an answer by itself changes the verdict; else the other facts
    together with one of which it does, named as what need not be asked, or nothing where it takes
    several.
    """

    fact: str
    ask: Statement
    of: Literal["designer", "client", "surveyor", "locator", "builder", "assessor"]
    answers: tuple[QuestionAnswer, ...]
    flips: float
    flips_error: float = 0.0
    only_with: tuple[Statement, ...] | None = None


@dataclass(frozen=True, slots=True)
class TreeVerdict:
    """The verdict on one tree, tied to the drawings it was read from."""

    now: Verdict
    with_later: Verdict
    because: tuple[Statement, ...] = ()
    flips_if: tuple[Statement, ...] = ()
    conditions: tuple[Statement, ...] = ()
    drawings: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class TreeImpact:
    """Everything about works against one tree. `roots`, `nearest_cut` and `verdict` are None for
    a tree without position or without a trunk size; `missing` then says what is needed."""

    tree: str
    zone: RootZone | None
    roots: RootLosses | None
    nearest_cut: NearestCut | None
    crown: CrownClash | None
    verdict: TreeVerdict | None
    questions: tuple[Question, ...] = ()
    not_needed: tuple[Statement, ...] = ()
    missing: tuple[Statement, ...] = ()
    defaults: tuple[Statement, ...] = field(default=())
    fill: FillOver | None = None
