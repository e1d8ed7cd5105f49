"""Likelihood, impact and consequence by the two published matrices; nothing is scored.

The words and cells are those of the industry's best management practice used with ANSI A300
Part 9 (matrix 1 read in a council's street-tree plan; matrix 2 read there with its cell order
from memory). They stand in `risk_likelihood.csv` and `risk_rating.csv`.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Literal, get_args

from bolewalk.reference.tables import read_rows

__all__ = [
    "CONSEQUENCES", "FAILURES", "IMPACTS", "LEVELS", "OCCUPANCIES", "RATINGS", "Change",
    "Comparison", "Consequence", "Failure", "Impact", "Level", "Likelihood", "NextLook",
    "Occupancy", "Rating", "RiskRating", "compare", "next_look", "overall", "rate",
    "what_would_change",
]  # fmt: skip

Failure = Literal["improbable", "possible", "probable", "imminent"]
Impact = Literal["very low", "low", "medium", "high"]
Likelihood = Literal["unlikely", "somewhat likely", "likely", "very likely"]
Consequence = Literal["negligible", "minor", "significant", "severe"]
Rating = Literal["low", "moderate", "high", "extreme"]
Level = Literal["limited", "basic", "advanced"]
Occupancy = Literal["rare", "occasional", "frequent", "constant"]

FAILURES: tuple[Failure, ...] = get_args(Failure)
IMPACTS: tuple[Impact, ...] = get_args(Impact)
CONSEQUENCES: tuple[Consequence, ...] = get_args(Consequence)
RATINGS: tuple[Rating, ...] = get_args(Rating)
LEVELS: tuple[Level, ...] = get_args(Level)
OCCUPANCIES: tuple[Occupancy, ...] = get_args(Occupancy)

SOURCE = (
    "industry best management practice used with ANSI A300 Part 9; matrix 1 read in a council "
    "street-tree plan, cell order of matrix 2 from memory"
)


@dataclass(frozen=True, slots=True)
class RiskRating:
    """One tree part and one target over a stated time.

    Attributes
    ----------
    part, target : str
        What fails and what it would hit, in words.
    failure, impact, consequence : str
        The three judgements.
    likelihood, rating : str
        What the two matrices give.
    years : float
        Time frame the likelihood of failure holds for.
    level : str
        Level of look: limited, basic or advanced.
    source : str
    """

    part: str
    target: str
    failure: Failure
    impact: Impact
    consequence: Consequence
    likelihood: Likelihood
    rating: Rating
    years: float
    level: Level
    source: str = SOURCE


@dataclass(frozen=True, slots=True)
class Change:
    """One judgement moved by one word, and the rating it would then give."""

    what: Literal["failure", "impact", "consequence"]
    to: str
    rating: Rating


@dataclass(frozen=True, slots=True)
class Comparison:
    """A rating before and after something is done, and whether it fell."""

    done: str
    before: RiskRating
    after: RiskRating

    @property
    def lower(self) -> bool:
        """Whether the rating is lower afterwards."""
        return RATINGS.index(self.after.rating) < RATINGS.index(self.before.rating)


@dataclass(frozen=True, slots=True)
class NextLook:
    """When to look again: the interval, and what set it."""

    years: float
    because: str
    source: str


@lru_cache(maxsize=1)
def _matrices() -> tuple[dict[tuple[str, str], Likelihood], dict[tuple[str, str], Rating]]:
    likelihood = {
        (row["failure"], impact): _word(row[impact], get_args(Likelihood), "likelihood")
        for row in read_rows("risk_likelihood.csv")
        for impact in IMPACTS
    }
    rating = {
        (row["likelihood"], consequence): _word(row[consequence], RATINGS, "rating")
        for row in read_rows("risk_rating.csv")
        for consequence in CONSEQUENCES
    }
    return likelihood, rating  # type: ignore[return-value]


def rate(
    failure: str,
    impact: str,
    consequence: str,
    *,
    years: float,
    level: str,
    part: str = "",
    target: str = "",
) -> RiskRating:
    """Rate one part against one target.

    Parameters
    ----------
    failure, impact, consequence : str
        A word of `FAILURES`, `IMPACTS`, `CONSEQUENCES`.
    years : float
        Time frame, > 0: no rating is given without one.
    level : str
        A word of `LEVELS`.
    part, target : str

    Raises
    ------
    ValueError
        An unknown word, or a time frame that is not > 0.
    """
    _word(failure, FAILURES, "failure")
    _word(impact, IMPACTS, "impact")
    _word(consequence, CONSEQUENCES, "consequence")
    _word(level, LEVELS, "level")
    if not 0 < years < float("inf"):
        raise ValueError(f"years is {years:g}; a rating needs a time frame above 0.")
    likelihoods, ratings = _matrices()
    likelihood = likelihoods[failure, impact]
    return RiskRating(
        part, target, failure, impact, consequence,  # type: ignore[arg-type]
        likelihood, ratings[likelihood, consequence], years, level,  # type: ignore[arg-type]
    )  # fmt: skip


def overall(ratings: Sequence[RiskRating]) -> RiskRating:
    """Give the highest of a tree's ratings, the first of those that share it.

    Raises
    ------
    ValueError
        No rating.
    """
    if not ratings:
        raise ValueError("no rating: rate at least one part against one target.")
    return max(ratings, key=lambda r: RATINGS.index(r.rating))


def compare(before: RiskRating, done: str, **changed: str) -> Comparison:
    """Rate again after something is done: work on the tree, or the target moved.

    Parameters
    ----------
    before : RiskRating
    done : str
        In words: "deadwood removed", "bench moved".
    changed : str
        The judgements that change: failure, impact, consequence, target.

    Raises
    ------
    ValueError
        A judgement that is none of these, or an unknown word.
    """
    unknown = set(changed) - {"failure", "impact", "consequence", "target"}
    if unknown:
        raise ValueError(f"{sorted(unknown)} cannot change; name failure, impact or consequence.")
    words = {
        "failure": before.failure, "impact": before.impact, "consequence": before.consequence,
        "target": before.target,
    } | changed  # fmt: skip
    after = rate(
        words["failure"], words["impact"], words["consequence"], years=before.years,
        level=before.level, part=before.part, target=words["target"],
    )  # fmt: skip
    return Comparison(done, before, replace(after, source=before.source))


def what_would_change(rating: RiskRating) -> tuple[Change, ...]:
    """Give every single step of one judgement, up or down, that gives another rating."""
    found = []
    for what, words in (
        ("failure", FAILURES), ("impact", IMPACTS), ("consequence", CONSEQUENCES),
    ):  # fmt: skip
        at = words.index(getattr(rating, what))
        for step in (at - 1, at + 1):
            if 0 <= step < len(words):
                after = compare(rating, "", **{what: words[step]}).after.rating
                if after != rating.rating:
                    found.append(Change(what, words[step], after))  # type: ignore[arg-type]
    return tuple(found)


def next_look(occupancy: str, rating: str, *, expires_in_years: float | None = None) -> NextLook:
    """Give the interval to the next look.

    Parameters
    ----------
    occupancy : str
        How often the target is there: a word of `OCCUPANCIES`.
    rating : str
        The tree's overall rating.
    expires_in_years : float, optional
        When the first assumption the judgement stands on runs out, > 0; the earlier counts.

    Raises
    ------
    ValueError
        An unknown word, or an expiry that is not > 0.
    """
    _word(occupancy, OCCUPANCIES, "occupancy")
    _word(rating, RATINGS, "rating")
    row = next(r for r in read_rows("next_look.csv") if r["occupancy"] == occupancy)
    years = float(row[rating])
    if expires_in_years is not None:
        if not expires_in_years > 0:
            raise ValueError("expires_in_years must be > 0; what has expired needs a look now.")
        if expires_in_years < years:
            return NextLook(expires_in_years, "an assumption runs out", row["source"])
    return NextLook(years, f"{occupancy} use, {rating} rating", row["source"])


def _word(value: str, words: tuple[str, ...], name: str) -> str:
    if value not in words:
        raise ValueError(f"{name} is {value!r}; it must be one of: {', '.join(words)}.")
    return value
