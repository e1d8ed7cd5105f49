"""A return visit: every tree then and now, the advice and what became of it, what has run out."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Literal

from bolewalk.model.extras import MissingExtraError
from bolewalk.model.statements import Statement, say
from bolewalk.model.survey import Survey
from bolewalk.model.trees import Tree
from bolewalk.reference.botanical import species_key
from bolewalk.trees.rematch import growth_check, rematch
from bolewalk.trees.stems import equal_area_cm
from bolewalk.visits.assumptions import Assumed, assumptions_now
from bolewalk.visits.record import Choice, Choices, Done, EarlierVisit, TreeThen
from bolewalk.visits.standing import Standing, stand

__all__ = ["Reading", "ReturnVisit", "TreeReturn", "compare_visits"]

State = Literal["same", "doubtful", "new", "not_found"]
_YEAR_DAYS = 365.25
_GRADES = ("good", "fair", "poor", "dead")
_LOST = ("redesign", "undecided")
Day = date
"""The class under a second name: a field named `date` hides the first inside its own class."""


@dataclass(frozen=True, slots=True)
class Reading:
    """One tree at one visit; trunk by equal area [cm], height and mean crown radius [m]."""

    date: Day
    trunk_cm: float | None
    stems: int
    height_m: float | None
    crown_m: float | None
    health: str | None
    structure: str | None
    decision: str | None
    verdict: str | None


@dataclass(frozen=True, slots=True)
class TreeReturn:
    """One tree then and now.

    Attributes
    ----------
    tree, was : str
        Its id now and then; `tree` is "" where it was not found again, `was` "" where it is new.
    state : str
        same; doubtful: a person says whether it is the same tree; new; not_found.
    readings : tuple of Reading
        Every visit it was found at, oldest first.
    then : TreeThen or None
        As the last earlier visit had it.
    changes : tuple of Statement
        What was measured and graded, then against now; growth against what was foreseen.
    standing, choice, done, advice
        What became of the advice; `advice` says it.
    verdict : tuple of Statement
        What the earlier verdict has come to.
    match : tuple of Statement
        Why it is taken for the same tree, and what speaks against it; empty for one of one id.
    """

    tree: str
    was: str
    state: State
    readings: tuple[Reading, ...]
    then: TreeThen | None
    changes: tuple[Statement, ...] = ()
    standing: Standing = "none"
    choice: Choice | None = None
    done: tuple[Done, ...] = ()
    advice: Statement | None = None
    verdict: tuple[Statement, ...] = ()
    match: tuple[Statement, ...] = ()


@dataclass(frozen=True, slots=True)
class ReturnVisit:
    """Today's survey against the last earlier visit; `visits` are all of them, oldest first.

    Trees stand in today's order, then those not found again in the order of then.
    """

    visits: tuple[EarlierVisit, ...]
    today: date
    trees: tuple[TreeReturn, ...]
    assumptions: tuple[Assumed, ...]
    notes: tuple[Statement, ...] = ()

    @property
    def then(self) -> EarlierVisit:
        """The visit today is held against."""
        return self.visits[-1]


def compare_visits(
    earlier: Sequence[EarlierVisit],
    survey: Survey,
    choices: Choices | None = None,
    *,
    verdicts: Mapping[str, tuple[str, str]] | None = None,
    defaults: Collection[str] = (),
    asked: Sequence[str] = (),
) -> ReturnVisit | None:
    """Hold today's survey against earlier visits.

    Parameters
    ----------
    earlier : sequence of EarlierVisit
        In any order; those not before today's date are left out.
    survey : Survey
        Today's; its date is today, there is no other clock.
    choices : Choices, optional
        What was chosen, done and assumed since.
    verdicts : mapping, optional
        Tree id -> (now, with later works), as judged today.
    defaults, asked
        As `assumptions_now`.

    Returns
    -------
    ReturnVisit or None
        None where there is no visit before today.
    """
    visits = tuple(sorted((v for v in earlier if v.date < survey.date), key=lambda v: v.date))
    if not visits:
        return None
    kept = choices or Choices()
    then = visits[-1]
    pairs, notes = _pairs(then, survey)
    found = {p.was for p in pairs.values() if p.was}
    trees = [
        _return(pairs[t.id], t, visits, survey, kept, (verdicts or {}).get(t.id))
        for t in survey.trees
    ]
    trees += [
        _return(_Pair("", t.tree.id, "not_found"), None, visits, survey, kept, None)
        for t in then.trees
        if t.tree.id not in found
    ]
    return ReturnVisit(
        visits,
        survey.date,
        tuple(trees),
        assumptions_now(then, survey, kept.assumptions, defaults=defaults, asked=asked),
        notes,
    )


@dataclass(frozen=True, slots=True)
class _Pair:
    tree: str
    was: str
    state: State
    match: tuple[Statement, ...] = ()


def _pairs(then: EarlierVisit, survey: Survey) -> tuple[dict[str, _Pair], tuple[Statement, ...]]:
    """Pair today's trees with those of then: by all that is known of both, else by their ids."""
    before = [t.tree for t in then.trees]
    years = (survey.date - then.date).days / _YEAR_DAYS
    ids = {t.id for t in before}
    try:
        matched = rematch(before, survey.trees, years=years)
    except MissingExtraError:
        return {
            t.id: _Pair(t.id, t.id, "same") if t.id in ids else _Pair(t.id, "", "new")
            for t in survey.trees
        }, (say("visit.matched_by_id"),)
    taken = {m.earlier: m.later for m in matched.matches if m.earlier is not None}
    pairs = {}
    for m in matched.matches:
        said: tuple[Statement, ...] = ()
        if m.earlier is None:
            if m.later in ids:
                said = (say("visit.same_id_not_same", tree=m.later),)
            pairs[m.later] = _Pair(m.later, "", "new", said)
            continue
        doubt = m.doubtful and m.later != m.earlier
        if m.later != m.earlier or m.against_it:
            said = (
                say("visit.matched", tree=m.later, was=m.earlier, chance_pct=100 * m.chance),
                *(say(f"visit.for_{c}") for c in m.for_it),
                *(say(f"visit.against_{c}") for c in m.against_it),
            )
        if m.later in ids and m.later != m.earlier and taken.get(m.later) is None:
            said = (*said, say("visit.same_id_not_same", tree=m.later))
            doubt = True
        pairs[m.later] = _Pair(m.later, m.earlier, "doubtful" if doubt else "same", said)
    return pairs, ()


