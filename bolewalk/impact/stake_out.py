"""What to flag on site, how to find it with two tapes, and where to stand for the photograph."""

import itertools
import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import shapely

from bolewalk.impact.near import outline_of
from bolewalk.impact.slope import Slope
from bolewalk.impact.thresholds import Thresholds
from bolewalk.model.statements import Statement, say
from bolewalk.model.trees import Tree
from bolewalk.model.works import Ring, Work

__all__ = ["StakePoint", "Tape", "stake_out"]

Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Tape:
    """A tape from one fixed thing: `distance_m` in plan to `at`, said in `say`; `tape_m` is what
    it reads held on the ground, the same where the ground is taken as level."""

    at: Point
    distance_m: float
    say: Statement
    tape_m: float


@dataclass(frozen=True, slots=True)
class StakePoint:
    """One point to flag.

    Attributes
    ----------
    work : str
    at : (east, north) [m]
    what : Statement
        Which point of the work it is.
    tapes : tuple of Tape
        Two, or fewer where nothing fixed is in reach of a tape; `notes` then says so. The two
        arcs cross twice: the photograph tells the sides apart.
    stand : (east, north) [m] and photo : Statement
        Where to stand so that the flag and the tree behind it are in one picture.
    tree : str
        The tree in that picture, the nearest one.
    """

    work: str
    at: Point
    what: Statement
    tapes: tuple[Tape, ...]
    stand: Point
    photo: Statement
    tree: str
    notes: tuple[Statement, ...] = ()


@dataclass(frozen=True, slots=True)
class _Fixed:
    at: Point
    tree: str | None
    work: str
    kind: str
    number: int


def stake_out(
    works: Sequence[Work],
    trees: Sequence[Tree],
    reach_m: Mapping[str, float],
    thresholds: Thresholds,
    *,
    slope: Slope | None = None,
) -> tuple[StakePoint, ...]:
    """List the points of drawn works that must be flagged before trees are judged on site.

    Parameters
    ----------
    works : sequence of Work
        Proposed and possible works that are drawn or assumed are flagged; existing, staked and
        surveyed ones are what tapes run from.
    trees : sequence of Tree
        Those with a position are fixed things too.
    reach_m : mapping of tree id to float
        How far about each tree points matter [m]: its root zone.
    thresholds : Thresholds
        "stake.tape", "stake.turn", "stake.photo_distance".
    slope : Slope, optional
        Of the site (`slope_of`): distances are then given in plan and along the tape.

    Returns
    -------
    tuple of StakePoint
        In the order of `works` and along each; a curve, or a side that passes with both ends out
        of reach, is flagged where it comes nearest to the tree.
    """
    placed = [t for t in trees if t.located]
    fixed = _fixed(works, placed, thresholds)
    found = []
    for work in works:
        if work.phase == "existing" or work.present == "no" or work.basis in _SURE:
            continue
        for what, at in _points(work, placed, reach_m, thresholds):
            found.append(_flagged(work, at, what, placed, fixed, thresholds, slope))
    return tuple(found)


_SURE = ("staked", "surveyed")


def _xy(tree: Tree) -> Point:
    return tree.x_m or 0.0, tree.y_m or 0.0


def _fixed(works: Sequence[Work], trees: Sequence[Tree], t: Thresholds) -> list[_Fixed]:
    fixed = [_Fixed(_xy(tree), tree.id, "", "", 0) for tree in trees]
    for work in works:
        sure = work.basis in _SURE and work.present == "yes" and work.offset_m == 0
        if not sure or work.kind in ("boundary", "access", "storage", "wire"):
            continue
        corners = [p for part in work.parts for p in _corners(part.ring, part.shape, t)]
        fixed += [
            _Fixed(at, None, work.id, work.kind, number)
            for number, (at, _) in enumerate(corners, start=1)
        ]
    return fixed


def _corners(ring: Ring, shape: str, t: Thresholds) -> Iterator[tuple[Point, str]]:
    """Give the ends and turns of one ring: (point, "pile" | "end" | "bend" | "corner")."""
    if shape == "point":
        yield ring[0], "pile"
        return
    n = len(ring)
    for i, at in enumerate(ring):
        if shape == "line" and i in (0, n - 1):
            yield at, "end"
            continue
        before, after = ring[i - 1], ring[(i + 1) % n]
        turn = abs(_bearing(before, at) - _bearing(at, after)) % 360.0
        if min(turn, 360.0 - turn) >= t.value("stake.turn"):
            yield at, "bend" if shape == "line" else "corner"


