"""Reading rules.toml, all problems at once."""

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from bolewalk.model.problems import Problem
from bolewalk.model.settings_keys import read_keys
from bolewalk.model.units import CM_PER_IN, M_PER_FT
from bolewalk.reference.botanical import species_key
from bolewalk.reference.plants import candidates
from bolewalk.rules.keys import HEAD_KEYS, LIST_KEYS, TABLE_KEYS
from bolewalk.rules.plant_names import one_letter_off
from bolewalk.rules.table import (
    Bond,
    Consent,
    DepositLimit,
    DiggingRule,
    FireRule,
    Grove,
    LineTold,
    OwnerNamed,
    Permit,
    PermitGiven,
    ProtectedZone,
    Replacement,
    Rule,
    RuleTable,
    Season,
    SizeTest,
    SpeciesTest,
    Window,
    WireRule,
)

__all__ = ["read_rules", "unread_table"]

_ANY = "any"
_DAYS = (31, 29, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)
_MONTH_DAY = re.compile(r"(\d{1,2})-(\d{1,2})")
Values = dict[str, Any]


@dataclass(slots=True)
class _Table:
    """One rules.toml being read: its units, its head, the problems so far."""

    file: str
    place: str
    checked: date
    trunk_cm: float
    length_m: float
    minor_digits: int
    problems: list[Problem] = field(default_factory=list)

    def tell(self, row: str | int, key: str, value: Any, expected: str, **level: Any) -> None:
        text = None if value is None else str(value)
        self.problems.append(Problem(self.file, row, key, text, expected, **level))

    def length(self, v: Values, key: str) -> float | None:
        """Give a length [m]; None where it is not told."""
        return None if key not in v else float(v[key]) * self.length_m

    def plants(self, v: Values, kind: str, row: str | int) -> SpeciesTest:
        listed = v.get("species", ())
        if tuple(x.lower() for x in listed) == (_ANY,):
            listed = ()
        return SpeciesTest(
            tuple(self._plant(n, kind, row, "species") for n in listed),
            tuple(self._plant(n, kind, row, "except") for n in v.get("except", ())),
        )

    def _plant(self, name: str, kind: str, row: str | int, key: str) -> tuple[str, str]:
        found = candidates(name)
        if len(found) == 1:
            return name, species_key(found[0].botanical)
        if found:
            meant = ", ".join(p.botanical for p in found)
            self.tell(row, f"{kind}.{key}", name, f"one plant or genus, not one of {meant}")
        elif near := one_letter_off(name):
            # Read as written it would match no tree, and protect none in silence.
            self.tell(row, f"{kind}.{key}", name, f"a name in the list of plants; perhaps {near}")
        else:
            expected = "a name in the list of plants; compared as written"
            self.tell(row, f"{kind}.{key}", name, expected, level="notice")
        return name, species_key(name)


def unread_table(file: str) -> RuleTable:
    """Stand in for a rule file that was named and could not be read: it may protect any tree."""
    return RuleTable(file, "", "", date.min, left_out={"table": (file,)})


