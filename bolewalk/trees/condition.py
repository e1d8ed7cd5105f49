"""What was seen of a tree, kept apart from what is thought of it."""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import combinations
from typing import Literal, get_args

from bolewalk.model.words import GRADES, Grade
from bolewalk.reference.tables import read_rows
from bolewalk.trees.risk import LEVELS, Level

__all__ = [
    "PARTS", "Condition", "Contradiction", "Mixed", "Observation", "Opinion", "Part", "Seen",
    "contradictions", "mixed_with_opinion", "unseen",
]  # fmt: skip

Part = Literal["roots", "root flare", "trunk", "union", "scaffold limb", "crown", "site"]
PARTS: tuple[Part, ...] = get_args(Part)
Seen = Literal["seen", "not there", "could not see"]


@dataclass(frozen=True, slots=True)
class Observation:
    """One thing looked for on one part of the tree.

    Attributes
    ----------
    part : str
        A word of `PARTS`.
    sign : str
        What was looked for: "cavity", "fruiting body", "included bark", "deadwood".
    seen : str
        seen, not there, or could not see: silence is none of these.
    words : str
        As observed: sizes, places, counts.
    seen_from : str
        Where the assessor stood and with what: "ground, south side, mallet".
    why_not : str
        Why it could not be seen, for seen = "could not see".
    start_s : float or None
        Second of the recording.
    """

    part: Part
    sign: str
    seen: Seen
    words: str = ""
    seen_from: str = ""
    why_not: str = ""
    start_s: float | None = None

    def __post_init__(self) -> None:
        if self.part not in PARTS:
            raise ValueError(f"part is {self.part!r}; it must be one of: {', '.join(PARTS)}.")
        if self.seen not in get_args(Seen):
            raise ValueError(f"seen is {self.seen!r}; it must be one of: {get_args(Seen)}.")
        if self.seen == "could not see" and not self.why_not:
            raise ValueError(f"{self.part}, {self.sign}: say why it could not be seen.")


@dataclass(frozen=True, slots=True)
class Opinion:
    """A judgement, whose it is, and which observations it stands on.

    `because` indexes `Condition.observations`: an opinion that names none is refused.
    """

    about: Literal["health", "structure"]
    grade: Grade
    because: tuple[int, ...]
    by: str
    level: Level

    def __post_init__(self) -> None:
        if self.grade not in GRADES:
            raise ValueError(f"grade is {self.grade!r}; it must be one of: {', '.join(GRADES)}.")
        if self.level not in LEVELS:
            raise ValueError(f"level is {self.level!r}; it must be one of: {', '.join(LEVELS)}.")
        if not self.because:
            raise ValueError(f"the opinion on {self.about} names no observation it stands on.")


@dataclass(frozen=True, slots=True)
class Condition:
    """Observations and the opinions on them."""

    observations: tuple[Observation, ...]
    opinions: tuple[Opinion, ...] = ()

    def __post_init__(self) -> None:
        for opinion in self.opinions:
            for i in opinion.because:
                if not 0 <= i < len(self.observations):
                    raise ValueError(
                        f"the opinion on {opinion.about} stands on observation {i}, and there are "
                        f"{len(self.observations)}."
                    )


@dataclass(frozen=True, slots=True)
class Contradiction:
    """The same sign on the same part, once seen and once not there: both stay, with both times."""

    first: Observation
    second: Observation


@dataclass(frozen=True, slots=True)
class Mixed:
    """A word of opinion inside an observation, and what to write instead."""

    observation: Observation
    word: str
    instead: str


def contradictions(observations: Sequence[Observation]) -> tuple[Contradiction, ...]:
    """Give every pair of observations that cannot both hold, in their order."""
    return tuple(
        Contradiction(a, b)
        for a, b in combinations(observations, 2)
        if (a.part, a.sign) == (b.part, b.sign) and {a.seen, b.seen} == {"seen", "not there"}
    )


def unseen(observations: Sequence[Observation]) -> tuple[Observation, ...]:
    """Give what could not be seen and was not seen at another moment either."""
    settled = {(o.part, o.sign) for o in observations if o.seen != "could not see"}
    return tuple(
        o for o in observations
        if o.seen == "could not see" and (o.part, o.sign) not in settled
    )  # fmt: skip


def mixed_with_opinion(observations: Sequence[Observation]) -> tuple[Mixed, ...]:
    """Find words of opinion in the observations' own words."""
    return tuple(
        Mixed(o, word, instead)
        for o in observations
        for word, instead, pattern in _opinion_words()
        if pattern.search(f"{o.sign} {o.words}")
    )


@lru_cache(maxsize=1)
def _opinion_words() -> tuple[tuple[str, str, re.Pattern[str]], ...]:
    return tuple(
        (r["word"], r["instead"], re.compile(rf"\b{re.escape(r['word'])}\b", re.IGNORECASE))
        for r in read_rows("opinion_words.csv")
    )
