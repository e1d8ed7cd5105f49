"""What can only be seen across the files of a survey."""

import itertools
import math
from collections.abc import Iterable, Sequence
from dataclasses import replace
from pathlib import PurePosixPath

import pyproj
from pyproj.exceptions import ProjError

from bolewalk.drawing.details import Place
from bolewalk.drawing.geojson import only_degrees
from bolewalk.drawing.grid import Grid, utm_zone
from bolewalk.intake.plausible import plausible
from bolewalk.model.problems import Problem
from bolewalk.model.trees import Tree
from bolewalk.model.units import UnitSystem, length_unit, to_survey_length
from bolewalk.model.works import Work

__all__ = [
    "Extent",
    "check_degrees",
    "check_grid_scale",
    "check_places",
    "extent_of",
    "joined",
    "name_apart",
    "utm_hint",
    "without_replaced",
]

Extent = tuple[float, float, float, float]
"""West, south, east, north [m]."""


def extent_of(works: Iterable[Work]) -> Extent | None:
    """Give the extent of works [m], None where there are none."""
    points = [p for w in works for part in w.parts for p in part.ring]
    if not points:
        return None
    xs, ys = zip(*points, strict=True)
    return min(xs), min(ys), max(xs), max(ys)


def joined(extents: Iterable[Extent | None]) -> Extent | None:
    """Give the extent around several."""
    known = [e for e in extents if e is not None]
    if not known:
        return None
    west, south, east, north = zip(*known, strict=True)
    return min(west), min(south), max(east), max(north)


def without_replaced(
    works: Sequence[Work], drawn: Sequence[Work]
) -> tuple[tuple[Work, ...], tuple[Problem, ...]]:
    """Leave out the works of drawings that others stand for.

    Parameters
    ----------
    works : sequence of Work
        Of GeoJSON files; `replaces` is the id of a drawn work, or its file, a slash and its id.
    drawn : sequence of Work

    Returns
    -------
    drawn : tuple of Work
    problems : tuple of Problem
        A name borne by no drawn work, or by several: nothing is left out for it.
    """
    by_name: dict[str, list[Work]] = {}
    for work in drawn:
        for name in (work.id, f"{work.file}/{work.id}"):
            by_name.setdefault(name, []).append(work)
    gone: set[tuple[str, str]] = set()
    problems: list[Problem] = []
    for work in works:
        found = by_name.get(work.replaces, []) if work.replaces else []
        if len(found) == 1:
            gone.add((found[0].file, found[0].id))
        elif work.replaces:
            expected = (
                "one drawn work, such as " + " or ".join(f"{w.file}/{w.id}" for w in found)
                if found
                else "the id of a drawn work"
            )
            problems.append(
                Problem(
                    work.file, work.ref, "replaces", work.replaces,
                    f"{expected}; nothing drawn is left out for it",
                )
            )  # fmt: skip
    return tuple(w for w in drawn if (w.file, w.id) not in gone), tuple(problems)


def name_apart(works: Sequence[Work]) -> tuple[tuple[Work, ...], tuple[Problem, ...]]:
    """Give every work an id of its own.

    A work whose id is taken gets a number behind it. Leaving one out would make the trees beside
    it look better than they are, so both stay.
    """
    taken = {w.id for w in works}
    seen: set[str] = set()
    named: list[Work] = []
    problems: list[Problem] = []
    for work in works:
        if work.id in seen:
            # The ids of a drawing are ours, made of layer and number: nothing to tell.
            new = _free(work.id, PurePosixPath(work.file).stem if work.layer else "", taken)
            taken.add(new)
            if not work.layer:
                problems.append(
                    Problem(
                        work.file, work.ref, "id", work.id,
                        f"an id used once among all works; this one is called {new}", "notice",
                    )
                )  # fmt: skip
            work = replace(work, id=new)
        seen.add(work.id)
        named.append(work)
    return tuple(named), tuple(problems)


def _free(name: str, mark: str, taken: set[str]) -> str:
    marks = itertools.chain(
        [mark] if mark else [], (f"{mark} {n}".strip() for n in itertools.count(2))
    )
    return next(new for m in marks if (new := f"{name} ({m})") not in taken)


def check_degrees(
    trees: Sequence[Tree], *, grid: Grid, file: str
) -> tuple[tuple[Tree, ...], tuple[Problem, ...]]:
    """Leave out all positions of a table whose positions can only be degrees."""
    points = [
        (t.x_m / grid.m_per_unit, t.y_m / grid.m_per_unit)
        for t in trees
        if t.x_m is not None and t.y_m is not None
    ]
    if not only_degrees(points, grid=grid):
        return tuple(trees), ()
    x, y = points[0]
    problem = Problem(
        file, None, "x, y", f"{x:g}, {y:g}",
        f"positions in the survey's grid ({grid.unit}), not degrees; the trees count as not "
        "located",
    )  # fmt: skip
    return tuple(replace(t, x_m=None, y_m=None) for t in trees), (problem,)


def utm_hint(table_xy: Sequence[tuple[str, str]]) -> str:
    """Name the UTM zone of positions written in degrees, "" where they are not."""
    for x, y in table_xy:
        try:
            lon, lat = float(x), float(y)
        except ValueError:
            continue
        if abs(lon) <= 180 and abs(lat) <= 90:
            return f", such as {utm_zone(lon, lat)}"
    return ""