def read_rules(table: Mapping[str, Any], *, file: str) -> tuple[RuleTable, tuple[Problem, ...]]:
    """Read a table of local rules.

    Parameters
    ----------
    table : mapping
        As a TOML reader gives it; keys in docs/rules.md.
    file : str
        Path for the problems.

    Returns
    -------
    table : RuleTable
        `unread_table` where [table] has a fault: without place, source, day and units nothing in
        it can be read. An entry with a fault is left out whole and named in `left_out`.
    problems : tuple of Problem
        All at once; `row` is the entry's id (tree, number), `field` the key with its table.
    """
    head = table.get("table")
    problems: list[Problem] = []
    known = {"table", *LIST_KEYS, *TABLE_KEYS}
    for name in table:
        if name not in known:
            problems.append(Problem(file, None, name, None, "one of " + ", ".join(sorted(known))))
    if not isinstance(head, Mapping):
        expected = "a [table] with place, source, checked and units"
        return unread_table(file), (*problems, Problem(file, None, "table", None, expected))
    v, found = read_keys(head, HEAD_KEYS, file=file, prefix="table.")
    problems += found
    sound = not found
    imperial = v.get("units") != "metric"
    t = _Table(
        file, v.get("place", ""), v.get("checked", date.min),
        CM_PER_IN if imperial else 1.0, M_PER_FT if imperial else 1.0,
        v.get("minor_digits", 2), problems,
    )  # fmt: skip
    left_out: dict[str, tuple[str, ...]] = {}
    read = {kind: _entries(t, kind, table.get(kind), left_out) for kind in LIST_KEYS}
    once = {kind: _once(t, kind, table.get(kind)) for kind in TABLE_KEYS}
    if not sound:
        return unread_table(file), tuple(problems)
    if v.get("example"):
        expected = (
            "a copy checked with the place itself: this table is an example, check before use"
        )
        t.problems.append(Problem(file, None, "table.example", "true", expected, "notice"))
    return (
        RuleTable(
            file=file, place=t.place, source=v["source"], checked=t.checked,
            version=v.get("version", ""), example=v.get("example", False),
            rules=tuple(read["rule"]), seasons=tuple(read["season"]), wires=tuple(read["wire"]),
            fire=tuple(read["fire"]), owners=tuple(read["owner"]),
            consents=tuple(read["consent"]), lines=tuple(read["line"]),
            digging=once["digging"], deposit=once["deposit"],
            permits=tuple(read["granted"]), holidays=v.get("holidays", ()), left_out=left_out,
        ),
        tuple(problems),
    )  # fmt: skip


def _entries(t: _Table, kind: str, raw: Any, left_out: dict[str, tuple[str, ...]]) -> list[Any]:
    """Read a list of tables; entries with a fault are left out and named."""
    if raw is None:
        return []
    if not isinstance(raw, list) or not all(isinstance(e, Mapping) for e in raw):
        t.problems.append(Problem(t.file, None, kind, None, f"[[{kind}]] for each entry"))
        left_out[kind] = (kind,)
        return []
    made: list[Any] = []
    seen: set[str] = set()
    missed: list[str] = []
    for n, entry in enumerate(raw, start=1):
        own = entry.get("id", entry.get("tree"))
        row: str | int = own if isinstance(own, str) and own.strip() else n
        before = sum(p.level == "fault" for p in t.problems)
        v, found = read_keys(
            _listed(entry), LIST_KEYS[kind], file=t.file, row=row, prefix=f"{kind}.",
            minor_digits=t.minor_digits,
        )  # fmt: skip
        t.problems += found
        if "id" in v and v["id"] in seen:
            t.tell(row, f"{kind}.id", v["id"], "each id once")
        seen.add(v.get("id", ""))
        one = _MAKERS[kind](t, v, row)
        if sum(p.level == "fault" for p in t.problems) > before or one is None:
            missed.append(str(row))
        else:
            made.append(one)
    if missed:
        left_out[kind] = tuple(missed)
    return made


def _listed(entry: Mapping[str, Any]) -> dict[str, Any]:
    """Let one name stand for a list of one."""
    lists = ("species", "except", "acts", "owner", "of", "trees")
    return {k: [x] if k in lists and isinstance(x, str) else x for k, x in entry.items()}


def _once(t: _Table, kind: str, raw: Any) -> Any:
    if raw is None:
        return None
    if not isinstance(raw, Mapping):
        t.problems.append(Problem(t.file, None, kind, None, f"a table [{kind}]"))
        return None
    v, found = read_keys(
        raw, TABLE_KEYS[kind], file=t.file, prefix=f"{kind}.", minor_digits=t.minor_digits
    )
    t.problems += found
    if found:
        return None
    if kind == "digging":
        return DiggingRule(
            v["citation"], v["notice_days"], v.get("expires_days"), t.length(v, "hand_within"),
            v.get("call", ""),
        )  # fmt: skip
    return DepositLimit(v["citation"], v.get("max"), v.get("pct"))


