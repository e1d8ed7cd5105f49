# ruff: noqa: E501 - one tree a line reads like the table it is
"""An invented survey with invented findings, for looking at papers: no figure here is a result.

Root shares are sampled by rays so that tables and pictures agree with each other; what the
papers are tested for is that they print what they are given.
"""

import math
import random
from datetime import date
from typing import Any

import shapely
from shapely.geometry import LineString, Point, Polygon

from bolewalk.impact.results import (
    COMPASS,
    CrownClash,
    NearestCut,
    Question,
    QuestionAnswer,
    RootLoss,
    RootLosses,
    RootZone,
    TreeImpact,
    TreeVerdict,
)
from bolewalk.model.figures import Figure
from bolewalk.model.problems import Problem
from bolewalk.model.statements import Statement, say
from bolewalk.model.survey import Drawing, Method, People, Person, Site, Survey
from bolewalk.model.trees import Crown, Species, Tree
from bolewalk.model.units import UnitSystem
from bolewalk.model.works import Part, Work
from bolewalk.survey import Findings, TreeFinding
from bolewalk.trees.stems import combined_diameters

FT = 0.3048
IN = 2.54

ROWS = [
    # id, common, botanical, x ft, y ft, stems in, height ft, base ft, crown ft, age, health,
    # structure, owner, decision
    ("T1", "northern red oak", "Quercus rubra", 22, 118, (24.5,), 58, 9, (24, 22, 20, 26), "mature", "good", "good", "client", "retain"),
    ("T2", "sugar maple", "Acer saccharum", 55, 128, (18,), 52, 8, (18,) * 4, "mature", "good", "fair", "client", "retain"),
    ("T3", "eastern white pine", "Pinus strobus", 88, 122, (27.2,), 74, 22, (17, 16, 18, 15), "mature", "good", "good", "client", "retain"),
    ("T4", "river birch", "Betula nigra", 118, 115, (9, 8, 6.5), 41, 6, (15, 17, 14, 12), "semi-mature", "good", "fair", "client", "retain"),
    ("T5", "American sycamore", "Platanus occidentalis", 150, 124, (33.5,), 81, 18, (30, 28, 31, 27), "over-mature", "fair", "fair", "public", "inspect"),
    ("T6", "black willow", "Salix nigra", 178, 112, (21, 17), 44, 7, (22, 20, 25, 19), "over-mature", "poor", "poor", "shared", "monitor"),
    ("T7", "bald cypress", "Taxodium distichum", 196, 92, (16.4,), 55, 8, (11,) * 4, "semi-mature", "good", "good", "client", "retain"),
    ("T8", "green ash", "Fraxinus pennsylvanica", 186, 66, (19.8,), 49, 11, (17, 15, 18, 16), "mature", "poor", "poor", "client", "remove"),
    ("T9", "eastern redcedar", "Juniperus virginiana", 198, 40, (10.1,), 28, 2, (7,) * 4, "mature", "good", "good", "neighbour", "retain"),
    ("T10", "eastern redbud", "Cercis canadensis", 168, 42, (5.5, 4.5, 4), 18, 4, (10, 11, 9, 10), "mature", "fair", "fair", "client", "prune"),
    ("T11", "tulip poplar", "Liriodendron tulipifera", 140, 30, (22.6,), 78, 30, (18, 20, 17, 19), "mature", "good", "good", "client", "retain"),
    ("T12", "American holly", "Ilex opaca", 112, 22, (11.3,), 30, 3, (9,) * 4, "mature", "good", "good", "client", "retain"),
    ("T13", "white oak", "Quercus alba", 84, 30, (31.0,), 66, 12, (29, 27, 30, 28), "mature", "good", "fair", "shared", "retain"),
    ("T14", "flowering dogwood", "Cornus florida", 56, 20, (6.2,), 17, 5, (9, 8, 9, 10), "mature", "fair", "fair", "client", "prune"),
    ("T15", "Norway spruce", "Picea abies", 28, 26, (17.5,), 60, 3, (11,) * 4, "mature", "fair", "good", "client", "retain"),
    ("T16", "tree-of-heaven", "Ailanthus altissima", 10, 48, (8.4, 7.1), 33, 10, (11, 12, 10, 9), "young", "good", "poor", "unknown", "remove"),
    ("T17", "pin oak", "Quercus palustris", 14, 82, (20.2,), 57, 10, (19, 18, 17, 20), "mature", "fair", "good", "public", "retain"),
    ("T18", "hornbeam", "Carpinus caroliniana", 66, 92, (8.8,), 26, 6, (12,) * 4, "semi-mature", "good", "good", "client", "retain"),
    ("T19", "honeylocust", "Gleditsia triacanthos", 92, 88, (14.9,), 45, 12, (19, 20, 18, 17), "semi-mature", "good", "good", "client", "retain"),
    ("T20", "cabbage palm", "Sabal palmetto", 128, 84, (12.5,), 24, 19, (5.5,) * 4, "mature", "good", "good", "client", "retain"),
    ("T21", "saucer magnolia", "Magnolia × soulangeana", 152, 82, (4.5, 4, 3.8, 3.1), 19, 3, (10,) * 4, "mature", "good", "fair", "client", "retain"),
    ("T22", "American elm", "Ulmus americana", 60, 58, (23.7,), 63, 14, (26, 24, 25, 22), "mature", "fair", "fair", "client", "monitor"),
    ("T23", "stump sprouts of silver maple", "Acer saccharinum", 122, 52, (6, 5.5, 5, 4.2), 29, 4, (11, 12, 10, 13), "young", "good", "poor", "client", "inspect"),
    ("T24", "ash-like, in leaf bud", None, 206, 118, (), None, None, None, None, "fair", None, "neighbour", None),
]  # fmt: skip


