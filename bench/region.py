"""Screening a city: time, memory, linearity, and the same shares by overlay in geopandas.

    python bench/region.py [trees] [works] [processes] [trees for overlay]

Cities of a quarter, a half and the whole of the trees, works in proportion, are drawn from one
seed and screened from file to finished answer. Then a stated number of the trees near works is
worked out again by polygon overlay in geopandas, in the same run: the severed share alone,
shadows included, for the facts as recorded and for every other size and place the screening tried
with the works as drawn. Two ratios are printed: against the kernel asked the very same question,
its works laid out anew in every cell, and against the whole judging of those trees, with all
figures of root loss, the works' own unknowns, and the verdict.

Processor seconds are printed beside the clock's: on a shared machine the clock says little.
Memory is the largest sum over this process and its children, shared pages counted once; the
overlay library that this process loads for the comparison is in it.
"""

import multiprocessing
import os
import resource
import sys
import tempfile
import threading
import time
from pathlib import Path

import geopandas
import numpy as np
import shapely

from bolewalk.impact.footprints import severs
from bolewalk.impact.losses import Stand, severed_pct
from bolewalk.impact.roots import zones_table
from bolewalk.impact.scene import Scene
from bolewalk.region.cases import cases_of
from bolewalk.region.city import write_city
from bolewalk.region.columns import Columns
from bolewalk.region.job import Site
from bolewalk.region.judge import judge_cell
from bolewalk.region.kinds import KIND_COLUMNS, Kinds
from bolewalk.region.parts import read_array
from bolewalk.region.plan import make_job
from bolewalk.region.screen import screen
from bolewalk.region.trees import piece_path
from bolewalk.region.works import open_works, works_of

SEGMENTS = 64


class Memory:
    """The largest memory in use by this process and its children, sampled [MB]."""

    def __enter__(self):
        self.most, self._on = 0.0, True
        self._thread = threading.Thread(target=self._watch)
        self._thread.start()
        return self

    def __exit__(self, *_):
        self._on = False
        self._thread.join()

    def _watch(self):
        while self._on:
            self.most = max(self.most, sum(map(_share_mb, _family(os.getpid()))))
            time.sleep(0.1)


def _family(pid):
    try:
        children = Path(f"/proc/{pid}/task/{pid}/children").read_text().split()
    except OSError:
        return []
    return [pid, *(p for c in children for p in _family(int(c)))]


def _share_mb(pid):
    try:
        lines = Path(f"/proc/{pid}/smaps_rollup").read_text().splitlines()
    except OSError:
        return 0.0
    return sum(int(line.split()[1]) for line in lines if line.startswith("Pss:")) / 1000


def processor_s():
    return sum(
        u.ru_utime + u.ru_stime
        for u in map(resource.getrusage, (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))
    )


def screened(folder, trees, works, processes):
    drawn = multiprocessing.get_context("spawn").Process(
        target=write_city, args=(folder,), kwargs={"trees": trees, "works": works}
    )
    drawn.start()  # what drawing a city takes is none of the screening's memory
    drawn.join()
    paths = folder / "trees.parquet", folder / "works.gpkg"
    with Memory() as memory:
        clock, cpu = time.perf_counter(), processor_s()
        found = screen(*paths, folder / "out", processes=processes)
        clock, cpu = time.perf_counter() - clock, processor_s() - cpu
    print(
        f"{trees:10,} trees {works:7,} works {found.near:8,} near {clock:8.1f} s "
        f"{cpu:8.1f} processor s {1e6 * cpu / trees:7.1f} us a tree {memory.most:7.0f} MB"
    )
    return cpu, paths


def overlay_severed_pct(xy, radius, works):
    """Severed share of each disc by geopandas: footprints and the shadows behind their edges,
    dissolved by tree, over the disc."""
    n = len(xy)
    zones = geopandas.GeoDataFrame(
        {"tree": np.arange(n)},
        geometry=geopandas.GeoSeries(shapely.points(xy)).buffer(radius, quad_segs=SEGMENTS),
    )
    pairs = geopandas.sjoin(zones, works, predicate="intersects")
    zone = zones.geometry.to_numpy()[pairs["tree"]]
    shapes = shapely.intersection(works.geometry.to_numpy()[pairs["index_right"]], zone)
    tree = pairs["tree"].to_numpy()
    holds = np.zeros(n, dtype=bool)
    holds[tree[shapely.contains_xy(shapes, xy[tree, 0], xy[tree, 1])]] = True
    pieces, i = shapely.get_parts(shapes, return_index=True)
    areas = shapely.get_type_id(pieces) == 3
    pieces, tree = pieces[areas], tree[i[areas]]
    rings, at = shapely.get_rings(pieces, return_index=True)
    coordinates, ring = shapely.get_coordinates(rings, return_index=True)
    owner = tree[at][ring]
    v = coordinates - xy[owner]
    far = np.flatnonzero(ring[1:] == ring[:-1])
    u = v / np.maximum(np.hypot(*v.T), 1e-12)[:, None]
    reach = 3.0 * radius[owner][:, None]
    middle = u[far] + u[far + 1]
    middle *= reach[far] / np.maximum(np.hypot(*middle.T), 1e-12)[:, None]
    behind = [v[far], v[far + 1], (reach * u)[far + 1], middle, (reach * u)[far]]
    quads = shapely.polygons(np.stack(behind, axis=1) + xy[owner[far]][:, None, :])
    quads = np.where(shapely.is_valid(quads), quads, shapely.make_valid(quads))
    whole = geopandas.GeoDataFrame(
        {"tree": np.concatenate([tree, owner[far]])},
        geometry=geopandas.GeoSeries(np.concatenate([pieces, quads])),
    )
    lost = whole.dissolve(by="tree")
    rows = lost.index.to_numpy()
    area = lost.geometry.intersection(zones.geometry.iloc[rows], align=False).area
    out = np.zeros(n)
    out[rows] = 100 * area.to_numpy() / zones.geometry.area.to_numpy()[rows]
    out[holds] = 100.0
    return out


