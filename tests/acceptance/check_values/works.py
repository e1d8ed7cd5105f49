"""Root zones, root loss, nearest cut, crown, verdicts."""

import math
from dataclasses import replace
from datetime import date

import numpy as np

from bolewalk.impact.assess import assess_all
from bolewalk.impact.clashes import crown_clash, obstacles, removed_m3
from bolewalk.impact.crown import CrownSolid, crown_volume_m3
from bolewalk.impact.nearest import CutLimits, nearest_allowed_cuts
from bolewalk.impact.results import RootLoss, RootZone, TreeImpact
from bolewalk.impact.roots import Scene, root_losses
from bolewalk.impact.slope import Slope
from bolewalk.impact.thresholds import thresholds
from bolewalk.impact.zones import root_zone, structural_radius_m
from bolewalk.model.figures import Figure
from bolewalk.model.survey import Method, Survey
from bolewalk.model.trees import Tree
from bolewalk.model.words import CrownForm
from bolewalk.model.works import Part, Work
from bolewalk.trees.stems import equal_area_cm
from tests.impact.hands import box, crown, tree

from . import FT, IN, IN_CM, OAK, YD3, Checks, Found


def judged(one: Tree, *works: Work, method: str = "as4970-2009") -> TreeImpact:
    """Judge one tree beside works, by a method of root zones."""
    survey = Survey(
        "Check", date(2026, 5, 12), "metric", "opinion", Method(method),  # type: ignore[arg-type]
        trees=(one,), works=works,
    )  # fmt: skip
    return assess_all(survey)[0]


def zone_of(one: Tree, method: str = "as4970-2009") -> RootZone:
    found = root_zone(one, method)  # type: ignore[arg-type]
    assert found is not None
    return found


def beyond(distance_m: float, *, side: int = 1, depth_m: float | None = None) -> Work:
    """Ground dug away beyond a line north and south of it, in the east (1) or the west (-1)."""
    near, far = sorted((side * distance_m, side * 60.0))
    deep = None if depth_m is None else Figure(depth_m, "drawn")
    return box(f"X{side}", "excavation", (near, -60.0), (far, 60.0), depth_m=deep)


def lost(*works: Work) -> RootLoss:
    return root_losses((0.0, 0.0), zone_of(OAK), works).proposed


def half_and_verdict(*sides: int) -> Found:
    """Cuts at half the radius: share severed, verdict."""
    found = judged(OAK, *(beyond(3.0, side=s) for s in sides))
    assert found.roots is not None
    assert found.verdict is not None
    return [found.roots.proposed.severed_pct, found.verdict.now]


def nearest(line: str, bearing: str, *works: Work) -> Found:
    """The nearest allowed cut in radii of the zone, at limits of 10 % and 25 %.

    The structural radius is put out of the way, as it would stop the trench before 25 %.
    """
    zone = replace(zone_of(OAK), structural_radius_m=1.0)
    (cut,) = nearest_allowed_cuts(
        np.zeros((1, 2)), [zone], Scene(works), [CutLimits(10.0, 25.0, 10.0)],
        ["keep_if" if works else "keep"],
    )  # fmt: skip
    return [getattr(cut, line)[bearing] / zone.radius_m]


def nearest_with_its_band() -> Found:
    trunk = Figure(40.0, "measured", low=36.0, high=44.0)
    cut = judged(replace(OAK, stems_cm=(trunk,), offset_m=0.5)).nearest_cut
    assert cut is not None
    inner, outer = cut.keep_span["E"]
    assert inner is not None
    assert outer is not None
    assert cut.keep["E"] is not None
    return [cut.keep["E"], inner, outer]


def covered_oak() -> TreeImpact:
    """34 in of trunk at a foot an inch; a sector of 35 % of the turn under 14 in of fill."""
    turns = np.linspace(0.0, 2 * math.pi * 0.35, 361)
    ring = ((0.0, 0.0), *((40 * math.sin(b), 40 * math.cos(b)) for b in turns))
    fill = Work("F1", "fill", (Part("polygon", ring),), depth_m=Figure(14 * IN, "drawn"))
    return judged(tree(cm=(34 * IN_CM,)), fill, method="inch-foot")


def zone_and_verdict() -> Found:
    found = covered_oak()
    assert found.zone is not None
    assert found.verdict is not None
    return [found.zone.area_m2 / FT**2, found.verdict.now]


def fill_over_the_oak() -> Found:
    fill = covered_oak().fill
    assert fill is not None
    assert fill.in_place_m3 is not None
    assert fill.loose_m3 is not None
    assert fill.loads is not None
    return [fill.area_m2 / FT**2, fill.in_place_m3 / YD3, fill.loose_m3 / YD3, fill.loads]


