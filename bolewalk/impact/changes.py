"""Changes to the plan that would let a tree be kept, each tried by itself, then all together."""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from bolewalk.impact.glance import Glance
from bolewalk.impact.near import NearWork, moved, names_of
from bolewalk.impact.results import CrownClash, RootZone
from bolewalk.impact.scene import Scene
from bolewalk.impact.settings import root_loss_settings
from bolewalk.impact.thresholds import Thresholds
from bolewalk.impact.verdicts import judge_roots
from bolewalk.model.figures import Figure
from bolewalk.model.statements import Statement, say
from bolewalk.model.words import Tolerance, Verdict
from bolewalk.model.works import Work

__all__ = ["PlanChange", "plan_changes"]

Way = Literal["bored", "on_piles", "by_hand", "moved", "left_out", "together"]

_BORED = frozenset({"trench", "drain", "utility"})
_ROUNDS = 14
_STEP_M = 0.05  # a shift is given to the next 5 cm up: nothing is set out closer


@dataclass(frozen=True, slots=True)
class PlanChange:
    """One change and the level it leads to, everything else as recorded. `shift_m` is how far
    the works move straight away from the trunk, None for other ways."""

    way: Way
    works: tuple[str, ...]
    level: Verdict
    shift_m: float | None
    say: Statement


def plan_changes(
    tree_xy: tuple[float, float],
    zone: RootZone,
    near: Sequence[NearWork],
    tolerance: Tolerance | None,
    crown: CrownClash | None,
    thresholds: Thresholds,
) -> tuple[PlanChange, ...]:
    """Try changes to the proposed works near a tree that cannot be kept as drawn.

    Parameters
    ----------
    tree_xy : (east, north) [m]
    zone : RootZone
    near : sequence of NearWork
        Existing works stay as they are; possible later ones are left out.
    tolerance : Tolerance or None
    crown : CrownClash or None
    thresholds : Thresholds

    Returns
    -------
    tuple of PlanChange
        Only changes after which the tree can be kept, in the order: bored below the roots,
        stood on piles with beams above grade, piles dug by hand or air, moved away, left out;
        within each in the order of `near`. Where no single change does it, all of the first three
        kinds together, if they do. A row of piles changes together.
    """
    standing = [n for n in near if n.work.phase != "possible later" and n.work.present != "no"]
    base = Scene((), origin=tree_xy)

    def level_of(works: Sequence[Work]) -> Verdict:
        glance = Glance(tree_xy, zone, base.with_works(works))
        return judge_roots(glance, zone, tolerance, crown, thresholds)

    proposed = [n for n in standing if n.work.phase == "proposed" and n.role in ("pile", "severs")]
    proposed = [n for n in proposed if n.distance_m < zone.radius_m]
    all_works = [n.work for n in standing]
    found: list[PlanChange] = []
    gentle: dict[int, Work] = {}
    for way, group, change in _gentler(proposed, thresholds.value("bore.widest")):
        changed = {id(w): change(w) for w in group}
        gentle |= changed
        level = level_of([changed.get(id(w), w) for w in all_works])
        if level != "redesign":
            found.append(_change(way, group, level))
    for group_of in _rows(proposed):
        shift = _least_shift(group_of, all_works, zone, level_of)
        if shift is not None:
            found.append(_change("moved", [n.work for n in group_of], shift[1], shift[0]))
    for group_of in _rows(proposed):
        gone = {id(n.work) for n in group_of}
        level = level_of([w for w in all_works if id(w) not in gone])
        if level != "redesign":
            found.append(_change("left_out", [n.work for n in group_of], level))
    if not found and len(gentle) > 1:
        level = level_of([gentle.get(id(w), w) for w in all_works])
        if level != "redesign":
            group = [w for w in all_works if id(w) in gentle]
            found.append(_change("together", group, level))
    return tuple(found)


def _change(
    way: Way, works: Sequence[Work], level: Verdict, shift_m: float | None = None
) -> PlanChange:
    told: dict[str, str | float] = {"works": names_of(works)}
    if shift_m is not None:
        told["shift_m"] = shift_m
    return PlanChange(
        way, tuple(w.id for w in works), level, shift_m, say(f"flip.{way}_to_{level}", **told)
    )


def _rows(near: Sequence[NearWork]) -> list[list[NearWork]]:
    """Group the piles of one drawing and layer; other works stand alone."""
    rows: dict[tuple[object, ...], list[NearWork]] = {}
    for i, n in enumerate(near):
        w = n.work
        key = (w.file, w.drawing, w.layer, w.made) if w.kind == "pile" else (i,)
        rows.setdefault(key, []).append(n)
    return list(rows.values())


def _borable(work: Work, widest_m: float) -> bool:
    lines = all(p.shape == "line" for p in work.parts)
    return work.kind in _BORED and work.made != "trenchless" and lines and work.width_m <= widest_m


def _gentler(
    near: Sequence[NearWork], bore_widest_m: float
) -> list[tuple[Way, list[Work], Callable[[Work], Work]]]:
    deep = Figure(root_loss_settings().trenchless_least_depth_m, "default", "least depth of a bore")
    ways: list[tuple[Way, list[Work], Callable[[Work], Work]]] = [
        ("bored", [n.work], lambda w: replace(w, made="trenchless", depth_m=deep))
        for n in near
        if _borable(n.work, bore_widest_m)
    ]
    ways += [
        ("on_piles", [n.work], _on_piles)
        for n in near
        if n.work.kind in ("building", "strip footing", "wall")
    ]
    ways += [
        ("by_hand", [n.work for n in row], lambda w: replace(w, made="hand"))
        for row in _rows(near)
        if row[0].role == "pile" and row[0].work.made not in ("hand", "air")
    ]
    return ways


def _on_piles(work: Work) -> Work:
    """Lift a footing off the ground; where its piles go is for the designer and judged again."""
    if work.kind == "building":
        return replace(work, founded="piles")
    return replace(work, kind="beam")


def _least_shift(
    row: Sequence[NearWork],
    all_works: Sequence[Work],
    zone: RootZone,
    level_of: Callable[[Sequence[Work]], Verdict],
) -> tuple[float, Verdict] | None:
    """Find the least move of a row, together, straight away from the trunk."""
    nearest = min(row, key=lambda n: n.distance_m)
    bearing = math.radians(nearest.bearing_deg)
    ids = {id(n.work) for n in row}

    def level_at(shift: float) -> Verdict:
        east, north = shift * math.sin(bearing), shift * math.cos(bearing)
        return level_of([moved(w, east, north) if id(w) in ids else w for w in all_works])

    clear, short = zone.radius_m - nearest.distance_m, 0.0
    if clear <= 0 or level_at(clear) == "redesign":
        return None
    for _ in range(_ROUNDS):
        if clear - short < _STEP_M / 4:
            break
        middle = (clear + short) / 2
        if level_at(middle) == "redesign":
            short = middle
        else:
            clear = middle
    shift = math.ceil(clear / _STEP_M) * _STEP_M
    return shift, level_at(shift)
