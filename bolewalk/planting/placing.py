"""From a site and wishes to a layout problem: kinds, spots, worth, spacing and limits."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray

from bolewalk.model.survey import Survey
from bolewalk.planting.crowns import Grower, new_grower
from bolewalk.planting.fire import FireBasis, ground_length_m, shrub_gap_m, tree_gap_m
from bolewalk.planting.layout import Layout, lay_out
from bolewalk.planting.layout_problem import Cover, LayoutProblem, Limit
from bolewalk.planting.palette import PaletteTaxon, find_taxon, grown_as
from bolewalk.planting.plan import KindWish, Place, PlantingPlan, View
from bolewalk.planting.room import Room, spots_in
from bolewalk.planting.tables import rules
from bolewalk.planting.watering import first_year_l

__all__ = ["Kind", "Placing", "along_the_ground", "kinds_of", "place_kinds", "spacing_between"]

Floats = NDArray[np.float64]
_WORTH_PER_M2 = 100


@dataclass(frozen=True, slots=True)
class Kind:
    """A kind to lay out and one plant of it grown over the years."""

    wish: KindWish
    taxon: PaletteTaxon
    grower: Grower


@dataclass(frozen=True, slots=True)
class Placing:
    """A layout on the plan.

    `places` and `kinds` are parallel; `options_count` what was chosen from, `step_m` the grid's
    step. `layout` carries bound and status, and what to relax.
    """

    places: tuple[Place, ...]
    kinds: tuple[Kind, ...]
    layout: Layout
    options_count: int
    step_m: float
    basis: FireBasis | None


def kinds_of(plan: PlantingPlan, *, region: str | None, horizon: int) -> tuple[Kind, ...]:
    """Give the plan's kinds, each with one plant grown."""
    found = []
    for wish in plan.kinds:
        taxon = find_taxon(wish.species)
        if taxon is not None:
            taxon = grown_as(taxon, height_m=wish.height_m, width_m=wish.width_m)
            grower = new_grower("", taxon, wish.stock, (0.0, 0.0), region=region,
                                horizon=horizon, survival=plan.site.survival)  # fmt: skip
            found.append(Kind(wish, taxon, grower))
    return tuple(found)


def along_the_ground(places: Floats, *, slope_pct: float, bearing_deg: float | None) -> Floats:
    """Give places with the way down the slope stretched to its tape length.

    Without a bearing nothing is stretched: plan lengths are the shorter, so spacing along the
    ground is then at least what was asked.
    """
    if not slope_pct or bearing_deg is None or not len(places):
        return places
    b = math.radians(bearing_deg)
    down = np.array([math.sin(b), math.cos(b)])
    extra = ground_length_m(1.0, slope_pct=slope_pct) - 1
    stretched: Floats = places + np.outer(places @ down, down) * extra
    return stretched


def spacing_between(
    a: PaletteTaxon, b: PaletteTaxon, *, slope_pct: float, basis: FireBasis | None
) -> float:
    """Give the least distance trunk to trunk of two kinds when grown [m].

    Crowns do not meet; where a fire basis is named, trees keep the published gap, shrubs the
    multiple of the larger one, a shrub beside a tree the shrub's; ground covers lie between.
    """
    touching = a.spread_m.value / 2 + b.spread_m.value / 2
    if basis is None or "ground cover" in (a.kind, b.kind):
        return touching
    shrubs = [t for t in (a, b) if t.kind == "shrub"]
    if not shrubs:
        return touching + tree_gap_m(slope_pct)
    size = max(t.height_m.value if basis == "shrub_height" else t.spread_m.value for t in shrubs)
    return touching + shrub_gap_m(size, slope_pct=slope_pct, basis=basis)