def _rule(t: _Table, v: Values, row: str | int) -> Rule | None:
    if "species" not in v:
        t.tell(row, "rule.species", None, 'a list of plants or genera, or "any"')
    size = _size(t, v, row)
    for part, need in _PARTS:
        if any(k.startswith(f"{part}.") for k in v) and f"{part}.{need}" not in v:
            t.tell(row, f"rule.{part}.{need}", None, f"{need}, where there is a {part}")
    if {"id", "citation", "acts"} - set(v) or {
        f"{p}.{n}" for p, n in _PARTS if any(k.startswith(f"{p}.") for k in v)
    } - set(v):
        return None
    return Rule(
        id=v["id"], place=v.get("place", t.place), citation=v["citation"],
        checked=v.get("checked", t.checked), species=t.plants(v, "rule", row), acts=v["acts"],
        size=size, grove=_grove(t, v), native_only=v.get("native_only", False),
        planted_exempt=v.get("planted_exempt", False), dead_exempt=v.get("dead_exempt", False),
        height_from_m=t.length(v, "height_from"), zone=v.get("zone", ""),
        in_zone=v.get("in_zone", "unknown"), owner=v.get("owner", ()),
        prune_over_pct=v.get("prune_over_pct"), roots_over_pct=v.get("roots_over_pct"),
        permit=_permit(v), replacement=_replacement(v),
        bond=Bond(v["bond.years"], v.get("bond.amount")) if "bond.years" in v else None,
        protected_zone=_zone(t, v), withheld_years=v.get("withheld_years"),
        penalty=v.get("penalty", ""), emergency=v.get("emergency", ""),
    )  # fmt: skip


_PARTS = (("permit", "from"), ("replacement", "ratio"), ("bond", "years"), ("grove", "trees"))
"""Parts of a rule, and the key without which each says nothing."""


def _grove(t: _Table, v: Values) -> Grove | None:
    if "grove.trees" not in v:
        return None
    from_ = v.get("grove.from")
    girth = v.get("size.measure") == "girth"
    cm = t.trunk_cm / (math.pi if girth else 1.0)
    return Grove(
        v["grove.trees"], t.length(v, "grove.within"), None if from_ is None else from_ * cm
    )


def _permit(v: Values) -> Permit | None:
    if "permit.from" not in v:
        return None
    names = ("fee", "wait_days", "hearing_over", "hearing_wait_days")
    fee, wait, over, hearing = (v.get(f"permit.{n}") for n in names)
    return Permit(
        v["permit.from"], v.get("permit.name", ""), fee, wait, v.get("permit.author", ""), over,
        hearing, v.get("permit.counted") == "working", v.get("permit.expires_days"),
    )  # fmt: skip


def _replacement(v: Values) -> Replacement | None:
    if "replacement.ratio" not in v:
        return None
    return Replacement(
        v["replacement.ratio"], v.get("replacement.stock", ""),
        v.get("replacement.like_for_like", False),
    )  # fmt: skip


def _zone(t: _Table, v: Values) -> ProtectedZone | None:
    if not any(k.startswith("protected_zone.") for k in v):
        return None
    return ProtectedZone(
        t.length(v, "protected_zone.dripline_plus"), t.length(v, "protected_zone.least"),
        v.get("protected_zone.trunk_times"),
    )  # fmt: skip


def _size(t: _Table, v: Values, row: str | int) -> SizeTest | None:
    given = {k.removeprefix("size.") for k in v if k.startswith("size.")}
    if not given:
        return None
    needed = [k for k in ("measure", "stems", "from") if k not in given]
    for key in needed:
        why = ' ("unknown" where the place does not say)' if key == "stems" else ""
        t.tell(row, f"rule.size.{key}", None, f"{key}, where there is a size{why}")
    if needed:
        return None
    girth = v["size.measure"] == "girth"
    cm = t.trunk_cm / (math.pi if girth else 1.0)
    from_ = float(v["size.from"])
    multi = float(v.get("size.multi_from", from_))
    below, heritage = v.get("size.below"), v.get("size.heritage")
    for key, value in (("below", below), ("heritage", heritage)):
        if value is not None and not value > from_:
            t.tell(row, f"rule.size.{key}", value, f"more than from, {from_:g}")
    return SizeTest(
        v["size.stems"], from_ * cm, multi * cm, None if below is None else below * cm,
        None if heritage is None else heritage * cm, t.length(v, "size.at"), girth,
    )  # fmt: skip


