"""Where the trees and the works lie on earth, and the metres they are measured in."""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import pyproj
from numpy.typing import NDArray
from pyproj.crs import ProjectedCRS
from pyproj.crs.coordinate_operation import (
    LambertAzimuthalEqualAreaConversion,
    UTMConversion,
)  # fmt: skip
from pyproj.exceptions import CRSError, ProjError

from bolewalk.drawing.grid import same_crs, utm_zone
from bolewalk.region.settings import settings

__all__ = ["Frame", "FrameError", "carry", "choose_frame", "one_system", "read_crs"]

Floats = NDArray[np.float64]


class FrameError(ValueError):
    """Reference systems that cannot be used together; the text says what to give."""


@dataclass(frozen=True, slots=True)
class Frame:
    """How coordinates of the trees' reference system become metres.

    Attributes
    ----------
    source : str
        The trees' reference system, well-known text.
    metric : str
        The flat system used inside, well-known text; "" where the source's own grid is.
    m_per_unit : float
        Metres in a unit of the source's grid, 1 where `metric` is used.
    name : str
        In words, for the summary.
    """

    source: str
    metric: str
    m_per_unit: float
    name: str

    def to_metric(self, x: Floats, y: Floats) -> tuple[Floats, Floats]:
        """Give east and north [m]; infinite where a point cannot be carried over."""
        if not self.metric:
            return x * self.m_per_unit, y * self.m_per_unit
        east, north = _transformer(self.source, self.metric).transform(x, y)
        return np.asarray(east, dtype=np.float64), np.asarray(north, dtype=np.float64)


@lru_cache(maxsize=8)
def _transformer(source: str, target: str) -> pyproj.Transformer:
    return pyproj.Transformer.from_crs(
        pyproj.CRS.from_user_input(source), pyproj.CRS.from_user_input(target),
        always_xy=True, only_best=False,
    )  # fmt: skip


def read_crs(name: str, what: str) -> pyproj.CRS:
    """Read a reference system by code or text; FrameError where pyproj does not know it."""
    try:
        return pyproj.CRS.from_user_input(name)
    except CRSError:
        raise FrameError(
            f"{what}: reference system {name!r} is not known; give its code, such as EPSG:2229"
        ) from None


def one_system(
    trees: pyproj.CRS | None, works: pyproj.CRS | None, *, mixed: bool, names: tuple[str, str]
) -> tuple[pyproj.CRS, pyproj.CRS]:
    """Hold the two reference systems against each other.

    Raises
    ------
    FrameError
        One is missing, or they differ and `mixed` does not allow it.
    """
    for crs, name, table in ((trees, names[0], "trees"), (works, names[1], "works")):
        if crs is None:
            raise FrameError(
                f"{name} names no reference system: give it in the column mapping, "
                f'[{table}] crs = "EPSG:..."'
            )
    assert trees is not None
    assert works is not None
    if not mixed and not same_crs(trees, works):
        raise FrameError(
            f"mixed reference systems: {names[0]} is in {trees.name}, {names[1]} in "
            f"{works.name}. Where both are right, put mixed_crs = true at the top of the column "
            "mapping and the works are carried over to the trees' system; systems of different "
            "datums may then be a metre or two apart"
        )
    return trees, works


def carry(works: pyproj.CRS, trees: pyproj.CRS, xy: Floats) -> Floats:
    """Carry works' coordinates, shape (n, 2), over to the trees' reference system.

    Raises
    ------
    FrameError
        Nothing leads from one system to the other.
    """
    if same_crs(works, trees):
        return xy
    try:
        x, y = _transformer(works.to_wkt(), trees.to_wkt()).transform(xy[:, 0], xy[:, 1])
    except ProjError:
        raise FrameError(f"nothing leads from {works.name} to {trees.name}") from None
    return np.column_stack([x, y])


def choose_frame(crs: pyproj.CRS, bounds: tuple[float, float, float, float]) -> Frame:
    """Choose the flat system for works within bounds.

    Parameters
    ----------
    crs : pyproj.CRS
        Of the trees.
    bounds : (west, south, east, north)
        Of the works, in that system. The works alone decide: the choice must not change with
        the trees that are asked about.

    Returns
    -------
    Frame
        The system's own grid in metres where its lengths are true; else UTM where the works lie
        within one zone, else an equal-area grid about their middle, on the same datum.

    Raises
    ------
    FrameError
        Neither degrees nor a flat system with axes east and north.
    """
    west, south, east, north = bounds
    flat = crs.to_2d() if len(crs.axis_info) > 2 else crs
    if flat.is_projected:
        axes = flat.axis_info[:2]
        unit = axes[0].unit_conversion_factor
        x, y = (west + east) / 2, (south + north) / 2
        back = pyproj.Transformer.from_crs(flat, flat.geodetic_crs, always_xy=True)
        lon, lat = back.transform(x, y)
        if {a.direction.lower() for a in axes} == {"east", "north"} and _true(flat, lon, lat):
            return Frame(flat.to_wkt(), "", float(unit), f"{flat.name}, its own grid")
        corners = back.transform([west, east, west, east], [south, south, north, north])
        west, east = min(corners[0]), max(corners[0])
        south, north = min(corners[1]), max(corners[1])
    elif not flat.is_geographic:
        raise FrameError(
            f"{crs.name} is neither degrees nor a flat system; give one by its code, EPSG:..."
        )
    lon, lat = (west + east) / 2, (south + north) / 2
    if not (abs(lat) <= 90 and abs(lon) <= 360 and east - west < 180):
        raise FrameError(
            f"the works lie at {west:g}..{east:g}, {south:g}..{north:g}: not degrees of {crs.name}"
        )
    base = flat.geodetic_crs or flat
    code = utm_zone((lon + 180) % 360 - 180, lat)
    zone = int(code[-2:])
    middle = zone * 6 - 183
    near = max(abs(west - middle), abs(east - middle)) <= settings().utm_reach_deg
    if near and south >= -80 and north <= 84:
        conversion = UTMConversion(str(zone), "N" if lat >= 0 else "S")
        name = f"UTM zone {zone}{'N' if lat >= 0 else 'S'} on {base.name}"
        metric = ProjectedCRS(conversion, name=name, geodetic_crs=base)
    else:
        lat, lon = round(lat, 1), round(lon, 1)
        name = f"equal-area grid about {lat:g}, {lon:g} on {base.name}"
        metric = ProjectedCRS(
            LambertAzimuthalEqualAreaConversion(lat, lon), name=name, geodetic_crs=base
        )
    return Frame(flat.to_wkt(), metric.to_wkt(), 1.0, name)


def _true(crs: pyproj.CRS, lon: float, lat: float) -> bool:
    """Whether lengths on the grid are those on the ground, near enough."""
    try:
        factors = pyproj.Proj(crs).get_factors(lon, lat)
    except ProjError:
        return False
    share = settings().scale_share
    scales = (factors.meridional_scale, factors.parallel_scale)
    return all(abs(s - 1.0) <= share for s in scales)