def place_kinds(
    survey: Survey, plan: PlantingPlan, kinds: Sequence[Kind], rooms: Sequence[Room], *,
    basis: FireBasis | None, fixed: Sequence[tuple[Place, PaletteTaxon]],
    standing: Sequence[tuple[str, str, str]], spent_minor: int = 0, spent_l: float = 0.0,
) -> Placing:  # fmt: skip
    """Lay the kinds out in their rooms.

    Parameters
    ----------
    survey, plan
    kinds, rooms : sequence of Kind, of Room
        Parallel.
    basis : FireBasis or None
        Fire spacing by this basis; None = crowns only do not meet.
    fixed : sequence of (place, taxon)
        Plants set by hand: new ones keep their spacing from them.
    standing : sequence of (species, genus, family)
        What stands or was set by hand, for diversity.
    spent_minor, spent_l : int, float
        What the plants set by hand take of the budget and of the first year's water.

    Returns
    -------
    Placing
    """
    slope, bearing = survey.site.slope_pct or 0.0, survey.site.slope_bearing_deg
    table = rules("planting_rules")["spots"]
    spacing = np.array(
        [[spacing_between(a.taxon, b.taxon, slope_pct=slope, basis=basis) for b in kinds]
         for a in kinds]
    ).reshape(len(kinds), len(kinds))  # fmt: skip
    free = shapely.union_all([r.free for r in rooms]) if rooms else shapely.Polygon()
    narrow = float(spacing.diagonal().min()) if len(kinds) else 1.0
    spots, step = spots_in(
        free, step_m=max(float(table["least_m"]), narrow * float(table["step_share"])),
        most=int(table["most"]),
    )  # fmt: skip
    ground = along_the_ground(spots, slope_pct=slope, bearing_deg=bearing)
    spot, kind = _options(kinds, rooms, spots, ground, fixed, slope, bearing, basis)
    problem = LayoutProblem(
        ground, spacing, spot, kind, _worth(plan, kinds, kind), (),
        _covers(plan.views, kinds, spots, spot, kind, plan.year),
    )  # fmt: skip
    problem = replace(problem, limits=_limits(plan, kinds, problem, standing, spent_minor, spent_l))
    layout = lay_out(problem)
    chosen = list(layout.chosen)
    return Placing(
        tuple((float(x), float(y)) for x, y in spots[spot[chosen]]),
        tuple(kinds[k] for k in kind[chosen].tolist()), layout, problem.n_options, step, basis,
    )  # fmt: skip


