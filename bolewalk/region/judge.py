"""Trees judged cell by cell: root loss, verdict, and how far what is not known may move it.

A cell is one square of a fixed grid, its trees in a fixed order and its works in file order, set
in a frame about its own middle. Nothing about a tree's answer then depends on which cells are
worked on together, by whom, or in what order.
"""

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray

from bolewalk.impact.losses import LossTable, Stand, loss_tables
from bolewalk.impact.readings import readings
from bolewalk.impact.results import RootZone
from bolewalk.impact.roots import zones_table
from bolewalk.impact.scene import Scene
from bolewalk.impact.settings import root_loss_settings
from bolewalk.impact.verdicts import judge_roots, settled
from bolewalk.model.words import Verdict
from bolewalk.model.works import Work
from bolewalk.region.cases import Cases, cases_of, doubtful, suppositions
from bolewalk.region.geofiles import points_at
from bolewalk.region.job import Job, Site, site_of
from bolewalk.region.kinds import KIND_COLUMNS, Kind
from bolewalk.region.parts import read_array, read_note, write_array, write_note
from bolewalk.region.settings import settings
from bolewalk.region.trees import piece_path

__all__ = ["FIGURES", "WEIGHT", "judge_cell", "judge_partition", "partition_path"]

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Table = NDArray[Any]

WEIGHT: dict[Verdict, int] = {"keep": 0, "keep_if": 1, "undecided": 2, "redesign": 3}

FIGURES = (
    "zone_radius_m", "structural_radius_m", "existing_severed_pct", "severed_pct",
    "severed_low_pct", "severed_high_pct", "severed_by_depth_pct", "overlap_pct", "covered_pct",
    "nearest_cut_m", "widest_clear_arc_deg", "best_half_severed_pct", "best_half_bearing",
    "later_severed_pct",
)  # fmt: skip
"""Figures of the result, the recorded facts' own but for low and high; NaN = none."""

_WORDS = ("verdict", "verdict_best", "verdict_worst", "verdict_with_later", "size")


class _Reading(NamedTuple):
    """What `judge_roots` reads."""

    nearest_cut_m: float | None
    severed_pct: float
    covered_pct: float
    best_half_severed_pct: float


def partition_path(job: Job, plan: str, k: int, ending: str) -> Path:
    """Give the path of a judged partition."""
    return Path(job.parts) / "judged" / f"{plan}-{k:06d}.{ending}"


def judge_partition(
    job: Job, plan: str, k: int, cells: Sequence[tuple[int, int]]
) -> dict[str, Any]:
    """Judge the trees of some cells, in the order given, and keep the answer.

    Parameters
    ----------
    job : Job
    plan : str
        Name of the partitioning.
    k : int
        Number of the partition.
    cells : sequence of (cy, cx)
        Rising.

    Returns
    -------
    dict
        `trees` judged. The note of an earlier run is given back where it is finished.
    """
    done = read_note(partition_path(job, plan, k, "json"))
    if done is not None:
        return done
    site = site_of(job)
    found = [judge_cell(trees, cell, site) for cell, trees in _trees_of(job, cells)]
    answer = np.concatenate(found) if found else np.zeros(0, dtype=np.float64)
    write_array(partition_path(job, plan, k, "npy"), answer)
    note = {"trees": len(answer)}
    write_note(partition_path(job, plan, k, "json"), note)
    return note


def _trees_of(
    job: Job, cells: Sequence[tuple[int, int]]
) -> Iterator[tuple[tuple[int, int], Table]]:
    low, high = cells[0], cells[-1]
    some = []
    for piece in range(len(job.pieces)):
        table = read_array(piece_path(job, piece, "npy"))
        rows = _between(table, low, high)
        if len(rows):
            some.append(np.array(rows))
    table = np.concatenate(some)
    # What is written of a tree decides its place, not which file or row it came in.
    order = np.lexsort(
        [table[n] for n in ("row", "file", *KIND_COLUMNS, "tree", "y", "x", "cx", "cy")]
    )
    table = table[order]
    key = np.stack([table["cy"], table["cx"]], axis=1)
    head = np.flatnonzero(np.r_[True, (key[1:] != key[:-1]).any(axis=1)])
    for start, stop in zip(head, np.r_[head[1:], len(table)], strict=True):
        yield (int(key[start, 0]), int(key[start, 1])), table[start:stop]


