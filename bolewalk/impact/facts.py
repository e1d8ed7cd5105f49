"""What is not known about one tree and the works near it, and what it may turn out to be."""

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import Literal

from bolewalk.impact.near import NearWork
from bolewalk.impact.plausible import plausible_values
from bolewalk.impact.tolerance import tolerance_of_name
from bolewalk.model.figures import Figure
from bolewalk.model.statements import Statement, say
from bolewalk.model.survey import RootZoneMethod
from bolewalk.model.trees import Tree
from bolewalk.model.words import Making, Tolerance
from bolewalk.model.works import Part, Work
from bolewalk.trees.stems import combined_diameters

__all__ = ["Asked", "Fact", "FactValue", "Kind", "Scene", "open_facts"]

Asked = Literal["designer", "client", "surveyor", "locator", "builder", "assessor"]
Kind = Literal[
    "made", "offset", "present", "depth", "later", "roof_low", "height", "wire_low", "diameter",
    "species",
]  # fmt: skip
Touches = Literal["roots", "crown", "tolerance"]


@dataclass(frozen=True, slots=True)
class Scene:
    """One tree among the works near it, as one combination of facts would have it."""

    tree: Tree
    works: tuple[Work, ...]


Edit = Callable[[Scene], Scene]


@dataclass(frozen=True, slots=True)
class FactValue:
    """One value a fact may have: the answer in words, and what it makes of the scene."""

    answer: Statement
    edit: Edit


@dataclass(frozen=True, slots=True)
class Fact:
    """One open fact.

    Attributes
    ----------
    id : str
        Work ids and kind, "W4.depth", the same for every tree the fact bears on.
    kind : Kind
    ask, settle, not_needed : Statement
        The question; the condition to settle it first; the remark that it changes nothing.
    of : Asked
        Who can answer.
    values : tuple of FactValue
        The first is what is counted as long as the fact is not told.
    touches : frozenset
        Which figures an answer can move; empty where it can move none that a verdict reads.
    later : bool
        The fact is whether a possible later work will be there.
    """

    id: str
    kind: Kind
    ask: Statement
    settle: Statement
    not_needed: Statement
    of: Asked
    values: tuple[FactValue, ...]
    touches: frozenset[Touches]
    later: bool = False


_Build = Callable[[Kind, tuple[Work, ...]], Fact]
_Lacks = Callable[[Work], tuple[object, ...] | None]


def open_facts(
    tree: Tree, near: Sequence[NearWork], works: Sequence[Work], method: RootZoneMethod
) -> tuple[Fact, ...]:
    """List the open facts that bear on one tree.

    Parameters
    ----------
    tree : Tree
        With position.
    near : sequence of NearWork
        The works that come near its roots or its crown.
    works : sequence of Work
        All works of the survey: those of one drawing, layer and kind that lack the same thing
        are one question, so that a row of piles is asked about once.
    method : RootZoneMethod

    Returns
    -------
    tuple of Fact
        Each with two values at least; position, presence, making, depth, later works, heights,
        trunk, species, each in the order of `works`.
    """
    here = {n.work.id: n for n in near}
    facts: list[Fact] = []
    offset: _Build = partial(_offset, here)
    off_place: tuple[Kind, _Lacks, _Build] = (
        "offset",
        lambda w: _same(w.offset_m > 0, w.offset_m),
        offset,
    )
    for kind, lacks, build in (off_place, *_LACKING):
        for group in _groups(works, lacks):
            if any(w.id in here for w in group):
                facts.append(build(kind, group))
    facts += _trunk_facts(tree, method)
    facts += _species_facts(tree, method)
    return tuple(facts)


# --- works, in groups that lack the same ------------------------------------------------------


def _groups(
    works: Sequence[Work], lacks: Callable[[Work], tuple[object, ...] | None]
) -> list[tuple[Work, ...]]:
    groups: dict[tuple[object, ...], list[Work]] = {}
    for w in works:
        key = lacks(w)
        if w.present != "no" and key is not None:
            shared = (w.kind, w.phase, w.file, w.drawing, w.layer)
            groups.setdefault((*shared, *key), []).append(w)
    return [tuple(g) for g in groups.values()]


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
    names = ", ".join(w.id for w in group)
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
        later=later,
    )