def _options(
    kinds: Sequence[Kind], rooms: Sequence[Room], spots: Floats, ground: Floats,
    fixed: Sequence[tuple[Place, PaletteTaxon]], slope: float, bearing: float | None,
    basis: FireBasis | None,
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:  # fmt: skip
    hand = along_the_ground(
        np.array([xy for xy, _ in fixed], dtype=np.float64).reshape(-1, 2),
        slope_pct=slope, bearing_deg=bearing,
    )  # fmt: skip
    spot, kind = [], []
    for k, (wanted, room) in enumerate(zip(kinds, rooms, strict=True)):
        if not len(spots) or wanted.wish.at_most == 0:
            continue
        inside = shapely.contains_xy(room.free, spots[:, 0], spots[:, 1])
        for place, (_, other) in zip(hand, fixed, strict=True):
            least = spacing_between(wanted.taxon, other, slope_pct=slope, basis=basis)
            inside &= np.hypot(*(ground - place).T) >= least - 1e-9
        at = np.flatnonzero(inside)
        spot.append(at)
        kind.append(np.full(len(at), k))
    if not spot:
        return np.empty(0, np.int64), np.empty(0, np.int64)
    spots_, kinds_ = np.concatenate(spot), np.concatenate(kind)
    order = np.lexsort((kinds_, spots_))
    return spots_[order].astype(np.int64), kinds_[order].astype(np.int64)


def _crown_then(kind: Kind, year: int) -> float:
    g = kind.grower
    return math.pi * float(g.radius_m[year]) ** 2 * float(g.alive[year])


def _worth(plan: PlantingPlan, kinds: Sequence[Kind], kind: NDArray[np.int64]) -> (
    NDArray[np.int64]
):  # fmt: skip
    """Expected crown in the plan's year where the kind serves a purpose, a token where not."""
    wanted = set(plan.purposes) - {"screen"}
    each = [
        max(1, round(_WORTH_PER_M2 * _crown_then(k, plan.year)))
        if not plan.purposes or wanted & set(k.taxon.uses)
        else 1
        for k in kinds
    ]
    return np.array(each, dtype=np.int64)[kind] if len(kind) else np.empty(0, np.int64)


def _covers(
    views: Sequence[View], kinds: Sequence[Kind], spots: Floats, spot: NDArray[np.int64],
    kind: NDArray[np.int64], year: int,
) -> tuple[Cover, ...]:  # fmt: skip
    """Pieces of each view, each hidden by any plant whose crown crosses its line of sight."""
    table = rules("planting_rules")["view"]
    pieces, worth = int(table["pieces"]), int(table["worth_m2"]) * _WORTH_PER_M2
    found = []
    if not len(spot):
        return ()
    radius = np.array([float(k.grower.radius_m[year]) for k in kinds])[kind]
    tall = np.array([float(k.grower.height_m[year]) for k in kinds])[kind]
    for view in views:
        at, left, right = (np.array(p) for p in (view.at, view.left, view.right))
        for n in range(pieces):
            target = left + (right - left) * (n + 0.5) / pieces
            along = target - at
            length = float(np.hypot(*along))
            if length == 0:
                continue
            unit = along / length
            to = spots[spot] - at
            ahead = to @ unit
            aside = np.abs(to[:, 0] * unit[1] - to[:, 1] * unit[0])
            hides = (ahead > 0) & (ahead < length) & (aside <= radius) & (tall > view.eye_m)
            if hides.any():
                found.append(Cover(np.flatnonzero(hides), worth))
    return tuple(found)


def _limits(
    plan: PlantingPlan, kinds: Sequence[Kind], problem: LayoutProblem,
    standing: Sequence[tuple[str, str, str]], spent_minor: int, spent_l: float,
) -> tuple[Limit, ...]:  # fmt: skip
    kind = problem.option_kind
    n = problem.n_options
    limits = []

    def of_kinds(values: Sequence[int]) -> NDArray[np.int64]:
        return np.array(values, dtype=np.int64)[kind] if n else np.empty(0, np.int64)

    if plan.most_plants is not None:
        limits.append(Limit("most_plants", np.ones(n, np.int64), plan.most_plants))
    if plan.budget_minor is not None:
        costs = [k.wish.cost_minor or 0 for k in kinds]
        limits.append(Limit("budget", of_kinds(costs), plan.budget_minor - spent_minor))
    if plan.water.first_year_at_most_l is not None:
        # Litres rounded up: a rounding never lets the limit be passed.
        litres = [math.ceil(first_year_l(k.taxon.kind, k.wish.stock)) for k in kinds]
        bound = math.floor(plan.water.first_year_at_most_l - spent_l)
        limits.append(Limit("water", of_kinds(litres), bound))
    for k, wanted in enumerate(kinds):
        own = of_kinds([int(i == k) for i in range(len(kinds))])
        if wanted.wish.at_most is not None:
            limits.append(Limit(f"at_most:{wanted.taxon.common}", own, wanted.wish.at_most))
        if wanted.wish.at_least:
            limits.append(Limit(f"at_least:{wanted.taxon.common}", -own, -wanted.wish.at_least))
    if plan.cover_m2 is not None:
        cover = of_kinds([round(_WORTH_PER_M2 * _crown_then(k, plan.year)) for k in kinds])
        limits.append(Limit("cover", -cover, -round(_WORTH_PER_M2 * plan.cover_m2)))
    return (*limits, *_diversity(kinds, problem, standing))


def _diversity(
    kinds: Sequence[Kind], problem: LayoutProblem, standing: Sequence[tuple[str, str, str]]
) -> list[Limit]:
    """At most 10, 20, 30 percent of the trees, those standing counted, where enough stand."""
    table = rules("planting_rules")["diversity"]
    if len(standing) < int(table["least_trees"]):
        return []
    tree = np.array([k.taxon.kind in ("tree", "palm") for k in kinds])
    limits = []
    for n, rank in enumerate(("species", "genus", "family")):
        pct = int(table[f"{rank}_pct"])
        names = [(k.taxon.botanical, k.taxon.genus, k.taxon.family)[n] for k in kinds]
        for name in sorted({x for x, t in zip(names, tree.tolist(), strict=True) if t and x}):
            own = np.array([x == name for x in names]) & tree
            weights = 100 * own.astype(np.int64) - pct * tree.astype(np.int64)
            have = sum(s[n] == name for s in standing)
            # What stands may be over already: it bars more of the name, not all planting.
            bound = max(0, pct * len(standing) - 100 * have)
            limits.append(Limit(f"diversity:{name}", weights[problem.option_kind], bound))
    return limits
