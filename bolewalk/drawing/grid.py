"""The survey's own grid: which unit its coordinates are in, and where on earth it lies."""

from collections.abc import Callable
from dataclasses import dataclass

import pyproj
from pyproj.exceptions import CRSError, ProjError

from bolewalk.model.units import M_PER_FT, M_PER_US_SURVEY_FT, UnitSystem

__all__ = ["Grid", "GridError", "local_grid", "named_grid", "same_crs", "to_grid", "utm_zone"]

# Grids are looked up on the machine only: with the network on, a survey could read differently
# from one day to the next.
pyproj.network.set_network_enabled(active=False)  # type: ignore[attr-defined]

XY = tuple[float, float]


class GridError(ValueError):
    """A coordinate reference system that cannot carry a survey; the text says what to give."""


@dataclass(frozen=True, slots=True)
class Grid:
    """Unit and reference system of the survey's coordinates, east before north.

    `unit` is "ft", "m", "us-ft", or the reference system's own name for it.
    """

    unit: str
    m_per_unit: float
    crs: pyproj.CRS | None = None


def local_grid(units: UnitSystem) -> Grid:
    """Give the grid of a survey that names no reference system: feet or metres by `units`."""
    return Grid("ft", M_PER_FT) if units == "imperial" else Grid("m", 1.0)


def named_grid(crs: str) -> Grid:
    """Give the grid of a reference system named by a survey.

    Parameters
    ----------
    crs : str
        Anything pyproj knows: "EPSG:2229", a urn, well-known text.

    Returns
    -------
    Grid
        Its unit is that of the first horizontal axis.

    Raises
    ------
    GridError
        Not known, not flat (degrees), or with axes that do not run east and north.
    """
    try:
        read = pyproj.CRS.from_user_input(crs)
    except CRSError:
        raise GridError(
            'a reference system by its code, such as "EPSG:2229"; leave crs out for a grid of '
            "the survey's own"
        ) from None
    axes = read.axis_info[:2]
    if read.is_geographic or read.is_geocentric or len(axes) < 2:
        raise GridError(
            "a flat reference system in feet or metres, not one in degrees: the state plane zone "
            "or UTM zone of the site"
        )
    if {a.direction.lower() for a in axes} != {"east", "north"}:
        raise GridError("a reference system whose axes run east and north")
    m_per_unit = axes[0].unit_conversion_factor
    return Grid(_unit_name(m_per_unit, axes[0].unit_name), m_per_unit, read)


def _unit_name(m_per_unit: float, name: str) -> str:
    if m_per_unit == 1.0:
        return "m"
    if m_per_unit == M_PER_FT:
        return "ft"
    # Registries write the US survey foot with 14 or 15 digits.
    if abs(m_per_unit - M_PER_US_SURVEY_FT) < 1e-12:
        return "us-ft"
    return name


def utm_zone(lon_deg: float, lat_deg: float) -> str:
    """Give the EPSG code of the UTM zone (WGS 84) of a place, ±180 and ±90 degrees.

    Zones are six degrees wide from 180 west; 326xx north, 327xx south of the equator. The wider
    zones of Norway and Svalbard are not told apart: the neighbouring zone serves as well.
    """
    zone = min(int((lon_deg + 180) // 6) + 1, 60)
    return f"EPSG:{326 if lat_deg >= 0 else 327}{zone:02d}"


def same_crs(a: pyproj.CRS, b: pyproj.CRS) -> bool:
    """Tell whether two reference systems are one, whatever the order of their axes."""
    return bool(a.equals(b, ignore_axis_order=True))


def to_grid(source: pyproj.CRS, grid: Grid) -> Callable[[float, float], XY]:
    """Give the function that turns (east, north) of `source` into (east, north) of the grid.

    Degrees are (longitude, latitude) whatever order the reference system names its axes in. The
    function gives infinities where a point cannot be carried over.

    Raises
    ------
    GridError
        The grid has no reference system, or nothing leads from one to the other.
    """
    if grid.crs is None:
        raise GridError("[survey] crs named in survey.toml, or a file without a crs member")
    if same_crs(source, grid.crs):
        return lambda x, y: (x, y)
    try:
        carry = pyproj.Transformer.from_crs(source, grid.crs, always_xy=True, only_best=False)
    except ProjError:
        raise GridError(f"a reference system that can be turned into {grid.crs.name}") from None

    def move(x: float, y: float) -> XY:
        east, north = carry.transform(x, y)
        return float(east), float(north)

    return move