def _season(t: _Table, v: Values, row: str | int) -> Season | None:
    window = _window(t, v, row)
    if window is None or {"id", "citation", "kind", "acts"} - set(v):
        return None
    return Season(
        v["id"], v.get("place", t.place), v["citation"], v.get("checked", t.checked), v["kind"],
        window, v["acts"], t.plants(v, "season", row), v.get("only", False),
        v.get("unless", ""), t.length(v, "buffer"),
    )  # fmt: skip


def _window(t: _Table, v: Values, row: str | int) -> Window | None:
    ends = []
    for key in ("from", "to"):
        match = _MONTH_DAY.fullmatch(v.get(key, "").strip())
        month, day = (int(x) for x in match.groups()) if match else (0, 0)
        if match and 1 <= month <= 12 and 1 <= day <= _DAYS[month - 1]:
            ends.append((month, day))
        elif key in v:
            t.tell(row, f"season.{key}", v[key], 'a month and day such as "02-15"')
    return (ends[0], ends[1]) if len(ends) == 2 else None


def _wire(t: _Table, v: Values, row: str | int) -> WireRule | None:  # noqa: ARG001
    if {"id", "citation", "who"} - set(v):
        return None
    return WireRule(
        v["id"], v["citation"], v["who"], v.get("work", ""), v.get("kv"),
        t.length(v, "clearance"), v.get("wait_days"), v.get("counted") == "working",
    )  # fmt: skip


def _fire(t: _Table, v: Values, row: str | int) -> FireRule | None:
    within = t.length(v, "within")
    if within is None or {"id", "citation", "of", "asks"} - set(v):
        return None
    return FireRule(
        v["id"], v["citation"], v["of"], within, v["asks"], v.get("measured_from", "trunk"),
        t.plants(v, "fire", row), v.get("what", ""),
    )  # fmt: skip


def _owner(t: _Table, v: Values, row: str | int) -> OwnerNamed | None:  # noqa: ARG001
    if {"trees", "name", "as"} - set(v):
        return None
    return OwnerNamed(v["trees"], v["name"], v["as"])


def _consent(t: _Table, v: Values, row: str | int) -> Consent | None:  # noqa: ARG001
    if {"tree", "by", "as", "acts", "date", "how"} - set(v):
        return None
    return Consent(
        v["tree"], v["by"], v["as"], v["acts"], v["date"], v["how"], v.get("file", "")
    )  # fmt: skip


def _granted(t: _Table, v: Values, row: str | int) -> PermitGiven | None:  # noqa: ARG001
    if {"rule", "date"} - set(v):
        return None
    return PermitGiven(
        v["rule"], v["date"], v.get("trees", ()), v.get("number", ""), v.get("until")
    )  # fmt: skip


def _line(t: _Table, v: Values, row: str | int) -> LineTold | None:
    if "tree" not in v:
        return None
    if "distance" not in v and "growth" not in v:
        t.tell(row, "line.distance", None, "a distance, a growth, or both")
    growth = v.get("growth")
    return LineTold(
        v["tree"], t.length(v, "distance"), None if growth is None else growth * t.trunk_cm,
        v.get("basis", "told"),
    )  # fmt: skip


_MAKERS: dict[str, Any] = {
    "rule": _rule, "season": _season, "wire": _wire, "fire": _fire, "owner": _owner,
    "consent": _consent, "line": _line, "granted": _granted,
}  # fmt: skip
