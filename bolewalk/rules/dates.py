"""The earliest lawful day of each act: the latest of all waits, and what decides it."""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from bolewalk.model.statements import Statement, say
from bolewalk.model.trees import Tree
from bolewalk.rules.matching import match_species
from bolewalk.rules.protection import Protection
from bolewalk.rules.settings import packaged
from bolewalk.rules.table import Act, PermitGiven, RuleTable, Season, Window

__all__ = [
    "ActDate", "Wait", "after_working_days", "earliest_date", "holidays_on_file", "in_window",
    "is_closed", "later",
    "printed_nesting_window", "season_says", "seasons_for", "window_union", "working_day",
]  # fmt: skip

_SATURDAY = 5
_DIGGING: tuple[Act, ...] = ("roots", "trench", "grade", "build")


@dataclass(frozen=True, slots=True)
class Wait:
    """Something that must run out first: the first day on which it no longer bars."""

    until: date
    says: Statement


@dataclass(frozen=True, slots=True)
class ActDate:
    """When one act on one tree may be done.

    `earliest` None: no day can be named until what stands in `open` is had, or no day is open.
    `decided_by` is what pushed the day last; None where nothing bars it. `waits` are all that
    were found, sorted; `open` what has no date yet.
    """

    tree: str
    act: Act
    earliest: date | None
    decided_by: Statement | None
    waits: tuple[Wait, ...] = ()
    open: tuple[Statement, ...] = ()


def later(day: date, days: int) -> date:
    """Give the day so many days on, the last of the calendar where it would run past that."""
    return date.fromordinal(min(day.toordinal() + days, date.max.toordinal()))


def in_window(day: date, window: Window) -> bool:
    """Tell whether a day lies in a window of the year, both ends included; it may wrap."""
    first, last = window
    at = (day.month, day.day)
    return first <= at <= last if first <= last else at >= first or at <= last


def is_closed(day: date, season: Season) -> bool:
    """Tell whether a season bars its acts on a day."""
    return in_window(day, season.window) != season.only


def working_day(day: date, days: int, holidays: Collection[date] = ()) -> date:
    """Give the last of so many working days, the day itself not counted; 0 days give the day.

    Saturdays, Sundays and the holidays told are no working days.
    """
    left = days
    while left > 0 and day < date.max:
        day = later(day, 1)
        left -= day.weekday() < _SATURDAY and day not in holidays
    return day


def after_working_days(day: date, days: int, holidays: Collection[date] = ()) -> date:
    """Give the first day after so many working days, the day itself not counted.

    Notice on a Monday with 2 days gives Thursday; 0 days give the day itself.
    """
    return day if days <= 0 else later(working_day(day, days, holidays), 1)


def window_union(windows: Iterable[Window]) -> tuple[Window, ...]:
    """Join windows of the year that overlap or touch; sorted by their first day.

    A window over the new year stands as one where nothing else closes the ring.
    """
    # A leap year holds every month and day.
    days = [date(2024, 1, 1) + timedelta(days=n) for n in range(366)]
    kept = list(windows)
    barred = [any(in_window(d, w) for w in kept) for d in days]
    if all(barred):
        return (((1, 1), (12, 31)),)
    starts = [n for n in range(366) if barred[n] and not barred[n - 1]]
    joined = []
    for n in starts:
        end = n
        while barred[(end + 1) % 366]:
            end += 1
        first, last = days[n], days[end % 366]
        joined.append(((first.month, first.day), (last.month, last.day)))
    return tuple(sorted(joined))


def printed_nesting_window() -> tuple[Window, ...]:
    """Give the union of the nesting windows of the examples: where no season is on file, work
    inside it is asked about."""
    rows = packaged("examples/nesting_seasons.toml")["season"]
    windows = []
    for row in rows:
        (m1, d1), (m2, d2) = (map(int, row[k].split("-")) for k in ("from", "to"))
        windows.append(((m1, d1), (m2, d2)))
    return window_union(windows)


