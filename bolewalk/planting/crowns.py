"""Crowns of old and new plants in later years, with bands and the chance to be alive."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon

from bolewalk.model.figures import Figure
from bolewalk.model.trees import Tree
from bolewalk.planting.palette import PaletteTaxon
from bolewalk.planting.tables import rules
from bolewalk.trees.establishment import project_planting, stock_sizes, survival_share
from bolewalk.trees.growth import project
from bolewalk.trees.stems import combined_diameters

__all__ = ["Grower", "crown_outlines", "crown_polygon", "new_grower", "old_grower"]

Floats = NDArray[np.float64]
_Sizes = tuple[Floats, Floats, Floats, Floats, Floats, Floats]
"""Crown radius and height: likely, low, high of each."""


@dataclass(frozen=True, slots=True)
class Grower:
    """One plant year by year; every array has horizon + 1 elements, the first is today.

    Attributes
    ----------
    id, label : str
    x_m, y_m : float
    radius_m, radius_low_m, radius_high_m, height_m, height_low_m, height_high_m : ndarray
    alive : ndarray
        Expected share alive; 1 for what stands already.
    base_m : float or None
        Height of the lowest branch where measured.
    radii_share : (north, east, south, west)
        Each side's crown radius over the mean: a lopsided crown stays lopsided.
    evergreen : bool or None
    new : bool
    source, stand_in : str
        Where its growth comes from; "" stand-in where the species has its own figures. A source
        "" means that its size today is kept.
    """

    id: str
    label: str
    x_m: float
    y_m: float
    radius_m: Floats
    radius_low_m: Floats
    radius_high_m: Floats
    height_m: Floats
    height_low_m: Floats
    height_high_m: Floats
    alive: Floats
    base_m: float | None
    radii_share: tuple[float, float, float, float]
    evergreen: bool | None
    new: bool
    source: str
    stand_in: str

    def outline(self, year: int) -> Polygon:
        """Give the crown's likely outline in a year."""
        n, e, s, w = (share * float(self.radius_m[year]) for share in self.radii_share)
        return crown_polygon(self.x_m, self.y_m, (n, e, s, w))


def crown_polygon(x_m: float, y_m: float, radii_m: tuple[float, float, float, float]) -> Polygon:
    """Give four quarter-ellipses through the north, east, south and west radii as a polygon of
    the same area as the smooth outline."""
    polygon: Polygon = _polygons(np.array([[x_m, y_m]]), np.array([radii_m]))[0]
    return polygon


def crown_outlines(
    growers: Sequence[Grower], year: int, *, line: Literal["likely", "low", "high"] = "likely"
) -> NDArray[np.object_]:
    """Give the outlines of many crowns in one year at once, as `Grower.outline`."""
    names = {"likely": "radius_m", "low": "radius_low_m", "high": "radius_high_m"}
    mean = np.array([getattr(g, names[line])[year] for g in growers])
    radii = np.array([g.radii_share for g in growers]).reshape(-1, 4) * mean.reshape(-1, 1)
    return _polygons(np.array([[g.x_m, g.y_m] for g in growers]).reshape(-1, 2), radii)


@lru_cache(maxsize=1)
def _unit_circle() -> tuple[Floats, Floats]:
    turn = np.linspace(0, 2 * math.pi, int(rules("planting_rules")["outline"]["corners"]), False)
    # Chords lie inside the curve: widen so that the area is the curve's.
    step = 2 * math.pi / len(turn)
    widen = math.sqrt(step / math.sin(step))
    return np.cos(turn) * widen, np.sin(turn) * widen


def _polygons(centres: Floats, radii: Floats) -> NDArray[np.object_]:
    cos, sin = _unit_circle()
    north, east, south, west = (radii[:, [i]] for i in range(4))
    x = centres[:, [0]] + cos * np.where(cos >= 0, east, west)
    y = centres[:, [1]] + sin * np.where(sin >= 0, north, south)
    return np.asarray(shapely.polygons(np.stack([x, y], axis=2)), dtype=np.object_)