def _on_works(group: Sequence[Work], change: Callable[[Work], Work | None]) -> Edit:
    """Change the group's works in a scene; None takes a work away."""
    ids = frozenset(w.id for w in group)

    def edit(scene: Scene) -> Scene:
        changed = (change(w) if w.id in ids else w for w in scene.works)
        return replace(scene, works=tuple(w for w in changed if w is not None))

    return edit


def _moved(work: Work, east_m: float, north_m: float) -> Work:
    def ring(points: tuple[tuple[float, float], ...]) -> tuple[tuple[float, float], ...]:
        return tuple((x + east_m, y + north_m) for x, y in points)

    parts = tuple(Part(p.shape, ring(p.ring), tuple(map(ring, p.holes))) for p in work.parts)
    return replace(work, parts=parts)


def _offset(here: Mapping[str, NearWork], kind: Kind, group: tuple[Work, ...]) -> Fact:
    def shifted(times: float) -> Edit:
        def change(work: Work) -> Work:
            near = here.get(work.id)
            if near is None or times == 0.0:
                return work
            bearing = math.radians(near.bearing_deg)
            away = -times * work.offset_m
            return _moved(work, away * math.sin(bearing), away * math.cos(bearing))

        return _on_works(group, change)

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
        FactValue(say("answer.present_yes"), _on_works(group, lambda w: replace(w, present="yes"))),
        FactValue(say("answer.present_no"), _on_works(group, lambda _: None)),
    ]
    buried = group[0].kind in ("utility", "drain", "trench")
    of: Asked = "designer"
    if group[0].phase == "existing":
        of = "locator" if buried else "client"
    return _fact(kind, group, of, values, ("roots", "crown"))


def _made(kind: Kind, group: tuple[Work, ...]) -> Fact:
    def made(how: Making) -> Edit:
        return _on_works(group, lambda w: replace(w, made=how))

    values = [FactValue(say(f"answer.made_{how}"), made(how)) for how in _makings()]
    of: Asked = "client" if group[0].phase == "existing" else "designer"
    return _fact(kind, group, of, values, ("roots",))


def _makings() -> tuple[Making, ...]:
    known: dict[str, Making] = {"bored": "bored", "hand": "hand"}
    return tuple(known[v] for v in plausible_values().made)


def _depth(kind: Kind, group: tuple[Work, ...]) -> Fact:
    trenchless = group[0].made == "trenchless" and group[0].kind != "pile"
    depths = plausible_values().trenchless_m if trenchless else plausible_values().open_dig_m

    def deep(depth_m: float) -> Edit:
        figure = Figure(depth_m, "default", "plausible depth")
        return _on_works(group, lambda w: replace(w, depth_m=figure))

    values = [FactValue(say("answer.depth", depth_m=d), deep(d)) for d in depths]
    of: Asked = "locator" if group[0].phase == "existing" else "designer"
    # Severed counts a cut as whole however deep it is; only under a bore does depth decide.
    return _fact(kind, group, of, values, ("roots",) if trenchless else ())


def _later(kind: Kind, group: tuple[Work, ...]) -> Fact:
    values = [
        FactValue(say("answer.later_not_built"), _on_works(group, lambda _: None)),
        FactValue(
            say("answer.later_built"), _on_works(group, lambda w: replace(w, phase="proposed"))
        ),
    ]
    return _fact(kind, group, "client", values, ("roots", "crown"), later=True)


def _height(side: Literal["low_m", "high_m"], heights: tuple[float, ...]) -> _Build:
    def build(kind: Kind, group: tuple[Work, ...]) -> Fact:
        def at(height_m: float) -> Edit:
            if side == "low_m":
                return _on_works(group, lambda w: replace(w, low_m=height_m))
            return _on_works(group, lambda w: replace(w, high_m=height_m))

        values = [FactValue(say(f"answer.{kind}_untold"), _on_works(group, lambda w: w))]
        values += [FactValue(say(f"answer.{kind}", height_m=h), at(h)) for h in heights]
        of: Asked = "surveyor" if group[0].phase == "existing" else "designer"
        return _fact(kind, group, of, values, ("crown",))

    return build