def seasons_for(tree: Tree, act: Act, tables: Sequence[RuleTable]) -> tuple[Season, ...]:
    """Give the seasons that speak of an act on a tree; a plant in doubt counts as meant."""
    return tuple(
        s
        for t in tables
        for s in t.seasons
        if act in s.acts and match_species(tree.species, s.species) not in ("no", "excepted")
    )


def earliest_date(
    tree: Tree,
    act: Act,
    *,
    asked: date,
    tables: Sequence[RuleTable],
    protection: Protection,
    removals: dict[str, int],
    block: Statement | None = None,
    wires: Sequence[Wait] = (),
) -> ActDate:
    """Give the earliest lawful day of an act.

    Parameters
    ----------
    tree, act
    asked : date
        Day on which leave is asked for and notice given: the day the waits run from.
    tables : sequence of RuleTable
    protection : Protection
        A tree that may be protected waits as one that is.
    removals : dict
        Rule id -> trees to be removed that it may protect: many may need a hearing.
    block : Statement, optional
        The consent that is missing: no day can be named until it is had.
    wires : sequence of Wait
        What the owners of wires ask for.

    Returns
    -------
    ActDate
    """
    holidays = holidays_on_file(tables)
    given = _given(tree, asked, tables, protection)
    permit_waits, open_ = _permits(act, asked, protection, removals, holidays, given)
    waits = [*permit_waits, *wires]
    if act in _DIGGING:
        digging = [t.digging for t in tables if t.digging is not None]
        for d in digging:
            until = after_working_days(asked, d.notice_days, holidays)
            code = "digging_holidays" if holidays else "digging"
            notice = say(f"date.{code}", days_count=d.notice_days, citation=d.citation)
            waits.append(Wait(until, notice))
        if not digging:
            open_.append(say("date.no_digging_rule", tree=tree.id))
    for t in tables:
        for kind in ("table", "season"):
            open_ += [say("date.season_unread", name=n) for n in t.left_out.get(kind, ())]
    day = max([asked, *(w.until for w in waits)])
    decided = max(waits, key=lambda w: w.until).says if day > asked else None
    seasons = seasons_for(tree, act, tables)
    opened, season_waits = _open_day(day, seasons)
    if season_waits:
        decided = season_waits[-1].says
    if opened is None:
        decided = say("date.never_open", tree=tree.id, act=act)
    if not any(s.kind in ("nesting", "raptors") for s in seasons) and act in ("remove", "prune"):
        open_.append(say("date.no_nesting_rule", tree=tree.id))
    if opened is not None:
        open_ += _terms(act, opened, asked, protection, given, holidays)
    if block is not None:
        open_.insert(0, block)
        opened, decided = None, block
    said = sorted((*waits, *season_waits), key=lambda w: (w.until, w.says.code))
    return ActDate(tree.id, act, opened, decided, tuple(said), tuple(dict.fromkeys(open_)))


def holidays_on_file(tables: Sequence[RuleTable]) -> frozenset[date]:
    """Give the holidays of all tables together: a day closed to one office is waited for."""
    return frozenset(d for t in tables for d in t.holidays)


@dataclass(frozen=True, slots=True)
class _Given:
    """A permit on record for a tree under a rule, and its last day; None = no term told."""

    permit: PermitGiven
    until: date | None


def _given(
    tree: Tree, asked: date, tables: Sequence[RuleTable], protection: Protection
) -> dict[str, _Given]:
    """Give, by rule, the last permit that was given for a tree by the day asked."""
    terms = {
        s.rule.id: s.rule.permit.expires_days for s in protection.rules if s.rule.permit is not None
    }
    found: dict[str, _Given] = {}
    every = sorted((g for t in tables for g in t.permits), key=lambda g: g.date)
    for g in every:
        if g.date > asked or (g.trees and tree.id not in g.trees) or g.rule not in terms:
            continue
        term = terms[g.rule]
        by_term = None if term is None else later(g.date, term)
        found[g.rule] = _Given(g, g.until or by_term)
    return found