def compared(paths, folder, wanted):
    job = make_job(*paths, folder / "out", columns=None, method=None)
    works, _ = works_of(open_works(paths[1], Columns()), job.frame, Columns(), units=job.units)
    site = Site(works, Kinds(job.method, Columns(), job.units))
    pieces = [read_array(piece_path(job, k, "npy")) for k in range(len(job.pieces))]
    table = np.concatenate([np.array(p) for p in pieces])
    table = table[np.lexsort([table["y"], table["x"], table["cx"], table["cy"]])]
    key = table["cy"] * 1_000_003 + table["cx"]
    cells = np.unique(key)
    some = cells[np.random.default_rng(2).permutation(len(cells))]
    chosen, count = [], 0
    for cell in some:
        chosen.append(table[key == cell])
        count += len(chosen[-1])
        if count >= wanted:
            break
    for part in chosen:  # kinds of trees are looked up once a run, not once a cell
        for cells_ in zip(*(part[n].tolist() for n in KIND_COLUMNS), strict=True):
            site.kinds.kind(*cells_)
    site.index  # noqa: B018
    clock = time.process_time()
    judged = [judge_cell(p, (int(p["cy"][0]), int(p["cx"][0])), site) for p in chosen]
    ours = time.process_time() - clock
    severing = [w for w in site.works if w.phase != "possible later"]
    drawn = Site(tuple(severing), site.kinds)
    cuts = np.array([severs(w) and not _dodged(w) for w in severing])
    frame = geopandas.GeoDataFrame(geometry=geopandas.GeoSeries(drawn.outlines[cuts]))
    frame.sindex  # noqa: B018
    dodged = shapely.union_all(site.outlines[[_dodged(w) for w in site.works]])
    theirs, kernel, worst, n_cases, n_trees = 0.0, 0.0, 0.0, 0, 0
    for part, answer in zip(chosen, judged, strict=True):
        kinds = [
            site.kinds.kind(*c) for c in zip(*(part[n].tolist() for n in KIND_COLUMNS), strict=True)
        ]
        xy = np.column_stack([part["x"], part["y"]])
        cases = cases_of(xy, kinds, part["error"], site, np.arange(len(site.works)))
        radius = np.array([z.radius_m for z in cases.zones])
        clock = time.process_time()
        share = overlay_severed_pct(cases.xy, radius, frame)
        theirs += time.process_time() - clock
        clock = time.process_time()
        near = site.index.query(shapely.box(*(xy.min(axis=0) - 20), *(xy.max(axis=0) + 20)))
        scene = Scene([site.works[i] for i in np.sort(near)], origin=tuple(xy[0]))
        severed_pct(Stand(scene, cases.xy, zones_table(cases.zones)))
        kernel += time.process_time() - clock
        plain = np.array([k.zones[0].outline_m is None for k in kinds])
        plain &= shapely.distance(shapely.points(xy), dodged) > radius[cases.recorded] + 0.3
        off = np.abs(share[cases.recorded] - answer["severed_pct"])
        worst = max(worst, float(off[plain].max(initial=0.0)))
        n_cases, n_trees = n_cases + len(radius), n_trees + len(part)
    print(f"\noverlay of {n_trees:,} trees near works in {len(chosen)} cells, {n_cases:,} cases")
    print(f"geopandas, severed share alone       {theirs:8.2f} processor s")
    print(f"kernel, severed share alone          {kernel:8.2f} processor s")
    print(f"judging, all figures and verdict     {ours:8.2f} processor s")
    print(f"ratio to the kernel                  {theirs / kernel:8.1f} x  (reach: 20)")
    print(f"ratio to the whole judging           {theirs / ours:8.1f} x")
    print(f"largest difference where no patch is taken by area {worst:.4f} points")


def _dodged(work):
    return work.kind == "pile" and work.made in ("hand", "air")


def main(trees=1_000_000, works=10_000, processes=2, overlaid=2_000):
    with tempfile.TemporaryDirectory() as name:
        found = {}
        for part in (4, 2, 1):
            folder = Path(name) / f"city{part}"
            found[part], paths = screened(folder, trees // part, works // part, processes)
        # What starting up costs is the same for all and drops out of the steps between them.
        first, second = found[2] - found[4], found[1] - found[2]
        step = second / first / 2
        print(f"second half against first quarter, tree for tree: {step:.2f} (0.85 to 1.15)")
        print(f"whole against quarter: {found[1] / found[4]:.2f} times (reach: at most 4.6)")
        compared(paths, folder, overlaid)


if __name__ == "__main__":
    main(*(int(a) for a in sys.argv[1:5]))
