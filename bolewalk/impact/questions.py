"""Which missing facts could change a verdict, how often, and what each answer would mean."""

import itertools
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from bolewalk.impact.fact import Fact
from bolewalk.impact.plausible import plausible_values
from bolewalk.impact.results import Question, QuestionAnswer
from bolewalk.impact.standing import OpenFacts
from bolewalk.model.statements import Statement, say
from bolewalk.model.words import Verdict

__all__ = ["Combination", "Study", "study"]

Combination = tuple[int, ...]
"""For each fact, which of its values holds."""

LevelAt = Callable[[Combination], Verdict]


@dataclass(frozen=True, slots=True)
class Study:
    """What the open facts of one tree come to.

    `combinations` is how many there are, `drawn` whether they were drawn rather than all tried.
    """

    open_facts: OpenFacts
    not_needed: tuple[Statement, ...]
    combinations: int
    drawn: bool


def study(
    facts: Sequence[Fact],
    level_at: LevelAt,
    *,
    severity_at: Callable[[Combination], float] | None = None,
    all_up_to: int | None = None,
) -> Study:
    """Try the plausible values of all open facts, alone and jointly.

    Parameters
    ----------
    facts : sequence of Fact
    level_at : callable
        The level (keep, keep_if, redesign) of one combination. Possible later works are there
        where their fact's value is 1.
    severity_at : callable, optional
        Any figure that rises with harm; where combinations are drawn it finds the mildest and
        the harshest one, which draws alone would seldom meet.
    all_up_to : int, optional
        Most combinations that are all tried; the packaged value where left out.

    Returns
    -------
    Study
        Questions in order of `flips`: the share of combinations of the other facts in which
        this fact's values do not all give one verdict. Ties: what can change the present verdict
        first, then the order of `facts`. Facts that touch no figure a verdict reads have one
        effect whatever their value and are not tried. Where combinations are drawn,
        `flips_error` is the half width of the 95 % interval.
    """
    table = plausible_values()
    live = [i for i, f in enumerate(facts) if f.touches]
    sizes = [len(f.values) if f.touches else 1 for f in facts]
    total = math.prod(sizes)
    trial = _Trial(facts, sizes, level_at)
    drawn = total > (table.all_combinations_up_to if all_up_to is None else all_up_to)
    found = trial.draw(live, table.drawn, table.seed, severity_at) if drawn else trial.all(live)
    asked = sorted(
        (i for i in live if found.flips[i] > 0),
        key=lambda i: (-found.flips[i], not found.moves_now[i], i),
    )
    questions = tuple(
        Question(
            fact=facts[i].id,
            ask=facts[i].ask,
            of=facts[i].of,
            answers=tuple(
                QuestionAnswer(value.answer, trial.alone(i, k))
                for k, value in enumerate(facts[i].values)
            ),
            flips=found.flips[i],
            flips_error=found.errors[i],
            only_with=trial.only_with(i, live),
        )
        for i in asked
    )
    not_needed = [f.not_needed for i, f in enumerate(facts) if i not in asked]
    if drawn and not_needed:
        widest = max((found.errors[i] for i in live), default=0.0)
        not_needed.append(
            say("not_needed.by_draws", draws_count=table.drawn, within_pct=100.0 * widest)
        )
    return Study(
        OpenFacts(
            now=frozenset(found.now),
            with_later=frozenset(found.with_later),
            questions=questions,
            settle=tuple(
                facts[i].settle for i in asked if found.moves_now[i] and not facts[i].later
            ),
        ),
        tuple(not_needed),
        total,
        drawn,
    )


@dataclass(slots=True)
class _Found:
    flips: dict[int, float]
    errors: dict[int, float]
    moves_now: dict[int, bool]
    now: set[Verdict]
    with_later: set[Verdict]


_CODE: dict[Verdict, int] = {"keep": 0, "keep_if": 1, "redesign": 2, "undecided": 3}
_LEVELS: tuple[Verdict, ...] = ("keep", "keep_if", "redesign", "undecided")