def ring(*points: tuple[float, float]) -> Part:
    return Part("polygon", tuple((x * FT, y * FT) for x, y in points))


def line(*points: tuple[float, float]) -> Part:
    return Part("line", tuple((x * FT, y * FT) for x, y in points))


def works() -> tuple[Work, ...]:
    drawn: dict[str, Any] = {"drawing": "Court improvements, revision B", "file": "plan.dxf"}
    out = [
        Work("House A", "building", (ring((30, 62), (30, 44), (50, 44), (50, 62)),), phase="existing", label="House A"),
        Work("House C", "building", (ring((92, 64), (92, 44), (112, 44), (112, 64)),), phase="existing", founded="slab", label="House C"),
        Work("Lane", "paving", (ring((0, 66), (0, 76), (214, 76), (214, 66)),), phase="existing", label="Lane"),
        Work("Ramp", "fill", (ring((96, 76), (96, 100), (102, 100), (102, 76)),), depth_m=Figure(0.4, "drawn"), label="Ramp on fill", **drawn),
        Work("Rain garden", "trench", (line((100, 104), (136, 108), (172, 98)),), width_m=4 * FT, depth_m=Figure(0.9, "drawn"), made="machine", label="Rain garden trench", **drawn),
        Work("Shelter", "roof", (ring((132, 88), (132, 98), (148, 98), (148, 88)),), low_m=2.4, high_m=3.2, label="Bicycle shelter", **drawn),
        Work("Service", "utility", (line((50, 54), (72, 36), (92, 50)),), width_m=1.5 * FT, present="unknown", label="Power to House C?", **drawn),
        Work("Studio", "strip footing", (ring((146, 48), (146, 62), (166, 62), (166, 48)),), phase="possible later", label="Studio"),
        Work("East line", "boundary", (line((202, 0), (202, 130)),), phase="existing", label="Boundary"),
        Work("Stack", "storage", (ring((66, 104), (66, 114), (78, 114), (78, 104)),), label="Storage", **drawn),
    ]  # fmt: skip
    for i, (x, y) in enumerate([(133, 89), (147, 89), (133, 97), (147, 97)], 1):
        part = Part("point", ((x * FT, y * FT),))
        out.append(
            Work(f"P{i}", "pile", (part,), diameter_m=0.3, made="bored", label=f"P{i}", **drawn)
        )
    return tuple(out)


SEVERING = {"trench", "strip footing", "building", "excavation", "pile", "utility", "drain", "wall"}


def footprint(work: Work) -> shapely.Geometry:
    shapes = []
    for part in work.parts:
        if part.shape == "polygon":
            shapes.append(Polygon(part.ring))
        elif part.shape == "line":
            shapes.append(
                LineString(part.ring).buffer(
                    max(work.width_m, 0.02) / 2, cap_style="flat", join_style="mitre"
                )
            )
        else:
            shapes.append(Point(part.ring[0]).buffer((work.diameter_m or 0.3) / 2))
    return shapely.union_all(shapes)