def _same(condition: bool, *key: object) -> tuple[object, ...] | None:
    return key if condition else None


_DUG = frozenset({"trench", "excavation", "strip footing", "drain", "utility", "wall"})

_LACKING: tuple[tuple[Kind, _Lacks, _Build], ...] = (
    ("present", lambda w: _same(w.present == "unknown", w.id), _present),
    ("made", lambda w: _same(w.kind == "pile" and w.made is None), _made),
    ("depth", lambda w: _same(w.kind in _DUG and w.depth_m is None, w.made), _depth),
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


def _new(work: Work) -> bool:
    """Tell whether heights not told count against the crown: not those of what stands there."""
    return work.phase != "existing" or work.low_m is not None or work.high_m is not None


# --- the tree itself --------------------------------------------------------------------------


def _about_tree(
    kind: Kind, tree: Tree, values: Sequence[FactValue], touches: Sequence[Touches], **told: str
) -> Fact:
    said: dict[str, str] = {"tree": tree.id, **told}
    return Fact(
        f"{tree.id}.{kind}",
        kind,
        say(f"question.{kind}", **said),
        say(f"condition.settle_{kind}", **said),
        say(f"not_needed.{kind}", **said),
        "assessor",
        tuple(values),
        frozenset(touches),
    )


def _trunk_facts(tree: Tree, method: RootZoneMethod) -> list[Fact]:
    def with_trunk(diameter_cm: float) -> Edit:
        figure = Figure(diameter_cm, "default", "one reading of several")
        return lambda scene: replace(scene, tree=replace(scene.tree, stems_cm=(figure,)))

    table = plausible_values()
    stems = tree.stems_cm
    if len(stems) > 1 and method in table.methods_without_rule:
        by_rule = combined_diameters([s.value for s in stems])
        readings = [(r, float(getattr(by_rule, r))) for r in table.readings]
        values = [
            FactValue(say(f"answer.diameter_{name}", trunk_cm=d), with_trunk(d))
            for name, d in readings
        ]
        return [_about_tree("diameter", tree, values, ("roots",))]
    if len(stems) == 1 and stems[0].low is not None and stems[0].high is not None:
        s = stems[0]
        ends = sorted({float(v) for v in (s.low, s.high) if v is not None and v > 0} - {s.value})
        if s.low and s.high and s.high >= table.two_readings_ratio * s.low and ends:
            values = [
                FactValue(say("answer.diameter_is", trunk_cm=d), with_trunk(d))
                for d in (s.value, *ends)
            ]
            return [_about_tree("diameter", tree, values, ("roots",))]
    return []


def _species_facts(tree: Tree, method: RootZoneMethod) -> list[Fact]:
    species = tree.species
    table = plausible_values()
    sure = species.confidence is None or species.confidence >= table.doubt_below
    doubted = not sure or species.botanical is None
    if tree.tolerance is not None or not doubted or not species.alternatives:
        return []
    names = [species.botanical] if species.botanical else []
    names += [n for n in species.alternatives if n not in names]
    by_level: dict[Tolerance | None, list[str]] = {}
    for name in names:
        by_level.setdefault(tolerance_of_name(name).level, []).append(name)
    if species.botanical is None:
        # Counted as unknown until it is told, which is judged like moderate.
        by_level = {None: by_level.pop(None, [])} | by_level

    def as_species(name: str | None) -> Edit:
        def edit(scene: Scene) -> Scene:
            known = replace(scene.tree.species, botanical=name, alternatives=())
            return replace(scene, tree=replace(scene.tree, species=known))

        return edit

    values = []
    for same in by_level.values():
        if same:
            answer = say("answer.species_is", species=" / ".join(same))
            values.append(FactValue(answer, as_species(same[0])))
        else:
            values.append(FactValue(say("answer.species_untold"), as_species(None)))
    if len(values) < 2:
        return []
    touches: tuple[Touches, ...] = ("tolerance",)
    if method == "tolerance-age":
        touches = ("tolerance", "roots")
    told = {"heard": species.as_heard or species.label, "candidates": ", ".join(names)}
    return [_about_tree("species", tree, values, touches, **told)]