class _Trial:
    """One tree's combinations, each judged once."""

    def __init__(self, facts: Sequence[Fact], sizes: Sequence[int], level_at: LevelAt) -> None:
        self.facts = facts
        self.sizes = sizes
        self.level_at = level_at
        self.known: dict[Combination, Verdict] = {}

    def level(self, at: Combination) -> Verdict:
        if at not in self.known:
            self.known[at] = self.level_at(at)
        return self.known[at]

    def alone(self, fact: int, value: int) -> Verdict:
        """Judge one answer with every other fact as recorded."""
        at = [0] * len(self.sizes)
        at[fact] = value
        return self.level(tuple(at))

    def only_with(self, fact: int, live: Sequence[int]) -> tuple[Statement, ...] | None:
        """Name the facts together with which this one turns the verdict, if it does not alone."""
        recorded: Combination = (0,) * len(self.sizes)
        if self._turns(fact, recorded):
            return None
        return tuple(
            self.facts[j].not_needed
            for j in live
            if j != fact and any(self._turns(fact, at) for at in self._along(j, recorded)[1:])
        )

    def with_later(self, at: Combination, value: int) -> Combination:
        return tuple(value if f.later else a for f, a in zip(self.facts, at, strict=True))

    def all(self, live: Sequence[int]) -> _Found:
        """Try every combination."""
        grid = np.empty(tuple(self.sizes), dtype=np.int8)
        for at in itertools.product(*(range(n) for n in self.sizes)):
            grid[at] = _CODE[self.level(at)]
        now = grid[tuple(slice(0, 1) if f.later else slice(None) for f in self.facts)]
        later = grid[tuple(slice(1, 2) if f.later else slice(None) for f in self.facts)]

        def share(block: np.ndarray, axis: int) -> float:
            return float((block.max(axis=axis) != block.min(axis=axis)).mean())

        return _Found(
            flips={i: share(grid, i) for i in live},
            errors=dict.fromkeys(live, 0.0),
            moves_now={i: share(now, i) > 0 for i in live},
            now={_LEVELS[int(v)] for v in np.unique(now)},
            with_later={_LEVELS[int(v)] for v in np.unique(later)},
        )

    def draw(
        self,
        live: Sequence[int],
        draws: int,
        seed: int,
        severity_at: Callable[[Combination], float] | None,
    ) -> _Found:
        """Draw combinations of the other facts, the same ones each time."""
        rng = np.random.default_rng(seed)
        recorded: Combination = (0,) * len(self.sizes)
        table = rng.integers(0, np.array(self.sizes), size=(draws, len(self.sizes)))
        rows = [tuple(int(v) for v in row) for row in table]
        ends = [recorded, *self._ends(live, severity_at)]
        found = _Found({}, {}, {}, set(), set())
        for at in (*ends, *rows):
            found.now.add(self.level(self.with_later(at, 0)))
            found.with_later.add(self.level(self.with_later(at, 1)))
        for i in live:
            share = sum(self._turns(i, at) for at in rows) / draws
            at_ends = any(self._turns(i, at) for at in ends)
            spread = 1.96 * math.sqrt(share * (1.0 - share) / draws)
            # None in n draws leaves room for up to 3 / n (rule of three); so does all of n.
            found.errors[i] = spread if 0.0 < share < 1.0 else 3.0 / draws
            # Met at an end but in no draw: rare, yet it can change the verdict and is asked.
            found.flips[i] = share if share > 0 or not at_ends else 1.0 / draws
            found.moves_now[i] = any(
                self._turns(i, self.with_later(at, 0)) for at in (*ends, *rows[: draws // 2])
            )
        return found

    def _turns(self, fact: int, at: Combination) -> bool:
        first, *rest = self._along(fact, at)
        return any(self.level(a) != self.level(first) for a in rest)

    def _along(self, fact: int, at: Combination) -> list[Combination]:
        return [(*at[:fact], k, *at[fact + 1 :]) for k in range(self.sizes[fact])]

    def _ends(
        self, live: Sequence[int], severity_at: Callable[[Combination], float] | None
    ) -> list[Combination]:
        """Give the mildest and the harshest combination, each fact taken by itself."""
        if severity_at is None:
            return [tuple(n - 1 for n in self.sizes)]
        recorded: Combination = (0,) * len(self.sizes)
        mild, harsh = list(recorded), list(recorded)
        for i in live:
            weights = [severity_at(a) for a in self._along(i, recorded)]
            mild[i] = int(np.argmin(weights))
            harsh[i] = int(np.argmax(weights))
        return [tuple(mild), tuple(harsh)]