def _between(table: Table, low: tuple[int, int], high: tuple[int, int]) -> Table:
    """Rows of a table sorted by cell, from one cell to another, without reading the others."""

    def edge(cell: tuple[int, int], side: Any) -> int:
        first = int(np.searchsorted(table["cy"], cell[0], side="left"))
        last = int(np.searchsorted(table["cy"], cell[0], side="right"))
        return first + int(np.searchsorted(table["cx"][first:last], cell[1], side=side))

    return table[edge(low, "left") : edge(high, "right")]


def judge_cell(trees: Table, cell: tuple[int, int], site: Site) -> Table:
    """Judge the trees of one cell.

    Parameters
    ----------
    trees : structured ndarray
        As kept by `read_piece`, in their fixed order.
    cell : (cy, cx)
    site : Site

    Returns
    -------
    structured ndarray
        The trees with `FIGURES`, the verdict on the present works and its range, the verdict
        with later works, and `open`: which unknowns move it.
    """
    kinds = [
        site.kinds.kind(*cells)
        for cells in zip(*(trees[n].tolist() for n in KIND_COLUMNS), strict=True)
    ]
    xy = np.column_stack([trees["x"], trees["y"]])
    reach = np.array([k.reach_m for k in kinds])
    wide = np.maximum(reach + trees["error"] + site.widest_offset, settings().nearest_within_m)
    corners = (xy - wide[:, None]).min(axis=0), (xy + wide[:, None]).max(axis=0)
    rows = np.sort(site.index.query(shapely.box(*corners[0], *corners[1])))
    works = [site.works[i] for i in rows]
    side = settings().cell_m
    origin = ((cell[1] + 0.5) * side, (cell[0] + 0.5) * side)
    cases = cases_of(xy, kinds, trees["error"], site, rows)
    out = _blank(trees)
    _judge(out, cases, kinds, works, site.outlines[rows], origin)
    return out


def _blank(trees: Table) -> Table:
    old = [(n, trees.dtype[n]) for n in trees.dtype.names or ()]
    new: list[Any] = [(n, "f8") for n in FIGURES]
    new += [(n, "U9") for n in _WORDS] + [("open", "U40")]
    out = np.zeros(len(trees), dtype=old + new)
    for name, _ in old:
        out[name] = trees[name]
    return out


def _judge(
    out: Table, cases: Cases, kinds: Sequence[Kind], works: Sequence[Work],
    outlines: NDArray[np.object_], origin: tuple[float, float],
) -> None:  # fmt: skip
    scene = Scene(works, origin=origin)
    recorded = np.flatnonzero(cases.recorded)
    table = loss_tables([_stand(scene, cases, recorded)])[0]
    _fill(out, table, [cases.zones[i] for i in recorded.tolist()])
    verdicts = _Verdicts(out, cases, kinds)
    figures = (
        table.nearest_m, table.severed_pct, table.covered_pct, table.best_half_severed_pct,
    )  # fmt: skip
    verdicts.add(recorded, [f[:, 1:] for f in figures], "")
    others = np.flatnonzero(~cases.recorded)
    verdicts.add(others, _figures(_stand(scene, cases, others)), "")
    open_works = doubtful(works)
    if open_works:
        rows = _reached(cases, outlines[open_works])
        near = _reaching(cases, rows, outlines)
        for supposed in suppositions([works[i] for i in near.tolist()], scene):
            verdicts.add(rows, _figures(_stand(supposed, cases, rows)), "works")
    verdicts.settle()


def _stand(scene: Scene, cases: Cases, rows: Ints) -> Stand:
    return Stand(scene, cases.xy[rows], zones_table([cases.zones[i] for i in rows.tolist()]))


def _figures(stand: Stand) -> list[Floats]:
    t = readings(stand)
    return [t.nearest_m, t.severed_pct, t.covered_pct, t.best_half_severed_pct]


def _reached(cases: Cases, outlines: NDArray[np.object_]) -> Ints:
    """All cases of the trees that some of these works may reach in any case."""
    i, _ = _within(cases, np.arange(len(cases.tree)), outlines)
    return np.flatnonzero(np.isin(cases.tree, np.unique(cases.tree[i])))


def _reaching(cases: Cases, rows: Ints, outlines: NDArray[np.object_]) -> Ints:
    """Works that may matter in some of these cases."""
    _, j = _within(cases, rows, outlines)
    return np.unique(j)


def _within(cases: Cases, rows: Ints, outlines: NDArray[np.object_]) -> tuple[Ints, Ints]:
    margin = root_loss_settings().pile_margin_m + settings().slack_m
    i, j = shapely.STRtree(outlines).query(
        points_at(cases.xy[rows]), predicate="dwithin", distance=cases.reach[rows] + margin
    )
    return i, j


