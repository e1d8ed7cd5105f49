"""The survey folder in: every file read once, every problem told, a job out."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path, PurePosixPath

from bolewalk.drawing.details import Place
from bolewalk.drawing.dxf import PlanRead
from bolewalk.drawing.grid import Grid, GridError, local_grid, named_grid
from bolewalk.intake.checks_across import (
    check_degrees,
    check_grid_scale,
    check_places,
    extent_of,
    joined,
    name_apart,
    utm_hint,
    without_replaced,
)
from bolewalk.intake.job import Job, RawTable
from bolewalk.intake.source import FolderSource, Source
from bolewalk.intake.species_names import name_species
from bolewalk.intake.survey_toml import DrawingEntry, Head, HeadError, read_head
from bolewalk.intake.toml_file import TomlError
from bolewalk.intake.tree_table import read_tree_records
from bolewalk.model.problems import Problem
from bolewalk.model.survey import Drawing, Survey
from bolewalk.model.trees import Tree
from bolewalk.model.works import Work
from bolewalk.planting.plan import PlantingPlan
from bolewalk.planting.plan_toml import read_planting
from bolewalk.pricing.future_cases import FutureCase, read_futures
from bolewalk.pricing.phase_items import PhasePlan, read_phases
from bolewalk.pricing.rates import Rates, read_rates
from bolewalk.rules.reader import check_names, read_rules, unread_table
from bolewalk.rules.table import RuleTable
from bolewalk.walk.cues import Cue, read_walk

__all__ = ["SurveyUnreadableError", "read_folder", "read_survey"]

_HEAD = "survey.toml"
_NOT_THERE = "not there: a survey is a folder with a survey.toml in it"
_TRANSCRIPTS = (".vtt", ".srt", ".txt")
_PHOTOS = frozenset({".jpg", ".jpeg", ".png", ".webp", ".heic", ".heif", ".tif", ".tiff"})
_WORKS = frozenset({".geojson", ".json"})


class SurveyUnreadableError(ValueError):
    """survey.toml cannot be read at all. `problems` names what it lacks."""

    def __init__(self, text: str, problems: tuple[Problem, ...]) -> None:
        super().__init__(text)
        self.problems = problems


@dataclass(slots=True)
class _Reading:
    """A survey being read: its files, its head, and the problems so far."""

    source: Source
    head: Head
    problems: list[Problem] = field(default_factory=list)

    def named(self, name: str, key: str, *, folder: bool = False) -> str | None:
        place = Place(_HEAD, None, self.problems)
        return self.source.find(name, place, key, folder=folder)

    def table(self, name: str, key: str) -> RawTable | None:
        file = self.named(name, key) if name else None
        if file is None:
            return None
        try:
            return RawTable(file, self.source.toml(file))
        except TomlError as e:
            Place(file, None, self.problems).tell(None, str(e), "a TOML file")
            return None


def read_folder(path: Path) -> Job:
    """Read a survey folder.

    Parameters
    ----------
    path : Path
        The folder that holds survey.toml.

    Returns
    -------
    Job
        All that could be read, with every problem of every file.

    Raises
    ------
    SurveyUnreadableError
        No survey.toml, not TOML, or without date or units.
    """
    try:
        root = path.resolve()
    except (OSError, RuntimeError, ValueError):
        # Too long a name, or a link that leads to itself.
        raise _unreadable(_NOT_THERE) from None
    return read_survey(FolderSource(root))


def read_survey(source: Source) -> Job:
    """Read a survey wherever its files are; as `read_folder` for a folder."""
    reading = _Reading(source, _read_head(source))
    reading.problems += reading.head.problems
    trees, grid = _trees_and_grid(reading)
    works = _works(reading, grid)
    plans = _plans(reading, grid)
    cues = _cues(reading)
    rates_table = reading.table(reading.head.files.rates, "files.rates")
    rates = _rates(reading, rates_table)
    rules = _rules(reading)
    planting = _planting(reading, grid)
    phases = _phases(reading)
    futures = _futures(reading)
    photos = _photos(reading)
    trees, works = _across(reading, trees, works, plans, grid)
    reading.problems += check_names(rules, trees=trees, works=works)
    return Job(
        survey=_survey(reading.head, grid, trees, works, plans),
        rates=rates,
        rates_table=rates_table,
        rules=rules,
        planting=planting,
        phases=phases,
        futures=futures,
        cues=cues,
        photos=photos,
        problems=tuple(reading.problems),
    )


def _read_head(source: Source) -> Head:
    try:
        if not source.has(_HEAD):
            raise TomlError(_NOT_THERE)
        return read_head(source.toml(_HEAD))
    except TomlError as e:
        raise _unreadable(str(e)) from None
    except HeadError as e:
        raise SurveyUnreadableError(f"{_HEAD} cannot be read:\n{e}", e.problems) from None


def _unreadable(why: str) -> SurveyUnreadableError:
    problem = Problem(_HEAD, None, None, why, "a TOML file")
    return SurveyUnreadableError(f"{_HEAD} cannot be read: {why}", (problem,))


def _trees_and_grid(reading: _Reading) -> tuple[tuple[Tree, ...], Grid | None]:
    head = reading.head
    wrong: str | None = None
    grid: Grid | None = None
    try:
        grid = local_grid(head.units) if head.crs is None else named_grid(head.crs)
    except GridError as e:
        wrong = str(e)
    trees, problems = _trees(reading, grid)
    if wrong is not None:
        xy = [(t.entered.get("x", ""), t.entered.get("y", "")) for t in trees]
        Place(_HEAD, None, reading.problems).tell(
            "survey.crs", head.crs, f"{wrong}{utm_hint(xy)}; no position can be read until then"
        )
    reading.problems += problems
    return trees, grid


def _trees(reading: _Reading, grid: Grid | None) -> tuple[tuple[Tree, ...], tuple[Problem, ...]]:
    name = reading.head.files.trees
    if not name:
        walked = bool(reading.head.files.walk)
        Place(_HEAD, None, reading.problems).tell(
            "files.trees", None, "a tree table", level="notice" if walked else "fault"
        )
        return (), ()
    file = reading.named(name, "files.trees")
    if file is None:
        return (), ()
    whole = Place(file, None)
    records = reading.source.records(file, whole)
    trees, problems = read_tree_records(
        records, file=file, grid=grid, units=reading.head.units, name_species=name_species
    )
    told = [*whole.problems, *problems]
    trees = tuple(_with_photo(reading, t, Place(file, t.row, told)) for t in trees)
    if grid is not None:
        trees, degrees = check_degrees(trees, grid=grid, file=file)
        told += degrees
    return trees, tuple(told)


def _with_photo(reading: _Reading, tree: Tree, place: Place) -> Tree:
    """Give the tree with the path of its photograph, looked for in the photo folder first."""
    if not tree.photo:
        return tree
    folder = reading.head.files.photos
    for name in (f"{folder}/{tree.photo}", tree.photo) if folder else (tree.photo,):
        file = reading.source.find(name, Place("", None), "")
        if file is not None:
            return replace(tree, photo=file)
    reading.source.find(tree.photo, place, "photo")
    return replace(tree, photo="")


def _works(reading: _Reading, grid: Grid | None) -> tuple[Work, ...]:
    works: list[Work] = []
    for name in reading.head.files.works:
        file = reading.named(name, "files.works")
        if file is None or grid is None:
            continue
        if _suffix(file) not in _WORKS:
            Place(_HEAD, None, reading.problems).tell(
                "files.works", name, "a .geojson file; drawings belong under [[drawing]]"
            )
            continue
        read, problems = reading.source.works(file, grid=grid, units=reading.head.units)
        works += read
        reading.problems += problems
    return tuple(works)


@dataclass(frozen=True, slots=True)
class _Plan:
    """One drawing that was read."""

    drawing: Drawing
    read: PlanRead


def _plans(reading: _Reading, grid: Grid | None) -> tuple[_Plan, ...]:
    plans = []
    for entry in reading.head.drawings:
        here = Place(_HEAD, entry.row, reading.problems)
        file = reading.source.find(entry.drawing.file, here, "drawing.file")
        if file is None or grid is None or not entry.readable:
            continue
        if _suffix(file) != ".dxf":
            here.tell("drawing.file", entry.drawing.file, "a .dxf file; the drawing is left out")
            continue
        plans.append(_plan(reading, entry, file, grid))
    units = {p.read.unit for p in plans if p.read.unit is not None}
    if len(units) > 1:
        each = "; ".join(f"{p.drawing.file}: {p.read.unit}" for p in plans if p.read.unit)
        Place(_HEAD, None, reading.problems).tell(
            "drawing.units", each, "drawings in one unit; each was read in its own", level="notice"
        )
    return tuple(plans)


def _suffix(name: str) -> str:
    return PurePosixPath(name).suffix.lower()


def _plan(reading: _Reading, entry: DrawingEntry, file: str, grid: Grid) -> _Plan:
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
        listed=Place(_HEAD, entry.row),
    )
    reading.problems += read.problems
    return _Plan(drawing, read)


def _cues(reading: _Reading) -> tuple[Cue, ...]:
    transcripts: list[tuple[Path, str]] = []
    source = reading.source
    for name in reading.head.files.walk:
        file = reading.named(name, "files.walk")
        if file is None:
            continue
        if _suffix(file) not in _TRANSCRIPTS:
            here = Place(file, None, reading.problems)
            beside = [PurePosixPath(file).with_suffix(s).as_posix() for s in _TRANSCRIPTS]
            found = next((n for n in beside if source.has(n)), None)
            if found is None:
                here.tell(
                    None, None,
                    "a transcript (.vtt, .srt, .txt): transcribe the recording first, with the "
                    "speech extra; the recording is not listened to",
                    level="notice",
                )  # fmt: skip
                continue
            file = found
            here.tell(None, None, f"a transcript; {file} beside it is read", level="notice")
        transcripts.append((source.path(file), file))
    cues, problems = read_walk(transcripts)
    reading.problems += problems
    return cues


def _rates(reading: _Reading, table: RawTable | None) -> Rates | None:
    if table is None:
        return None
    rates, problems = read_rates(table.table, file=table.file)
    reading.problems += problems
    return rates


def _rules(reading: _Reading) -> tuple[RuleTable, ...]:
    """Read every rule table named; one that cannot be read stays, as it may protect any tree."""
    tables = []
    for name in reading.head.files.rules:
        raw = reading.table(name, "files.rules")
        if raw is None:
            tables.append(unread_table(Path(name).as_posix()))
            continue
        table, problems = read_rules(raw.table, file=raw.file)
        reading.problems += problems
        tables.append(table)
    return tuple(tables)


def _planting(reading: _Reading, grid: Grid | None) -> PlantingPlan | None:
    table = reading.table(reading.head.files.planting, "files.planting")
    if table is None:
        return None
    units = reading.head.units
    plan, problems = read_planting(
        table.table, file=table.file, units=units,
        m_per_grid_unit=(grid or local_grid(units)).m_per_unit,
    )  # fmt: skip
    reading.problems += problems
    return plan


def _phases(reading: _Reading) -> PhasePlan | None:
    table = reading.table(reading.head.files.phases, "files.phases")
    if table is None:
        return None
    plan, problems = read_phases(table.table, file=table.file)
    reading.problems += problems
    return plan


def _futures(reading: _Reading) -> tuple[FutureCase, ...]:
    table = reading.table(reading.head.files.futures, "files.futures")
    if table is None:
        return ()
    cases, problems = read_futures(table.table, file=table.file)
    reading.problems += problems
    return cases


def _photos(reading: _Reading) -> tuple[str, ...]:
    name = reading.head.files.photos
    folder = reading.named(name, "files.photos", folder=True) if name else None
    if folder is None:
        return ()
    found = []
    here = Place(_HEAD, None, reading.problems)
    for file in reading.source.under(folder):
        if _suffix(file) in _PHOTOS and reading.source.find(file, here, "files.photos"):
            found.append(file)
    return tuple(found)


def _across(
    reading: _Reading,
    trees: Sequence[Tree],
    works: Sequence[Work],
    plans: Sequence[_Plan],
    grid: Grid | None,
) -> tuple[tuple[Tree, ...], tuple[Work, ...]]:
    drawn, told = without_replaced(works, [w for p in plans for w in p.read.works])
    reading.problems += told
    everything, told = name_apart([*works, *drawn])
    reading.problems += told
    if grid is not None:
        here = Place(_HEAD, None, reading.problems)
        check_grid_scale(trees, everything, grid=grid, place=here)
    extents = [p.read.extent_m for p in plans]
    placed, told = check_places(
        trees,
        extent=joined([extent_of(everything), *extents]),
        drawn=any(e is not None for e in extents),
        units=reading.head.units,
        file=Path(reading.head.files.trees).as_posix(),
    )
    reading.problems += told
    return placed, everything


def _survey(
    head: Head,
    grid: Grid | None,
    trees: tuple[Tree, ...],
    works: tuple[Work, ...],
    plans: Sequence[_Plan],
) -> Survey:
    own = local_grid(head.units)
    return Survey(
        name=head.name,
        date=head.date,
        units=head.units,
        purpose=head.purpose,
        method=head.method,
        crs=head.crs if grid is not None else None,
        m_per_grid_unit=(grid or own).m_per_unit,
        people=head.people,
        site=head.site,
        trees=trees,
        works=works,
        drawings=tuple(p.drawing for p in plans if p.read.extent_m is not None),
        place=head.place,
    )
