"""Root loss worked out slowly and apart from the kernel: polygons, and a polar grid."""

import math
from collections.abc import Sequence

import numpy as np
import shapely

from bolewalk.impact.results import RootZone
from bolewalk.model.figures import Figure
from bolewalk.model.works import Part, Work

MARGIN_M = 0.3  # docs/roots.md: a dodged pile takes its own patch plus 0.3 m
QUAD = 256  # segments a quarter of a circle: an area error of 1 in 100,000


def disc_zone(radius: float, *, structural: float = 1.5) -> RootZone:
    return RootZone("as4970-2009", radius, structural, math.pi * radius**2, 50.0, "trunk")


def lobed_zone(radius: float) -> RootZone:
    """A zone drawn by 360 vertices that is not convex and has no two equal halves."""
    k = np.radians(np.arange(360))
    z = radius * (0.7 + 0.2 * np.cos(3 * k) + 0.1 * np.sin(k))
    area = float(np.sum(z * np.roll(z, -1)) * math.sin(math.radians(1)) / 2)
    return RootZone("din18920", float(z.max()), 1.5, area, 50.0, "trunk", tuple(z.tolist()))


def random_work(rng: np.random.Generator, name: str, *, reach: float = 7.0) -> Work:
    kind = rng.choice(["trench", "pile", "hand pile", "excavation", "paving", "thin"])
    depth = Figure(float(rng.uniform(0.1, 1.5)), "drawn") if rng.random() < 0.7 else None
    at = rng.uniform(-reach, reach, 2)
    phase = str(rng.choice(["existing", "proposed", "possible later"]))
    if kind in ("trench", "thin"):
        line = at + np.cumsum(rng.normal(0, 3, (int(rng.integers(2, 6)), 2)), axis=0)
        width = float(rng.uniform(0.2, 0.9)) if kind == "trench" else 0.0
        part = Part("line", tuple(map(tuple, line.tolist())))
        return Work(name, "trench", (part,), depth, width_m=width, phase=phase)  # type: ignore[arg-type]
    if "pile" in kind:
        return Work(
            name, "pile", (Part("point", ((float(at[0]), float(at[1])),)),), depth,
            diameter_m=float(rng.uniform(0.2, 2)), made="hand" if kind == "hand pile" else "bored",
            phase=phase,  # type: ignore[arg-type]
        )  # fmt: skip
    n = int(rng.integers(3, 9))
    a, r = np.sort(rng.uniform(0, 2 * np.pi, n)), rng.uniform(0.5, 4, n)
    ring = at + np.stack([r * np.cos(a), r * np.sin(a)], axis=1)
    part = Part("polygon", tuple(map(tuple, ring.tolist())))
    return Work(
        name,
        kind,
        (part,),
        depth if kind == "excavation" else None,
        phase=phase,  # type: ignore[arg-type]
    )


def shape_of(work: Work) -> shapely.Geometry:
    """A footprint by general means: a buffered point, a buffered line, a polygon."""
    part = work.parts[0]
    if part.shape == "point":
        return shapely.Point(part.ring[0]).buffer((work.diameter_m or 0) / 2, quad_segs=QUAD)
    if part.shape == "line":
        line = shapely.LineString(part.ring)
        if work.width_m == 0:
            return line
        # One strip a leg and a wedge a corner: buffering a bent line drops small bends.
        legs = [
            shapely.LineString(pair).buffer(work.width_m / 2, cap_style="flat")
            for pair in zip(part.ring[:-1], part.ring[1:], strict=True)
        ]
        corners = [
            shapely.LineString(three).buffer(
                work.width_m / 2, cap_style="flat", join_style="mitre", mitre_limit=5
            )
            for three in zip(part.ring[:-2], part.ring[1:-1], part.ring[2:], strict=True)
        ]
        return shapely.union_all(legs + corners)
    shape = shapely.Polygon(part.ring, part.holes)
    return shape if shape.is_valid else shapely.make_valid(shape)


def rings_of(shape: shapely.Geometry) -> list[np.ndarray]:
    out = []
    for part in shapely.get_parts(shape):
        if part.geom_type == "LineString":
            out.append(shapely.get_coordinates(part))
        elif part.geom_type == "Polygon":
            out += [shapely.get_coordinates(r) for r in (part.exterior, *part.interiors)]
    return out


def zone_polygon(zone: RootZone) -> shapely.Polygon:
    if zone.outline_m is None:
        return shapely.Point(0, 0).buffer(zone.radius_m, quad_segs=QUAD)
    k = np.radians(np.arange(360))
    z = np.array(zone.outline_m)
    return shapely.Polygon(np.stack([z * np.sin(k), z * np.cos(k)], axis=1))