def loss(x: float, y: float, radius: float, chosen: list[Work]) -> RootLoss:
    cut = [footprint(w) for w in chosen if w.kind in SEVERING and w.founded != "slab"]
    severing = shapely.union_all(cut)
    cover = shapely.union_all(
        [footprint(w) for w in chosen if w.kind in {"paving", "fill", "roof", "storage", "slab"}]
    )
    disc = Point(x, y).buffer(radius, quad_segs=64)
    lost = []
    for b in range(360):
        dx, dy = math.sin(math.radians(b)), math.cos(math.radians(b))
        ray = LineString([(x, y), (x + radius * dx, y + radius * dy)])
        hit = ray.intersection(severing)
        near = radius if hit.is_empty else min(radius, Point(x, y).distance(hit))
        lost.append(1 - (near / radius) ** 2)
    halves = [sum(lost[(b + d) % 360] for d in range(-90, 90)) / 180 * 100 for b in range(360)]
    sectors = {
        c: sum(lost[(45 * i + d) % 360] for d in range(-22, 23)) / 45 * 100
        for i, c in enumerate(COMPASS)
    }
    pct = sum(lost) / 360 * 100
    run = best = 0
    for b in range(720):
        run = run + 1 if lost[b % 360] == 0 else 0
        best = min(max(best, run), 360)
    nearest = None if severing.is_empty else Point(x, y).distance(severing)
    return RootLoss(
        overlap_pct=disc.intersection(severing).area / disc.area * 100,
        severed_pct=pct, severed_by_depth_pct=pct * 0.62,
        covered_pct=disc.intersection(cover).area / disc.area * 100,
        nearest_cut_m=nearest, widest_clear_arc_deg=best,
        best_half_severed_pct=min(halves),
        best_half_bearing=None if max(halves) == 0 else float(halves.index(min(halves))),
        severed_pct_range=(pct, pct), sectors_pct=sectors,
    )  # fmt: skip


def impact(tree: Tree, all_works: tuple[Work, ...]) -> TreeImpact:
    if tree.x_m is None or not tree.stems_cm:
        return TreeImpact(tree.id, None, None, None, None, None, missing=(say("test.no_trunk"),))
    assert tree.y_m is not None
    d = math.hypot(*(s.value for s in tree.stems_cm))
    radius = d / 100 * 12
    structural = (d / 100 * 50) ** 0.42 * 0.64
    zone = RootZone("inch-foot", radius, structural, math.pi * radius**2, d, "trunk",
                    notes=(say("test.flare"),), sources=("Table 3, invented",))  # fmt: skip
    of = {p: [w for w in all_works if w.phase in p] for p in
          [("existing",), ("existing", "proposed"), ("existing", "proposed", "possible later")]}  # fmt: skip
    e, p, w = (loss(tree.x_m, tree.y_m, radius, ws) for ws in of.values())
    level = lambda r: (  # noqa: E731
        "keep" if r.severed_pct <= 10 and (r.nearest_cut_m or 99) > structural
        else "keep_if" if r.severed_pct <= 25 and (r.nearest_cut_m or 99) > structural
        else "redesign"
    )  # fmt: skip
    now: Any = "undecided" if tree.id == "T13" else level(p)
    rng = random.Random(tree.id)
    sides = {c: radius * (0.55 + 0.3 * rng.random()) for c in COMPASS}
    keep = {c: None if p.sectors_pct[c] > 60 else max(structural, s) for c, s in sides.items()}
    keep_if = {c: None if v is None else max(structural, v * 0.7) for c, v in keep.items()}
    limits: Any = {c: "already" if keep[c] is None else "severed" for c in COMPASS}
    questions: tuple[Question, ...] = ()
    if tree.id in ("T13", "T22"):
        questions = (
            Question(
                "Service.present", say("test.ask_service", title="Court improvements"), "designer",
                (QuestionAnswer(say("test.yes"), "redesign"), QuestionAnswer(say("test.no"), "keep")),
                0.42,
            ),
            Question(
                "Service.depth", say("test.ask_depth"), "locator",
                (QuestionAnswer(say("test.deep"), "redesign"), QuestionAnswer(say("test.shallow"), "keep_if")),
                0.2,
            ),
        )  # fmt: skip
    because: tuple[Statement, ...] = (
        say("test.severed", severed_pct=p.severed_pct, limit_pct=10.0),
        say("test.nearest", distance_m=p.nearest_cut_m or 0.0, structural_m=structural),
    )
    return TreeImpact(
        tree.id, zone, RootLosses(e, p, w),
        NearestCut(keep, keep_if, limits, limits, band_m=0.15, keep_span=_spans(keep),
                   keep_if_span=_spans(keep_if)),
        CrownClash(210.0, 3.5 if tree.id == "T21" else 0.0, 0.6, 4.0, 2.4, ("S", "W"), 6.0),
        TreeVerdict(now, level(w), because,
                    flips_if=(say("test.flips", distance_m=1.2),),
                    conditions=(say("test.hand"), say("test.fence", distance_m=3.0))
                    if now == "keep_if" else (),
                    drawings=("Court improvements, revision B",)),
        questions=questions, not_needed=(say("test.roof_height"),),
        defaults=(say("test.default_depth", work="Service"),),
    )  # fmt: skip


