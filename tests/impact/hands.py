"""Root losses, zones and works made by hand for the tests of this folder."""

import math
from dataclasses import replace
from typing import Any

from bolewalk.impact.results import COMPASS, RootLoss, RootLosses, RootZone
from bolewalk.impact.standing import Standing
from bolewalk.impact.tolerance import ToleranceFound
from bolewalk.model.figures import Figure
from bolewalk.model.trees import Crown, Species, Tree
from bolewalk.model.works import Part, Work

FT = 0.3048


def loss(**kw: Any) -> RootLoss:
    base: dict[str, Any] = {
        "overlap_pct": 0.0, "severed_pct": 0.0, "severed_by_depth_pct": 0.0, "covered_pct": 0.0,
        "nearest_cut_m": None, "widest_clear_arc_deg": 360.0, "best_half_severed_pct": 0.0,
        "best_half_bearing": None, "severed_pct_range": (0.0, 0.0),
        "sectors_pct": dict.fromkeys(COMPASS, 0.0),
    }  # fmt: skip
    made = {**base, **kw}
    if "severed_pct_range" not in kw:
        made["severed_pct_range"] = (made["severed_pct"],) * 2
    return RootLoss(**made)


def zone(radius: float = 6.0, structural: float = 2.0, diameter: float = 50.0) -> RootZone:
    return RootZone("as4970-2009", radius, structural, math.pi * radius**2, diameter, "trunk")


def standing(proposed: RootLoss, level: Any = "moderate", **kw: Any) -> Standing:
    base = Standing(
        kw.pop("zone", zone()),
        RootLosses(kw.pop("existing", loss()), proposed, kw.pop("with_later", proposed)),
        ToleranceFound(level, "tree"),
        kw.pop("crown", None),
        kw.pop("crown_later", None),
    )
    return replace(base, **kw)


def segment_pct(k: float) -> float:
    """Share of a circle beyond a chord at k radii from its centre: circle segment, closed form."""
    return 100 * (math.acos(k) - k * math.sqrt(1 - k * k)) / math.pi


def tree(name: str = "T1", cm: tuple[float, ...] = (50.0,), **kw: Any) -> Tree:
    given = {"x_m": 0.0, "y_m": 0.0, **kw}
    species = given.pop("species", Species("Nullus ignotus", "no kind", "no kind"))
    stems = tuple(Figure(v, "measured") for v in cm)
    return Tree(name, species, stems_cm=stems, **given)


def crown(radius: float) -> Crown:
    return Crown(radius, radius, radius, radius, Figure(radius, "measured"))


def line(name: str, kind: Any, *points: tuple[float, float], **kw: Any) -> Work:
    return Work(name, kind, (Part("line", points),), **kw)


def pile(name: str, at: tuple[float, float], diameter: float = 0.4, **kw: Any) -> Work:
    return Work(name, "pile", (Part("point", (at,)),), diameter_m=diameter, **kw)


def box(
    name: str, kind: Any, low: tuple[float, float], high: tuple[float, float], **kw: Any
) -> Work:
    ring = (low, (high[0], low[1]), high, (low[0], high[1]))
    return Work(name, kind, (Part("polygon", ring),), **kw)