def check_grid_scale(
    trees: Sequence[Tree], works: Sequence[Work], *, grid: Grid, place: Place
) -> None:
    """Tell where lengths on the grid are not lengths on the ground."""
    points = [(t.x_m, t.y_m) for t in trees if t.x_m is not None and t.y_m is not None]
    points += [p for w in works for part in w.parts for p in part.ring][:1]
    if grid.crs is None or not points:
        return
    x, y = (v / grid.m_per_unit for v in points[0])
    try:
        back = pyproj.Transformer.from_crs(grid.crs, grid.crs.geodetic_crs, always_xy=True)
        lon, lat = back.transform(x, y)
        factors = pyproj.Proj(grid.crs).get_factors(lon, lat)
    except ProjError:
        return
    scale = math.sqrt(abs(factors.areal_scale))
    if math.isfinite(scale) and abs(scale - 1) > plausible().grid_scale_share:
        place.tell(
            "survey.crs",
            grid.crs.name,
            "a reference system made for measuring: on this one lengths at the site come out "
            f"{scale:.3f} times as long as on the ground",
        )


def check_places(
    trees: Sequence[Tree],
    *,
    extent: Extent | None,
    drawn: bool,
    units: UnitSystem,
    file: str,
) -> tuple[tuple[Tree, ...], tuple[Problem, ...]]:
    """Tell of trees far outside everything drawn, and of trees on one spot.

    Parameters
    ----------
    trees : sequence of Tree
    extent : Extent or None
        Of drawings and works; None leaves the first check out.
    drawn : bool
        Whether a drawing is among them: its sheet shows the site, works alone may be one pile.
    units : UnitSystem
    file : str
        The tree table.

    Returns
    -------
    trees : tuple of Tree
        Those beyond any property without their position.
    problems : tuple of Problem
    """
    problems: list[Problem] = []
    whole = Place(file, None, problems)
    located = [(t.x_m, t.y_m) for t in trees if t.x_m is not None and t.y_m is not None]
    away = [_beyond(x, y, extent) for x, y in located]
    margin = math.inf if extent is None else _margin(extent, drawn=drawn)
    if len(away) > 1 and min(away) > margin:
        return _all_outside(trees, min(away), drawn=drawn, units=units, place=whole), (*problems,)
    spots: dict[tuple[float, float], str] = {}
    kept = []
    for tree in trees:
        place = Place(file, tree.row, problems)
        kept.append(_placed(tree, extent, margin, units, place))
        if tree.x_m is None or tree.y_m is None:
            continue
        spot = (tree.x_m, tree.y_m)
        if spot in spots:
            place.tell(
                "x, y",
                _as_entered(tree),
                f"a place of its own, not that of tree {spots[spot]}; kept",
                level="notice",
            )
        spots.setdefault(spot, tree.id)
    return tuple(kept), tuple(problems)


def _as_entered(tree: Tree) -> str:
    return f"{tree.entered.get('x', '')}, {tree.entered.get('y', '')}"


def _far(away_m: float, units: UnitSystem) -> str:
    away = to_survey_length(away_m, units)
    # Past any distance on the earth digits say nothing.
    return f"{away:{',.0f' if away < 1e9 else '.0e'}} {length_unit(units)}"


def _placed(
    tree: Tree, extent: Extent | None, margin_m: float, units: UnitSystem, place: Place
) -> Tree:
    if tree.x_m is None or tree.y_m is None:
        return tree
    away = _beyond(tree.x_m, tree.y_m, extent)
    if away > plausible().never_beyond_m:
        place.tell(
            "x, y",
            _as_entered(tree),
            f"a place near the drawings and works, not {_far(away, units)} outside them; the tree "
            "counts as not located",
        )
        return replace(tree, x_m=None, y_m=None)
    if away > margin_m:
        place.tell(
            "x, y",
            _as_entered(tree),
            f"a place within the drawings and works, not {_far(away, units)} outside them; kept",
            level="notice",
        )
    return tree


def _all_outside(
    trees: Sequence[Tree], nearest_m: float, *, drawn: bool, units: UnitSystem, place: Place
) -> tuple[Tree, ...]:
    """Tell once that drawing and trees lie apart: with the works elsewhere every tree would seem
    untouched by them."""
    left_out = drawn or nearest_m > plausible().never_beyond_m
    place.tell(
        "x, y",
        "all trees",
        f"trees within the drawings and works, not {_far(nearest_m, units)} or more outside them: "
        "compare units, crs and the drawing's at; "
        + ("the trees count as not located" if left_out else "kept"),
        level="fault" if left_out else "notice",
    )
    if not left_out:
        return tuple(trees)
    return tuple(replace(t, x_m=None, y_m=None) for t in trees)


def _beyond(x: float, y: float, extent: Extent | None) -> float:
    if extent is None:
        return 0.0
    west, south, east, north = extent
    return math.hypot(max(west - x, 0, x - east), max(south - y, 0, y - north))


def _margin(extent: Extent, *, drawn: bool) -> float:
    p = plausible()
    west, south, east, north = extent
    least = p.beyond_drawing_m if drawn else p.beyond_works_m
    return max(p.beyond_share * math.hypot(east - west, north - south), least)
