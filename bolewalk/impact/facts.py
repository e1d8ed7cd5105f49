"""What is not known about one tree and the works near it, and what it may turn out to be."""

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from functools import partial
from typing import Literal

from bolewalk.impact.crown import crown_solid
from bolewalk.impact.fact import Asked, ChangeWork, Fact, FactValue, Kind, Touches
from bolewalk.impact.near import NearWork, moved, names_of
from bolewalk.impact.plausible import plausible_values
from bolewalk.impact.tree_facts import species_facts, trunk_facts
from bolewalk.model.figures import Figure
from bolewalk.model.statements import Statement, say
from bolewalk.model.survey import RootZoneMethod
from bolewalk.model.trees import Tree
from bolewalk.model.words import Making
from bolewalk.model.works import Work

__all__ = ["open_facts", "rows_of"]

_Build = Callable[[Kind, tuple[Work, ...]], Fact]
_Lacks = Callable[[Work], tuple[object, ...] | None]


def open_facts(
    tree: Tree,
    near: Sequence[NearWork],
    works: Sequence[Work],
    method: RootZoneMethod,
    *,
    root_reach_m: float,
) -> tuple[Fact, ...]:
    """List the open facts that bear on one tree.

    Parameters
    ----------
    tree : Tree
        With position.
    near : sequence of NearWork
        The works that come near its roots or its crown.
    works : sequence of Work
        All works of the survey: those of one drawing, layer, label and kind that lack the same
        thing are one question, so that a row of piles is asked about once.
    method : RootZoneMethod
    root_reach_m : float
        Radius of the root zone, the largest of those in question [m].

    Returns
    -------
    tuple of Fact
        A fact about works out of reach of the roots, or of the crown, does not touch them.
        Each with two values at least; position, presence, making, depth, later works, heights,
        trunk, species, each in the order of `works`.
    """
    here = {n.work.id: n for n in near}
    solid = crown_solid(tree)
    crown_reach_m = -math.inf if solid is None else max(solid.radii_m)

    def reached(group: Sequence[Work]) -> frozenset[Touches]:
        # A work may lie nearer than drawn by its offset, whichever fact is asked about.
        gaps = [(here[w.id].distance_m - w.offset_m, w) for w in group if w.id in here]
        what: set[Touches] = {"tolerance"}
        if any(gap <= root_reach_m for gap, _ in gaps):
            what.add("roots")
        if any(gap <= crown_reach_m + w.clearance_m for gap, w in gaps):
            what.add("crown")
        return frozenset(what)

    facts: list[Fact] = []
    offset: _Build = partial(_offset, here)
    for kind, lacks, build in (("offset", _off_place, offset), *_LACKING):
        for row in _groups(works, lacks):
            # A row on one layer, or under one label, is one thing to the designer; works that
            # share neither are asked about only where they come near.
            group = tuple(w for w in row if w.layer or w.label or w.id in here)
            if any(w.id in here for w in group):
                fact = build(kind, group)
                facts.append(replace(fact, touches=fact.touches & reached(group)))
    facts += trunk_facts(tree, method)
    facts += species_facts(tree, method)
    return tuple(facts)


# --- works, in groups that lack the same ------------------------------------------------------


def _groups(works: Sequence[Work], lacks: _Lacks) -> list[tuple[Work, ...]]:
    groups: dict[tuple[object, ...], list[Work]] = {}
    for w in works:
        row = _row(w, lacks)
        if row is not None:
            groups.setdefault(row, []).append(w)
    return [tuple(g) for g in groups.values()]


def _row(work: Work, lacks: _Lacks) -> tuple[object, ...] | None:
    lacking = lacks(work)
    if work.present == "no" or lacking is None:
        return None
    return (work.kind, work.phase, work.file, work.drawing, work.layer, work.label, *lacking)


def rows_of(work: Work) -> frozenset[tuple[object, ...]]:
    """Give the rows a work stands in: works with one in common are asked about together.

    Empty where nothing of it is open, or where it has neither layer nor label to share.
    """
    if not (work.layer or work.label):
        return frozenset()
    asked = [("offset", _off_place), *((kind, lacks) for kind, lacks, _ in _LACKING)]
    rows = ((kind, _row(work, lacks)) for kind, lacks in asked)
    return frozenset((kind, *row) for kind, row in rows if row is not None)


def _fact(
    kind: Kind,
    group: Sequence[Work],
    of: Asked,
    values: Sequence[FactValue],
    touches: Sequence[Touches],
    *,
    later: bool = False,
    **more: float,
) -> Fact:
    names = names_of(group)
    told: dict[str, str | float] = {"works": names, "kind": group[0].kind, **more}
    ids = "+".join(w.id for w in group)
    return Fact(
        f"{ids}.{kind}",
        kind,
        say(f"question.{kind}", **told),
        say(f"condition.settle_{kind}", **told),
        say(f"not_needed.{kind}", **told),
        of,
        tuple(values),
        frozenset(touches),
        works=frozenset(w.id for w in group),
        later=later,
    )


