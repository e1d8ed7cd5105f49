"""What a survey has drawn: features, plans read layer by layer, pictures laid under."""

from dataclasses import dataclass, replace

from bolewalk.drawing.details import Place
from bolewalk.drawing.dxf import PlanRead
from bolewalk.drawing.grid import Grid
from bolewalk.drawing.pictures import PICTURE_ENDINGS, read_picture
from bolewalk.drawing.placement import PlacementError
from bolewalk.drawing.underlay import Underlay, placed_underlay
from bolewalk.intake.reading import SurveyReading, suffix_of
from bolewalk.intake.survey_toml import HEAD_FILE, DrawingEntry
from bolewalk.model.survey import Drawing
from bolewalk.model.works import Work

__all__ = ["Plan", "read_plans", "read_works"]

_WORKS = frozenset({".geojson", ".json"})
_PICTURES = ", ".join(PICTURE_ENDINGS)
_NOT_READ = (
    f"a .dxf file, or a picture to draw over ({_PICTURES}): save the drawing as DXF, or its page "
    "as a picture; the drawing is left out"
)


@dataclass(frozen=True, slots=True)
class Plan:
    """One drawing that was read."""

    drawing: Drawing
    read: PlanRead


def read_works(reading: SurveyReading, grid: Grid | None) -> tuple[Work, ...]:
    """Read the files under `files.works`; what is wrong is told in `reading`."""
    works: list[Work] = []
    for name in reading.head.files.works:
        file = reading.named(name, "files.works")
        if file is None:
            Place(HEAD_FILE, None, reading.problems).leaves_out()
        if file is None or grid is None:
            continue
        if suffix_of(file) not in _WORKS:
            Place(HEAD_FILE, None, reading.problems).tell(
                "files.works", name, "a .geojson file; drawings belong under [[drawing]]"
            )
            Place(HEAD_FILE, None, reading.problems).leaves_out()
            continue
        read, problems = reading.source.works(file, grid=grid, units=reading.head.units)
        works += read
        reading.problems += problems
    return tuple(works)


def read_plans(
    reading: SurveyReading, grid: Grid | None
) -> tuple[tuple[Plan, ...], tuple[Underlay, ...]]:
    """Read every [[drawing]]; what is wrong is told in `reading`."""
    plans: list[Plan] = []
    underlays: list[Underlay] = []
    for entry in reading.head.drawings:
        here = Place(HEAD_FILE, entry.row, reading.problems)
        file = reading.source.find(entry.drawing.file, here, "drawing.file")
        if file is None and entry.layers:
            here.leaves_out()
        if file is None or grid is None or not entry.readable:
            continue
        if suffix_of(file) in PICTURE_ENDINGS:
            laid = _underlay(reading, entry, file, grid, here)
            underlays += [] if laid is None else [laid]
        elif suffix_of(file) != ".dxf":
            here.tell("drawing.file", entry.drawing.file, _NOT_READ)
            if entry.layers:
                here.leaves_out()
        else:
            plans.append(_plan(reading, entry, file, grid))
    units = {p.read.unit for p in plans if p.read.unit is not None}
    if len(units) > 1:
        each = "; ".join(f"{p.drawing.file}: {p.read.unit}" for p in plans if p.read.unit)
        Place(HEAD_FILE, None, reading.problems).tell(
            "drawing.units", each, "drawings in one unit; each was read in its own", level="notice"
        )
    return tuple(plans), tuple(underlays)


def _underlay(
    reading: SurveyReading, entry: DrawingEntry, file: str, grid: Grid, here: Place
) -> Underlay | None:
    try:
        picture = read_picture(reading.source.path(file))
    except OSError as e:
        here.tell("drawing.file", file, f"a picture that can be read ({e.strerror})")
        return None
    if picture is None:
        here.tell("drawing.file", file, f"a picture inside as its name says ({_PICTURES})")
        return None
    if entry.at is None:
        here.tell(
            "drawing.at", None,
            "two points of the picture and where they are in the survey; it is not on the plan "
            "until then",
            level="notice",
        )  # fmt: skip
    try:
        return placed_underlay(
            replace(entry.drawing, file=file),
            width_px=picture.width_px,
            height_px=picture.height_px,
            at=entry.at,
            m_per_grid_unit=grid.m_per_unit,
        )
    except PlacementError as e:
        here.tell("drawing.at", f"{entry.at}", f"{e}; the picture is left out")
        return None


def _plan(reading: SurveyReading, entry: DrawingEntry, file: str, grid: Grid) -> Plan:
    drawing = replace(entry.drawing, file=file)
    read = reading.source.plan(
        file,
        drawing=drawing,
        layers=entry.layers,
        grid=grid,
        units=reading.head.units,
        unit=entry.units,
        ignore_header_unit=entry.ignore_header_units,
        at=entry.at,
        listed=Place(HEAD_FILE, entry.row),
    )
    reading.problems += read.problems
    return Plan(drawing, read)
