"""The closed sets of words of the survey: decisions, verdicts, conditions, kinds of works."""

from typing import Literal

__all__ = [
    "AGES", "CROWN_FORMS", "DECISIONS", "FOUNDATIONS", "GRADES", "MAKINGS", "OWNERS", "PHASES",
    "POSITION_BASES", "PRESENCES", "PURPOSES", "TOLERANCES", "VERDICTS", "VERDICT_WORDS",
    "WORK_KINDS",
    "Age", "CrownForm", "Decision", "Foundation", "Grade", "Making", "Owner", "Phase",
    "PositionBasis", "Presence", "Purpose", "Tolerance", "Verdict", "WorkKind",
]  # fmt: skip

Decision = Literal["retain", "prune", "remove", "monitor", "inspect"]
DECISIONS: tuple[Decision, ...] = ("retain", "prune", "remove", "monitor", "inspect")

Verdict = Literal["keep", "keep_if", "redesign", "undecided"]
VERDICTS: tuple[Verdict, ...] = ("keep", "keep_if", "redesign", "undecided")
VERDICT_WORDS: dict[Verdict, str] = {
    "keep": "can be kept as drawn",
    "keep_if": "can be kept if ...",
    "redesign": "cannot be kept as drawn",
    "undecided": "cannot be judged until ...",
}

Purpose = Literal["estimate", "opinion", "hazard visit"]
PURPOSES: tuple[Purpose, ...] = ("estimate", "opinion", "hazard visit")

Age = Literal["young", "semi-mature", "mature", "over-mature"]
AGES: tuple[Age, ...] = ("young", "semi-mature", "mature", "over-mature")

Grade = Literal["good", "fair", "poor", "dead"]
GRADES: tuple[Grade, ...] = ("good", "fair", "poor", "dead")

Owner = Literal["client", "neighbour", "shared", "public", "unknown"]
OWNERS: tuple[Owner, ...] = ("client", "neighbour", "shared", "public", "unknown")

Tolerance = Literal["good", "moderate", "poor"]
TOLERANCES: tuple[Tolerance, ...] = ("good", "moderate", "poor")

CrownForm = Literal["spheroid", "half-spheroid", "cone", "column", "umbrella", "palm"]
CROWN_FORMS: tuple[CrownForm, ...] = (
    "spheroid", "half-spheroid", "cone", "column", "umbrella", "palm",
)  # fmt: skip

WorkKind = Literal[
    "pile", "trench", "excavation", "strip footing", "slab", "fill", "paving", "building", "roof",
    "access", "storage", "fence", "wire", "boundary", "beam", "drain", "utility", "wall",
]  # fmt: skip
WORK_KINDS: tuple[WorkKind, ...] = (
    "pile", "trench", "excavation", "strip footing", "slab", "fill", "paving", "building", "roof",
    "access", "storage", "fence", "wire", "boundary", "beam", "drain", "utility", "wall",
)  # fmt: skip

Making = Literal["hand", "air", "bored", "machine", "trenchless"]
MAKINGS: tuple[Making, ...] = ("hand", "air", "bored", "machine", "trenchless")

Foundation = Literal["strip", "slab", "piles"]
FOUNDATIONS: tuple[Foundation, ...] = ("strip", "slab", "piles")

Phase = Literal["existing", "proposed", "possible later"]
PHASES: tuple[Phase, ...] = ("existing", "proposed", "possible later")

PositionBasis = Literal["staked", "surveyed", "drawn", "assumed"]
POSITION_BASES: tuple[PositionBasis, ...] = ("staked", "surveyed", "drawn", "assumed")

Presence = Literal["yes", "no", "unknown"]
PRESENCES: tuple[Presence, ...] = ("yes", "no", "unknown")