def _offset(here: Mapping[str, NearWork], kind: Kind, group: tuple[Work, ...]) -> Fact:
    def shifted(times: float) -> ChangeWork:
        def change(work: Work) -> Work:
            near = here.get(work.id)
            if near is None or times == 0.0:
                return work
            bearing = math.radians(near.bearing_deg)
            away = -times * work.offset_m
            return moved(work, away * math.sin(bearing), away * math.cos(bearing))

        return change

    def answer(times: float) -> Statement:
        if times == 0.0:
            return say("answer.offset_as_drawn")
        code = "answer.offset_nearer" if times > 0 else "answer.offset_farther"
        return say(code, offset_m=abs(times) * group[0].offset_m)

    values = [FactValue(answer(t), shifted(t)) for t in plausible_values().offset_times]
    of: Asked = "surveyor" if group[0].phase == "existing" else "designer"
    return _fact(kind, group, of, values, ("roots", "crown"), offset_m=group[0].offset_m)


def _present(kind: Kind, group: tuple[Work, ...]) -> Fact:
    values = [
        FactValue(say("answer.present_yes"), lambda w: replace(w, present="yes")),
        FactValue(say("answer.present_no"), lambda _: None),
    ]
    buried = group[0].kind in ("utility", "drain", "trench")
    of: Asked = "designer"
    if group[0].phase == "existing":
        of = "locator" if buried else "client"
    return _fact(kind, group, of, values, ("roots", "crown"))


def _made(kind: Kind, group: tuple[Work, ...]) -> Fact:
    def made(how: Making) -> ChangeWork:
        return lambda w: replace(w, made=how)

    values = [FactValue(say(f"answer.made_{how}"), made(how)) for how in _makings()]
    of: Asked = "client" if group[0].phase == "existing" else "designer"
    return _fact(kind, group, of, values, ("roots",))


def _makings() -> tuple[Making, ...]:
    known: dict[str, Making] = {"bored": "bored", "hand": "hand"}
    return tuple(known[v] for v in plausible_values().made)


def _depth(kind: Kind, group: tuple[Work, ...]) -> Fact:
    trenchless = group[0].made == "trenchless" and group[0].kind != "pile"
    depths = plausible_values().trenchless_m if trenchless else plausible_values().open_dig_m

    def deep(depth_m: float) -> ChangeWork:
        figure = Figure(depth_m, "default", "plausible depth")
        return lambda w: replace(w, depth_m=figure)

    values = [FactValue(say("answer.depth", depth_m=d), deep(d)) for d in depths]
    of: Asked = "locator" if group[0].phase == "existing" else "designer"
    # Severed counts a cut as whole however deep it is; only under a bore does depth decide.
    return _fact(kind, group, of, values, ("roots",) if trenchless else ())


def _later(kind: Kind, group: tuple[Work, ...]) -> Fact:
    values = [
        FactValue(say("answer.later_not_built"), lambda _: None),
        FactValue(say("answer.later_built"), lambda w: replace(w, phase="proposed")),
    ]
    return _fact(kind, group, "client", values, ("roots", "crown"), later=True)


def _height(side: Literal["low_m", "high_m"], heights: tuple[float, ...]) -> _Build:
    def build(kind: Kind, group: tuple[Work, ...]) -> Fact:
        def at(height_m: float) -> ChangeWork:
            if side == "low_m":
                return lambda w: replace(w, low_m=height_m)
            return lambda w: replace(w, high_m=height_m)

        values = [FactValue(say(f"answer.{kind}_untold"))]
        values += [FactValue(say(f"answer.{kind}", height_m=h), at(h)) for h in heights]
        of: Asked = "surveyor" if group[0].phase == "existing" else "designer"
        return _fact(kind, group, of, values, ("crown",))

    return build


def _same(condition: bool, *key: object) -> tuple[object, ...] | None:
    return key if condition else None


def _off_place(work: Work) -> tuple[object, ...] | None:
    return _same(work.offset_m > 0, work.offset_m)


_DUG = frozenset({"trench", "excavation", "strip footing", "drain", "utility", "wall"})

_LACKING: tuple[tuple[Kind, _Lacks, _Build], ...] = (
    ("present", lambda w: _same(w.present == "unknown", w.id), _present),
    ("made", lambda w: _same(w.kind == "pile" and w.made is None), _made),
    ("depth", lambda w: _same(_dug(w) and w.depth_m is None, w.made), _depth),
    (
        "roof_low",
        lambda w: _same(w.kind == "roof" and w.low_m is None and _new(w), w.high_m),
        _height("low_m", plausible_values().roof_underside_m),
    ),
    (
        "height",
        lambda w: _same(w.kind == "building" and w.high_m is None and _new(w), w.id),
        _height("high_m", plausible_values().building_top_m),
    ),
    (
        "height",
        lambda w: _same(w.kind == "wall" and w.high_m is None and _new(w), w.id),
        _height("high_m", plausible_values().wall_top_m),
    ),
    (
        "wire_low",
        lambda w: _same(w.kind == "wire" and w.low_m is None and _new(w), w.high_m),
        _height("low_m", plausible_values().wire_underside_m),
    ),
    ("later", lambda w: _same(w.phase == "possible later"), _later),
)


def _dug(work: Work) -> bool:
    return work.kind in _DUG or (work.kind == "building" and work.founded == "strip")


def _new(work: Work) -> bool:
    """Tell whether heights not told count against the crown: not those of what stands there."""
    return work.phase != "existing" or work.low_m is not None or work.high_m is not None