def trunks_away() -> Found:
    cut = replace(beyond(5 * FT), id="X")
    said = judged(tree(cm=(26 * IN_CM,)), cut).verdict
    assert said is not None
    told = {k: v for s in said.because for k, v in s.values if k == "times"}
    return [float(told["times"])]


def volume(*forms: CrownForm) -> Found:
    return [crown_volume_m3((0.5,) * 4, 1.0, form) for form in forms]


def crown_gone_pct(form: CrownForm, low: tuple[float, float], *, above_m: float = 0.0) -> float:
    """A crown of 4 m radius from 2 to 10 m, a roof over all east and north of a point."""
    solid = CrownSolid((0.0, 0.0), (4.0,) * 4, 2.0, 10.0, form)
    roof = box("R1", "roof", low, (50.0, 50.0), low_m=above_m)
    return crown_clash(solid, obstacles([roof], ("proposed",)), thresholds()).removed_pct


def cap() -> Found:
    ball = CrownSolid((0.0, 0.0), (4.0,) * 4, 2.0, 10.0, "spheroid")
    roof = box("R1", "roof", (-50.0, 3.0), (50.0, 50.0))
    return [removed_m3(ball, obstacles([roof], ("proposed",)))[0]]


def zone_figures(trunk_cm: float) -> Found:
    zone = zone_of(tree(cm=(trunk_cm,)), "bs5837-2012")
    return [zone.radius_m, zone.area_m2]


CHECKS: Checks = {
    "roots": {
        "straight cut across": lambda: [lost(beyond(3.0)).severed_pct],
        "how far out 10 %": lambda: nearest("keep", "E"),
        "cuts at 0.5 R on both": lambda: [lost(beyond(3.0), beyond(3.0, side=-1)).severed_pct],
        "roots of a cut 0.6 m": lambda: [lost(beyond(3.0, depth_m=0.6)).severed_by_depth_pct],
    },
    "root-zones": {
        "BS 5837, 300 mm": lambda: zone_figures(30.0),
        "BS 5837, 1,600 mm": lambda: zone_figures(160.0),
        "BS 5837, 300 + 250 + 200": lambda: [
            10 * equal_area_cm((30, 25, 20)),
            zone_of(tree(cm=(30.0, 25.0, 20.0)), "bs5837-2012").radius_m,
        ],
        "AS 4970, 0.32 m": lambda: [zone_of(tree(cm=(32.0,))).radius_m],
        "AS 4970, 0.10 m": lambda: [zone_of(tree(cm=(10.0,))).radius_m],
        "structural, 0.60 m": lambda: [structural_radius_m(60)],
        "structural, 0.80 m": lambda: [structural_radius_m(80)],
        "inch-foot, 20 in": lambda: [zone_of(tree(cm=(20 * IN_CM,)), "inch-foot").radius_m / FT],
        "tolerance-age": lambda: [
            zone_of(
                tree(cm=(30 * IN_CM,), tolerance="poor", age="over-mature"), "tolerance-age"
            ).radius_m
            / FT
        ],
        "DIN 18920": lambda: [
            zone_of(tree(crown=crown(4.0)), "din18920").radius_m,
            zone_of(tree(crown=crown(1.0), form="column"), "din18920").radius_m,
        ],
    },
    "nearest-cut": {
        "open ground, limit 10 %": lambda: nearest("keep", "E"),
        "open ground, limit 25 %": lambda: nearest("keep_if", "NW"),
        "straight cut at 0.5 R": lambda: nearest("keep_if", "W", beyond(3.0)),
        "20 ft in plan up 38 %": lambda: [20 * Slope(38.0, 180.0).times(0.0)],
        "66.07 ft in plan up 35 %": lambda: [66.07 * Slope(35.0, 180.0).times(0.0)],
        "20 ft in plan along": lambda: [20 * Slope(38.0, 180.0).times(90.0)],
        "AS 4970, 40 ± 4 cm": nearest_with_its_band,
    },
    "crown": {
        "column": lambda: volume("column"),
        "spheroid, half": lambda: volume("spheroid", "half-spheroid"),
        "umbrella, cone": lambda: volume("umbrella", "cone"),
        "sphere of 4 m": cap,
        "cone, everything": lambda: [crown_gone_pct("cone", (-50, -50), above_m=6.0)],
        "trunk on a corner": lambda: [
            crown_gone_pct("column", (0, 0)),
            crown_gone_pct("column", (-50, 0)),
        ],
    },
    "verdicts": {
        "trench face": lambda: half_and_verdict(1),
        "the same on both": lambda: half_and_verdict(1, -1),
        "full trench": lambda: nearest("keep_if", "E"),
        "trunk 26 in": trunks_away,
        "34 in": zone_and_verdict,
        "fill of 14 in": fill_over_the_oak,
    },
}
