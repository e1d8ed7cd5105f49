"""Draw the demonstration site plan, revision B, as DXF, and copy the survey out.

Run as `python -m bolewalk.demo.build` after a change here; the same ezdxf version writes the
same bytes every time.
"""

import sys
from pathlib import Path

from ezdxf import units
from ezdxf._options import options
from ezdxf.document import Drawing
from ezdxf.enums import TextEntityAlignment
from ezdxf.filemanagement import new
from ezdxf.layouts.layout import Modelspace

from bolewalk.demo import survey_folder

__all__ = ["build_demo", "site_plan", "write_site_plan"]

Points = tuple[tuple[float, float], ...]

# Layer: (colour index, line type). X = existing, P = proposed, L = possible later, A = notes.
_LAYERS: dict[str, tuple[int, str]] = {
    "X-BOUNDARY": (7, "PHANTOM"),
    "X-BLDG-SLAB": (8, "CONTINUOUS"),
    "X-BLDG-STRIP": (8, "CONTINUOUS"),
    "X-FENCE": (8, "DASHED"),
    "X-WIRE": (8, "DASHDOT"),
    "X-CREEK": (5, "CONTINUOUS"),
    "P-PILE-HAND": (1, "CONTINUOUS"),
    "P-PILE": (1, "CONTINUOUS"),
    "P-ROOF": (1, "DASHED"),
    "P-RAINGARDEN": (3, "CONTINUOUS"),
    "P-RAMP": (1, "CONTINUOUS"),
    "P-ACCESS": (6, "DASHED"),
    "P-STORAGE": (6, "DASHED"),
    "L-STUDIO": (4, "DASHED"),
    "A-NOTE": (7, "CONTINUOUS"),
}

_RECTANGLES: tuple[tuple[str, float, float, float, float], ...] = (
    ("X-BOUNDARY", 0, 0, 260, 190),
    ("X-BLDG-SLAB", 24, 118, 84, 152),
    ("X-BLDG-STRIP", 158, 138, 244, 166),
    ("P-ROOF", 103, 103, 139, 115),
    ("P-RAMP", 30, 156, 84, 163),
    ("P-STORAGE", 24, 96, 42, 108),
    ("L-STUDIO", 180, 56, 206, 80),
)

_LINES: tuple[tuple[str, Points], ...] = (
    ("X-FENCE", ((259.2, 30), (259.2, 190))),
    ("X-WIRE", ((258, 184), (251, 172), (240, 160))),
    ("P-RAINGARDEN", ((56, 98), (96, 74.8), (150, 74.8))),
    ("P-ACCESS", ((150, 190), (150, 118))),
)

_PILE_X = (106.0, 112.0, 118.0, 124.0, 130.0, 136.0)
_PILE_ROWS = (("P-PILE-HAND", 113.0), ("P-PILE", 105.0))
_PILE_RADIUS = 0.5  # ft: the hole for the helix, not the shaft

# x, y and bulge of the top of the creek bank.
_CREEK: tuple[tuple[float, float, float], ...] = (
    (0, 22, 0.2), (70, 18, -0.15), (140, 21, 0.18), (200, 14, -0.1), (260, 16, 0),
)  # fmt: skip

_NOTES: tuple[tuple[float, float, float, str], ...] = (
    (121, 117, 2.5, "BICYCLE SHELTER ON SCREW PILES"),
    (121, 100, 2.0, "NORTH ROW HAND DUG"),
    (112, 69, 2.5, "RAIN GARDEN TRENCH, 6 FT WIDE, 3 FT DEEP"),
    (57, 158.5, 2.5, "ACCESSIBLE RAMP ON FILL"),
    (193, 68, 2.5, "STUDIO, POSSIBLE LATER"),
    (54, 135, 2.5, "COMMON HOUSE"),
    (201, 152, 2.5, "HOMES 1 TO 6"),
    (150, 8, 2.5, "TOP OF CREEK BANK"),
    (33, 101, 2.0, "STORAGE"),
)

_TITLE = (
    "COURT AND CREEK IMPROVEMENTS",
    "SITE PLAN   REVISION B   28 OCT 2026",
    "FENNICK LANDSCAPE STUDIO   FEET",
)


def build_demo(folder: Path) -> tuple[Path, ...]:
    """Copy the demonstration survey to a folder where it may be changed.

    Parameters
    ----------
    folder : Path
        Made if missing. Files of the survey that are there already are written anew; others
        are left alone.

    Returns
    -------
    tuple of Path
        The files written, sorted by name.

    Raises
    ------
    OSError
        The folder cannot be written.
    """
    folder.mkdir(parents=True, exist_ok=True)
    written = []
    for source in sorted(survey_folder().iterdir()):
        target = folder / source.name
        target.write_bytes(source.read_bytes())
        written.append(target)
    return tuple(written)


def site_plan() -> Drawing:
    """Draw the plan in feet on the survey's own grid.

    Returns
    -------
    Drawing
        ezdxf document, R2010, unit header set to feet.
    """
    document = new("R2010", setup=["linetypes"], units=units.FT)
    for name, (colour, linetype) in _LAYERS.items():
        document.layers.add(name, color=colour, linetype=linetype)
    space = document.modelspace()
    for layer, west, south, east, north in _RECTANGLES:
        corners = ((west, south), (east, south), (east, north), (west, north))
        space.add_lwpolyline(corners, close=True, dxfattribs={"layer": layer})
    for layer, points in _LINES:
        space.add_lwpolyline(points, dxfattribs={"layer": layer})
    for layer, y in _PILE_ROWS:
        for x in _PILE_X:
            space.add_circle((x, y), _PILE_RADIUS, dxfattribs={"layer": layer})
    space.add_lwpolyline(_CREEK, format="xyb", dxfattribs={"layer": "X-CREEK"})
    _write_notes(space)
    # ezdxf would add these from a set, in an order that changes from run to run.
    for name in sorted(document.entitydb.dxf_types_in_use()):
        document.classes.add_class(name)
    return document


def _write_notes(space: Modelspace) -> None:
    attributes = {"layer": "A-NOTE"}
    for x, y, height, text in _NOTES:
        entity = space.add_text(text, height=height, dxfattribs=attributes)
        entity.set_placement((x, y), align=TextEntityAlignment.MIDDLE_CENTER)
    for line, text in enumerate(_TITLE):
        space.add_text(text, height=3, dxfattribs=attributes).set_placement((180, -8 - 5 * line))


def write_site_plan(path: Path) -> None:
    """Write the plan to `path`, replacing what is there.

    The drawing's times and identifiers are fixed ones, so that a change in the file means a
    change in the plan.
    """
    before = options.write_fixed_meta_data_for_testing
    options.write_fixed_meta_data_for_testing = True
    try:
        site_plan().saveas(path, encoding="utf-8")
    finally:
        options.write_fixed_meta_data_for_testing = before


if __name__ == "__main__":
    target = survey_folder() / "court.dxf"
    write_site_plan(target)
    print(target.name, file=sys.stderr)