def _points(
    work: Work, trees: Sequence[Tree], reach_m: Mapping[str, float], t: Thresholds
) -> Iterator[tuple[Statement, Point]]:
    within = [tree for tree in trees if tree.id in reach_m]
    corners = [c for part in work.parts for c in _corners(part.ring, part.shape, t)]
    met: set[str] = set()
    for number, (at, what) in enumerate(corners, start=1):
        near = [tree.id for tree in within if math.dist(_xy(tree), at) <= reach_m[tree.id]]
        if not near:
            continue
        met.update(near)
        if what == "pile":
            told = {"works": work.id if len(corners) == 1 else f"{work.id}/{number}"}
            code = "stake.pile" if work.kind == "pile" else "stake.point"
            yield say(code, kind=work.kind, **told), at
        else:
            yield say(f"stake.{what}", works=work.id, kind=work.kind, number=str(number)), at
    shape = outline_of(work)
    for tree in within:
        if tree.id in met:
            continue
        trunk = shapely.Point(_xy(tree))
        # Written so that a work without geometry, at no distance at all, is passed over too.
        if not float(shapely.distance(trunk, shape)) <= reach_m[tree.id]:
            continue
        edge = shape if shape.area == 0 else shape.boundary
        end = shapely.shortest_line(trunk, edge).coords[1]
        yield (
            say("stake.nearest", works=work.id, kind=work.kind, tree=tree.id),
            (float(end[0]), float(end[1])),
        )


def _flagged(
    work: Work,
    at: Point,
    what: Statement,
    trees: Sequence[Tree],
    fixed: Sequence[_Fixed],
    t: Thresholds,
    slope: Slope | None,
) -> StakePoint:
    tapes, notes = _tapes(at, fixed, t.value("stake.tape"), slope)
    tree = min(trees, key=lambda one: math.dist(_xy(one), at))
    out = _bearing(_xy(tree), at)
    away = t.value("stake.photo_distance")
    stand = (
        at[0] + away * math.sin(math.radians(out)),
        at[1] + away * math.cos(math.radians(out)),
    )
    photo = say(
        "stake.photo",
        distance_m=away,
        stand_deg=out,
        face_deg=(out + 180.0) % 360.0,
        tree=tree.id,
    )
    return StakePoint(work.id, at, what, tapes, stand, photo, tree.id, notes)


def _bearing(a: Point, b: Point) -> float:
    return math.degrees(math.atan2(b[0] - a[0], b[1] - a[1])) % 360.0


def _tapes(
    at: Point, fixed: Sequence[_Fixed], longest: float, slope: Slope | None
) -> tuple[tuple[Tape, ...], tuple[Statement, ...]]:
    """Choose the pair whose arcs fix the point best: short tapes that cross squarely.

    The error of a crossing grows with the tapes and with 1 / sine of the angle between them.
    """
    near = [f for f in fixed if 0.0 < _taped(f.at, at, slope) <= longest]
    near = sorted(near, key=lambda f: math.dist(f.at, at))[:12]
    best: tuple[float, tuple[_Fixed, _Fixed]] | None = None
    for a, b in itertools.combinations(near, 2):
        da, db = math.dist(a.at, at), math.dist(b.at, at)
        angle = math.radians(_bearing(at, a.at) - _bearing(at, b.at))
        sine = abs(math.sin(angle))
        if sine < 1e-6:
            continue
        error = math.hypot(da, db) / sine
        if best is None or error < best[0] - 1e-9:
            best = (error, (a, b))
    if best is not None:
        return tuple(_tape(f, at, slope) for f in best[1]), ()
    if near:
        return (_tape(near[0], at, slope),), (say("stake.one_tape_only"),)
    return (), (say("stake.no_tape"),)


def _taped(start: Point, end: Point, slope: Slope | None) -> float:
    return math.dist(start, end) if slope is None else slope.tape_m(start, end)


def _tape(f: _Fixed, at: Point, slope: Slope | None) -> Tape:
    d, taped = math.dist(f.at, at), _taped(f.at, at, slope)
    told: dict[str, str | float] = {"distance_m": d}
    if f.tree is not None:
        code, told["tree"] = "from_tree", f.tree
    else:
        code = "from_work"
        told |= {"works": f.work, "kind": f.kind, "number": str(f.number)}
    if slope is None:
        return Tape(f.at, d, say(f"stake.{code}", **told), taped)
    told["tape_m"] = taped
    if slope.fall_deg is None:
        return Tape(f.at, d, say(f"stake.{code}_up_to", **told), taped)
    return Tape(f.at, d, say(f"stake.{code}_slope", **told), taped)