def _spans(cut: dict[str, float | None]) -> dict[str, Any]:
    return {b: (None, None) if d is None else (d - 0.15, d + 0.15) for b, d in cut.items()}


def tree(row: tuple[Any, ...]) -> Tree:
    tid, common, botanical, x, y, stems, height, base, crown, age, health, structure, owner, dec = (
        row
    )
    by = "measured"
    return Tree(
        tid, Species(botanical, common if botanical else None, common, 0.9 if botanical else 0.2),
        x_m=x * FT, y_m=y * FT, stems_cm=tuple(Figure(s * IN, by, "tape") for s in stems),
        height_m=None if height is None else Figure(height * FT, "estimated", low=height * FT * 0.9, high=height * FT * 1.1),
        crown_base_m=None if base is None else Figure(base * FT, "estimated"),
        crown=None if crown is None else Crown(*(c * FT for c in crown), basis=Figure(sum(crown) / 4 * FT, "measured")),
        age=age, health=health, structure=structure, owner=owner, decision=dec,
        notes="Old topping point at 14 ft; two stems with included bark." if tid == "T6" else "",
        measured_at_m=4.5 * FT, entered={"tree": tid, "diameter": "+".join(f"{s:g}" for s in stems)},
    )  # fmt: skip


def survey(*, units: UnitSystem = "imperial", rows: list[tuple[Any, ...]] | None = None) -> Survey:
    return Survey(
        "Tannery Row Commons", date(2026, 5, 12), units, "opinion", Method("inch-foot"),
        crs=None, m_per_grid_unit=FT if units == "imperial" else 1.0,
        people=People(
            Person("Imre Valdengaard", "assessor", "Certified arborist", "XX-0417", date(2027, 3, 31), "valdengaard@example.org"),
            Person("Tannery Row Commons Association", "client"),
            (Person("Oona Bretherick", "designer"),),
        ),
        site=Site(slope_pct=4.0),
        trees=tuple(tree(r) for r in (ROWS if rows is None else rows)), works=works(),
        drawings=(Drawing("plan.dxf", "Court improvements", "B", date(2026, 4, 30), "Bretherick & Low"),),
        place="2 Tannery Row, Wexcombe",
    )  # fmt: skip


def findings(
    *, units: UnitSystem = "imperial", rows: list[tuple[Any, ...]] | None = None
) -> Findings:
    s = survey(units=units, rows=rows)
    trees = tuple(
        TreeFinding(
            tree=t,
            diameters=combined_diameters([f.value for f in t.stems_cm]) if t.stems_cm else None,
            impact=impact(t, s.works),
        )
        for t in s.trees
    )
    return Findings(
        survey=s, trees=trees, draft=None, price=None,
        problems=(
            Problem("trees.csv", 26, "diameter", "2 ft 3 hands", "a trunk size such as 24, 61cm or 8+6+5"),
            Problem("trees.csv", 1, "bark", None, "a known column; kept as a note", "notice"),
        ),
        defaults=(say("test.default_depth", work="Service"), say("test.default_age", tree="T24")),
    )  # fmt: skip


TEST_SENTENCES = {
    "no_trunk": "Its trunk must be measured and its position taken.",
    "flare": "The flare was not measured; the trunk diameter stands in.",
    "severed": "With the proposed works {severed_pct} of the root zone is severed; the limit read is {limit_pct}.",
    "nearest": "The nearest cut stands {distance_m} from the trunk, the structural roots reach {structural_m}.",
    "flips": "The trench moves by more than {distance_m} toward the tree.",
    "hand": "Holes within the root zone are dug by hand or with air, and shifted to miss roots.",
    "fence": "A fence stands at {distance_m} from the trunk until the works are done.",
    "ask_service": "Will there be a trench for power between House A and House C, and where on {title}?",
    "ask_depth": "How deep is the power line laid?",
    "yes": "Yes, as drawn",
    "no": "No trench",
    "deep": "Deeper than 2 ft",
    "shallow": "Not deeper than 1 ft",
    "roof_height": "Height of the bicycle shelter's roof",
    "default_depth": "No depth was given for {work}; it counts as deep.",
    "default_age": "No age was given for {tree}; mature was taken.",
}