def shadow(shape: shapely.Geometry, radius: float) -> shapely.Geometry:
    """Everything behind a footprint as seen from (0, 0), out to beyond the radius, footprint
    included."""
    if shape.geom_type != "LineString" and shapely.contains_xy(shape, 0, 0):
        return shapely.box(-3 * radius, -3 * radius, 3 * radius, 3 * radius)
    parts = [shape] if shape.area > 0 else []
    for ring in rings_of(shape):
        u = ring / np.hypot(*ring.T)[:, None]
        middle = u[:-1] + u[1:]
        middle /= np.hypot(*middle.T)[:, None]
        # Corners beyond the zone are far enough out as they are; their quads must not fold.
        far = np.maximum(4 * radius, 2 * np.hypot(*ring.T))[:, None] * u
        reach = np.maximum(np.hypot(*far[1:].T), np.hypot(*far[:-1].T))[:, None]
        quads = shapely.polygons(
            np.stack([ring[:-1], ring[1:], far[1:], middle * reach, far[:-1]], axis=1)
        )
        parts += [q for q in np.atleast_1d(quads) if q.is_valid and q.area > 0]
    return shapely.union_all(parts)


def by_polygons(works: Sequence[Work], zone: RootZone) -> dict[str, float | list[float]]:
    """Shares [%] of one tree at (0, 0), by overlay of polygons; the works all count."""
    disc = zone_polygon(zone)
    sectors = [_sector(zone, k) for k in range(8)]
    cut, dodged, blind, cover, under = [], [], [], [], []
    levels: dict[float, list[shapely.Geometry]] = {}
    for work in works:
        shape = shape_of(work)
        if work.kind == "paving":
            cover.append(shape)
            continue
        behind = shadow(shape, zone.radius_m)
        patch = behind
        if work.kind == "pile" and not shapely.contains_xy(shape, 0, 0):
            at, d = work.parts[0].ring[0], work.diameter_m or 0.0
            patch = shapely.Point(at).buffer(d / 2 + MARGIN_M, quad_segs=QUAD)
        taken = patch if work.made == "hand" else behind
        if shape.area > 0:
            under.append(shape)
        cut.append(taken)
        dodged.append(patch)
        blind.append(behind)
        # Share of roots above a depth: Gale and Grigal's form, 0.966 (Jackson et al. 1996).
        share = 1.0 if work.depth_m is None else 1 - 0.966 ** (100 * work.depth_m.value)
        levels.setdefault(share, []).append(taken)
    lost = shapely.intersection(shapely.union_all(cut), disc)

    def pct(parts: list[shapely.Geometry]) -> float:
        return 100 * shapely.intersection(shapely.union_all(parts), disc).area / disc.area

    by_depth, before = 0.0, 0.0
    for share in sorted(levels):
        deeper = [g for s, group in levels.items() if s >= share for g in group]
        by_depth += (share - before) * pct(deeper)
        before = share
    open_cover = shapely.difference(shapely.union_all(cover), shapely.union_all(cut))
    return {
        "overlap": pct(under),
        "severed": 100 * lost.area / disc.area,
        "by_depth": by_depth,
        "covered": 100 * shapely.intersection(open_cover, disc).area / disc.area,
        "dodged": pct(dodged),
        "blind": pct(blind),
        "sectors": [100 * shapely.intersection(lost, s).area / s.area for s in sectors],
    }


def _sector(zone: RootZone, k: int) -> shapely.Polygon:
    bearings = np.radians(45.0 * k + np.array([-22.5, 0.0, 22.5]))
    far = 3 * zone.radius_m
    wedge = shapely.Polygon([(0, 0), *((far * math.sin(b), far * math.cos(b)) for b in bearings)])
    return shapely.intersection(wedge, zone_polygon(zone))


def half_shares(works: Sequence[Work], zone: RootZone, *, rays: int = 3600) -> np.ndarray:
    """Share lost [%] of the half whose middle is at each of `rays` even bearings, by overlay of
    thin wedges summed around."""
    disc = zone_polygon(zone)
    parts = []
    for work in works:
        if work.kind == "paving":
            continue
        shape = shape_of(work)
        if work.made == "hand" and not shapely.contains_xy(shape, 0, 0):
            at, d = work.parts[0].ring[0], work.diameter_m or 0.0
            parts.append(shapely.Point(at).buffer(d / 2 + MARGIN_M, quad_segs=QUAD))
        else:
            parts.append(shadow(shape, zone.radius_m))
    lost = shapely.intersection(shapely.union_all(parts), disc)
    b = np.linspace(0, 2 * np.pi, rays + 1)
    far = 3 * zone.radius_m
    corner = np.stack([far * np.sin(b), far * np.cos(b)], axis=1)
    wedges = shapely.polygons(np.stack([np.zeros((rays, 2)), corner[:-1], corner[1:]], axis=1))
    gone = shapely.area(shapely.intersection(lost, wedges))
    size = shapely.area(shapely.intersection(disc, wedges))
    turn = np.arange(rays)[:, None] + np.arange(rays // 2)
    return 100 * gone[turn % rays].sum(axis=1) / size[turn % rays].sum(axis=1)