def _terms(
    act: Act,
    opened: date,
    asked: date,
    protection: Protection,
    given: Mapping[str, _Given],
    holidays: Collection[date],
) -> list[Statement]:
    """Tell of permits that run out before the day, those on record and those asked for now."""
    said: list[Statement] = []
    day = opened.isoformat()
    for s in protection.rules:
        permit, rule = s.rule.permit, s.rule.id
        if permit is None or s.status == "not_protected" or act not in s.rule.acts:
            continue
        g = given.get(rule)
        if g is not None:
            values = {"rule": rule, "number": g.permit.number or "-", "day": day}
            if g.until is None:
                said.append(say("date.permit_given", **values))
                continue
            values["until"] = g.until.isoformat()
            short = g.until < opened
            said.append(say(f"date.permit_{'runs_out' if short else 'given_until'}", **values))
        elif permit.expires_days is not None and permit.wait_days is not None:
            got = _waited(asked, permit.wait_days, permit.working, holidays)
            until = later(got, permit.expires_days)
            if until < opened:
                values = {"rule": rule, "day": day, "until": until.isoformat()}
                said.append(say("date.permit_ask_later", **values))
    return said


def _waited(day: date, days: int, working: bool, holidays: Collection[date]) -> date:
    return working_day(day, days, holidays) if working else later(day, days)


def _permits(
    act: Act,
    asked: date,
    protection: Protection,
    removals: dict[str, int],
    holidays: Collection[date],
    given: Mapping[str, _Given],
) -> tuple[list[Wait], list[Statement]]:
    waits: list[Wait] = []
    open_: list[Statement] = []
    for status in protection.rules:
        rule, permit = status.rule, status.rule.permit
        if status.status == "not_protected" or act not in rule.acts:
            continue
        over = {"prune": rule.prune_over_pct, "roots": rule.roots_over_pct}.get(act)
        if over is not None:
            open_.append(say(f"date.permit_over_{act}", rule=rule.id, over_pct=over))
            continue
        if permit is None:
            open_.append(say("date.no_permit_told", rule=rule.id))
            continue
        had = given.get(rule.id)
        if had is not None and (had.until is None or had.until >= asked):
            continue
        days = permit.wait_days
        if days is None:
            open_.append(say("date.permit_wait_unknown", rule=rule.id, body=permit.body))
        else:
            code = "permit" if status.status == "protected" else "permit_if"
            code += "_working" if permit.working else ""
            until = _waited(asked, days, permit.working, holidays)
            said = say(f"date.{code}", rule=rule.id, body=permit.body, days_count=days)
            waits.append(Wait(until, said))
        many = permit.hearing_over is not None and removals.get(rule.id, 0) > permit.hearing_over
        if act == "remove" and many:
            n, more = removals[rule.id], permit.hearing_wait_days
            if more is None or days is None:
                open_.append(say("date.hearing_unknown", rule=rule.id, tree_count=n))
            else:
                until = _waited(asked, days + more, permit.working, holidays)
                said = say("date.hearing", rule=rule.id, tree_count=n, days_count=days + more)
                waits.append(Wait(until, said))
    if protection.status == "no_rule":
        open_.append(say("date.no_rule", tree=protection.tree))
    return waits, open_


def _open_day(day: date, seasons: Sequence[Season]) -> tuple[date | None, list[Wait]]:
    """Walk on from a day to the first one no season bars, and name what barred on the way."""
    barred: dict[str, Wait] = {}
    end = later(day, 366 * packaged("settings.toml")["dates"]["search_years"])
    # The day itself is looked at first: on the last one of the calendar there is no later one.
    while closed := [s for s in seasons if is_closed(day, s)]:
        if day >= end:
            return None, sorted(barred.values(), key=lambda w: w.until)
        day += timedelta(days=1)
        for s in closed:
            barred[s.id] = Wait(day, season_says(s))
    return day, sorted(barred.values(), key=lambda w: w.until)


def season_says(s: Season) -> Statement:
    """Say when a season bars its acts, or alone allows them."""
    code = "season_only" if s.only else ("season_unless" if s.unless else "season")
    return say(
        f"date.{code}", season_kind=s.kind, citation=s.citation, unless=s.unless,
        first=_text(s.window[0]), last=_text(s.window[1]),
    )  # fmt: skip


def _text(month_day: tuple[int, int]) -> str:
    return f"{month_day[0]:02d}-{month_day[1]:02d}"
