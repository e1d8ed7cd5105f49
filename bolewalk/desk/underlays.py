"""Pictures laid under the plan: as values for the canvas, and placed by two points."""

import math
from typing import Any
from urllib.parse import quote

from bolewalk.desk.drawer import Sheet
from bolewalk.desk.drawing_entries import drawing_of, listing
from bolewalk.drawing.pictures import PICTURE_ENDINGS
from bolewalk.drawing.placement import Pair, PlacementError
from bolewalk.drawing.underlay import Underlay, placed_underlay
from bolewalk.intake.reading import suffix_of
from bolewalk.model.survey import Drawing
from bolewalk.store.edits import set_head
from bolewalk.store.items import Edit

__all__ = ["UnderlayError", "file_address", "pairs_of", "placing", "underlay_data"]


class UnderlayError(ValueError):
    """A picture that cannot be placed; the text says what is needed."""


def file_address(survey_id: int, name: str) -> str:
    """Give the address a kept file is sent from."""
    return f"/surveys/{survey_id}/files/{quote(name)}"


def underlay_data(sheet: Sheet) -> list[dict[str, Any]]:
    """Give the pictures listed among the drawings, in their order.

    Each: `file`, `url`, `sha256`, `title`, `width` and `height` in pixels as shown, `at` (two
    pairs of [pixel, survey point] or null), and, once it is placed, `corners` (top left, top
    right, bottom right, bottom left) in the survey's grid unit, `per_pixel` (grid units) and
    `turned` (degrees, counter-clockwise); null before. Pixels count from the left and from the
    top edge.
    """
    unit_m = sheet.job.survey.m_per_grid_unit
    return [_data(sheet, u, unit_m) for u in sheet.job.underlays]


def _data(sheet: Sheet, u: Underlay, unit_m: float) -> dict[str, Any]:
    item = sheet.stored.get("file", u.drawing.file)
    corners = [[x / unit_m, y / unit_m] for x, y in u.corners_m]
    placed = u.placement
    return {
        "file": u.drawing.file,
        "url": file_address(sheet.stored.id, u.drawing.file),
        "sha256": "" if item is None or item.body is None else item.body["sha256"],
        "title": u.drawing.label,
        "width": u.width_px,
        "height": u.height_px,
        "at": None if u.at is None else [[list(p), list(s)] for p, s in u.at],
        "corners": corners or None,
        "per_pixel": None if placed is None else placed.m_per_unit / unit_m,
        "turned": None if placed is None else placed.turned_deg,
    }


def pairs_of(told: object) -> tuple[Pair, Pair] | None:
    """Read two pairs of points as JSON gives them.

    Raises
    ------
    UnderlayError
        Anything else than null or two pairs of two finite numbers each.
    """
    if told is None:
        return None
    pairs = [_pair(p) for p in told] if isinstance(told, list) else []
    if len(pairs) != 2 or None in pairs:
        raise UnderlayError("at: two pairs, [[pixel x, y], [survey x, y]] each, or null")
    first, second = pairs
    assert first is not None
    assert second is not None
    return first, second


def _pair(told: object) -> Pair | None:
    if not isinstance(told, list) or len(told) != 2:
        return None
    points = []
    for p in told:
        if not isinstance(p, list) or len(p) != 2:
            return None
        if not all(isinstance(v, int | float) and not isinstance(v, bool) for v in p):
            return None
        # Whole numbers of any length may stand here.
        if not all(abs(v) < 1e12 and math.isfinite(v) for v in p):
            return None
        points.append((float(p[0]), float(p[1])))
    return points[0], points[1]


def placing(sheet: Sheet, file: str, at: tuple[Pair, Pair] | None) -> Edit:
    """Give the edit that places a picture, or with None lifts it off the plan again.

    A picture of the survey that no drawing names is listed among the drawings.

    Raises
    ------
    UnderlayError
        No such picture, or two points that place nothing.
    """
    if sheet.stored.get("file", file) is None or suffix_of(file) not in PICTURE_ENDINGS:
        raise UnderlayError(f"the survey has no picture {file}: bring one in first")
    if at is not None:
        try:
            placed_underlay(
                Drawing(file),
                width_px=1,
                height_px=1,
                at=at,
                m_per_grid_unit=sheet.job.survey.m_per_grid_unit,
            )
        except PlacementError as e:
            raise UnderlayError(str(e)) from None
    head = sheet.head()
    listed = drawing_of(head, file)
    value = None if at is None else [[list(p), list(s)] for p, s in at]
    if listed is not None:
        return set_head(sheet.stored, ((*listed.path, "at"), value))
    entry = {"file": file, **({} if value is None else {"at": value})}
    return set_head(sheet.stored, listing(head, entry))
