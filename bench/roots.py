"""Root loss kernel against polygon overlay, and against closed form to 50 digits.

    python bench/roots.py [trees] [trees for overlay]

Both sides answer the same question for the same trees in one run: severed share, shadows
included, from every severing work near the tree. Overlay: circles and the zone with 64 segments
a quarter, the shadow of each footprint as the union of the quadrilaterals behind its edges, the
union of footprints and shadows clipped to the zone. It is timed on the first
trees only (20,000, or the second number) and scaled, which the output says.
"""

import math
import sys
import time
from itertools import pairwise

import mpmath
import numpy as np
import shapely

from bolewalk.impact.accounts import Zones
from bolewalk.impact.losses import Stand, loss_tables, severed_pct
from bolewalk.impact.scene import Scene
from bolewalk.model.works import Part, Work

SEGMENTS = 64


def site(trees, seed=20):
    """Trees along streets with trenches, footings, excavations and piles beside them."""
    rng = np.random.default_rng(seed)
    side = math.sqrt(trees) * 12.0
    xy = rng.uniform(0, side, (trees, 2))
    radius = rng.uniform(2.5, 10.0, trees)
    works = []
    for i in range(max(8, trees // 3)):
        at = rng.uniform(0, side, 2)
        kind = ("trench", "pile", "excavation", "strip footing")[i % 4]
        if kind == "pile":
            points = (tuple(map(float, at)),)
            works.append(Work(f"W{i}", kind, (Part("point", points),), diameter_m=0.4))
        elif kind == "excavation":
            n = int(rng.integers(4, 8))
            a = np.sort(rng.uniform(0, 2 * np.pi, n))
            r = rng.uniform(2, 7, n)
            ring = at + np.stack([r * np.cos(a), r * np.sin(a)], axis=1)
            works.append(Work(f"W{i}", kind, (Part("polygon", tuple(map(tuple, ring.tolist()))),)))
        else:
            steps = rng.normal(0, 8, (int(rng.integers(2, 5)), 2))
            line = at + np.cumsum(steps, axis=0)
            part = Part("line", tuple(map(tuple, line.tolist())))
            works.append(Work(f"W{i}", kind, (part,), width_m=0.45))
    return xy, radius, works


def overlay_severed_pct(xy, radius, scene):
    """The same answer by shapely polygons."""
    at = scene.local(xy)
    shapes = []
    for f in scene.footprints:
        parts = list(f.polygons)
        parts += [shapely.Point(x, y).buffer(r, quad_segs=SEGMENTS) for x, y, r in f.circles]
        shapes.append(parts[0] if len(parts) == 1 else shapely.union_all(parts))
    tree = shapely.STRtree(shapes)
    zones = shapely.buffer(shapely.points(at), radius, quad_segs=SEGMENTS)
    rows, near = tree.query(zones, predicate="intersects")
    out = np.zeros(len(xy))
    order = np.argsort(rows, kind="stable")
    rows, near = rows[order], near[order]
    for i, group in zip(*_groups(rows, near), strict=True):
        centre, r = at[i], radius[i]
        zone = zones[i]
        taken = []
        for j in group:
            if shapely.contains_xy(shapes[j], *centre):
                taken = [zone]
                break
            clipped = shapely.intersection(shapes[j], zone)
            for polygon in shapely.get_parts(clipped):
                if polygon.geom_type != "Polygon":
                    continue
                for ring in (polygon.exterior, *polygon.interiors):
                    v = shapely.get_coordinates(ring) - centre
                    # Out to where everything behind an edge lies beyond the zone.
                    u = v / np.hypot(*v.T)[:, None]
                    far, middle = 3.0 * r * u, u[:-1] + u[1:]
                    middle *= 3.0 * r / np.hypot(*middle.T)[:, None]
                    behind = [v[:-1], v[1:], far[1:], middle, far[:-1]]
                    flat = shapely.polygons(np.stack(behind, axis=1) + centre)
                    flat = np.where(shapely.is_valid(flat), flat, shapely.make_valid(flat))
                    taken.extend(flat[shapely.area(flat) > 0])
                taken.append(polygon)
        lost = shapely.intersection(shapely.union_all(taken), zone)
        out[i] = 100 * lost.area / zone.area
    return out


def _groups(rows, near):
    head = np.flatnonzero(np.r_[True, rows[1:] != rows[:-1]]) if len(rows) else []
    return [rows[h] for h in head], np.split(near, head[1:])


def exact_severed_pct(centre, r, footprints):
    """One tree by 50-digit arithmetic, written apart from the kernel: every bearing at which
    anything changes, then the integral of the nearest edge in between."""
    mp = mpmath.mp
    mp.dps = 50
    cx, cy, big = mp.mpf(centre[0]), mp.mpf(centre[1]), mp.mpf(float(r))
    lines, circles, marks = [], [], [mp.mpf(0), 2 * mp.pi]

    def mark(x, y):
        marks.append(mp.atan2(y, x) % (2 * mp.pi))

    for f in footprints:
        for polygon in f.polygons:
            for ring in (polygon.exterior, *polygon.interiors):
                v = [(mp.mpf(x) - cx, mp.mpf(y) - cy) for x, y in ring.coords]
                lines += list(pairwise(v))
        circles += [(mp.mpf(x) - cx, mp.mpf(y) - cy, mp.mpf(q)) for x, y, q in f.circles]
    lines = [s for s in lines if _near(s, big)]
    circles = [c for c in circles if mp.hypot(c[0], c[1]) - c[2] < big]

    def on_circle(a, b, x, y, q):
        dx, dy = b[0] - a[0], b[1] - a[1]
        fx, fy = a[0] - x, a[1] - y
        aa, bb, cc = dx * dx + dy * dy, fx * dx + fy * dy, fx * fx + fy * fy - q * q
        disc = bb * bb - aa * cc
        if disc < 0:
            return
        for s in (-1, 1):
            t = (-bb + s * mp.sqrt(disc)) / aa
            mark(a[0] + t * dx, a[1] + t * dy)

    def circles_meet(p, q):
        dx, dy = q[0] - p[0], q[1] - p[1]
        d = mp.hypot(dx, dy)
        if d == 0 or d > p[2] + q[2] or d < abs(p[2] - q[2]):
            return
        a = (d * d + p[2] ** 2 - q[2] ** 2) / (2 * d)
        h = mp.sqrt(max(p[2] ** 2 - a * a, 0))
        for s in (-1, 1):
            mark(p[0] + (a * dx - s * h * dy) / d, p[1] + (a * dy + s * h * dx) / d)

    for i, (a, b) in enumerate(lines):
        mark(*a)
        mark(*b)
        on_circle(a, b, 0, 0, big)
        for c in circles:
            on_circle(a, b, *c)
        for c, d in lines[:i]:
            ux, uy, vx, vy = b[0] - a[0], b[1] - a[1], d[0] - c[0], d[1] - c[1]
            det = ux * vy - uy * vx
            if det != 0:
                t = ((c[0] - a[0]) * vy - (c[1] - a[1]) * vx) / det
                if 0 <= t <= 1:
                    mark(a[0] + t * ux, a[1] + t * uy)
    for i, (x, y, q) in enumerate(circles):
        d = mp.hypot(x, y)
        if d > q:
            b, w = mp.atan2(y, x), mp.asin(q / d)
            marks += [(b - w) % (2 * mp.pi), (b + w) % (2 * mp.pi)]
        circles_meet((x, y, q), (mp.mpf(0), mp.mpf(0), big))
        for other in circles[:i]:
            circles_meet((x, y, q), other)
    marks = sorted(marks)
    lost = mp.mpf(0)
    for t0, t1 in pairwise(marks):
        if t1 - t0 < mp.mpf(10) ** -40:
            continue
        m = (t0 + t1) / 2
        c, s = mp.cos(m), mp.sin(m)
        best, what = big, None
        for line in lines:
            (ax, ay), (bx, by) = line
            ca, cb = c * ay - s * ax, c * by - s * bx
            if (ca > 0) == (cb > 0):
                continue
            rr = (ax * by - ay * bx) / (c * (by - ay) - s * (bx - ax))
            if 0 < rr < best:
                best, what = rr, line
        for circle in circles:
            x, y, q = circle
            along, across = c * x + s * y, c * y - s * x
            if along > 0 and abs(across) < q:
                rr = along - mp.sqrt(q * q - across * across)
                if 0 < rr < best:
                    best, what = rr, circle
        if what is None:
            continue
        lost += big * big * (t1 - t0) / 2 - _swept(what, t0, t1)
    return 100 * lost / (mp.pi * big * big)


def _near(segment, big):
    (ax, ay), (bx, by) = segment
    dx, dy = bx - ax, by - ay
    t = -(ax * dx + ay * dy) / (dx * dx + dy * dy)
    t = min(max(t, 0), 1)
    return mpmath.mp.hypot(ax + t * dx, ay + t * dy) < big


def _swept(what, t0, t1):
    """Integral of r**2 / 2. Straight: d**2 / 2 (tan - tan). Circle, with p the bearing from its
    centre's: r**2 / 2 = (D**2 cos 2p + q**2) / 2 - D cos p sqrt(q**2 - D**2 sin(p)**2)."""
    mp = mpmath.mp
    if len(what) == 2:
        (ax, ay), (bx, by) = what
        dx, dy = bx - ax, by - ay
        n = mp.hypot(dx, dy)
        d = (ax * by - ay * bx) / n
        phi = mp.atan2(-dx * d, dy * d)
        return d * d / 2 * (mp.tan(t1 - phi) - mp.tan(t0 - phi))
    x, y, q = what
    big_d, phi = mp.hypot(x, y), mp.atan2(y, x)

    def primitive(t):
        p = mp.atan2(mp.sin(t - phi), mp.cos(t - phi))
        v = big_d * mp.sin(p)
        root = mp.sqrt(max(q * q - v * v, 0))
        inner = (v * root + q * q * mp.asin(max(min(v / q, 1), -1))) / 2
        return (big_d * big_d * mp.sin(2 * p) / 2 + q * q * p) / 2 - inner

    return primitive(t1) - primitive(t0)


def main(trees=100_000, overlaid=20_000):
    xy, radius, works = site(trees)
    scene = Scene(works)
    n = len(xy)
    zones = Zones(radius, np.pi * radius**2, np.zeros((0, 360)), np.full(n, -1))
    severed_pct(Stand(scene, xy[:100], zones.take(np.arange(100))))  # warm up
    start = time.perf_counter()
    ours = severed_pct(Stand(scene, xy, zones))
    ours_s = time.perf_counter() - start
    k = min(overlaid, n)
    start = time.perf_counter()
    theirs = overlay_severed_pct(xy[:k], radius[:k], scene)
    theirs_s = (time.perf_counter() - start) * n / k
    start = time.perf_counter()
    loss_tables([Stand(scene, xy, zones)])
    all_s = time.perf_counter() - start
    hit = np.flatnonzero(ours > 0)
    print(f"trees {n:,}, works {len(works):,}, trees that lose roots {len(hit):,}")
    print(f"severed share, ours          {ours_s:9.2f} s  {1e6 * ours_s / n:8.1f} us a tree")
    note = "" if k == n else f" (timed on {k:,}, scaled)"
    print(
        f"severed share, overlay       {theirs_s:9.2f} s  {1e6 * theirs_s / n:8.1f} us a tree{note}"
    )
    print(f"ratio                        {theirs_s / ours_s:9.1f} x  (reach: 20)")
    print(f"every figure of root loss    {all_s:9.2f} s  {1e6 * all_s / n:8.1f} us a tree")
    print(f"largest difference           {np.abs(ours[:k] - theirs).max():9.4f} points")
    sample = hit[np.random.default_rng(3).permutation(len(hit))[:60]]
    at = scene.local(xy)
    near_tree, near_work = scene.near(at[sample], radius[sample])
    worst = 0.0
    for i, tree in enumerate(sample):
        if ours[tree] == 100.0:
            continue
        near = [scene.footprints[w] for w in near_work[near_tree == i]]
        exact = exact_severed_pct(at[tree], radius[tree], near)
        worst = max(worst, abs(float(exact) - ours[tree]))
    print(f"error against closed form    {worst:9.1e} points on {len(sample)} trees (reach: 1e-9)")


if __name__ == "__main__":
    main(*(int(a) for a in sys.argv[1:3]))
