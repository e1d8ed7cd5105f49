"""A picture of a plan laid under the survey: a scan or photograph scaled by two points.

Nothing is read out of the picture; it is there to be drawn over.
"""

from dataclasses import dataclass

from bolewalk.drawing.placement import Pair, Placement, by_points
from bolewalk.drawing.settings import reading_settings
from bolewalk.model.survey import Drawing

__all__ = ["Underlay", "placed_underlay"]

XY = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Underlay:
    """A picture listed among the drawings of a survey.

    Attributes
    ----------
    drawing : Drawing
        File name within the survey, title, revision, date.
    width_px, height_px : int
    at : two Pairs or None
        ((pixel x, pixel y), (survey x, y)) twice, in the unit of the survey's grid; pixels from
        the left and from the top edge, downward, as every program shows them.
    placement : Placement or None
        (pixel x, -pixel y) -> metres on the grid; None until two points are given.
    """

    drawing: Drawing
    width_px: int
    height_px: int
    at: tuple[Pair, Pair] | None = None
    placement: Placement | None = None

    def move(self, x_px: float, y_px: float) -> XY | None:
        """Give the place on the grid [m] of a point of the picture, None until it is placed."""
        return None if self.placement is None else self.placement.move(x_px, -y_px)

    @property
    def corners_m(self) -> tuple[XY, ...]:
        """Corners on the grid [m]: top left, top right, bottom right, bottom left."""
        if self.placement is None:
            return ()
        w, h = float(self.width_px), float(self.height_px)
        return tuple(
            self.placement.move(x, -y) for x, y in ((0.0, 0.0), (w, 0.0), (w, h), (0.0, h))
        )


def placed_underlay(
    drawing: Drawing,
    *,
    width_px: int,
    height_px: int,
    at: tuple[Pair, Pair] | None,
    m_per_grid_unit: float,
) -> Underlay:
    """Lay a picture onto the survey's grid.

    Parameters
    ----------
    drawing : Drawing
    width_px, height_px : int
    at : two Pairs or None
        As `Underlay.at`.
    m_per_grid_unit : float

    Raises
    ------
    PlacementError
        The two points are one in the picture, or too close in the survey.
    """
    if at is None:
        return Underlay(drawing, width_px, height_px)
    first, second = (((p[0], -p[1]), s) for p, s in at)
    placement = by_points(
        first,
        second,
        m_per_grid_unit=m_per_grid_unit,
        least_apart_m=reading_settings().least_apart_m,
    )
    return Underlay(drawing, width_px, height_px, at, placement)