class _Verdicts:
    """Levels each tree may come to, gathered case by case."""

    def __init__(self, out: Table, cases: Cases, kinds: Sequence[Kind]) -> None:
        self._out, self._cases, self._kinds = out, cases, kinds
        n = len(out)
        self._now: list[set[Verdict]] = [set() for _ in range(n)]
        self._later: list[set[Verdict]] = [set() for _ in range(n)]
        self._alone: list[dict[str, set[Verdict]]] = [{} for _ in range(n)]
        self._low, self._high = np.full(n, np.inf), np.full(n, -np.inf)

    def add(self, rows: Ints, figures: Sequence[Floats], what: str) -> None:
        """Judge some cases; `figures` in the order of `_Reading`, columns now and later."""
        cases = self._cases
        severed = figures[1][:, 0]
        np.minimum.at(self._low, cases.tree[rows], severed)
        np.maximum.at(self._high, cases.tree[rows], severed)
        now, later = _read(figures, 0), _read(figures, 1)
        trees, zones = cases.tree[rows].tolist(), cases.zone[rows].tolist()
        for at, (t, z, place) in enumerate(
            zip(trees, zones, cases.place[rows].tolist(), strict=True)
        ):
            kind = self._kinds[t]
            same = now[at] == later[at]
            for k, (zone_at, tolerance) in enumerate(kind.cases):
                if zone_at != z:
                    continue
                zone = kind.zones[z]
                level = judge_roots(now[at], zone, tolerance, None, kind.limits)
                self._now[t].add(level)
                _note(self._alone[t], level, what, k, kind, place)
                if not same:
                    level = judge_roots(later[at], zone, tolerance, None, kind.limits)
                self._later[t].add(level)

    def settle(self) -> None:
        """Write the verdicts and how far they range."""
        out = self._out
        out["severed_low_pct"], out["severed_high_pct"] = self._low, self._high
        for t, kind in enumerate(self._kinds):
            levels = sorted(self._now[t], key=lambda v: WEIGHT[v])
            out["verdict"][t] = settled(levels)
            out["verdict_best"][t], out["verdict_worst"][t] = levels[0], levels[-1]
            out["verdict_with_later"][t] = settled(self._later[t])
            out["size"][t] = kind.size
            out["open"][t] = _open(self._alone[t], self._now[t])


def _read(figures: Sequence[Floats], column: int) -> list[_Reading]:
    nearest, *shares = (f[:, column].tolist() for f in figures)
    cut = [None if v == np.inf else v for v in nearest]
    return [_Reading(*row) for row in zip(cut, *shares, strict=True)]


def _note(
    alone: dict[str, set[Verdict]], level: Verdict, what: str, k: int, kind: Kind, place: int
) -> None:
    """Put a level to the one unknown that leads to it, the others as recorded."""
    moved = [what] if what else []
    if kind.cases[k][0] != kind.cases[0][0]:
        moved.append("size")
    if kind.cases[k][1] != kind.cases[0][1]:
        moved.append("species")
    if place:
        moved.append("position")
    if len(moved) <= 1:
        alone.setdefault(moved[0] if moved else "", set()).add(level)


def _open(alone: dict[str, set[Verdict]], levels: set[Verdict]) -> str:
    if len(levels) == 1:
        return ""
    base = alone[""]
    moving = [w for w in ("size", "position", "works", "species") if alone.get(w, base) - base]
    return ", ".join(moving) or "several together"


def _fill(out: Table, table: LossTable, zones: Sequence[RootZone]) -> None:
    out["zone_radius_m"] = [z.radius_m for z in zones]
    out["structural_radius_m"] = [z.structural_radius_m for z in zones]
    out["existing_severed_pct"] = table.severed_pct[:, 0]
    out["severed_pct"] = table.severed_pct[:, 1]
    out["later_severed_pct"] = table.severed_pct[:, 2]
    for name in (
        "severed_by_depth_pct", "overlap_pct", "covered_pct", "widest_clear_arc_deg",
        "best_half_severed_pct", "best_half_bearing",
    ):  # fmt: skip
        out[name] = getattr(table, name)[:, 1]
    # Works farther off than this were not all looked at.
    nearest = table.nearest_m[:, 1]
    out["nearest_cut_m"] = np.where(nearest <= settings().nearest_within_m, nearest, np.nan)
