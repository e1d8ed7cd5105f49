"""The unit of a drawing: its own word, the survey's, or two points; never a guess."""

from dataclasses import dataclass

from ezdxf.document import Drawing as Document

from bolewalk.drawing.details import Place
from bolewalk.drawing.dxf_open import DxfError
from bolewalk.drawing.grid import Grid
from bolewalk.drawing.placement import Pair, Placement, PlacementError, by_points, by_unit
from bolewalk.drawing.settings import DRAWING_UNITS, reading_settings

__all__ = ["Placed", "header_unit", "resolve_placement"]


@dataclass(frozen=True, slots=True)
class Placed:
    """How a drawing lies on the grid. `on_us_feet` tells that its feet were taken for the grid's
    US survey feet."""

    placement: Placement
    unit: str | None
    on_us_feet: bool = False


def header_unit(doc: Document) -> str | None:
    """Give the unit the drawing names, a key of DRAWING_UNITS; None where it names none.

    Raises
    ------
    DxfError
        It names a unit no site plan is drawn in (miles, microns, ...).
    """
    if "$INSUNITS" not in doc.header:
        return None
    try:
        code = int(doc.header["$INSUNITS"])
    except (TypeError, ValueError):
        return None
    if code == 0:
        return None
    unit = reading_settings().insunits.get(code)
    if unit is None:
        raise DxfError(
            f"a unit of site plans, {', '.join(DRAWING_UNITS)}: give units and "
            "ignore_header_units = true in survey.toml; the drawing is left out",
            f"$INSUNITS {code}",
        )
    return unit


def resolve_placement(
    doc: Document,
    *,
    grid: Grid,
    unit: str | None,
    ignore_header: bool,
    at: tuple[Pair, Pair] | None,
    place: Place,
) -> Placed:
    """Find out how a drawing lies on the survey's grid.

    Parameters
    ----------
    doc : ezdxf document
    grid : Grid
    unit : str or None
        The survey's word.
    ignore_header : bool
        Believe the survey's word against the drawing's.
    at : two Pairs or None
        Placing points; they decide whatever the units say.
    place : Place
        Takes a notice where points and unit do not agree.

    Raises
    ------
    DxfError
        No unit anywhere, two that contradict each other, or points that place nothing.
    """
    if at is not None:
        return _by_points(at, None if ignore_header else header_unit(doc), unit, grid, place)
    own = None if ignore_header else header_unit(doc)
    if own is None and unit is None:
        raise DxfError(
            "the unit of the drawing: it names none, so give units in its [[drawing]] "
            f"({', '.join(DRAWING_UNITS)}); the drawing is left out",
            "no unit",
        )
    if own is not None and unit is not None and own != unit and {own, unit} != {"ft", "us-ft"}:
        raise DxfError(
            "one unit: the drawing and survey.toml contradict each other. Take units out of "
            "survey.toml, or set ignore_header_units = true if the drawing is wrong; the drawing "
            "is left out",
            f"{own} in the drawing, {unit} in survey.toml",
        )
    final = unit or own or ""
    # Drawings named "feet" long before there was a code for the survey foot; on a grid in survey
    # feet that is what they are in, unless the survey says otherwise.
    if final == "ft" and unit is None and grid.unit == "us-ft":
        return Placed(by_unit(grid.m_per_unit), final, on_us_feet=True)
    return Placed(by_unit(DRAWING_UNITS[final]), final)


def _by_points(
    at: tuple[Pair, Pair], own: str | None, unit: str | None, grid: Grid, place: Place
) -> Placed:
    settings = reading_settings()
    try:
        placement = by_points(
            *at, m_per_grid_unit=grid.m_per_unit, least_apart_m=settings.least_apart_m
        )
    except PlacementError as e:
        raise DxfError(f"{e}; the drawing is left out", f"at = {at}") from None
    named = unit or own
    if named is not None:
        ratio = placement.m_per_unit / DRAWING_UNITS[named]
        if abs(ratio - 1) > settings.scale_share:
            place.tell(
                "at",
                f"{placement.m_per_unit:.6g} m for one unit of the drawing",
                f"points that agree with the drawing's unit ({named}); the points are believed",
                level="notice",
            )
    return Placed(placement, named)