def old_grower(tree: Tree, *, region: str | None, horizon: int) -> Grower | None:
    """Project a tree that stands; None where it has no place or no crown was measured."""
    if tree.x_m is None or tree.y_m is None or tree.crown is None or not tree.crown.mean_m:
        return None
    mean = tree.crown.mean_m
    height = tree.height_m.value if tree.height_m else None
    flat = np.full(horizon + 1, mean)
    tall = np.full(horizon + 1, height if height is not None else math.nan)
    sizes = (flat, flat, flat, tall, tall, tall)
    source = stand_in = ""
    if region and tree.species.botanical and (tree.stems_cm or height is not None):
        trunk = (
            combined_diameters([s.value for s in tree.stems_cm]).equal_area
            if tree.stems_cm
            else None
        )
        p = project(
            tree.species.botanical, region, years=horizon, trunk_cm=trunk, height_m=height,
            crown_radius_m=mean,
        )  # fmt: skip
        if p is not None:
            sizes = (
                p.crown_radius_m, p.crown_radius_low_m, p.crown_radius_high_m,
                p.height_m, p.height_low_m, p.height_high_m,
            )  # fmt: skip
            source, stand_in = p.source, p.stand_in
    share = tuple(r / mean for r in tree.crown.radii_m)
    return Grower(
        tree.id, tree.species.label, tree.x_m, tree.y_m, *sizes, np.ones(horizon + 1),
        tree.crown_base_m.value if tree.crown_base_m else None,
        (share[0], share[1], share[2], share[3]), None, False, source, stand_in,
    )  # fmt: skip


@lru_cache(maxsize=512)
def _grown(
    taxon: PaletteTaxon, stock: str, region: str | None, horizon: int, survival: float | None
) -> tuple[_Sizes, Floats, str, str]:
    tree = taxon.kind in ("tree", "palm")
    if region is not None and tree:
        p = project_planting(
            taxon.botanical, region, years=horizon, stock=stock, five_year_share=survival
        )
        if p is not None:
            # Another plant's figures may not carry this one past its own grown size.
            tall, wide = (_high(taxon.height_m), _high(taxon.spread_m) / 2)
            tall, wide = (tall, wide) if p.stand_in else (math.inf, math.inf)
            sizes: _Sizes = (
                np.minimum(p.crown_radius_m, wide), np.minimum(p.crown_radius_low_m, wide),
                np.minimum(p.crown_radius_high_m, wide), np.minimum(p.height_m, tall),
                np.minimum(p.height_low_m, tall), np.minimum(p.height_high_m, tall),
            )  # fmt: skip
            return sizes, p.alive_share, p.source, p.stand_in
    table = rules("planting_rules")["growth"]
    rate = float(table["tree_rate" if tree else "shrub_rate"])
    spread = float(table["rate_spread"])
    years = np.arange(horizon + 1, dtype=np.float64)
    start = stock_sizes()[stock]

    def towards(grown: float, first: float, share: float) -> Floats:
        curve: Floats = grown * (1 - np.exp(-rate * share * years))
        return np.maximum(curve, min(first, grown))

    shares = (1.0, 1 - spread, 1 + spread)
    r = [towards(taxon.spread_m.value / 2, start.spread_m / 2, k) for k in shares]
    h = [towards(taxon.height_m.value, start.height_m, k) for k in shares]
    return (
        (r[0], r[1], r[2], h[0], h[1], h[2]), survival_share(years, five_year_share=survival),
        f"grown size by {100 * rate:g} % of what is missing each year: {table['source']}", "",
    )  # fmt: skip


def _high(figure: Figure) -> float:
    return figure.value if figure.high is None else figure.high


def new_grower(
    id_: str, taxon: PaletteTaxon, stock: str, place: tuple[float, float], *,
    region: str | None, horizon: int, survival: float | None,
) -> Grower:  # fmt: skip
    """Project a plant set today; where nothing published grows its kind, towards its grown size.

    Returns
    -------
    Grower
        Survival after five years as told, or the setting's.
    """
    sizes, alive, source, stand_in = _grown(taxon, stock, region, horizon, survival)
    return Grower(
        id_, taxon.common, place[0], place[1], *sizes, alive, None, (1.0, 1.0, 1.0, 1.0),
        taxon.evergreen, True, source, stand_in,
    )  # fmt: skip