def _return(
    pair: _Pair,
    now: Tree | None,
    visits: Sequence[EarlierVisit],
    survey: Survey,
    choices: Choices,
    verdict: tuple[str, str] | None,
) -> TreeReturn:
    last = visits[-1]
    then = last.of(pair.was) if pair.was else None
    readings = [
        _reading(v.date, t.tree, t.verdict)
        for v in visits
        if then is not None and (t := v.of(pair.was)) is not None and _one_tree(t.tree, then.tree)
    ]
    if now is not None:
        readings.append(_reading(survey.date, now, None if verdict is None else verdict[0]))
    if then is None:
        return TreeReturn(pair.tree, "", pair.state, tuple(readings), None, match=pair.match)
    names = {pair.was, pair.tree} - {""}
    standing, choice, done, advice = stand(
        then, given=last.date, today=survey.date,
        choices=[c for c in choices.choices if c.tree in names],
        done=[d for d in choices.done if d.tree in names],
        found_again=now is not None,
    )  # fmt: skip
    return TreeReturn(
        pair.tree, pair.was, pair.state, tuple(readings), then,
        () if now is None else _changes(then.tree, now, last.date, survey),
        standing, choice, done, advice,
        () if now is None else _verdicts(then, now, verdict), pair.match,
    )  # fmt: skip


def _one_tree(a: Tree, b: Tree) -> bool:
    """Whether two records of one id may be one tree: an id may have been given anew."""
    x, y = a.species.botanical, b.species.botanical
    return x is None or y is None or species_key(x) == species_key(y)


def _reading(day: date, t: Tree, verdict: str | None) -> Reading:
    return Reading(
        day, _trunk(t), len(t.stems_cm), None if t.height_m is None else t.height_m.value,
        None if t.crown is None else t.crown.mean_m, t.health, t.structure, t.decision, verdict,
    )  # fmt: skip


def _trunk(t: Tree) -> float | None:
    return equal_area_cm([s.value for s in t.stems_cm]) if t.stems_cm else None


def _changes(then: Tree, now: Tree, given: date, survey: Survey) -> tuple[Statement, ...]:
    made = []
    days = (survey.date - given).days
    before, after = _trunk(then), _trunk(now)
    if before is not None and after is not None:
        values = {"was_cm": before, "now_cm": after}
        made.append(say("visit.trunk", **values, years_count=round(days / _YEAR_DAYS, 1)))
        made += _growth(then, now, days / _YEAR_DAYS, survey.method.growth_region)
    for word in ("health", "structure"):
        was, is_ = getattr(then, word), getattr(now, word)
        if was and is_ and was != is_:
            worse = _GRADES.index(is_) > _GRADES.index(was)
            made.append(say(f"visit.{word}_{'worse' if worse else 'better'}", was=was, now=is_))
    for field in ("owner", "decision"):
        was, is_ = getattr(then, field), getattr(now, field)
        if was and is_ and was != is_:
            made.append(say(f"visit.{field}_changed", **{f"{field}_was": was, f"{field}_now": is_}))
    if not _one_tree(then, now):
        made.append(say("visit.species_changed", was=then.species.label, now=now.species.label))
    return tuple(made)


def _growth(then: Tree, now: Tree, years: float, region: str | None) -> list[Statement]:
    if region is None or years < 1:
        return []
    check = growth_check(then, now, years=years, region=region)
    if check is None:
        return []
    return [
        say(
            f"visit.growth_{check.verdict}", measured_cm=check.measured_cm_year,
            low_cm=check.forecast_low_cm_year, high_cm=check.forecast_high_cm_year,
        )
    ]  # fmt: skip


def _verdicts(then: TreeThen, now: Tree, verdict: tuple[str, str] | None) -> tuple[Statement, ...]:
    """Say what was judged then and today, and how the tree has fared meanwhile."""
    if then.verdict is None:
        return ()
    if verdict is None:
        return (say("visit.verdict_not_now", verdict_was=then.verdict),)
    same = "verdict_same" if verdict[0] == then.verdict else "verdict_changed"
    made = [say(f"visit.{same}", verdict_was=then.verdict, verdict_now=verdict[0])]
    was, is_ = then.tree.health, now.health
    if was and is_ and _GRADES.index(is_) > _GRADES.index(was) and then.verdict not in _LOST:
        made.append(say("visit.kept_declined"))
    return tuple(made)
