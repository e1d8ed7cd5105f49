"""From the survey's grid to a sheet at a true scale."""

import math
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from bolewalk.model.units import M_PER_FT, UnitSystem
from bolewalk.papers.draw.scene import Point

__all__ = ["Box", "Frame", "Scale", "choose_scale"]

Box = tuple[float, float, float, float]
"""Left, top, right, bottom [mm] on a sheet; west, south, east, north [m] on the grid."""

_FEET_PER_INCH = (4, 8, 10, 16, 20, 25, 30, 40, 50, 60, 80, 100, 150, 200, 300, 400, 500)
_RATIOS = (50, 100, 200, 250, 500, 1000, 1250, 2000, 2500, 5000, 10000)


@dataclass(frozen=True, slots=True)
class Scale:
    """A drawing scale 1:`ratio`, as its users write it."""

    ratio: float
    text: str

    @property
    def mm_per_m(self) -> float:
        """Sheet millimetres for one metre."""
        return 1000 / self.ratio


def choose_scale(width_m: float, height_m: float, box: Box, *, units: UnitSystem) -> Scale:
    """Give the largest usual scale at which an extent fits a drawing field.

    Engineer's scales (1 in = 10 ft ...) for imperial, 1:100 ... for metric; beyond the usual
    ones, the next round figure.
    """
    field_w, field_h = box[2] - box[0], box[3] - box[1]
    need = max(width_m * 1000 / field_w, height_m * 1000 / field_h, 1e-9)
    if units == "imperial":
        feet = need * 25.4 / 1000 / M_PER_FT
        step = next((f for f in _FEET_PER_INCH if f >= feet), math.ceil(feet / 500) * 500)
        return Scale(step * M_PER_FT * 1000 / 25.4, f"1 in = {step:,} ft")
    step = next((r for r in _RATIOS if r >= need), math.ceil(need / 5000) * 5000)
    return Scale(float(step), f"1:{step:,}")


@dataclass(frozen=True, slots=True)
class Frame:
    """The drawing field of a sheet and where the grid's extent stands in it."""

    box: Box
    centre_m: Point
    scale: Scale

    def point(self, east_m: float, north_m: float) -> Point:
        """Give the place on the sheet [mm] of a point of the grid [m]."""
        x0, y0, x1, y1 = self.box
        k = self.scale.mm_per_m
        return (
            (x0 + x1) / 2 + (east_m - self.centre_m[0]) * k,
            (y0 + y1) / 2 - (north_m - self.centre_m[1]) * k,
        )

    def points(self, grid: NDArray[np.float64]) -> NDArray[np.float64]:
        """Give the places of many points, shape (n, 2)."""
        x0, y0, x1, y1 = self.box
        out: NDArray[np.float64] = (grid - np.array(self.centre_m)) * self.scale.mm_per_m
        out[:, 1] *= -1
        out += np.array([(x0 + x1) / 2, (y0 + y1) / 2])
        return out

    def placed(self, geometry: BaseGeometry) -> BaseGeometry:
        """Give a geometry on the sheet, cut off at the edge of the drawing field."""
        moved = shapely.transform(geometry, self.points)
        x0, y0, x1, y1 = self.box
        cut: BaseGeometry = shapely.intersection(moved, shapely.box(x0, y0, x1, y1))
        return cut

    def inside(self, x: float, y: float) -> bool:
        """Tell whether a place [mm] lies in the drawing field."""
        x0, y0, x1, y1 = self.box
        return x0 <= x <= x1 and y0 <= y <= y1
